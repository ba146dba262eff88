//! Files of other programs: keys, flams, sections, letters, remarks.

use barform_app::import::midi::{
    Channels, NamedKit, Options, PERCUSSION_NAMES, percussion_name, read, read_with_report,
};
use barform_app::import::{Imported, RemarkKind};
use barform_app::music::{Articulation, Beats, Channel, Key, Kit, Voice};
use barform_app::score::form_text;
use midly::num::{u4, u7, u24, u28};
use midly::{Format, Header, MetaMessage, MidiMessage, Smf, Timing, TrackEvent, TrackEventKind};

const TICKS: u64 = 480;

/// A file of type 0 at 480 ticks and 100 beats per minute: meta events, then
/// notes (tick, key, velocity).
fn file(metas: &[(u64, MetaMessage<'static>)], notes: &[(u64, u8, u8)]) -> Vec<u8> {
    let mut events: Vec<(u64, TrackEventKind<'static>)> = vec![
        (
            0,
            TrackEventKind::Meta(MetaMessage::Tempo(u24::new(600_000))),
        ),
        (
            0,
            TrackEventKind::Meta(MetaMessage::TimeSignature(4, 2, 24, 8)),
        ),
    ];
    events.extend(metas.iter().map(|(t, m)| (*t, TrackEventKind::Meta(*m))));
    for (tick, key, velocity) in notes {
        let message = |vel: u8| MidiMessage::NoteOn {
            key: u7::new(*key),
            vel: u7::new(vel),
        };
        let midi = |message| TrackEventKind::Midi {
            channel: u4::new(9),
            message,
        };
        events.push((*tick, midi(message(*velocity))));
        events.push((tick + 5, midi(message(0))));
    }
    events.sort_by_key(|(tick, _)| *tick);
    let end = events.last().map_or(0, |(tick, _)| *tick);
    events.push((end, TrackEventKind::Meta(MetaMessage::EndOfTrack)));
    let mut now = 0;
    let track = events.into_iter().map(|(tick, kind)| {
        let delta = u28::new((tick - now) as u32);
        now = tick;
        TrackEvent { delta, kind }
    });
    let smf = Smf {
        header: Header::new(Format::SingleTrack, Timing::Metrical(480.into())),
        tracks: vec![track.collect()],
    };
    let mut bytes = Vec::new();
    smf.write_std(&mut bytes).unwrap();
    bytes
}

/// One bar of quarter notes on a key.
fn quarters(key: u8, bar: u64) -> Vec<(u64, u8, u8)> {
    (0..4).map(|b| ((bar * 4 + b) * TICKS, key, 84)).collect()
}

fn told(imported: &Imported, kind: RemarkKind, what: &str) -> bool {
    let mut notes = imported.notes.iter();
    notes.any(|r| r.kind == kind && r.what.contains(what))
}

fn forms(imported: &Imported) -> Vec<String> {
    let sections = imported.score.sections.iter();
    sections.map(|s| form_text(&s.items)).collect()
}

/// General MIDI Level 1, table 3 (MIDI Association), from memory.
#[test]
fn keys_are_those_of_general_midi() {
    for (key, name) in [
        (35, "Acoustic Bass Drum"),
        (38, "Acoustic Snare"),
        (42, "Closed Hi Hat"),
        (51, "Ride Cymbal 1"),
        (81, "Open Triangle"),
    ] {
        assert_eq!(percussion_name(Key::new(key).unwrap()), Some(name));
    }
    assert_eq!(PERCUSSION_NAMES.len(), 47);
    assert_eq!(percussion_name(Key::new(34).unwrap()), None);
    assert_eq!(percussion_name(Key::new(82).unwrap()), None);
    // The other bass drum and ride are read, a tambourine is not.
    let notes = [(0, 35, 84), (480, 59, 84), (960, 54, 84), (960, 37, 84)];
    let (imported, report) = read_with_report(&file(&[], &notes), &Options::default()).unwrap();
    assert_eq!(report.kits[0].known, 3);
    assert_eq!(report.kits[0].unknown[&Key::new(54).unwrap()], 1);
    assert!(told(
        &imported,
        RemarkKind::NotUnderstood,
        "note 54 (Tambourine)"
    ));
    assert!(told(
        &imported,
        RemarkKind::Assumed,
        "note 35 (Acoustic Bass Drum) was read as kick"
    ));
    let score = &imported.score;
    let voices: Vec<(Voice, Articulation)> = (score.cells_resolved().unwrap().iter())
        .flat_map(|c| c.slots.iter().flatten())
        .map(|s| (s.voice, s.articulation))
        .collect();
    assert_eq!(
        voices,
        [
            (Voice::Kick, Articulation::Plain),
            (Voice::Ride, Articulation::Plain),
            (Voice::Snare, Articulation::Cross)
        ]
    );
}

#[test]
fn the_kit_that_knows_most_notes_is_taken() {
    let mut own = Kit::general_midi();
    own.voice_mut(Voice::Snare).keys[0] = Key::new(60);
    own.voice_mut(Voice::Kick).keys[0] = Key::new(61);
    let named = |name: &str, kit: Kit| NamedKit {
        name: name.into(),
        kit,
    };
    let options = Options {
        kits: vec![
            named("General MIDI", Kit::general_midi()),
            named("pads", own.clone()),
        ],
        ..Options::default()
    };
    let bytes = file(&[], &[(0, 60, 84), (480, 61, 84), (960, 42, 84)]);
    let (imported, report) = read_with_report(&bytes, &options).unwrap();
    assert_eq!(
        (report.kit, report.kits[0].known, report.kits[1].known),
        (1, 1, 3)
    );
    assert_eq!(imported.score.kit, own);
    assert!(told(
        &imported,
        RemarkKind::Assumed,
        "'pads' fits best: it knows 3 of 3"
    ));
    // Of equally good ones the first.
    let bytes = file(&[], &[(0, 42, 84)]);
    assert_eq!(read_with_report(&bytes, &options).unwrap().1.kit, 0);
}

/// A flam, a drag and a ruff as played: softer, 20 to 35 ms apart (a tick is
/// 1.25 ms).
#[test]
fn soft_notes_just_before_a_stroke_are_grace_notes() {
    let notes = [
        (480 - 20, 38, 40),
        (480, 38, 100),
        (960 - 50, 38, 35),
        (960 - 24, 38, 38),
        (960, 38, 90),
        (1440 - 75, 50, 30),
        (1440 - 52, 50, 33),
        (1440 - 22, 50, 36),
        (1440, 50, 110),
        // As loud as what follows, or on another drum: strokes.
        (0, 42, 84),
        (1920, 38, 84),
        (1920 + 120, 42, 40),
        (1920 + 240, 38, 84),
    ];
    let (imported, report) = read_with_report(&file(&[], &notes), &Options::default()).unwrap();
    let graces: Vec<usize> = (imported.score.cells_resolved().unwrap().iter())
        .flat_map(|c| c.slots.iter().flatten())
        .map(|s| s.graces.len())
        .filter(|n| *n > 0)
        .collect();
    assert_eq!(graces, [1, 2, 3], "{}", imported.score.to_toml());
    assert_eq!(report.strokes, 7);
    assert_eq!(report.largest_error_us, 0);
}

#[test]
fn like_cells_share_a_letter_and_runs_are_repeats() {
    let notes: Vec<_> = (0..6).flat_map(|bar| quarters(38, bar)).collect();
    let imported = read(&file(&[], &notes), &Options::default()).unwrap();
    assert_eq!(forms(&imported), ["((A)x4 |)x6"]);
    let options = Options {
        cell: Some(Beats::whole(2)),
        ..Options::default()
    };
    let imported = read(&file(&[], &notes), &options).unwrap();
    assert_eq!(forms(&imported), ["(A A |)x6"]);
    assert_eq!(
        imported.score.cells[0].grid.as_ref().unwrap().to_string(),
        "1 1"
    );
    // The same rhythm on other drums is a prime.
    let sixteenths = |from: u64, last: u8| {
        [(0, 38), (120, 38), (240, 38), (360, last)].map(|(t, key)| (from + t, key, 84))
    };
    let notes = [sixteenths(0, 38), sixteenths(480, 50), sixteenths(960, 38)].concat();
    let imported = read(&file(&[], &notes), &Options::default()).unwrap();
    assert_eq!(forms(&imported), ["A A' A B |"]);
    assert_eq!(
        imported.score.cells[1].like,
        Some(imported.score.cells[0].letter.clone())
    );
}

#[test]
fn meters_and_names_are_sections() {
    let metas = [
        (4 * TICKS, MetaMessage::TimeSignature(7, 3, 12, 8)),
        (4 * TICKS, MetaMessage::Marker(b"Seven")),
        (4 * TICKS + 100, MetaMessage::Lyric(b"off")),
        (5 * TICKS, MetaMessage::Tempo(u24::new(500_000))),
        (6 * TICKS, MetaMessage::TimeSignature(3, 2, 24, 8)),
    ];
    let notes: Vec<_> = (0..7).map(|b| (b * TICKS, 38, 84)).collect();
    let imported = read(&file(&metas, &notes), &Options::default()).unwrap();
    let score = &imported.score;
    assert_eq!(score.sections.len(), 2);
    assert_eq!(score.sections[1].name, "Seven");
    assert_eq!(score.sections[1].meter.unwrap().to_string(), "7/8");
    assert_eq!(score.tempo, Beats::whole(100));
    assert!(told(&imported, RemarkKind::NotKept, "a change of tempo"));
    assert!(told(&imported, RemarkKind::NotKept, "a change to 3/4"));
    assert!(told(
        &imported,
        RemarkKind::NotKept,
        "does not stand on a bar line"
    ));
}

/// In 12/8 a cell is a pulse of three eighths.
#[test]
fn compound_meters_are_cut_at_their_pulse() {
    let metas = [(0, MetaMessage::TimeSignature(12, 3, 36, 8))];
    let notes: Vec<_> = (0..12).map(|n| (n * 240, 42, 84)).collect();
    let imported = read(&file(&metas, &notes), &Options::default()).unwrap();
    assert_eq!(forms(&imported), ["(A)x4 |"]);
    assert_eq!(
        imported.score.cells[0].grid.as_ref().unwrap().to_string(),
        "3@3/2"
    );
}

#[test]
fn what_two_hands_cannot_play_is_told() {
    let notes = [
        (0, 38, 84),
        (0, 42, 84),
        (0, 49, 84),
        (0, 36, 84),
        (0, 44, 84),
    ];
    let imported = read(&file(&[], &notes), &Options::default()).unwrap();
    assert!(told(
        &imported,
        RemarkKind::NotKept,
        "no hand or foot was free"
    ));
    // With a foot free, it takes the third drum, and that is told.
    let imported = read(&file(&[], &notes[..3]), &Options::default()).unwrap();
    assert!(told(&imported, RemarkKind::Assumed, "free foot"));
}

/// A sixteenth played 8 ms early at the end of a beat belongs to the next.
#[test]
fn a_stroke_a_little_early_is_on_the_beat() {
    let notes = [(0, 38, 84), (474, 38, 84), (966, 36, 84), (1434, 38, 84)];
    let (imported, report) = read_with_report(&file(&[], &notes), &Options::default()).unwrap();
    assert_eq!(forms(&imported), ["A A B A |"]);
    assert_eq!(report.largest_error_us, 7_500);
    assert!(told(&imported, RemarkKind::Assumed, "7.5 ms"));
}

#[test]
fn empty_bars_ahead_are_left_out_and_told() {
    let (imported, report) =
        read_with_report(&file(&[], &quarters(38, 2)), &Options::default()).unwrap();
    assert_eq!(report.empty_bars, 2);
    assert_eq!(forms(&imported), ["(A)x4 |"]);
    assert!(told(&imported, RemarkKind::NotKept, "2 empty bars"));
    let options = Options {
        channels: Channels::Only(Channel::new(1).unwrap()),
        ..Options::default()
    };
    assert!(read(&file(&[], &quarters(38, 0)), &options).is_err());
}
