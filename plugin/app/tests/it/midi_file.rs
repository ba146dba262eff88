//! Standard MIDI Files, read back with `midly`: ticks, tempo, time signatures,
//! notes that share a key, the report.

use barform_app::export::midi::{self, MAX_DIVISION, MidiError, MidiFile};
use barform_app::export::{MAX_EVENTS, Options};
use barform_app::music::Beats;
use barform_app::player::Mute;
use barform_app::score::Score;
use barform_app::timeline::Timeline;
use midly::{MetaMessage, MidiMessage, Smf, Timing, TrackEventKind};
use num_rational::Ratio;
use proptest::prelude::*;

fn file_of(text: &str, options: &Options) -> Result<MidiFile, MidiError> {
    let score = Score::parse(text, "test").unwrap();
    let timeline = Timeline::compile(&score).unwrap();
    midi::write(&score, &timeline, options)
}

fn file(text: &str, options: &Options) -> MidiFile {
    file_of(text, options).unwrap()
}

/// One cell A with this grid and sticking, played once.
fn one_cell(tempo: &str, meter: &str, form: &str, grid: &str, sticking: &str) -> String {
    format!(
        "barform = 1\ntempo = {tempo}\nmeter = \"{meter}\"\nform = \"{form}\"\n\
         [cell.A]\ngrid = \"{grid}\"\nsticking = \"{sticking}\"\n"
    )
}

/// Note-ons of all tracks as (tick, key, velocity) in order, after a check that
/// each gets exactly one note-off, and after the tick of each track's end.
fn notes(file: &MidiFile) -> (Vec<(u64, u8, u8)>, u64) {
    let smf = Smf::parse(&file.bytes).unwrap();
    let mut all = Vec::new();
    let mut ends = Vec::new();
    for track in &smf.tracks {
        let (mut now, mut sounding) = (0, Vec::new());
        for event in track {
            now += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Midi { channel, message } => match message {
                    MidiMessage::NoteOn { key, vel } => {
                        assert!(vel > 0 && !sounding.contains(&(channel, key)));
                        sounding.push((channel, key));
                        all.push((now, key.as_int(), vel.as_int()));
                    }
                    MidiMessage::NoteOff { key, .. } => {
                        let at = sounding.iter().position(|n| *n == (channel, key)).unwrap();
                        sounding.remove(at);
                        assert!(all.iter().rev().find(|n| n.1 == key).unwrap().0 < now);
                    }
                    other => panic!("{other:?}"),
                },
                TrackEventKind::Meta(MetaMessage::EndOfTrack) => ends.push(now),
                TrackEventKind::Meta(_) => {}
                other => panic!("{other:?}"),
            }
        }
        assert!(sounding.is_empty());
    }
    assert!(ends.iter().all(|end| *end == ends[0]), "{ends:?}");
    all.sort_unstable();
    (all, ends[0])
}

fn ticks(file: &MidiFile) -> Vec<u64> {
    notes(file).0.into_iter().map(|(tick, ..)| tick).collect()
}

fn signatures(file: &MidiFile) -> Vec<(u64, u8, u8)> {
    let smf = Smf::parse(&file.bytes).unwrap();
    let mut now = 0;
    let mut found = Vec::new();
    for event in &smf.tracks[0] {
        now += u64::from(event.delta.as_int());
        if let TrackEventKind::Meta(MetaMessage::TimeSignature(count, power, ..)) = event.kind {
            found.push((now, count, 1 << power));
        }
    }
    found
}

#[test]
fn usual_note_values_get_the_usual_ticks() {
    let text = one_cell(
        "120",
        "4/4",
        "A |",
        "4 6 3 1",
        "R L R L  R L R L R L  R L R  K",
    );
    let file = file(&text, &Options::default());
    assert_eq!(file.report.division, 960);
    assert_eq!(file.report.us_per_quarter, 500_000);
    assert!(file.report.tempo_is_exact());
    assert_eq!(file.report.tempo_drift_us(), 0.0);
    assert_eq!(file.report.seconds(), 2.0);
    let expected: Vec<u64> = (0..4)
        .map(|n| n * 240)
        .chain((0..6).map(|n| 960 + n * 160))
        .chain((0..3).map(|n| 1920 + n * 320))
        .chain([2880])
        .collect();
    assert_eq!(ticks(&file), expected);
    assert_eq!(notes(&file).1, 3840);
    let tracks: Vec<_> = file
        .report
        .tracks
        .iter()
        .map(|(n, c)| (n.as_str(), *c))
        .collect();
    assert_eq!(tracks, [("Hands", 13), ("Feet", 1)]);
}

#[test]
fn the_division_holds_every_tuplet_that_fits() {
    // 7 * 960 fits and keeps the usual values; 11 * 13 * 960 and 31 * 7 * 960 do
    // not: there the least multiple of 143 and of 217 from 960 on.
    for (grid, division) in [("7", 6720), ("11 13", 1001), ("31 7", 1085)] {
        let strokes: usize = grid.split(' ').map(|n| n.parse::<usize>().unwrap()).sum();
        let beats = grid.split(' ').count();
        let meter = format!("{beats}/4");
        let sticking = vec!["R"; strokes].join(" ");
        let file = file(
            &one_cell("120", &meter, "A", grid, &sticking),
            &Options::default(),
        );
        let report = &file.report;
        assert_eq!(report.largest_error_ticks, Ratio::from_integer(0));
        assert_eq!(report.largest_error_us, 0.0);
        assert_eq!(report.division, division, "{grid}");
        let header = Smf::parse(&file.bytes).unwrap().header;
        assert_eq!(header.timing, Timing::Metrical(division.into()));
        assert_eq!(notes(&file).0.len(), strokes);
    }
}

#[test]
fn a_tempo_that_is_no_whole_number_of_microseconds_is_reported() {
    let text = one_cell("92", "4/4", "A |", "1 1 1 1", "R R R R");
    let report = file(&text, &Options::default()).report;
    // 60 000 000 / 92 = 15 000 000 / 23 = 652 173.9…
    assert_eq!(report.us_per_quarter, 652_174);
    assert_eq!(report.us_per_quarter_wanted, Ratio::new(15_000_000, 23));
    assert!(!report.tempo_is_exact());
    assert!((report.tempo_drift_us() - 4.0 * 2.0 / 23.0).abs() < 1e-6);
    let asked = Options {
        tempo: Some(Beats::new(185, 2)),
        ..Options::default()
    };
    assert_eq!(file(&text, &asked).report.us_per_quarter, 648_649);
}

#[test]
fn grace_notes_before_the_file_lie_on_its_first_tick() {
    let text = one_cell("120", "4/4", "A |", "1 1 1 1", "llR> - lR -");
    let without = file(&text, &Options::default());
    // The drag's two grace notes have no room; the flam's has: 25 ms at 120
    // beats a minute are 48 ticks of 960.
    assert_eq!(without.report.graces_at_start, 2);
    assert_eq!(without.report.merged, 2);
    assert_eq!(ticks(&without), [0, 1920 - 48, 1920]);
    // What is left is the main stroke.
    assert!(notes(&without).0[0].2 > notes(&without).0[1].2);

    let with = file(
        &text,
        &Options {
            empty_bars: 1,
            ..Options::default()
        },
    );
    assert_eq!((with.report.graces_at_start, with.report.merged), (0, 0));
    assert_eq!(ticks(&with), [3840 - 96, 3840 - 48, 3840, 5760 - 48, 5760]);
}

#[test]
fn strokes_together_on_one_drum_are_one_note() {
    let text = one_cell("120", "2/4", "A |", "1 1", "R>+L R+K");
    let file = file(&text, &Options::default());
    assert_eq!(file.report.merged, 1);
    let notes = notes(&file).0;
    assert_eq!(notes.len(), 3);
    let accent = notes.iter().find(|n| n.0 == 0).unwrap().2;
    assert!(notes.iter().filter(|n| n.0 > 0).all(|n| n.2 < accent));
}

#[test]
fn a_note_ends_before_the_next_on_its_key() {
    // Sixteenths at 300 beats a minute are 50 ms apart, the gate is a second.
    let text = one_cell("300", "1/4", "(A)x8", "4", "K K K K");
    let file = file(
        &text,
        &Options {
            gate_ms: 1000.0,
            ..Options::default()
        },
    );
    assert_eq!(ticks(&file).len(), 32);
}

#[test]
fn a_pickup_is_the_end_of_the_files_first_bar() {
    let mut text = one_cell("120", "4/4", "A (A)x4 |", "1", "R");
    text = text.replace("\nform", "\npickup = \"1\"\nform");
    let options = Options {
        mute: Mute::default(),
        ..Options::default()
    };
    let file = file(&text, &options);
    assert_eq!(signatures(&file), [(0, 4, 4)]);
    let hands: Vec<u64> = notes(&file)
        .0
        .into_iter()
        .filter(|n| n.1 == 38)
        .map(|n| n.0 / 960)
        .collect();
    assert_eq!(hands, [3, 4, 5, 6, 7]);
    // The click counts the bar that the pickup ends: 1 2 3 4. Keys 34 and 33:
    // metronome bell and click of General MIDI Level 2, from memory.
    let clicks: Vec<(u64, u8)> = notes(&file)
        .0
        .into_iter()
        .filter(|n| n.1 < 35)
        .map(|n| (n.0 / 960, n.1))
        .collect();
    let bell = |beat: u64| (beat, if beat.is_multiple_of(4) { 34 } else { 33 });
    assert_eq!(clicks, (0..8).map(bell).collect::<Vec<_>>());
}

#[test]
fn a_cut_last_bar_and_the_pickup_make_one_bar() {
    // Pickup of one beat, then seven: the last bar has three and the next
    // pass's pickup is its fourth.
    let text =
        one_cell("120", "4/4", "(A)x8", "1", "R").replace("\nform", "\npickup = \"1\"\nform");
    let twice = Options {
        passes: 2,
        ..Options::default()
    };
    assert_eq!(signatures(&file(&text, &twice)), [(0, 4, 4)]);
    // Without a pickup seven beats leave a bar of three before the next pass.
    let text = one_cell("120", "4/4", "(A)x7", "1", "R");
    let beats = |n: u64| n * 960;
    assert_eq!(
        signatures(&file(&text, &twice)),
        [(0, 4, 4), (beats(4), 3, 4), (beats(7), 4, 4)]
    );
    // A bar of two beats and a third has no signature; the next one says where
    // it starts.
    let text = one_cell("120", "4/4", "A", "1@7/3", "R");
    assert_eq!(signatures(&file(&text, &twice)), [(0, 4, 4), (2240, 4, 4)]);
}

#[test]
fn an_ostinato_runs_through_all_passes_and_is_cut_at_the_end() {
    let text = one_cell("120", "4/4", "A |", "1 1 1 1", "- - - -")
        + "[ostinato.three]\ngrid = \"1 2\"\nsticking = \"- H -\"\n\
           [ostinato.five]\ngrid = \"1@5/2\"\nsticking = \"K\"\n";
    let file = file(
        &text,
        &Options {
            passes: 2,
            ..Options::default()
        },
    );
    let of = |key: u8| -> Vec<u64> {
        notes(&file)
            .0
            .into_iter()
            .filter(|n| n.1 == key)
            .map(|n| n.0)
            .collect()
    };
    // Every second beat; every two and a half, four times in eight beats.
    assert_eq!(of(44), [960, 2880, 4800, 6720]);
    assert_eq!(of(36), [0, 2400, 4800, 7200]);
    let names: Vec<&str> = file.report.tracks.iter().map(|(n, _)| n.as_str()).collect();
    assert_eq!(names, ["Ostinato: three", "Ostinato: five"]);
}

#[test]
fn a_silence_longer_than_a_delta_time_is_bridged() {
    // 23, 29 and 47 need 31 349 ticks a quarter; ten thousand beats of rest are
    // then more ticks than 28 bits hold.
    let sticking = vec!["R"; 23 + 29 + 47].join(" ");
    let text = one_cell("120", "4/4", "A (B)x40", "23 29 47", &sticking)
        + "[cell.B]\ngrid = \"1@256\"\nsticking = \"-\"\n";
    let file = file(&text, &Options::default());
    assert_eq!(file.report.division, 31_349);
    assert_eq!(notes(&file).1, 31_349 * (3 + 40 * 256));
}

#[test]
fn options_out_of_range_and_endless_files_are_refused() {
    let text = one_cell("120", "4/4", "A |", "1 1 1 1", "R R R R");
    let base = Options::default;
    for options in [
        Options {
            passes: 0,
            ..base()
        },
        Options {
            passes: 10_000,
            ..base()
        },
        Options {
            empty_bars: 65,
            ..base()
        },
        Options {
            tempo: Some(Beats::whole(3)),
            ..base()
        },
        Options {
            tempo: Some(Beats::new(-92, 1)),
            ..base()
        },
        Options {
            gate_ms: 0.0,
            ..base()
        },
        Options {
            gate_ms: f64::NAN,
            ..base()
        },
        Options {
            grace_ms: -1.0,
            ..base()
        },
        Options {
            buzz_ms: f64::INFINITY,
            ..base()
        },
    ] {
        let refused = file_of(&text, &options);
        assert!(matches!(refused, Err(MidiError::Option(_))), "{options:?}");
    }
    let sticking = vec!["R"; 64].join(" ");
    let many = one_cell("120", "4/4", "(A)x1000", "64", &sticking);
    let options = Options {
        passes: 9_999,
        ..base()
    };
    assert!(matches!(file_of(&many, &options), Err(MidiError::TooLong)));
    const { assert!(64 * 1000 * 9_999 > MAX_EVENTS) };
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// Whatever the tuplets: strokes lie within the reported error of their
    /// exact time, in ticks, and nothing is lost.
    #[test]
    fn strokes_lie_within_the_reported_error(
        tuplets in prop::collection::vec((1_u64..=32, 1_i64..=5, 1_i64..=7), 1..6),
        passes in 1_u32..4,
    ) {
        let grid: Vec<String> =
            tuplets.iter().map(|(n, p, q)| format!("{n}@{p}/{q}")).collect();
        let strokes: u64 = tuplets.iter().map(|t| t.0).sum();
        let sticking = vec!["R"; strokes as usize].join(" ");
        let text = one_cell("120", "4/4", "A", &grid.join(" "), &sticking);
        let file = file(&text, &Options { passes, ..Options::default() });

        let mut exact: Vec<Ratio<i128>> = Vec::new();
        let mut at = Ratio::from_integer(0);
        for _ in 0..passes {
            for (n, p, q) in &tuplets {
                let length = Ratio::new(i128::from(*p), i128::from(*q));
                for i in 0..*n {
                    exact.push(at + length * Ratio::new(i128::from(i), i128::from(*n)));
                }
                at += length;
            }
        }
        let read = ticks(&file);
        prop_assert_eq!(read.len(), exact.len());
        let division = Ratio::from_integer(i128::from(file.report.division));
        let error = file.report.largest_error_ticks;
        let error = Ratio::new(i128::from(*error.numer()), i128::from(*error.denom()));
        let lcm = exact.iter().fold(1_i128, |lcm, t| num_integer::lcm(lcm, *t.denom()));
        let end = *at.denom();
        if num_integer::lcm(lcm, end) <= i128::from(MAX_DIVISION) {
            prop_assert_eq!(error, Ratio::from_integer(0));
        }
        for (tick, exact) in read.iter().zip(&exact) {
            let off = Ratio::from_integer(i128::from(*tick)) - exact * division;
            let off = if off < Ratio::from_integer(0) { -off } else { off };
            prop_assert!(off <= error, "{exact} beats lie {off} ticks from {tick}");
        }
    }
}
