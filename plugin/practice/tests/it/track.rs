//! MIDI files read back with their tempo map, and the sound itself.

use crate::random::{Q, Worked, case, q, worked};
use crate::schedule::{FOUR, schedule};
use barform_files::export::render::Sounds;
use barform_play::sound::Block;
use barform_practice::plan::Plan;
use barform_practice::schedule::{Ornaments, Schedule};
use barform_practice::track;
use barform_score::music::Voice;
use barform_score::score::Score;
use midly::{MetaMessage, MidiMessage, Smf, Timing, TrackEventKind};
use num_bigint::BigInt;
use num_traits::{Signed, ToPrimitive};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// A sample at 48 kHz, in seconds.
fn sample() -> Q {
    q(1, 48_000)
}

struct Read {
    /// Seconds, key, velocity, name of the track.
    notes: Vec<(Q, u8, u8, String)>,
    /// Seconds of the tempo events.
    tempos: Vec<Q>,
    /// Ticks per quarter note and slowest tempo.
    seconds_per_tick: Q,
    ends: Q,
}

/// Reads a file as the standard says: ticks, and tempos in track 0.
fn read(bytes: &[u8]) -> Read {
    let smf = Smf::parse(bytes).unwrap();
    let Timing::Metrical(ppq) = smf.header.timing else {
        panic!("not in ticks");
    };
    let ppq = i64::from(ppq.as_int());
    let mut tempos: Vec<(u64, i64)> = Vec::new();
    let mut tick = 0;
    for event in &smf.tracks[0] {
        tick += u64::from(event.delta.as_int());
        if let TrackEventKind::Meta(MetaMessage::Tempo(us)) = event.kind {
            tempos.push((tick, i64::from(us.as_int())));
        }
    }
    let seconds = |tick: u64| {
        let mut sum = q(0, 1);
        for (n, (from, us)) in tempos.iter().enumerate() {
            let to = tempos.get(n + 1).map_or(tick, |next| next.0.min(tick));
            if to > *from {
                sum += q((to - from) as i64 * us, ppq * 1_000_000);
            }
        }
        sum
    };
    let mut notes = Vec::new();
    for track in &smf.tracks {
        let (mut tick, mut name) = (0, String::new());
        let mut open: BTreeMap<u8, usize> = BTreeMap::new();
        for event in track {
            tick += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Meta(MetaMessage::TrackName(text)) => {
                    name = String::from_utf8(text.to_vec()).unwrap();
                }
                TrackEventKind::Midi { message, .. } => match message {
                    MidiMessage::NoteOn { key, vel } => {
                        *open.entry(key.as_int()).or_default() += 1;
                        let note = (seconds(tick), key.as_int(), vel.as_int(), name.clone());
                        notes.push(note);
                    }
                    MidiMessage::NoteOff { key, .. } => {
                        *open.get_mut(&key.as_int()).unwrap() -= 1;
                    }
                    _ => {}
                },
                _ => {}
            }
        }
        assert!(open.values().all(|n| *n == 0), "a note hangs in {name}");
    }
    let slowest = tempos.iter().map(|t| t.1).max().unwrap();
    Read {
        notes,
        seconds_per_tick: q(slowest, ppq * 1_000_000),
        ends: seconds(tick),
        tempos: tempos.iter().map(|(tick, _)| seconds(*tick)).collect(),
    }
}

fn track_of(name: &str) -> u8 {
    match name {
        "Hands" => 0,
        "Feet" => 1,
        "Click" => 2,
        _ => 3,
    }
}

/// Every note of one list has one of the other on its key and track near it.
fn compare(read: &Read, worked: &Worked, slack: &Q) -> Result<(), TestCaseError> {
    // Grace notes are in milliseconds, which no division holds: their tick is the
    // nearest.
    let rough = slack + &read.seconds_per_tick * q(1, 2);
    let near = |a: &Q, b: &Q, grace: bool| {
        let most = if grace { &rough } else { slack };
        // Most pairs are far apart, which is quickly seen.
        let apart = (a.to_f64().unwrap() - b.to_f64().unwrap()).abs();
        apart < 0.1 && (a - b).abs() <= *most
    };
    let same = |r: &(Q, u8, u8, String), w: &crate::random::Note| {
        r.1 == w.key && track_of(&r.3) == w.track && near(&r.0, &w.at, w.grace)
    };
    // None twice.
    let places: BTreeSet<_> = read.notes.iter().map(|n| (&n.0, n.1, &n.3)).collect();
    prop_assert_eq!(places.len(), read.notes.len());
    prop_assert!(read.notes.len() <= worked.notes.len());
    for note in &read.notes {
        let hit = worked
            .notes
            .iter()
            .any(|w| same(note, w) && w.velocity == note.2);
        prop_assert!(hit, "{note:?} is not due");
    }
    for wanted in &worked.notes {
        // Two strokes on one drum at once are one note, the louder.
        let hit = read
            .notes
            .iter()
            .any(|r| same(r, wanted) && r.2 >= wanted.velocity);
        prop_assert!(hit, "{wanted:?} is missing");
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_000))]

    /// To the sample at 48 kHz, by the file's own tempo map.
    #[test]
    fn a_midi_file_plays_the_exact_schedule((music, asked) in case()) {
        let score = Score::parse(&music.text(), "score");
        prop_assume!(score.is_ok());
        let plan = Plan::parse(&asked.text(&music), "plan").unwrap();
        let schedule = Schedule::new(&plan, &score.unwrap(), &[]).unwrap();
        let file = track::midi(&schedule, Ornaments::default(), 60.0).unwrap();
        let read = read(&file.bytes);
        let worked = worked(&music, &asked);
        let error = file.report.largest_error_ticks;
        let error = q(*error.numer() as i64, *error.denom() as i64);
        prop_assert!(error <= q(1, 2));
        let slack = sample() + error * &read.seconds_per_tick;
        prop_assert!((&read.ends - &worked.ends).abs() <= slack);
        compare(&read, &worked, &slack)?;
        // A step's tempo stands where the step begins.
        for (n, step) in worked.steps.iter().enumerate().skip(1) {
            let changed = schedule.segments.iter().find(|s| s.step == n).map(|s| s.tempo);
            let before = schedule.segments.iter().rfind(|s| s.step + 1 == n).map(|s| s.tempo);
            if changed != before && asked.count_in == 0 {
                let near = |t: &Q| (t - step).abs() <= slack;
                prop_assert!(read.tempos.iter().any(near), "no tempo at step {n}");
            }
        }
    }
}

/// A track of twenty minutes at a tempo that whole microseconds cannot hold.
#[test]
fn rounding_the_tempo_does_not_add_up() {
    let plan = "barform = 1\n[practice]\ntempo = 92\neach = \"460 bars\"\n";
    let schedule = schedule(FOUR, plan);
    let file = track::midi(&schedule, Ornaments::default(), 60.0).unwrap();
    let read = read(&file.bytes);
    assert!((read.ends - schedule.ends.exact()).abs() <= sample());
    // Far fewer tempo events than bars.
    assert!(read.tempos.len() < 60, "{}", read.tempos.len());
    assert!(file.report.tempo_drift_us.abs() < 20.0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// In the sound itself the click starts on its very sample and is silent where
    /// it has to be.
    #[test]
    fn the_click_starts_on_its_sample((music, asked) in case()) {
        const RATE_HZ: u32 = 8_000;
        let score = Score::parse(&music.text(), "score");
        prop_assume!(score.is_ok());
        let plan = Plan::parse(&asked.text(&music), "plan").unwrap();
        let schedule = Schedule::new(&plan, &score.unwrap(), &[]).unwrap();
        prop_assume!(schedule.ends.to_f64() < 60.0);
        let worked = worked(&music, &asked);
        let made = track::rendering(
            &schedule, Ornaments::default(), &Sounds::Kit, Some(0.0), RATE_HZ,
        );
        let mut rendering = made.unwrap();
        let frames = rendering.frames() as usize;
        let end = (&worked.ends * BigInt::from(RATE_HZ) + q(1, 2)).floor().to_integer();
        prop_assert_eq!(frames as u64, end.to_u64().unwrap());
        let mut stem_of = [1; Voice::COUNT];
        stem_of[Voice::Click.index()] = 0;
        let mut stems = vec![Block::default()];
        stems[0].left.resize(frames, 0.0);
        stems[0].right.resize(frames, 0.0);
        rendering.fill_stems(&stem_of, &mut stems, frames);
        let clicks = worked.notes.iter().filter(|n| n.track == 2);
        let mut starts: Vec<usize> = clicks
            .map(|n| (&n.at * BigInt::from(RATE_HZ) + q(1, 2)).floor().to_integer())
            .map(|at| at.to_usize().unwrap())
            .collect();
        starts.dedup();
        // The kit's click rings for 0.15 s; behind that there is nothing until the
        // next one starts.
        let ring = RATE_HZ as usize / 5;
        let sound = |n: usize| stems[0].left[n] != 0.0 || stems[0].right[n] != 0.0;
        let mut silent_from = 0;
        for start in starts.iter().copied().chain([frames]) {
            for n in silent_from..start {
                prop_assert!(!sound(n), "sound at {n}, next click at {start}");
            }
            if start < frames && start >= silent_from {
                prop_assert!(sound(start), "no click at {start}");
            }
            silent_from = silent_from.max(start + ring);
        }
    }
}

/// Both kinds of audio file hold the same samples, as long as the schedule.
#[test]
fn wav_and_flac_are_written_alike() {
    use barform_files::export::audio::{self, FileKind, Format, Level, Overwrite, SampleFormat};
    use std::ops::ControlFlow;
    let plan = "barform = 1\n[practice]\ntempo = \"100 120\"\n";
    let schedule = schedule(FOUR, plan);
    let folder = tempfile::tempdir().unwrap();
    for kind in [FileKind::Wav, FileKind::Flac] {
        let format = Format {
            kind,
            rate_hz: 48_000,
            sample: SampleFormat::Int16,
        };
        let made = track::rendering(
            &schedule,
            Ornaments::default(),
            &Sounds::Kit,
            Some(0.0),
            48_000,
        );
        let path = folder.path().join(kind.ending());
        let level = Level { target_lufs: None };
        let step = |_| ControlFlow::Continue(());
        let written =
            audio::write_rendering(made.unwrap(), format, level, &path, Overwrite::Refuse, step);
        let report = written.unwrap().report;
        // Two bars at 100 (count-in and music) and one at 120: 6.8 s.
        assert_eq!(report.frames, 326_400);
        assert!(report.true_peak_dbtp.unwrap() <= -1.0);
    }
    let wav = hound::WavReader::open(folder.path().join("wav")).unwrap();
    assert_eq!(wav.duration(), 326_400);
}
