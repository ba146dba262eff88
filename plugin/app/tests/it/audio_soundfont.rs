//! Forms on a SoundFont: made here, byte by byte, after the SoundFont technical
//! specification 2.04.

use crate::audio_support;

use audio_support::{bytes, source, timeline, wav_floats};
use barform_app::export::Options;
use barform_app::export::audio::{FileKind, Format, Level, SampleFormat, Sounds, Source};
use barform_app::music::{Articulation, Key, Velocity, Voice};
use barform_app::sound::soundfont::{FontError, FontShots, MAX_SHOT_S, SoundFont};
use barform_dice::{Dice, seed};
use std::f64::consts::TAU;
use std::sync::Arc;

const RATE_HZ: u32 = 48_000;
const FORMAT: Format = Format {
    kind: FileKind::Wav,
    rate_hz: RATE_HZ,
    sample: SampleFormat::Float32,
};

/// Frames of one sample of the font: an eighth of a second, long enough to be
/// told, short enough to be over before the next stroke.
const SAMPLE_FRAMES: usize = 6_000;

/// A key of the test font: a decaying sine, its pan, its exclusive class.
#[derive(Clone, Copy)]
struct Sound {
    key: u8,
    hz: f64,
    pan: i16,
    class: u16,
    /// 0 plays once, 1 loops the whole sample.
    mode: u16,
}

const SOUNDS: [Sound; 4] = [
    Sound {
        key: 36,
        hz: 100.0,
        pan: 0,
        class: 0,
        mode: 0,
    },
    Sound {
        key: 38,
        hz: 1_000.0,
        pan: -500,
        class: 0,
        mode: 0,
    },
    Sound {
        key: 42,
        hz: 5_000.0,
        pan: 500,
        class: 1,
        mode: 0,
    },
    Sound {
        key: 46,
        hz: 7_000.0,
        pan: 0,
        class: 1,
        mode: 1,
    },
];

fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut out = id.to_vec();
    out.extend_from_slice(&(body.len() as u32).to_le_bytes());
    out.extend_from_slice(body);
    if body.len() % 2 == 1 {
        out.push(0);
    }
    out
}

fn list(id: &[u8; 4], chunks: &[Vec<u8>]) -> Vec<u8> {
    chunk(b"LIST", &[id.to_vec(), chunks.concat()].concat())
}

fn words(values: &[u16]) -> Vec<u8> {
    values.iter().flat_map(|v| v.to_le_bytes()).collect()
}

fn name(text: &str) -> Vec<u8> {
    let mut name = text.as_bytes().to_vec();
    name.resize(20, 0);
    name
}

/// A font of one preset, one instrument, and one sample per sound.
fn font(bank: u16, sounds: &[Sound]) -> Vec<u8> {
    font_at(RATE_HZ, bank, sounds)
}

/// The same with samples at another rate.
fn font_at(rate_hz: u32, bank: u16, sounds: &[Sound]) -> Vec<u8> {
    let mut wave: Vec<u8> = Vec::new();
    let mut headers = Vec::new();
    let (mut bags, mut generators) = (Vec::new(), Vec::new());
    for (n, sound) in sounds.iter().enumerate() {
        let start = (wave.len() / 2) as u32;
        for frame in 0..SAMPLE_FRAMES {
            let t = frame as f64 / f64::from(rate_hz);
            let decay = if sound.mode == 0 {
                (-40.0 * t).exp()
            } else {
                1.0
            };
            let x = 0.9 * decay * (TAU * sound.hz * t + 0.3).sin();
            wave.extend_from_slice(&((x * 32_767.0) as i16).to_le_bytes());
        }
        let end = (wave.len() / 2) as u32;
        // 46 frames of silence follow a sample (section 6.1).
        wave.resize(wave.len() + 92, 0);
        headers.extend(name("sine"));
        for at in [start, end, start, end, rate_hz] {
            headers.extend_from_slice(&at.to_le_bytes());
        }
        headers.extend([sound.key, 0]);
        headers.extend(words(&[0, 1]));
        bags.extend(words(&[(generators.len() / 4) as u16, 0]));
        let range = u16::from(sound.key) * 0x101;
        for (generator, value) in [
            (43, range),
            (17, sound.pan as u16),
            (57, sound.class),
            (54, sound.mode),
            (53, n as u16),
        ] {
            generators.extend(words(&[generator, value]));
        }
    }
    bags.extend(words(&[(generators.len() / 4) as u16, 0]));
    generators.extend(words(&[0, 0]));
    headers.extend(name("EOS"));
    headers.resize(headers.len() + 26, 0);
    let preset = |text: &str, bag: u16| {
        let head = [name(text), words(&[0, bank, bag])].concat();
        [head, vec![0; 12]].concat()
    };
    let instrument = |text: &str, bag: u16| [name(text), words(&[bag])].concat();
    let none = vec![0; 10];
    let parameters = [
        chunk(b"phdr", &[preset("Kit", 0), preset("EOP", 1)].concat()),
        chunk(b"pbag", &words(&[0, 0, 1, 0])),
        chunk(b"pmod", &none),
        chunk(b"pgen", &words(&[41, 0, 0, 0])),
        chunk(
            b"inst",
            &[instrument("Kit", 0), instrument("EOI", sounds.len() as u16)].concat(),
        ),
        chunk(b"ibag", &bags),
        chunk(b"imod", &none),
        chunk(b"igen", &generators),
        chunk(b"shdr", &headers),
    ];
    let information = [
        chunk(b"ifil", &words(&[2, 4])),
        chunk(b"isng", b"EMU8000\0"),
        // An odd length, and a chunk nobody knows.
        chunk(b"INAM", b"Test\0"),
        chunk(b"xtra", b"?"),
    ];
    let lists = [
        list(b"INFO", &information),
        list(b"sdta", &[chunk(b"smpl", &wave)]),
        list(b"pdta", &parameters),
    ];
    chunk(b"RIFF", &[b"sfbk".to_vec(), lists.concat()].concat())
}

fn load(bytes: &[u8]) -> Arc<SoundFont> {
    Arc::new(SoundFont::read(bytes).expect("a sound font"))
}

fn on_font<'a>(source: Source<'a>, font: &Arc<SoundFont>) -> Source<'a> {
    Source {
        sounds: Sounds::Font {
            font: font.clone(),
            preset: None,
        },
        ..source
    }
}

/// Left and right of what is rendered.
fn render(source: &Source) -> (Vec<f32>, Vec<f32>, barform_app::export::audio::Written) {
    let (file, written) = bytes(source, FORMAT, Level::default()).expect("a file");
    let samples = wav_floats(&file);
    let side = |n| samples.iter().skip(n).step_by(2).copied().collect();
    (side(0), side(1), written)
}

#[test]
fn every_stroke_begins_on_its_frame() {
    // 7 in 5 beats at 113.7 a minute: no stroke but the first falls on a block of
    // anything. Kick on key 36, snare on 38 (General MIDI Level 1 percussion map).
    let timeline = timeline(
        "barform = 1\ntempo = 113.7\nmeter = \"5/4\"\nform = \"A A\"\n[cell.A]\n\
         grid = \"7@5\"\nsticking = \"K R K K R R K\"\n",
    );
    let options = Options::default();
    let font = load(&font(128, &SOUNDS));
    let (left, right, written) = render(&on_font(source(&timeline, &options), &font));
    assert_eq!(written.substitutes, []);
    assert_eq!(written.report.gain_db, 0.0);
    for n in 0..14_u64 {
        // The nearest frame: n x 5/7 beats of 60 s / 113.7 each.
        let due = (n as f64 * 5.0 / 7.0 * 60.0 / 113.7 * 48_000.0 + 0.5).floor() as usize;
        let sound = |at: usize| left[at].abs().max(right[at].abs());
        // Each sample begins at 0.9 sin 0.3, some 0.27, before gains of some
        // 0.2 and more, and the one before has died away.
        assert!(sound(due) > 0.02, "{n}: {}", sound(due));
        if due > 0 {
            assert!(sound(due - 1) < 0.002, "{n}: {}", sound(due - 1));
        }
    }
    // The snare's pan is hard left: alone, it is not heard on the right.
    let second = (5.0 / 7.0 * 60.0 / 113.7 * 48_000.0 + 0.5) as usize;
    assert!(right[second..second + 1_000].iter().all(|x| x.abs() < 1e-3));
}

#[test]
fn the_pitch_of_each_key_is_its_sample_s() {
    let timeline = timeline(
        "barform = 1\ntempo = 60\nform = \"A\"\n[cell.A]\ngrid = \"1\"\nsticking = \"R>\"\n",
    );
    let options = Options::default();
    // At this rate the low-pass that every zone has by default, near 20 kHz
    // (section 8.1.2), lies above half of it.
    let rate_hz = 32_000;
    let font = load(&font_at(rate_hz, 128, &SOUNDS));
    let format = Format { rate_hz, ..FORMAT };
    let source = on_font(source(&timeline, &options), &font);
    let (file, _) = bytes(&source, format, Level::default()).unwrap();
    let left: Vec<f32> = wav_floats(&file).into_iter().step_by(2).collect();
    // Crossings of zero in the first 50 ms: two for each of 50 periods of 1 kHz.
    let signs = left[..1_600].windows(2);
    let crossings = signs.filter(|w| (w[0] < 0.0) != (w[1] < 0.0)).count();
    assert!((99..=101).contains(&crossings), "{crossings}");
    // And each of its frames is the sample's, at one gain.
    let sample = |n: usize| {
        let t = n as f64 / f64::from(rate_hz);
        0.9 * (-40.0 * t).exp() * (TAU * 1_000.0 * t + 0.3).sin()
    };
    let gain = f64::from(left[0]) / sample(0);
    assert!((0.2..=1.0).contains(&gain), "{gain}");
    for (n, x) in left.iter().enumerate().take(4_000) {
        assert!((f64::from(*x) - gain * sample(n)).abs() < 2e-4, "{n}");
    }
}

#[test]
fn a_closed_hat_stops_an_open_one_of_its_class() {
    // The open hat's sample loops at full level; only its class can stop it.
    let timeline = timeline(
        "barform = 1\ntempo = 120\nform = \"A\"\n[cell.A]\ngrid = \"2 2\"\n\
         sticking = \"R - R -\"\nvoices = \"hat:open . hat .\"\n",
    );
    let options = Options::default();
    let font = load(&font(128, &SOUNDS));
    let (left, _, _) = render(&on_font(source(&timeline, &options), &font));
    let loudest = |from: usize| {
        left[from..from + 2_400]
            .iter()
            .fold(0.0_f32, |p, x| p.max(x.abs()))
    };
    assert!(loudest(21_000) > 0.1, "{}", loudest(21_000));
    // A tenth of a second after the closed stroke, which is hard right.
    assert!(loudest(24_000 + 4_800) < 1e-4, "{}", loudest(28_800));
}

#[test]
fn what_the_font_lacks_comes_from_the_kit_and_is_told() {
    let timeline = timeline(
        "barform = 1\ntempo = 60\nform = \"A\"\n[cell.A]\ngrid = \"1 1\"\nsticking = \"R K\"\n\
         voices = \"ride:bell kick\"\n",
    );
    let options = Options::default();
    let font = load(&font(128, &SOUNDS));
    let (left, _, written) = render(&on_font(source(&timeline, &options), &font));
    assert!(left[..4_800].iter().any(|x| x.abs() > 0.01));
    let [only] = written.substitutes[..] else {
        panic!("{:?}", written.substitutes);
    };
    // Ride Bell is key 53 of the GM map.
    assert_eq!(
        (only.voice, only.articulation),
        (Voice::Ride, Articulation::Bell)
    );
    assert_eq!(only.key.number(), 53);
}

#[test]
fn presets_are_found_or_named() {
    // A font of one preset in bank 0 is taken as it is.
    let melodic = load(&font(0, &SOUNDS));
    assert_eq!(melodic.drums(None).unwrap().bank, 0);
    let drums = load(&font(128, &SOUNDS));
    assert_eq!(drums.drums(None).unwrap().bank, 128);
    let error = drums.drums(Some((128, 25))).unwrap_err();
    assert!(error.to_string().contains("it has 128:0 Kit"), "{error}");
    // Played on either bank it is the same.
    let timeline =
        timeline("barform = 1\nform = \"A\"\n[cell.A]\ngrid = \"4\"\nsticking = \"R K R K\"\n");
    let options = Options::default();
    let of = |font| render(&on_font(source(&timeline, &options), font)).0;
    assert_eq!(of(&melodic), of(&drums));
}

#[test]
fn rates_and_files_that_will_not_do_are_refused() {
    let timeline =
        timeline("barform = 1\nform = \"A\"\n[cell.A]\ngrid = \"1\"\nsticking = \"R\"\n");
    let options = Options::default();
    let font = load(&font(128, &SOUNDS));
    let source = on_font(source(&timeline, &options), &font);
    for rate_hz in [8_000, 15_999, 192_001] {
        let error = bytes(&source, Format { rate_hz, ..FORMAT }, Level::default()).unwrap_err();
        assert!(error.to_string().contains("16000 to 192000 Hz"), "{error}");
    }
    for (junk, word) in [
        (&b""[..], "short"),
        (b"RIFF\0\0\0\0WAVEfmt ", "begin"),
        (b"RIFF\0\0\0\0sfbk", "smpl"),
        (
            b"RIFF\xff\xff\xff\xffsfbkLIST\xff\xff\xff\xffINFO",
            "cut short",
        ),
    ] {
        let error = SoundFont::read(junk).unwrap_err();
        assert!(error.to_string().contains(word), "{error}");
    }
    let folder = std::env::temp_dir();
    assert!(matches!(SoundFont::open(&folder), Err(FontError::Read(_))));
}

#[test]
fn a_hundred_thousand_broken_files_are_refused_or_played() {
    let whole = font(128, &SOUNDS);
    // Most of a file is samples, which may be anything; the rest is what hurts.
    let wave = whole.windows(4).position(|w| w == b"smpl").unwrap() + 8;
    let tables = whole.windows(4).position(|w| w == b"pdta").unwrap() - 8;
    let mut dice = Dice::of(seed(0x5F2));
    let key = |number| Key::new(number).unwrap();
    let velocity = Velocity::new(100).unwrap();
    let notes = [36, 38, 42, 46].map(|k| (key(k), velocity));
    let (mut loaded, mut refused, mut sounding) = (0, 0, 0);
    for round in 0..100_000 {
        let mut broken = whole.clone();
        for _ in 0..=dice.below(4) {
            let at = if dice.below(4) == 0 {
                dice.below(wave)
            } else {
                tables + dice.below(whole.len() - tables)
            };
            broken[at] = match dice.below(4) {
                0 => 0xFF,
                1 => 0,
                2 => 0x7F,
                _ => dice.below(256) as u8,
            };
        }
        if dice.below(16) == 0 {
            broken.truncate(dice.below(broken.len()));
        }
        let Ok(font) = SoundFont::read(&broken) else {
            refused += 1;
            continue;
        };
        loaded += 1;
        let Ok(preset) = font.drums(None) else {
            continue;
        };
        // Playing takes longer than loading; every fortieth will do.
        if round % 40 != 0 {
            continue;
        }
        let Ok(shots) = FontShots::build(&font, preset, RATE_HZ, notes) else {
            continue;
        };
        for (key, velocity) in notes {
            if let Some(frames) = shots.frames(key, velocity) {
                sounding += 1;
                assert!(frames as f64 <= MAX_SHOT_S * f64::from(RATE_HZ));
            }
        }
    }
    // Both ways out were taken, many times.
    assert!(loaded > 2_000 && refused > 2_000, "{loaded} {refused}");
    assert!(sounding > 500, "{sounding}");
}
