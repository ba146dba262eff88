//! Documents that mean harm, and damaged ones: a clear error or a sound score,
//! in bounded memory, never a panic.

use crate::musicxml_support;

use barform_app::export::musicxml::{Options, write_mxl};
use barform_app::import::{ImportError, musicxml};
use barform_app::sheet::notate::{self, Fold};
use barform_app::timeline::{MAX_BARS, Timeline};
use barform_dice::{Dice, seed};
use musicxml_support::{bare, demo, document};
use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;

fn refused(bytes: &[u8]) -> String {
    match musicxml::read(bytes, &musicxml::Options::default()) {
        Ok(read) => panic!("was read: {:?}", read.notes),
        Err(error) => error.to_string(),
    }
}

/// A document of one bar around these elements.
fn around(content: &str) -> String {
    format!(
        "<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\">\
         <part-name>D</part-name></score-part></part-list><part id=\"P1\">\
         <measure number=\"1\">{content}</measure></part></score-partwise>"
    )
}

const SNARE: &str = "<note><unpitched><display-step>C</display-step>\
    <display-octave>5</display-octave></unpitched><duration>1</duration><voice>1</voice></note>";

fn packed(entries: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in entries {
        zip.start_file(*name, SimpleFileOptions::default()).unwrap();
        zip.write_all(content).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

fn container(path: &str) -> String {
    format!("<container><rootfiles><rootfile full-path=\"{path}\"/></rootfiles></container>")
}

#[test]
fn entities_are_refused() {
    let bomb = "<!DOCTYPE s [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;\">\
        <!ENTITY c \"&b;&b;&b;&b;\">]><score-partwise>&c;</score-partwise>";
    assert!(refused(bomb.as_bytes()).contains("document type"));
    let outside = "<!DOCTYPE s [<!ENTITY x SYSTEM \"file:///etc/passwd\">]>\
        <score-partwise>&x;</score-partwise>";
    assert!(refused(outside.as_bytes()).contains("document type"));
    assert!(refused(around("&x;").as_bytes()).contains("MusicXML"));
}

#[test]
fn deep_nesting_and_masses_of_attributes_are_refused() {
    let deep = "<a>".repeat(1_000_000);
    assert!(refused(deep.as_bytes()).contains("deep"));
    let many: String = (0..100_000).map(|i| format!(" a{i}=\"\"")).collect();
    assert!(refused(format!("<score-partwise{many}/>").as_bytes()).contains("attributes"));
    let names: String = (0..100)
        .map(|i| format!("<a xmlns:n{i}=\"u{i}\"/>"))
        .collect();
    assert!(refused(around(&names).as_bytes()).contains("name spaces"));
}

#[test]
fn bombs_and_tricks_in_packed_files_are_refused() {
    let zeros = vec![b' '; musicxml::MAX_XML_BYTES as usize + 2];
    let bomb = packed(&[
        ("META-INF/container.xml", container("bomb.xml").as_bytes()),
        ("bomb.xml", &zeros),
    ]);
    assert!(bomb.len() < 100_000, "packed it is small");
    assert!(refused(&bomb).contains("larger than"));
    let bomb = packed(&[("META-INF/container.xml", &zeros)]);
    assert!(refused(&bomb).contains("larger than"));
    for path in ["../../../etc/passwd", "/etc/passwd", "C:\\x.xml", "no such"] {
        let trick = packed(&[("META-INF/container.xml", container(path).as_bytes())]);
        assert!(refused(&trick).contains("in the packed file"), "{path}");
    }
    assert!(refused(&packed(&[("score.xml", b"<score-partwise/>")])).contains("container"));
    assert!(refused(&packed(&[("META-INF/container.xml", b"<container/>")])).contains("names no"));
    assert!(refused(b"PK\x03\x04 and no more").contains("packed file"));
    // A name that leads out of the file is only a name.
    let inside = packed(&[
        ("META-INF/container.xml", container("../s.xml").as_bytes()),
        ("../s.xml", around(SNARE).as_bytes()),
    ]);
    assert!(musicxml::read(&inside, &musicxml::Options::default()).is_ok());
}

#[test]
fn text_that_is_none_is_refused() {
    for bytes in [
        &b""[..],
        b"\xff\xfe\x3c",
        b"\xc3\x28",
        b"MThd\0\0\0\x06",
        b"{}",
        b"<a",
    ] {
        refused(bytes);
    }
    assert!(refused(b"<opus/>").contains("not a score"));
    let wide: Vec<u8> = [0xff, 0xfe]
        .into_iter()
        .chain(around(SNARE).encode_utf16().flat_map(u16::to_le_bytes))
        .collect();
    assert!(musicxml::read(&wide, &musicxml::Options::default()).is_ok());
}

#[test]
fn numbers_out_of_range_are_refused() {
    let with = |divisions: &str, duration: &str| {
        let note = SNARE.replace(">1</duration>", &format!(">{duration}</duration>"));
        around(&format!(
            "<attributes><divisions>{divisions}</divisions></attributes>{note}"
        ))
    };
    for divisions in [
        "0",
        "-1",
        "1e9",
        "9223372036854775807",
        "99999999999999999999",
        "",
    ] {
        assert!(
            refused(with(divisions, "1").as_bytes()).contains("divisions"),
            "{divisions}"
        );
    }
    for duration in ["-1", "x", "1e3", "0x10", ""] {
        assert!(
            refused(with("1", duration).as_bytes()).contains("duration"),
            "{duration}"
        );
    }
    assert!(refused(with("1", "9007199254740992").as_bytes()).contains("beats"));
    let back = format!("{SNARE}<backup><duration>9</duration></backup>");
    assert!(refused(around(&back).as_bytes()).contains("backup"));
    // As fine as can be counted, but too short to be a stroke.
    let fine = with("9007199254740992", "1");
    let error = musicxml::read(fine.as_bytes(), &musicxml::Options::default());
    assert!(
        matches!(error, Err(ImportError::Score(_) | ImportError::TooMuch(_))),
        "{error:?}"
    );
}

#[test]
fn repeats_without_end_have_one() {
    // How many cells the form of a document plays.
    let played = |text: &str| {
        let read = musicxml::read(text.as_bytes(), &musicxml::Options::default()).unwrap();
        read.score.placements().unwrap().places.len()
    };
    // A number of times that is none means twice; no group is longer than 9,999.
    for (times, plays) in [("4294967295", 9_999), ("0", 1), ("-3", 2), ("x", 2)] {
        let repeat = format!("<repeat direction=\"backward\" times=\"{times}\"/>");
        let sign = |ending| format!("<barline location=\"right\">{ending}{repeat}</barline>");
        let meter =
            "<attributes><time><beats>1</beats><beat-type>4</beat-type></time></attributes>";
        let bar = format!("{meter}{SNARE}");
        assert_eq!(
            played(&around(&format!("{bar}{}", sign("")))),
            plays,
            "{times}"
        );
        // Endings say of themselves how often.
        let ending = "<ending number=\"1,2\" type=\"start\"/>";
        assert_eq!(
            played(&around(&format!("{bar}{}", sign(ending)))),
            2,
            "{times}"
        );
    }
    // Nothing is played for the 9,999th time if it is not for the first.
    let endings: String = (0..2_000)
        .map(|_| {
            format!(
                "<measure number=\"1\">{SNARE}<barline><ending number=\"9999\" type=\"start\"/>\
                 </barline><barline><ending number=\"9999\" type=\"stop\"/>\
                 <repeat direction=\"backward\" times=\"9999\"/></barline></measure>"
            )
        })
        .collect();
    let text = around("").replace("</part></", &format!("{endings}</part></"));
    assert_eq!(played(&text), 1, "the empty bar before them");
    // 800 bars before an ending for 64 times are more bars than there may be.
    let bars: String = (0..800)
        .map(|_| format!("<measure number=\"2\">{SNARE}</measure>"))
        .collect();
    let times: Vec<String> = (1..=64).map(|n| n.to_string()).collect();
    let times = times.join(",");
    let last = format!(
        "{bars}<measure number=\"802\"><barline location=\"left\">\
         <ending number=\"{times}\" type=\"start\"/></barline>{SNARE}\
         <barline location=\"right\"><ending number=\"{times}\" type=\"stop\"/>\
         <repeat direction=\"backward\"/></barline></measure>"
    );
    let text = around(SNARE).replace("</part></", &format!("{last}</part></"));
    let many = format!("more than {MAX_BARS} bars");
    assert!(refused(text.as_bytes()).contains(&many));
}

/// One or two small damages, such as a program or a transfer makes.
fn damage(bytes: &mut Vec<u8>, dice: &mut Dice) {
    for _ in 0..=dice.below(2) {
        if bytes.is_empty() {
            return;
        }
        let at = dice.below(bytes.len());
        match dice.below(6) {
            0 => bytes[at] = dice.below(256) as u8,
            1 => bytes[at] ^= 1 << dice.below(8),
            2 => bytes.truncate(at),
            3 => {
                let end = (at + dice.below(40)).min(bytes.len());
                bytes.drain(at..end);
            }
            4 => {
                let end = (at + dice.below(200)).min(bytes.len());
                let part = bytes[at..end].to_vec();
                let to = dice.below(bytes.len());
                bytes.splice(to..to, part);
            }
            _ => {
                // Another number where one stands.
                let digit = bytes[at..].iter().position(u8::is_ascii_digit);
                if let Some(digit) = digit {
                    let number = ["0", "-1", "7", "99999", "9223372036854775807", "1.5"];
                    let number = number[dice.below(6)].bytes();
                    bytes.splice(at + digit..=at + digit, number);
                }
            }
        }
    }
}

/// Reads damaged copies; whatever is read passes the score's own check.
fn damaged_copies(original: &[u8], count: u64, options: &musicxml::Options) -> usize {
    let mut read = 0;
    let first = seed(0);
    for number in first..first + count {
        let mut bytes = original.to_vec();
        let mut dice = Dice::of(number);
        damage(&mut bytes, &mut dice);
        if let Ok(imported) = musicxml::read(&bytes, options) {
            imported.score.check().unwrap();
            read += 1;
        }
    }
    read
}

fn small() -> barform_app::score::Score {
    let text = "barform = 1\ntitle = \"Dent\"\nmeter = \"2/4\"\nform = \"(A B |)x2\"\n\
        [cell.A]\ngrid = \"3\"\nsticking = \"lR> (L) K\"\n\
        [cell.B]\ngrid = \"1@1/2 3@1/2\"\nsticking = \"Rz+H L R L\"\n\
        [ostinato.o]\ngrid = \"1\"\nsticking = \"H\"\n";
    barform_app::score::Score::parse(text, "small.barform").unwrap()
}

#[test]
fn a_hundred_thousand_damaged_documents_are_refused_or_sound() {
    let text = document(&small(), Fold::Repeats, &bare()).unwrap();
    let mut read = damaged_copies(text.as_bytes(), 80_000, &musicxml::Options::default());
    let options = musicxml::Options {
        cut: musicxml::Cut::Beats(barform_app::music::Beats::new(1, 2)),
        ..musicxml::Options::default()
    };
    read += damaged_copies(text.as_bytes(), 14_000, &options);
    let carrying = document(&small(), Fold::Full, &Options::default()).unwrap();
    read += damaged_copies(carrying.as_bytes(), 6_000, &musicxml::Options::default());
    // Damage to a text or an attribute often leaves a document.
    assert!(read > 10_000, "{read}");
}

#[test]
fn damaged_packed_files_are_refused_or_sound() {
    let timeline = Timeline::compile(&demo()).unwrap();
    let written = notate::written(&demo(), &timeline, &notate::Options::default()).unwrap();
    let packed = write_mxl(&written, &timeline, &demo(), &bare()).unwrap();
    let read = damaged_copies(&packed, 2_000, &musicxml::Options::default());
    // Damage to what is compressed leaves a document now and then.
    assert!((1..2_000).contains(&read), "{read}");
}
