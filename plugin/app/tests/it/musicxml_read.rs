//! What is read from documents of other programs, and what is said of it.

use crate::musicxml_support;

use barform_app::import::musicxml::{Cut, Options, read};
use barform_app::import::{ImportError, Imported, RemarkKind};
use barform_app::music::{Beats, Limb};
use barform_app::score::form_text;
use musicxml_support::strokes;

fn note(place: &str, duration: u32, more: &str) -> String {
    let (step, octave) = place.split_at(1);
    format!(
        "<note><unpitched><display-step>{step}</display-step><display-octave>{octave}\
         </display-octave></unpitched><duration>{duration}</duration><voice>1</voice>{more}</note>"
    )
}

fn x(place: &str, duration: u32) -> String {
    note(place, duration, "<notehead>x</notehead>")
}

/// A document of these measures, in 4/4 with two divisions of a quarter note.
fn score(measures: &[String]) -> String {
    let mut text = String::from(
        "<score-partwise version=\"3.1\"><part-list><score-part id=\"D\"><part-name>Drums\
         </part-name></score-part></part-list><part id=\"D\">",
    );
    for (i, content) in measures.iter().enumerate() {
        text += &format!("<measure number=\"{}\">", i + 1);
        if i == 0 {
            text += "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4\
                     </beat-type></time><clef><sign>percussion</sign></clef></attributes>\
                     <sound tempo=\"96\"/>";
        }
        text += content;
        text += "</measure>";
    }
    text + "</part></score-partwise>"
}

fn imported(text: &str) -> Imported {
    read(text.as_bytes(), &Options::default()).unwrap()
}

fn form(imported: &Imported) -> String {
    let sections = &imported.score.sections;
    let forms: Vec<String> = sections.iter().map(|s| form_text(&s.items)).collect();
    forms.join(" / ")
}

fn groove() -> String {
    let hat: String = (0..8).map(|_| x("G5", 1)).collect();
    let feet = [("F4", 2), ("C5", 2), ("F4", 2), ("C5", 2)];
    let feet: String = feet.iter().map(|(p, d)| note(p, *d, "")).collect();
    format!(
        "{hat}<backup><duration>8</duration></backup>{}",
        feet.replace(">1</voice>", ">2</voice>")
    )
}

fn four(place: &str) -> String {
    (0..4).map(|_| note(place, 2, "")).collect()
}

#[test]
fn a_bar_is_a_cell_and_like_bars_share_a_letter() {
    let read = imported(&score(&[groove(), groove(), four("D5"), groove()]));
    assert_eq!(form(&read), "A | A | B | A |");
    assert_eq!(read.score.tempo, Beats::whole(96));
    let cell = &read.score.cells_resolved().unwrap()[0];
    assert_eq!(cell.grid.to_string(), "2 2 2 2");
    let first: Vec<_> = cell.slots[0]
        .iter()
        .map(|s| (s.limb, s.voice.name()))
        .collect();
    assert_eq!(first, [(Limb::RightHand, "hat"), (Limb::KickFoot, "kick")]);
    // The backbeat under the ride hand is the other hand's.
    let second: Vec<_> = cell.slots[2].iter().map(|s| s.voice.name()).collect();
    assert_eq!(second.len(), 2);
    assert!(second.contains(&"snare") && second.contains(&"hat"));
    let kinds: Vec<RemarkKind> = read.notes.iter().map(|n| n.kind).collect();
    assert!(
        kinds.contains(&RemarkKind::Assumed),
        "sticking is worked out: {kinds:?}"
    );
}

#[test]
fn cells_are_as_long_as_asked() {
    let options = Options {
        cut: Cut::Beats(Beats::whole(2)),
        ..Options::default()
    };
    let text = score(&[groove(), four("D5")]);
    let read = read(text.as_bytes(), &options).unwrap();
    assert_eq!(form(&read), "A A | B B |");
    assert_eq!(strokes(&read.score), strokes(&imported(&text).score));
}

#[test]
fn repeats_are_groups_and_endings_are_written_out() {
    let forward = "<barline location=\"left\"><repeat direction=\"forward\"/></barline>";
    let back = "<barline location=\"right\"><repeat direction=\"backward\" times=\"3\"/></barline>";
    let text = score(&[
        four("C5"),
        format!("{forward}{}", four("D5")),
        format!("{}{back}", four("E5")),
        four("C5"),
    ]);
    assert_eq!(form(&imported(&text)), "A | (B | C)x3 | A |");

    let ending = |n: u32, kind: &str, more: &str| {
        format!("<barline><ending number=\"{n}\" type=\"{kind}\"/>{more}</barline>")
    };
    let back = "<repeat direction=\"backward\"/>";
    let text = score(&[
        four("C5"),
        format!(
            "{}{}{}",
            ending(1, "start", ""),
            four("D5"),
            ending(1, "stop", back)
        ),
        format!(
            "{}{}{}",
            ending(2, "start", ""),
            four("E5"),
            ending(2, "discontinue", "")
        ),
        four("F5"),
    ]);
    assert_eq!(form(&imported(&text)), "A | B | A | C | D |");
}

#[test]
fn meters_pickups_and_short_bars_keep_their_lengths() {
    let three = "<attributes><time><beats>3</beats><beat-type>4</beat-type></time></attributes>";
    let text = score(&[
        note("C5", 2, ""),
        four("D5"),
        format!(
            "{three}{}",
            (0..3).map(|_| note("E5", 2, "")).collect::<String>()
        ),
        note("F5", 2, ""),
    ]);
    let read = imported(&text.replacen("number=\"1\"", "number=\"0\" implicit=\"yes\"", 1));
    assert_eq!(read.score.pickup, Beats::ONE);
    assert_eq!(read.score.meter.to_string(), "4/4");
    let meters: Vec<_> = read
        .score
        .sections
        .iter()
        .map(|s| s.meter.map(|m| m.to_string()))
        .collect();
    assert_eq!(meters, [None, Some("3/4".to_owned())]);
    assert_eq!(strokes(&read.score).len(), 9);
}

#[test]
fn ties_sound_on_and_rests_and_forwards_are_silent() {
    let bar = [
        note("C5", 2, "<tie type=\"start\"/>"),
        note("C5", 2, "<tie type=\"stop\"/>"),
        "<note><rest/><duration>1</duration><voice>1</voice></note>".to_owned(),
        "<forward><duration>2</duration></forward>".to_owned(),
        note("C5", 1, ""),
    ]
    .concat();
    let read = imported(&score(&[bar]));
    let at: Vec<String> = strokes(&read.score).into_iter().map(|(at, _)| at).collect();
    assert_eq!(at, ["0", "7/2"]);
}

/// General MIDI Level 1 percussion key map (MIDI Association): 38 acoustic
/// snare, 42 closed hi-hat, 46 open hi-hat, 36 bass drum 1; one more in the
/// file (MusicXML 4.0, `midi-unpitched`). Key 60 is no drum.
#[test]
fn instruments_are_known_by_key_then_by_name_then_by_place() {
    let list = |id: &str, name: &str, key: u8| {
        (
            format!(
                "<score-instrument id=\"{id}\"><instrument-name>{name}</instrument-name></score-instrument>"
            ),
            format!(
                "<midi-instrument id=\"{id}\"><midi-channel>10</midi-channel><midi-unpitched>{key}</midi-unpitched></midi-instrument>"
            ),
        )
    };
    let all = [
        list("i1", "Sound 1", 39),
        list("i2", "Sound 2", 47),
        list("i3", "Floor tom", 61),
        list("i4", "Sound 4", 61),
    ];
    let names: String = all.iter().map(|(a, _)| a.as_str()).collect();
    let keys: String = all.iter().map(|(_, b)| b.as_str()).collect();
    let played = |id: &str| format!("<instrument id=\"{id}\"/>");
    let bar = [
        note("A3", 2, &played("i1")),
        note("A3", 2, &played("i2")),
        note("A3", 2, &played("i3")),
        note("F4", 2, &played("i4")),
    ]
    .concat();
    let text = score(&[bar]).replace("</part-name>", &format!("</part-name>{names}{keys}"));
    let read = imported(&text);
    let voices: Vec<String> = strokes(&read.score)
        .iter()
        .map(|(_, s)| format!("{} {}", s.voice.name(), s.articulation.name()))
        .collect();
    assert_eq!(voices, ["snare ", "hat open", "tom4 ", "kick "]);
}

#[test]
fn sticking_is_read_from_lyrics_of_limbs_alone() {
    let lyric = |t: &str| format!("<lyric><text>{t}</text></lyric>");
    let bar = [
        note("C5", 2, &lyric("L")),
        note("C5", 2, &lyric("R")),
        note("C5", 2, &lyric("R")),
        note("C5", 2, &lyric("Lo")),
    ]
    .concat();
    let read = imported(&score(&[bar]));
    let hands: String = strokes(&read.score)
        .iter()
        .take(3)
        .map(|(_, s)| s.limb.letter())
        .collect();
    assert_eq!(hands, "LRR");
    let said: Vec<String> = read.notes.iter().map(ToString::to_string).collect();
    assert!(said.iter().any(|s| s.contains("'Lo'")), "{said:?}");
}

#[test]
fn what_is_passed_over_is_told_once_with_its_bar() {
    let dynamics =
        "<direction><direction-type><dynamics><f/></dynamics></direction-type></direction>";
    let words = "<direction><direction-type><words>ad lib.</words></direction-type></direction>";
    let pitched = four("C5")
        .replace("unpitched", "pitch")
        .replace("display-", "");
    let text = score(&[
        four("C5"),
        format!("{dynamics}{words}{}{dynamics}", four("C5")),
        format!(
            "<harmony/>{}",
            note(
                "C5",
                8,
                "<notehead>slashed</notehead><notations><fermata/></notations>"
            )
        ),
    ]);
    let two = text.replace(
        "</part-list>",
        "<score-part id=\"F\"><part-name>Flute</part-name></score-part></part-list>",
    );
    let two = two.replace(
        "</score-partwise>",
        &format!(
            "<part id=\"F\"><measure number=\"1\">{pitched}</measure></part></score-partwise>"
        ),
    );
    let read = imported(&two);
    let said: Vec<String> = read.notes.iter().map(ToString::to_string).collect();
    let all = said.join("\n");
    assert!(
        said.contains(&"bar 2: dynamics are not kept (2 times)".to_owned()),
        "{all}"
    );
    for what in [
        "'ad lib.'",
        "'harmony'",
        "'slashed'",
        "'fermata'",
        "not for percussion",
    ] {
        assert!(all.contains(what), "{what} in\n{all}");
    }
}

#[test]
fn a_file_without_drums_says_so() {
    let text = score(&[four("C5")])
        .replace("unpitched", "pitch")
        .replace("display-", "")
        .replace("percussion", "G");
    let error = read(text.as_bytes(), &Options::default()).unwrap_err();
    assert!(matches!(error, ImportError::Nothing(_)), "{error}");
}

#[test]
fn grace_notes_are_flams_drags_and_ruffs() {
    let grace = |n: usize| {
        let one = note("C5", 1, "")
            .replace("<duration>1</duration>", "")
            .replace("<note>", "<note><grace/>");
        one.repeat(n)
    };
    let bar: String = (0..4)
        .map(|n| format!("{}{}", grace(n), note("C5", 2, "")))
        .collect();
    let read = imported(&score(&[bar]));
    let graces: Vec<usize> = strokes(&read.score)
        .iter()
        .map(|(_, s)| s.graces.len())
        .collect();
    assert_eq!(graces, [0, 1, 2, 3]);
}

#[test]
fn score_timewise_is_read_too() {
    let partwise = score(&[four("C5"), four("D5")]);
    let body =
        |n: usize, c: &str| format!("<measure number=\"{n}\"><part id=\"D\">{c}</part></measure>");
    let list = partwise
        .split("<part id")
        .next()
        .unwrap()
        .replace("partwise", "timewise");
    let attributes = "<attributes><divisions>2</divisions></attributes>";
    let timewise = format!(
        "{list}{}{}</score-timewise>",
        body(1, &format!("{attributes}{}", four("C5"))),
        body(2, &four("D5"))
    );
    assert_eq!(
        strokes(&imported(&timewise).score),
        strokes(&imported(&partwise).score)
    );
}

#[test]
fn cells_of_nothing_are_no_option() {
    let options = Options {
        cut: Cut::Beats(Beats::ZERO),
        ..Options::default()
    };
    let error = read(score(&[four("C5")]).as_bytes(), &options);
    assert!(matches!(error, Err(ImportError::Option(_))));
}
