//! Loudness as asked for, stems that add up, letters of exact length.

use crate::audio_support;

use audio_support::{
    Folder, bytes, format, onwards, quiet, source, timeline, wav_floats, wav_steps,
};
use barform_app::export::Options;
use barform_app::export::audio::{
    AudioError, FileKind, Format, Grouping, Level, Overwrite, Part, SampleFormat, Source, StemSet,
    StemTarget, blocks, write_stems,
};
use barform_app::export::render::{RenderError, Rendering};
use barform_app::music::{Beats, Letter};
use barform_app::player::Mute;
use ebur128::{EbuR128, Mode};
use std::f64::consts::TAU;
use std::fs;
use std::ops::ControlFlow;

const FLOAT: Format = Format {
    kind: FileKind::Wav,
    rate_hz: 48_000,
    sample: SampleFormat::Float32,
};

/// What gets -23 LUFS by EBU Tech 3341, test signal 1 (1 kHz in both channels,
/// peaks at -23 dBFS, reads -23.0 LUFS within 0.1; from memory), is taken to
/// other loudnesses, and read with the same signal's known loudness as the
/// measure: a gain of so many dB is as many LU.
#[test]
fn a_loudness_is_reached() {
    let sine = |frame: usize| 10_f64.powf(-23.0 / 20.0) * (TAU * frame as f64 / 48.0).sin();
    for target in [-30.0, -23.0, -14.5, -9.0] {
        for (kind, sample) in [
            (FileKind::Wav, SampleFormat::Float32),
            (FileKind::Flac, SampleFormat::Int24),
        ] {
            let mut frame = 0;
            let fill = |left: &mut [f32], right: &mut [f32]| {
                for (l, r) in left.iter_mut().zip(right) {
                    (*l, *r) = (sine(frame) as f32, sine(frame) as f32);
                    frame += 1;
                }
            };
            let level = Level {
                target_lufs: Some(target),
            };
            let format = format(kind, 48_000, sample);
            let mut out = Vec::new();
            let frames = 20 * 48_000;
            let report =
                blocks::write_stream(&mut out, format, level, frames, fill, onwards).unwrap();
            assert!(
                (report.gain_db - (target + 23.0)).abs() <= 0.1,
                "{report:?}"
            );
            assert!(
                (report.loudness_lufs.unwrap() - target).abs() <= 0.1,
                "{report:?}"
            );
            assert!(report.held_back_db.abs() < 1e-9);
            // The crest of the sine is in the file where the gain puts it.
            if kind == FileKind::Wav {
                let crest = wav_floats(&out).iter().fold(0.0_f32, |p, x| p.max(x.abs()));
                assert!((20.0 * f64::from(crest).log10() - target).abs() <= 0.11);
            }
        }
    }
}

#[test]
fn the_true_peak_holds_a_loudness_back() {
    let timeline = quiet();
    let options = Options::default();
    let source = source(&timeline, &options);
    for sample in [SampleFormat::Int16, SampleFormat::Float32] {
        let at = |target_lufs| {
            let format = format(FileKind::Wav, 48_000, sample);
            bytes(&source, format, Level { target_lufs })
                .unwrap()
                .1
                .report
        };
        let plain = at(None);
        assert_eq!((plain.gain_db, plain.held_back_db), (0.0, 0.0));
        let soft = at(Some(-40.0));
        assert!((soft.loudness_lufs.unwrap() + 40.0).abs() < 0.2, "{soft:?}");
        assert!(soft.gain_db < 0.0 && soft.held_back_db == 0.0);
        let loud = at(Some(-5.0));
        assert!(loud.true_peak_dbtp.unwrap() <= -1.0, "{loud:?}");
        assert!(loud.true_peak_dbtp.unwrap() > -1.1, "{loud:?}");
        assert!(loud.held_back_db > 1.0, "{loud:?}");
        let reached = loud.loudness_lufs.unwrap() + loud.held_back_db;
        assert!((reached + 5.0).abs() < 0.2, "{loud:?}");
    }
    for target in [-60.1, -4.9, f64::NAN, f64::INFINITY] {
        let level = Level {
            target_lufs: Some(target),
        };
        let error = bytes(&source, FLOAT, level).unwrap_err();
        assert!(error.to_string().contains("-60 to -5 LUFS"), "{error}");
    }
}

fn stems(
    source: &Source,
    format: Format,
    level: Level,
    grouping: Grouping,
    at: &Folder,
) -> StemSet {
    let folder = at.0.join("set");
    let target = StemTarget {
        folder: &folder,
        name: "take",
        grouping,
        overwrite: Overwrite::Refuse,
    };
    write_stems(source, format, level, &target, onwards).unwrap()
}

/// True peak and loudness of samples in turn, by the reference filter of
/// ITU-R BS.1770 in another library than the project's code.
fn measured(samples: &[f32], rate_hz: u32) -> (f64, f64) {
    let mut meter = EbuR128::new(2, rate_hz, Mode::TRUE_PEAK | Mode::I).unwrap();
    meter.add_frames_f32(samples).unwrap();
    let lufs = meter.loudness_global().unwrap();
    meter.add_frames_f32(&[0.0; 128]).unwrap();
    let peak = meter.true_peak(0).unwrap().max(meter.true_peak(1).unwrap());
    (20.0 * peak.log10(), lufs)
}

#[test]
fn stems_add_up_to_the_mix() {
    let timeline = quiet();
    let options = Options::default();
    let source = source(&timeline, &options);
    let mix = wav_floats(&bytes(&source, FLOAT, Level::default()).unwrap().0);
    for (grouping, names) in [
        (
            Grouping::Voices,
            &[
                "kick", "snare", "hat", "hatfoot", "tom1", "tom2", "tom6", "ride",
            ][..],
        ),
        (
            Grouping::Groups,
            &["kick", "snare", "hats", "toms", "cymbals"],
        ),
    ] {
        let at = Folder::new();
        let set = stems(&source, FLOAT, Level::default(), grouping, &at);
        let got: Vec<&str> = set.stems.iter().map(|s| s.name).collect();
        assert_eq!(got, names);
        let mut sum = vec![0.0_f64; mix.len()];
        for stem in &set.stems {
            assert_eq!(
                stem.path,
                at.0.join("set").join(format!("take-{}.wav", stem.name))
            );
            let samples = wav_floats(&fs::read(&stem.path).unwrap());
            assert_eq!(samples.len(), mix.len());
            let peak = samples.iter().fold(0.0_f32, |p, x| p.max(x.abs()));
            assert!((0.001..0.9).contains(&peak), "{} {peak}", stem.name);
            for (s, x) in sum.iter_mut().zip(&samples) {
                *s += f64::from(*x);
            }
        }
        for (n, (s, m)) in sum.iter().zip(&mix).enumerate() {
            assert!((s - f64::from(*m)).abs() < 1e-6, "frame {}: {s} {m}", n / 2);
        }
        let mut names: Vec<String> = names.iter().map(|n| format!("take-{n}.wav")).collect();
        names.sort();
        assert_eq!(Folder(at.0.join("set")).names(), names);
    }
}

#[test]
fn stems_share_a_gain_and_keep_the_limit_together() {
    // Everything at once, accented, far louder than the limiter lets through.
    let timeline = timeline(
        "barform = 1\ntempo = 200\nform = \"A[level 150%] A[level 150%]\"\n[cell.A]\n\
         grid = \"4\"\nsticking = \"R>+L>+K>+H> R>+L>+K> R>+L>+K>+H> R>+L>+K>\"\n\
         voices = \"crash+snare:rim+kick+hatfoot crash2+tom6+kick . tom1:rim+china+kick\"\n",
    );
    let options = Options::default();
    let source = source(&timeline, &options);
    for (sample, target_lufs) in [
        (SampleFormat::Int16, None),
        (SampleFormat::Int24, Some(-8.0)),
        (SampleFormat::Int24, Some(-30.0)),
    ] {
        let at = Folder::new();
        let format = format(FileKind::Wav, 44_100, sample);
        let set = stems(
            &source,
            format,
            Level { target_lufs },
            Grouping::Voices,
            &at,
        );
        let full = f64::from(1_u32 << (sample.bits() - 1));
        let mut sum: Vec<f32> = Vec::new();
        for stem in &set.stems {
            assert_eq!(stem.report.gain_db, set.sum.report.gain_db);
            let steps = wav_steps(&fs::read(&stem.path).unwrap());
            let samples: Vec<f32> = steps
                .iter()
                .map(|s| (f64::from(*s) / full) as f32)
                .collect();
            let (peak, _) = measured(&samples, 44_100);
            assert!(peak <= -1.0, "{} {peak}", stem.name);
            assert!((peak - stem.report.true_peak_dbtp.unwrap()).abs() < 0.01);
            sum.resize(samples.len(), 0.0);
            sum.iter_mut().zip(&samples).for_each(|(s, x)| *s += x);
        }
        let (peak, lufs) = measured(&sum, 44_100);
        assert!(peak <= -1.0, "{sample:?} {peak}");
        let told = &set.sum.report;
        assert!(
            (peak - told.true_peak_dbtp.unwrap()).abs() < 0.05,
            "{peak} {told:?}"
        );
        assert!(
            (lufs - told.loudness_lufs.unwrap()).abs() < 0.1,
            "{lufs} {told:?}"
        );
        if target_lufs == Some(-30.0) {
            assert!((lufs + 30.0).abs() < 0.1, "{lufs}");
        } else {
            assert!(told.gain_db < 0.0 || told.held_back_db > 0.0, "{told:?}");
        }
    }
}

#[test]
fn stems_are_all_there_or_none() {
    let timeline = quiet();
    let options = Options::default();
    let source = source(&timeline, &options);
    let at = Folder::new();
    let target = StemTarget {
        folder: &at.0,
        name: "take",
        grouping: Grouping::Voices,
        overwrite: Overwrite::Refuse,
    };
    fs::write(at.0.join("take-ride.wav"), "precious").unwrap();
    let error = write_stems(&source, FLOAT, Level::default(), &target, onwards).unwrap_err();
    assert!(
        matches!(&error, AudioError::Exists(p) if p.ends_with("take-ride.wav")),
        "{error}"
    );
    assert_eq!(at.names(), ["take-ride.wav"]);

    let new = at.0.join("new");
    let target = StemTarget {
        folder: &new,
        ..target
    };
    let mut last = 0.0;
    let stop = |p: blocks::Progress| {
        assert!(p.share() >= last);
        last = p.share();
        if last > 0.7 {
            ControlFlow::Break(())
        } else {
            ControlFlow::Continue(())
        }
    };
    let error = write_stems(&source, FLOAT, Level::default(), &target, stop).unwrap_err();
    assert!(matches!(error, AudioError::Cancelled));
    assert_eq!(at.names(), ["take-ride.wav"]);
    assert_eq!(fs::read(at.0.join("take-ride.wav")).unwrap(), b"precious");
}

fn letter(name: &str) -> Part {
    Part::Letter(Letter::new(name).unwrap())
}

#[test]
fn a_letter_is_exactly_as_long_as_it_is_often() {
    // Three beats, and two and a third, at 97 a minute.
    let timeline = timeline(
        "barform = 1\ntempo = 97\nform = \"A B\"\n[cell.A]\ngrid = \"1 1 1\"\n\
         sticking = \"R L R\"\n[cell.B]\ngrid = \"3@7/3\"\nsticking = \"R - -\"\n",
    );
    for (name, beats) in [("A", Beats::whole(3)), ("B", Beats::new(7, 3))] {
        for times in [1, 2, 7, 16] {
            let options = Options {
                passes: times,
                ..Options::default()
            };
            let source = Source {
                part: letter(name),
                tail_s: Some(0.0),
                ..source(&timeline, &options)
            };
            // The nearest frame, in whole numbers: beats x 60 s x 48 kHz / 97.
            let numer = i64::from(times) * beats.numer() * 60 * 48_000;
            let denom = beats.denom() * 97;
            let frames = (2 * numer + denom) / (2 * denom);
            let (file, written) = bytes(&source, FLOAT, Level::default()).unwrap();
            assert_eq!(written.report.frames, frames as u64, "{name} {times}");
            // Each pass begins with its stroke, within a millisecond.
            let samples = wav_floats(&file);
            for pass in 0..i64::from(times) {
                let due = (pass * beats.numer() * 60 * 48_000) / (beats.denom() * 97);
                let power = |from: i64| -> f32 {
                    let from = 2 * from as usize;
                    samples[from..from + 96].iter().map(|x| x * x).sum()
                };
                let before = if pass == 0 { 0.0 } else { power(due - 48) };
                assert!(power(due) > 1.2 * before, "{name} {times} {pass}");
            }
        }
    }
    let options = Options::default();
    let source = Source {
        part: letter("Q"),
        ..source(&timeline, &options)
    };
    let error = bytes(&source, FLOAT, Level::default()).unwrap_err();
    let missing = matches!(&error, AudioError::Render(RenderError::NoLetter { .. }));
    assert!(missing && error.to_string().contains("A, B"), "{error}");
}

#[test]
fn the_click_keeps_its_bars_under_a_letter() {
    // Three beats of rest under 4/4: clicks alone, accents every four beats.
    let timeline = timeline(
        "barform = 1\ntempo = 120\nform = \"A A A A\"\n[cell.A]\ngrid = \"1 1 1\"\n\
         sticking = \"- - -\"\n",
    );
    let options = Options {
        passes: 4,
        mute: Mute {
            click: false,
            ..Options::default().mute
        },
        ..Options::default()
    };
    let of = |part| {
        let source = Source {
            part,
            ..source(&timeline, &options)
        };
        wav_floats(&bytes(&source, FLOAT, Level::default()).unwrap().0)
    };
    let one = Options {
        passes: 1,
        ..options.clone()
    };
    let form = Source {
        options: &one,
        ..source(&timeline, &one)
    };
    // Four times three beats are the form of three bars.
    assert_eq!(
        of(letter("A")),
        wav_floats(&bytes(&form, FLOAT, Level::default()).unwrap().0)
    );
}

#[test]
fn nothing_to_hear_is_said() {
    let timeline =
        timeline("barform = 1\nform = \"A\"\n[cell.A]\ngrid = \"4\"\nsticking = \"R L R L\"\n");
    let options = Options {
        mute: Mute {
            hands: true,
            ..Options::default().mute
        },
        ..Options::default()
    };
    let error = bytes(&source(&timeline, &options), FLOAT, Level::default()).unwrap_err();
    assert!(matches!(error, AudioError::Silent), "{error}");
    assert!(
        Rendering::new(&timeline, &options, 48_000.0, None)
            .unwrap()
            .voices()
            .is_empty()
    );
}
