//! What stands in a MusicXML document, read with an XML library; and what comes
//! back from it.

use crate::musicxml_support;

use barform_app::export::musicxml::{Options, lost, write, write_mxl};
use barform_app::import::Imported;
use barform_app::import::musicxml as import;
use barform_app::score::Score;
use barform_app::sheet::notate::{self, Fold};
use barform_app::timeline::Timeline;
use musicxml_support::{bare, demo, document, strokes};
use std::io::{Cursor, Read};

const ALL: [Fold; 3] = [Fold::Full, Fold::Repeats, Fold::Letters];

fn read(bytes: &[u8]) -> Imported {
    import::read(bytes, &import::Options::default()).unwrap()
}

fn one(grid: &str, sticking: &str, voices: &str, more: &str) -> Score {
    let text = format!(
        "barform = 1\ntempo = 100\nmeter = \"4/4\"\nform = \"A A A A |\"\n\
         [cell.A]\ngrid = \"{grid}\"\nsticking = \"{sticking}\"\nvoices = \"{voices}\"\n{more}"
    );
    Score::parse(&text, "one.barform").unwrap()
}

/// The notes of the first measure with a text or an attribute looked up.
fn notes(xml: &str, pick: impl Fn(roxmltree::Node) -> String) -> Vec<String> {
    let options = roxmltree::ParsingOptions {
        allow_dtd: true,
        ..roxmltree::ParsingOptions::default()
    };
    let document = roxmltree::Document::parse_with_options(xml, options).unwrap();
    let measure = document
        .descendants()
        .find(|n| n.has_tag_name("measure"))
        .unwrap();
    let notes = measure.children().filter(|n| n.has_tag_name("note"));
    notes.map(pick).collect()
}

fn below(note: roxmltree::Node, name: &str) -> String {
    let found = note.descendants().find(|n| n.has_tag_name(name));
    found.map_or(String::new(), |n| n.text().unwrap_or("").to_owned())
}

#[test]
fn our_documents_carry_the_score_and_come_back_byte_for_byte() {
    for fold in ALL {
        let text = document(&demo(), fold, &Options::default()).unwrap();
        let back = read(text.as_bytes());
        assert_eq!(back.score, demo(), "{fold:?}");
        assert_eq!(back.notes, []);
        assert_eq!(document(&back.score, fold, &Options::default()), Some(text));
    }
}

#[test]
fn packed_documents_hold_the_same_and_are_the_same_each_time() {
    let timeline = Timeline::compile(&demo()).unwrap();
    let written = notate::written(&demo(), &timeline, &notate::Options::default()).unwrap();
    let options = Options::default();
    let packed = write_mxl(&written, &timeline, &demo(), &options).unwrap();
    let again = write_mxl(&written, &timeline, &demo(), &options).unwrap();
    assert_eq!(packed, again);
    assert_eq!(read(&packed).score, demo());

    let mut zip = zip::ZipArchive::new(Cursor::new(&packed)).unwrap();
    // MusicXML 4.0, "Compressed .mxl files": the type is the first entry,
    // stored as it is, so that it can be seen from outside.
    let first = zip.by_index(0).unwrap();
    assert_eq!(first.name().unwrap(), "mimetype");
    assert_eq!(first.compression(), zip::CompressionMethod::Stored);
    drop(first);
    let mut text = String::new();
    zip.by_name("score.musicxml")
        .unwrap()
        .read_to_string(&mut text)
        .unwrap();
    assert_eq!(text, write(&written, &timeline, &demo(), &options).unwrap());
}

#[test]
fn a_score_that_no_longer_fits_its_notes_is_not_taken() {
    let text = document(&demo(), Fold::Full, &Options::default()).unwrap();
    // One stroke of the sheet loses its accent in another program.
    let changed = text.replacen("<accent/>", "<staccato/>", 1);
    assert_ne!(text, changed);
    let back = read(changed.as_bytes());
    assert_ne!(back.score, demo());
    let said = back.notes.iter().map(ToString::to_string);
    assert!(
        said.clone().any(|s| s.contains("goes along")),
        "{:?}",
        back.notes
    );
    assert!(said.into_iter().any(|s| s.contains("staccato")));
    let (mut was, is) = (strokes(&demo()), strokes(&back.score));
    let accented = was
        .iter()
        .position(|(_, s)| s.level == barform_app::music::Level::Accent)
        .unwrap();
    was[accented].1.level = barform_app::music::Level::Normal;
    assert_eq!(was, is);
}

#[test]
fn layout_of_another_program_does_not_matter() {
    let text = document(&demo(), Fold::Full, &Options::default()).unwrap();
    let squeezed: String = text
        .lines()
        .map(str::trim_start)
        .collect::<Vec<_>>()
        .join("\n");
    assert_eq!(read(squeezed.as_bytes()).score, demo());
}

#[test]
fn notes_alone_give_every_stroke_and_every_letter_back() {
    let score = demo();
    let text = document(&score, Fold::Full, &bare()).unwrap();
    let back = read(text.as_bytes());
    assert_eq!(strokes(&back.score), strokes(&score));
    assert_eq!(back.score.title, score.title);
    assert_eq!(back.score.tempo, score.tempo);
    let names = |s: &Score| -> Vec<String> { s.sections.iter().map(|s| s.name.clone()).collect() };
    assert_eq!(names(&back.score), names(&score));
}

/// Without ostinatos, variations or overrides there is nothing that notes do
/// not say: the way there and back is the identity.
#[test]
fn a_plain_score_needs_no_carried_text() {
    let text = "barform = 1\ntitle = \"Tin roof\"\ntempo = 92.5\nmeter = \"4/4\"\n\
         form = \"A A B | A B A | (A C A)x3 |\"\n\
         [cell.A]\ngrid = \"6\"\nsticking = \"R> L R lL (R) L\"\nvoices = \"snare . tom1 . . hat:open\"\n\
         [cell.B]\ngrid = \"4 3\"\nsticking = \"R L K L R+K llR Lz\"\n\
         voices = \"snare . . ride:bell crash+kick tom4 snare\"\n\
         [cell.C]\ngrid = \"3@2\"\nsticking = \"R L R>+H\"\nvoices = \"snare:rim snare:cross crash:choke+hatfoot\"\n";
    let score = Score::parse(text, "plain.barform").unwrap();
    for fold in [Fold::Full, Fold::Repeats] {
        let text = document(&score, fold, &bare()).unwrap();
        let back = read(text.as_bytes());
        assert_eq!(back.notes, []);
        assert_eq!(strokes(&back.score), strokes(&score));
        assert_eq!(
            back.score.cells_resolved().unwrap(),
            score.cells_resolved().unwrap(),
            "{fold:?}"
        );
        assert_eq!(document(&back.score, fold, &bare()), Some(text), "{fold:?}");
    }
    let repeats = document(&score, Fold::Repeats, &bare()).unwrap();
    let back = read(repeats.as_bytes());
    assert_eq!(back.score.sections, score.sections);
}

/// MusicXML 4.0, elements `notehead`, `technical`, `tremolo`, `grace`.
#[test]
fn each_way_of_striking_has_the_standards_sign() {
    let score = one(
        "6",
        "(R) L>z lR rrL R+K H",
        "snare:cross snare hat:open hat:half crash:choke+kick hatfoot",
        "",
    );
    let text = document(&score, Fold::Full, &bare()).unwrap();
    let hands = |note: roxmltree::Node| -> String {
        let sign = |name: &str| note.descendants().any(|n| n.has_tag_name(name));
        let mut out = below(note, "fingering");
        for name in [
            "grace",
            "accent",
            "tremolo",
            "open",
            "half-muted",
            "other-technical",
            "chord",
        ] {
            if sign(name) {
                out += &format!(" {name}");
            }
        }
        let head = note.descendants().find(|n| n.has_tag_name("notehead"));
        if let Some(head) = head {
            out += &format!(" ({})", head.text().unwrap());
            out += head.attribute("parentheses").map_or("", |_| " parentheses");
        }
        out
    };
    let read = notes(&text, hands);
    let beat: Vec<&str> = read.iter().take(8).map(String::as_str).collect();
    let expected = [
        "R (x) parentheses",
        "L accent tremolo",
        "l grace (x)",
        "R open (x)",
        "r grace (x)",
        "r grace (x)",
        "L half-muted (x)",
        "R other-technical (x)",
    ];
    assert_eq!(beat, expected);
}

/// Two hands at once on one drum, each with grace notes of its own.
#[test]
fn grace_notes_of_two_hands_stay_with_their_strokes() {
    for pair in [
        "llR+rrlL",
        "rrlL+llR",
        "lrlR+rL",
        "rL+lrlR",
        "lR+rL",
        "lrlR+rlrL",
        "R+rrL",
    ] {
        let score = one("1", pair, "snare+snare", "");
        let text = document(&score, Fold::Full, &bare()).unwrap();
        assert_eq!(
            strokes(&read(text.as_bytes()).score),
            strokes(&score),
            "{pair}"
        );
    }
}

#[test]
fn a_sextuplet_is_six_in_the_time_of_four_sixteenths() {
    let text = document(
        &one("6", "R L R L R L", "snare . . . . .", ""),
        Fold::Full,
        &bare(),
    );
    let text = text.unwrap();
    let ratio =
        |n: roxmltree::Node| format!("{}:{}", below(n, "actual-notes"), below(n, "normal-notes"));
    assert_eq!(notes(&text, ratio)[..6], ["6:4"; 6]);
    assert_eq!(notes(&text, |n| below(n, "type"))[..6], ["16th"; 6]);
    let beams = |n: roxmltree::Node| below(n, "beam");
    assert_eq!(notes(&text, beams)[0], "begin");
    assert_eq!(notes(&text, beams)[5], "end");
    assert_eq!(text.matches("<tuplet type=\"start\"").count(), 4);
    assert_eq!(text.matches("<tuplet type=\"stop\"").count(), 4);
}

#[test]
fn keys_stand_one_higher_than_in_midi() {
    let text = document(&one("1", "K", "kick", ""), Fold::Full, &bare()).unwrap();
    // General MIDI Level 1 (MIDI Association): bass drum 1 is key 36; the
    // element counts from 1 (MusicXML 4.0, `midi-unpitched`).
    assert!(text.contains("<midi-unpitched>37</midi-unpitched>"));
    assert!(text.contains("<midi-channel>10</midi-channel>"));
}

#[test]
fn what_the_format_cannot_hold_is_told() {
    let score = demo();
    let timeline = Timeline::compile(&score).unwrap();
    let written = notate::written(&score, &timeline, &notate::Options::default()).unwrap();
    let told = lost(&written, &score, &Options::default()).join("\n");
    for what in ["ostinatos", "variation", "overrides", "per cent"] {
        assert!(told.contains(what), "{what}: {told}");
    }
    let plain = one("4", "R L R L", "snare . . .", "");
    let timeline = Timeline::compile(&plain).unwrap();
    let written = notate::written(&plain, &timeline, &notate::Options::default()).unwrap();
    assert_eq!(lost(&written, &plain, &Options::default()), [""; 0]);
}

#[test]
fn a_kit_of_other_keys_comes_back() {
    let score = one(
        "2",
        "R K",
        "snare .",
        "[kit.snare]\nkey = 61\nchannel = 3\n",
    );
    let text = document(&score, Fold::Full, &bare()).unwrap();
    let back = read(text.as_bytes());
    assert_eq!(strokes(&back.score), strokes(&score));
    let snare = |s: &Score| *s.kit.voice(barform_app::music::Voice::Snare);
    assert_eq!(snare(&back.score).channel, snare(&score).channel);
    assert_eq!(snare(&back.score).keys[0], snare(&score).keys[0]);
}

#[test]
fn counts_are_lyrics_where_there_is_a_note_or_rest() {
    let options = Options {
        counts: true,
        ..bare()
    };
    let text = document(
        &one("4", "R L R L", "snare . . .", ""),
        Fold::Full,
        &options,
    )
    .unwrap();
    // Common practice: sixteenths are counted "1 e & a".
    let counts = notes(&text, |n| below(n, "text"));
    assert_eq!(counts[..4], ["1", "e", "&", "a"]);
    assert_eq!(read(text.as_bytes()).notes, []);
}

#[test]
fn a_pickup_is_an_implicit_measure() {
    let text = "barform = 1\nmeter = \"3/4\"\npickup = 1\nform = \"A | A A A | A A A |\"\n\
                [cell.A]\ngrid = \"2\"\nsticking = \"R L\"\n";
    let score = Score::parse(text, "pickup.barform").unwrap();
    let text = document(&score, Fold::Full, &bare()).unwrap();
    assert!(text.contains("<measure number=\"0\" implicit=\"yes\">"));
    let back = read(text.as_bytes());
    assert_eq!(back.score.pickup, score.pickup);
    assert_eq!(back.score.sections, score.sections);
}
