//! Every habit of hosts by itself, and plans to play in such hosts.

use crate::habits::{Lag, Personality, Position, Ramp, Song, Standing, Start, Tempo, Turn};
use crate::plan::{Course, Plan, Run, Sizes};

/// Steady runs at tempos that people set, from the start and from elsewhere, in
/// blocks as audio devices have them; two with a loop, two with a tempo that
/// changes, one after a jump.
pub fn plans() -> Vec<Plan> {
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

const fn position(position: Position) -> Personality {
    Personality {
        position,
        ..Personality::EXACT
    }
}

const fn lag(lag: Lag) -> Personality {
    Personality {
        lag,
        ..Personality::EXACT
    }
}

const fn tempo(tempo: Tempo) -> Personality {
    Personality {
        tempo,
        ..Personality::EXACT
    }
}

const fn ramp(ramp: Ramp) -> Personality {
    Personality {
        ramp,
        ..Personality::EXACT
    }
}

const fn turn(turn: Turn, tells_loop: bool) -> Personality {
    Personality {
        turn,
        tells_loop,
        ..Personality::EXACT
    }
}

const fn start(start: Start, standing: Standing) -> Personality {
    Personality {
        start,
        standing,
        ..Personality::EXACT
    }
}

/// Each habit, with a name.
pub const HABITS: [(&str, Personality); 40] = [
    ("a_host_that_tells_all_exactly", Personality::EXACT),
    (
        "positions_to_the_nearest_1920th",
        position(Position::Nearest(1_920)),
    ),
    (
        "positions_to_the_nearest_960th",
        position(Position::Nearest(960)),
    ),
    (
        "positions_to_the_nearest_480th",
        position(Position::Nearest(480)),
    ),
    (
        "positions_to_the_nearest_192nd",
        position(Position::Nearest(192)),
    ),
    (
        "positions_down_to_a_1920th",
        position(Position::Down(1_920)),
    ),
    ("positions_down_to_a_960th", position(Position::Down(960))),
    ("positions_down_to_a_480th", position(Position::Down(480))),
    ("positions_down_to_a_192nd", position(Position::Down(192))),
    (
        "positions_to_the_nearest_millisecond",
        position(Position::Millisecond),
    ),
    (
        "positions_down_to_a_millisecond",
        position(Position::MillisecondDown),
    ),
    (
        "positions_through_single_precision",
        position(Position::Single),
    ),
    (
        "positions_to_a_7680th_through_single_precision",
        position(Position::NearestSingle(7_680)),
    ),
    (
        "no_musical_position_at_all",
        Personality {
            tells_beats: false,
            ..Personality::EXACT
        },
    ),
    (
        "positions_off_by_up_to_a_sample",
        position(Position::Wobble),
    ),
    (
        "a_place_by_the_sample_to_the_millisecond",
        Personality {
            song: Song::Millisecond,
            ..Personality::EXACT
        },
    ),
    (
        "both_places_to_the_millisecond",
        Personality {
            song: Song::Millisecond,
            ..position(Position::Millisecond)
        },
    ),
    ("positions_ahead_by_a_latency", lag(Lag::Latency(-1_234))),
    ("positions_behind_by_a_latency", lag(Lag::Latency(777))),
    ("positions_of_the_block_before", lag(Lag::Stale)),
    ("one_position_for_all_parts_of_a_buffer", lag(Lag::Parts(5))),
    ("tempo_to_two_decimals", tempo(Tempo::Decimals(2))),
    ("tempo_to_three_decimals", tempo(Tempo::Decimals(3))),
    ("tempo_a_block_late", tempo(Tempo::Late)),
    ("ramps_by_a_block_s_first_tempo", ramp(Ramp::First)),
    ("ramps_by_a_block_s_mean_tempo", ramp(Ramp::Mean)),
    ("ramps_by_a_block_s_last_tempo", ramp(Ramp::Last)),
    ("loops_split_at_the_end", turn(Turn::Split, true)),
    ("loops_split_on_whole_samples", turn(Turn::SplitWhole, true)),
    ("loops_not_split", turn(Turn::NextBlock, true)),
    ("loops_that_wrap_a_block_late", turn(Turn::Late, true)),
    ("loops_split_but_not_told", turn(Turn::Split, false)),
    (
        "loops_split_on_whole_samples_but_not_told",
        turn(Turn::SplitWhole, false),
    ),
    ("loops_neither_split_nor_told", turn(Turn::NextBlock, false)),
    (
        "loops_that_wrap_a_block_late_and_are_not_told",
        turn(Turn::Late, false),
    ),
    (
        "the_first_block_told_twice",
        start(Start::Repeated, Standing::Frozen),
    ),
    (
        "the_first_block_after_a_jump_told_twice",
        start(Start::RepeatedAfterJump, Standing::Frozen),
    ),
    (
        "a_play_flag_that_comes_a_block_late",
        start(Start::FlagLate, Standing::Frozen),
    ),
    (
        "a_position_that_runs_on_while_time_stands",
        start(Start::Plain, Standing::Running),
    ),
    (
        "a_position_of_nothing_while_time_stands",
        start(Start::Plain, Standing::Zero),
    ),
];

/// A test for each habit: `$holds` is called with the host and returns what is wrong.
#[macro_export]
macro_rules! each_habit {
    ($holds:path) => {
        $crate::each_habit! { $holds, a_host_that_tells_all_exactly
            positions_to_the_nearest_1920th
            positions_to_the_nearest_960th
            positions_to_the_nearest_480th
            positions_to_the_nearest_192nd
            positions_down_to_a_1920th
            positions_down_to_a_960th
            positions_down_to_a_480th
            positions_down_to_a_192nd
            positions_to_the_nearest_millisecond
            positions_down_to_a_millisecond
            positions_through_single_precision
            positions_to_a_7680th_through_single_precision
            no_musical_position_at_all
            positions_off_by_up_to_a_sample
            a_place_by_the_sample_to_the_millisecond
            both_places_to_the_millisecond
            positions_ahead_by_a_latency
            positions_behind_by_a_latency
            positions_of_the_block_before
            one_position_for_all_parts_of_a_buffer
            tempo_to_two_decimals
            tempo_to_three_decimals
            tempo_a_block_late
            ramps_by_a_block_s_first_tempo
            ramps_by_a_block_s_mean_tempo
            ramps_by_a_block_s_last_tempo
            loops_split_at_the_end
            loops_split_on_whole_samples
            loops_not_split
            loops_that_wrap_a_block_late
            loops_split_but_not_told
            loops_split_on_whole_samples_but_not_told
            loops_neither_split_nor_told
            loops_that_wrap_a_block_late_and_are_not_told
            the_first_block_told_twice
            the_first_block_after_a_jump_told_twice
            a_play_flag_that_comes_a_block_late
            a_position_that_runs_on_while_time_stands
            a_position_of_nothing_while_time_stands }
    };
    ($holds:path, $($name:ident)*) => {$(
        #[test]
        fn $name() {
            let name = stringify!($name);
            let (_, host) = $crate::known::HABITS.iter().find(|(n, _)| *n == name).expect("a habit");
            if let Err(fault) = $holds(host.sensible()) {
                panic!("{fault}");
            }
        }
    )*};
}
