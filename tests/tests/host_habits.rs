//! Every habit of hosts by itself, in a real CLAP and a real VST3 host.
//!
//! `barform_tests::daw::habits` says what each habit is and what it excuses.

use anyhow::{Context, Result, ensure};
use barform_tests::bench::{Bench, note_ons};
use barform_tests::daw::habits::{
    Lag, Personality, Position, Ramp, Song, Standing, Start, Tempo, Turn,
};
use barform_tests::daw::invented::plain_form;
use barform_tests::daw::plan::{Course, Plan, Run, Sizes};
use barform_tests::daw::stage::Stage;
use barform_tests::host::{Block, Format, Note, check_ends};
use barform_tests::schedule::{HostBlock, Report, compare, schedule};

/// Steady runs at tempos that people set, from the start and from elsewhere, in
/// blocks as audio devices have them; two with a loop, two with a tempo that
/// changes, one after a jump.
fn plans() -> Vec<Plan> {
    let run = |from_beats: f64, bpm: f64, sizes: Sizes| Run {
        from_beats,
        jumps: false,
        cycle: None,
        sizes,
        blocks: 150_000 / sizes.most(),
        tempo: Course::Even(bpm),
    };
    let loops = |start: f64, beats: f64, run: Run| Run {
        cycle: Some((start, beats)),
        ..run
    };
    let moves = |tempo: Course, run: Run| Run { tempo, ..run };
    let steps = Course::Steps(vec![100.0, 132.0, 88.0]);
    let (small, middle, large) = (Sizes::Even(256), Sizes::Even(1_024), Sizes::Even(4_096));
    let sets = [
        vec![run(0.0, 92.0, middle)],
        vec![run(16.0, 120.0, small)],
        vec![run(7.370_5, 100.0, middle)],
        vec![run(2_560.0, 93.75, middle)],
        vec![run(2_561.103, 140.3, small)],
        vec![run(-3.0, 233.0, Sizes::UpTo(2_000))],
        vec![run(4.0, 47.0, large)],
        vec![loops(4.0, 4.0, run(4.0, 111.0, middle))],
        vec![loops(2.0, 3.25, run(2.6, 171.7, Sizes::UpTo(700)))],
        vec![moves(steps, run(0.0, 100.0, middle))],
        vec![moves(Course::Ramp(90.0, 135.0), run(8.0, 90.0, small))],
        vec![
            run(0.0, 120.0, small),
            Run {
                jumps: true,
                ..run(33.333, 120.0, small)
            },
        ],
    ];
    let plan = |(seed, runs): (usize, Vec<Run>)| Plan {
        one_tempo: false,
        runs,
        seed: seed as u32,
    };
    let several = sets.into_iter().enumerate().map(plan);
    let one_tempo = |plan: Plan| {
        let whole_song = Plan {
            one_tempo: true,
            ..plan.clone()
        };
        [plan, whole_song]
    };
    several.flat_map(one_tempo).collect()
}

/// Plays all plans in a host of one habit, whether the place is told by the
/// sample or not; all that fail are named.
fn holds(host: Personality) -> Result<()> {
    let mut faults = Vec::new();
    for format in Format::ALL {
        let mut stage = Stage::new(format, 48_000, &plain_form())?;
        for song in [host.song, Song::Absent] {
            for plan in plans() {
                let host = Personality { song, ..host }.sensible();
                if let Err(fault) = stage.play(&plan, &host)? {
                    faults.push(format!("{format:?}, {fault}\n    {host:?}\n    {plan:?}"));
                }
            }
        }
    }
    ensure!(
        faults.is_empty(),
        "{} of 96 fail:\n{}",
        faults.len(),
        faults.join("\n")
    );
    Ok(())
}

fn position(position: Position) -> Personality {
    Personality {
        position,
        ..Personality::EXACT
    }
}

macro_rules! habit {
    ($($name:ident: $host:expr;)*) => {$(
        #[test]
        fn $name() -> Result<()> {
            holds($host.sensible())
        }
    )*};
}

habit! {
    a_host_that_tells_all_exactly: Personality::EXACT;
    positions_to_the_nearest_1920th: position(Position::Nearest(1_920));
    positions_to_the_nearest_960th: position(Position::Nearest(960));
    positions_to_the_nearest_480th: position(Position::Nearest(480));
    positions_to_the_nearest_192nd: position(Position::Nearest(192));
    positions_down_to_a_1920th: position(Position::Down(1_920));
    positions_down_to_a_960th: position(Position::Down(960));
    positions_down_to_a_480th: position(Position::Down(480));
    positions_down_to_a_192nd: position(Position::Down(192));
    positions_to_the_nearest_millisecond: position(Position::Millisecond);
    positions_down_to_a_millisecond: position(Position::MillisecondDown);
    positions_through_single_precision: position(Position::Single);
    positions_to_a_7680th_through_single_precision: position(Position::NearestSingle(7_680));
    no_musical_position_at_all: Personality {
        tells_beats: false,
        ..Personality::EXACT
    };
    positions_off_by_up_to_a_sample: position(Position::Wobble);
    a_place_by_the_sample_to_the_millisecond: Personality {
        song: Song::Millisecond,
        ..Personality::EXACT
    };
    both_places_to_the_millisecond: Personality {
        song: Song::Millisecond,
        ..position(Position::Millisecond)
    };
    positions_ahead_by_a_latency: lag(Lag::Latency(-1_234));
    positions_behind_by_a_latency: lag(Lag::Latency(777));
    positions_of_the_block_before: lag(Lag::Stale);
    one_position_for_all_parts_of_a_buffer: lag(Lag::Parts(5));
    tempo_to_two_decimals: tempo(Tempo::Decimals(2));
    tempo_to_three_decimals: tempo(Tempo::Decimals(3));
    tempo_a_block_late: tempo(Tempo::Late);
    ramps_by_a_block_s_first_tempo: ramp(Ramp::First);
    ramps_by_a_block_s_mean_tempo: ramp(Ramp::Mean);
    ramps_by_a_block_s_last_tempo: ramp(Ramp::Last);
    loops_split_at_the_end: turn(Turn::Split, true);
    loops_split_on_whole_samples: turn(Turn::SplitWhole, true);
    loops_not_split: turn(Turn::NextBlock, true);
    loops_that_wrap_a_block_late: turn(Turn::Late, true);
    loops_split_but_not_told: turn(Turn::Split, false);
    loops_split_on_whole_samples_but_not_told: turn(Turn::SplitWhole, false);
    loops_neither_split_nor_told: turn(Turn::NextBlock, false);
    loops_that_wrap_a_block_late_and_are_not_told: turn(Turn::Late, false);
    the_first_block_told_twice: start(Start::Repeated, Standing::Frozen);
    the_first_block_after_a_jump_told_twice:
        start(Start::RepeatedAfterJump, Standing::Frozen);
    a_play_flag_that_comes_a_block_late: start(Start::FlagLate, Standing::Frozen);
    a_position_that_runs_on_while_time_stands: start(Start::Plain, Standing::Running);
    a_position_of_nothing_while_time_stands: start(Start::Plain, Standing::Zero);
}

fn lag(lag: Lag) -> Personality {
    Personality {
        lag,
        ..Personality::EXACT
    }
}

fn tempo(tempo: Tempo) -> Personality {
    Personality {
        tempo,
        ..Personality::EXACT
    }
}

fn ramp(ramp: Ramp) -> Personality {
    Personality {
        ramp,
        ..Personality::EXACT
    }
}

fn turn(turn: Turn, tells_loop: bool) -> Personality {
    Personality {
        turn,
        tells_loop,
        ..Personality::EXACT
    }
}

fn start(start: Start, standing: Standing) -> Personality {
    Personality {
        start,
        standing,
        ..Personality::EXACT
    }
}

/// Time runs on while the instance is made ready anew, at another sample rate
/// and for other blocks, as when a user changes the audio device's settings.
#[test]
fn sample_rate_and_block_size_change_while_time_runs() -> Result<()> {
    const TEMPO_BPM: f64 = 131.0;
    let settings = [
        (48_000, 8_192, 512),
        (44_100, 256, 256),
        (96_000, 1_024, 777),
        (48_000, 64, 64),
        (22_050, 8_192, 8_192),
        (22_050, 32, 32),
    ];
    for format in Format::ALL {
        let form = plain_form();
        let mut bench = Bench::new(format, 48_000)?;
        bench.load(&form.score())?;
        let mut all: Vec<(i64, Note)> = Vec::new();
        let (mut from_beats, mut sample) = (0.5, 0i64);
        for (number, (rate_hz, most, frames)) in settings.into_iter().enumerate() {
            bench.reactivate(rate_hz, most, number % 2 == 1)?;
            let mut blocks: Vec<HostBlock> = (0..rate_hz / frames)
                .map(|number| HostBlock {
                    frames,
                    tempo_bpm: Some(TEMPO_BPM),
                    from_beats: (number == 0).then_some(from_beats),
                    cycle: None,
                    report: Report::Off(0.0),
                })
                .collect();
            let played = i64::from(frames) * blocks.len() as i64;
            if number + 1 == settings.len() {
                blocks.push(HostBlock {
                    frames: 32,
                    tempo_bpm: None,
                    ..blocks[1].clone()
                });
            }
            // 2^-31 beats: the step of CLAP's positions.
            let resolution = 1.0 / f64::from(1u32 << 31);
            let right = schedule(&form.cycles(), &blocks, rate_hz, resolution);
            let transports = right.blocks.iter();
            let notes = bench.run(transports.map(|(n, told)| Block::of(*n, *told)))?;
            compare(&right.expected, &note_ons(&notes))
                .map_err(anyhow::Error::msg)
                .with_context(|| format!("{format:?}, {rate_hz} Hz, blocks of {frames}"))?;
            all.extend(notes.iter().map(|(at, note)| (sample + at, *note)));
            sample += played;
            from_beats += played as f64 * TEMPO_BPM / (60.0 * f64::from(rate_hz));
        }
        // What sounded at a change has ended too, once.
        check_ends(&all).with_context(|| format!("{format:?}"))?;
    }
    Ok(())
}
