//! Damaged and unfriendly MIDI files: refused with a place, or read; never a
//! panic, never without bound.

use barform_app::import::ImportError;
use barform_app::import::midi::{MAX_BYTES, MAX_NOTES, Options, read, read_with_report};
use barform_app::music::{Beats, Channel};
use barform_app::score::Score;
use barform_app::timeline::Timeline;

/// A file of one track with this body.
fn file(format: u16, division: u16, tracks: &[&[u8]]) -> Vec<u8> {
    let mut bytes = b"MThd\0\0\0\x06".to_vec();
    bytes.extend(format.to_be_bytes());
    bytes.extend((tracks.len() as u16).to_be_bytes());
    bytes.extend(division.to_be_bytes());
    for body in tracks {
        bytes.extend(b"MTrk");
        bytes.extend((body.len() as u32).to_be_bytes());
        bytes.extend(*body);
    }
    bytes
}

/// Snare on every beat at 480 ticks.
const BEATS: &[u8] = &[
    0, 0x99, 38, 84, 10, 38, 0, 0x83, 0x56, 38, 84, 10, 38, 0, 0x83, 0x56, 36, 84, 10, 36, 0, 0,
    0xff, 0x2f, 0,
];

fn refused(bytes: &[u8]) -> String {
    match read(bytes, &Options::default()) {
        Err(e) => e.to_string(),
        Ok(imported) => panic!("read: {imported:?}"),
    }
}

#[test]
fn damage_is_told_with_its_place() {
    let sound = file(0, 480, &[BEATS]);
    let imported = read(&sound, &Options::default()).unwrap();
    // Snare, kick, and the rest that fills the bar.
    assert_eq!(imported.score.cells.len(), 3, "{:?}", imported.score);
    for (bytes, says) in [
        (b"RIFF".to_vec(), "byte 0"),
        (sound[..6].to_vec(), "byte 4"),
        (sound[..12].to_vec(), "byte 4"),
        (sound[..17].to_vec(), "byte 14"),
        (sound[..40].to_vec(), "track 1"),
        (file(2, 480, &[BEATS]), "type 2"),
        (file(3, 480, &[BEATS]), "type 3"),
        (file(0, 0, &[BEATS]), "byte 12"),
        (file(0, 0x8000, &[BEATS]), "frames"),
        (file(0, 0xe700, &[BEATS]), "byte 12"),
        // A note without a status, at byte 23 after the delta at 22.
        (
            file(0, 480, &[&[0, 38, 84]]),
            "track 1 has no event at byte 22",
        ),
        (file(1, 480, &[BEATS, &[0, 0xf8]]), "track 2"),
        (file(0, 480, &[&[0, 0xff, 0x2f, 0]]), "no note"),
        (file(0, 480, &[&[0, 0x90, 38, 84]]), "channel 1"),
        (file(0, 480, &[&[0, 0x99, 54, 84]]), "no key"),
    ] {
        let told = refused(&bytes);
        assert!(told.contains(says), "'{says}' is not in: {told}");
    }
    let mut long = sound.clone();
    long[18..22].copy_from_slice(&u32::MAX.to_be_bytes());
    assert!(refused(&long).contains("4294967295"));
}

#[test]
fn options_have_ranges() {
    let bytes = file(0, 480, &[BEATS]);
    for cell in [
        Beats::new(1, 5),
        Beats::whole(33),
        Beats::new(1000, 961),
        Beats::ZERO,
    ] {
        let options = Options {
            cell: Some(cell),
            ..Options::default()
        };
        assert!(matches!(
            read(&bytes, &options),
            Err(ImportError::Option(_))
        ));
    }
    let options = Options {
        kits: Vec::new(),
        ..Options::default()
    };
    assert!(matches!(
        read(&bytes, &options),
        Err(ImportError::Option(_))
    ));
}

#[test]
fn sizes_are_bounded() {
    let large = vec![0; MAX_BYTES + 1];
    assert!(matches!(
        read(&large, &Options::default()),
        Err(ImportError::TooLarge { .. })
    ));
    let mut notes = vec![0, 0x99, 38, 84];
    for _ in 0..MAX_NOTES {
        notes.extend([0, 38, 84]);
    }
    let many = file(0, 480, &[&notes]);
    assert!(matches!(
        read(&many, &Options::default()),
        Err(ImportError::TooMuch(_))
    ));
    // A stroke after a silence of eighteen years at the least division.
    let mut late = Vec::new();
    for _ in 0..40 {
        late.extend([0xff, 0xff, 0xff, 0x7f, 0xff, 0x01, 0]);
    }
    late.extend([0, 0x99, 38, 84]);
    let late = file(0, 1, &[&late]);
    assert!(matches!(
        read(&late, &Options::default()),
        Err(ImportError::TooMuch(_))
    ));
    // An end mark as late is no length.
    let mut end = BEATS[..BEATS.len() - 4].to_vec();
    end.extend([0xff, 0xff, 0xff, 0x7f, 0xff, 0x2f, 0]);
    let imported = read(&file(0, 480, &[&end]), &Options::default()).unwrap();
    assert_eq!(
        Timeline::compile(&imported.score).unwrap().length,
        Beats::whole(4)
    );
}

/// 25 frames of 40 parts a second, 120 beats per minute: 500 ticks a beat.
#[test]
fn frames_and_parts_are_understood() {
    let body = [
        0, 0x99, 38, 84, 0x81, 0x7a, 38, 84, 0x81, 0x7a, 38, 84, 0, 0xff, 0x2f, 0,
    ];
    let (imported, report) =
        read_with_report(&file(0, 0xe728, &[&body]), &Options::default()).unwrap();
    assert_eq!(report.largest_error_us, 0);
    let score = imported.score;
    assert_eq!(score.cells[0].grid.as_ref().unwrap().to_string(), "2");
    assert_eq!(report.strokes, 3);
}

#[test]
fn other_channels_can_be_asked_for() {
    let body = [0, 0x92, 38, 84, 0, 0xff, 0x2f, 0];
    let bytes = file(0, 480, &[&body]);
    for channels in [
        barform_app::import::midi::Channels::Any,
        barform_app::import::midi::Channels::Only(Channel::new(3).unwrap()),
    ] {
        let options = Options {
            channels,
            ..Options::default()
        };
        assert!(read(&bytes, &options).is_ok());
    }
}

/// A small generator, so that the same bytes are tried on every machine.
struct Numbers(u64);

impl Numbers {
    fn next(&mut self, below: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as usize % below
    }
}

/// A hundred thousand files with one to four bytes changed, cut or put in: our
/// own with letters and an ostinato, and a plain one.
#[test]
fn mutations_are_refused_or_read() {
    let text = "barform = 1\ntempo = 92\nmeter = \"4/4\"\nform = \"A B |\"\n[cell.A]\ngrid = \"4 3\"\n\
        sticking = \"R> lR (L) K  R Lz -\"\n[cell.B]\ngrid = \"5@2\"\nsticking = \"R L R+K L R\"\n\
        [ostinato.foot]\ngrid = \"1 1\"\nsticking = \"- H\"\n";
    let score = Score::parse(text, "").unwrap();
    let timeline = Timeline::compile(&score).unwrap();
    let own = barform_app::export::midi::write(&score, &timeline, &Default::default());
    let sources = [own.unwrap().bytes, file(0, 480, &[BEATS])];
    let options = Options::default();
    let mut numbers = Numbers(0x9e37_79b9_7f4a_7c15);
    let (mut read_well, mut refused) = (0, 0);
    for turn in 0..100_000 {
        let mut bytes = sources[turn % 2].clone();
        for _ in 0..=numbers.next(4) {
            let at = numbers.next(bytes.len());
            match numbers.next(6) {
                0 => bytes.truncate(at + 1),
                1 => bytes.insert(at, numbers.next(256) as u8),
                2 => {
                    bytes.remove(at);
                    bytes.push(0);
                }
                3 => bytes[at] ^= 1 << numbers.next(8),
                _ => bytes[at] = numbers.next(256) as u8,
            }
        }
        match read(&bytes, &options) {
            Ok(imported) => {
                read_well += 1;
                assert!(imported.score.check().is_ok());
            }
            Err(_) => refused += 1,
        }
    }
    assert!(
        read_well > 1_000 && refused > 10_000,
        "{read_well} {refused}"
    );
}
