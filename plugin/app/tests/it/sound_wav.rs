//! WAV files: what is in them, how loud, and what happens when it goes wrong.

use barform_app::export::audio::blocks::{self, BLOCK_FRAMES};
use barform_app::export::audio::{
    AudioError, FileKind, Format, Level, Overwrite, Progress, Report, SampleFormat,
};
use proptest::prelude::*;
use std::f64::consts::TAU;
use std::fs;
use std::io::{self, Cursor, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

const FORMATS: [SampleFormat; 3] = [
    SampleFormat::Int16,
    SampleFormat::Int24,
    SampleFormat::Float32,
];

/// A folder of its own, removed afterwards.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Folder {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let name = format!("barform-wav-{}-{count}", std::process::id());
        let path = std::env::temp_dir().join(name);
        fs::create_dir(&path).expect("a temporary folder");
        Folder(path)
    }

    fn file(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).expect("the folder");
        let mut names: Vec<String> = entries
            .map(|e| {
                e.expect("an entry")
                    .file_name()
                    .to_string_lossy()
                    .into_owned()
            })
            .collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn format(rate_hz: u32, sample: SampleFormat) -> Format {
    Format {
        kind: FileKind::Wav,
        rate_hz,
        sample,
    }
}

/// As it is, unless too loud.
fn write_file(
    path: &Path,
    overwrite: Overwrite,
    format: Format,
    frames: u64,
    source: impl FnMut(&mut [f32], &mut [f32]),
    progress: impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<Report, AudioError> {
    let level = Level::default();
    blocks::write_file(path, overwrite, format, level, frames, source, progress)
}

/// The same for a stream.
fn write_stream(
    out: impl Write,
    format: Format,
    frames: u64,
    source: impl FnMut(&mut [f32], &mut [f32]),
    progress: impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<Report, AudioError> {
    blocks::write_stream(out, format, Level::default(), frames, source, progress)
}

fn onwards(_: Progress) -> ControlFlow<()> {
    ControlFlow::Continue(())
}

/// A source of a function of the frame number, the same in both channels.
fn source(mut wave: impl FnMut(u64) -> f64) -> impl FnMut(&mut [f32], &mut [f32]) {
    let mut frame = 0;
    move |left, right| {
        for (l, r) in left.iter_mut().zip(right) {
            *l = wave(frame) as f32;
            *r = *l;
            frame += 1;
        }
    }
}

fn sine(rate_hz: u32, hz: f64, amplitude: f64, phase_degrees: f64) -> impl FnMut(u64) -> f64 {
    move |n| {
        let turns = hz * n as f64 / f64::from(rate_hz) + phase_degrees / 360.0;
        amplitude * (TAU * turns).sin()
    }
}

/// The first second of a wave, its ends faded: a cut would be a step, which has a
/// true peak of its own.
fn faded(mut wave: impl FnMut(u64) -> f64) -> impl FnMut(u64) -> f64 {
    move |n| wave(n) * (n.min(47_999 - n) as f64 / 4_800.0).min(1.0)
}

fn bytes(format: Format, frames: u64, wave: impl FnMut(u64) -> f64) -> (Vec<u8>, Report) {
    let mut out = Vec::new();
    let report = write_stream(&mut out, format, frames, source(wave), onwards);
    (out, report.expect("a file"))
}

/// The samples as a reader of the file sees them, share of full scale.
fn samples(file: &[u8]) -> (hound::WavSpec, Vec<f64>) {
    let mut reader = hound::WavReader::new(Cursor::new(file)).expect("a WAV file");
    let spec = reader.spec();
    let samples = match spec.sample_format {
        hound::SampleFormat::Float => reader
            .samples::<f32>()
            .map(|s| f64::from(s.expect("a sample")))
            .collect(),
        hound::SampleFormat::Int => {
            let full = f64::from(1_u32 << (spec.bits_per_sample - 1));
            reader
                .samples::<i32>()
                .map(|s| f64::from(s.expect("a sample")) / full)
                .collect()
        }
    };
    (spec, samples)
}

#[test]
fn every_format_holds_the_audio_to_its_own_precision() {
    for sample in FORMATS {
        let wave = || sine(44_100, 997.0, 0.5, 0.0);
        let (file, report) = bytes(format(44_100, sample), 5_000, wave());
        let (spec, read) = samples(&file);
        assert_eq!((spec.channels, spec.sample_rate), (2, 44_100));
        assert_eq!(spec.bits_per_sample, sample.bits());
        assert_eq!((read.len(), report.frames), (10_000, 5_000));
        assert!((report.seconds - 5_000.0 / 44_100.0).abs() < 1e-12);
        // Dither of up to one step and rounding of half a step.
        let step = if sample == SampleFormat::Float32 {
            0.0
        } else {
            f64::from(2.0_f32).powi(1 - i32::from(sample.bits()))
        };
        let mut wave = wave();
        for (n, frame) in read.chunks_exact(2).enumerate() {
            let wanted = f64::from(wave(n as u64) as f32);
            assert!(
                frame.iter().all(|s| (s - wanted).abs() <= 1.5 * step),
                "{sample:?} {n}"
            );
        }
    }
}

#[test]
fn dither_is_triangular_and_does_not_follow_the_signal() {
    // A constant of a third of a step cannot be stored, but on average it is; the
    // error of TPDF dither has a variance of a quarter of a step squared whatever
    // the signal (Lipshitz, Wannamaker and Vanderkooy, "Quantization and Dither",
    // JAES 40, 1992; figure from memory).
    let step = 1.0 / 32_768.0;
    for third in [0.0_f64, 1.0, 2.0] {
        let level = (1_000.0 + third / 3.0) * step;
        let (file, _) = bytes(format(48_000, SampleFormat::Int16), 200_000, |_| level);
        let errors: Vec<f64> = samples(&file)
            .1
            .iter()
            .map(|s| (s - f64::from(level as f32)) / step)
            .collect();
        let mean = errors.iter().sum::<f64>() / errors.len() as f64;
        let variance = errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64;
        assert!(mean.abs() < 0.005, "{mean}");
        assert!((variance - 0.25).abs() < 0.005, "{variance}");
    }
}

#[test]
fn silence_stays_silent_and_has_no_level() {
    for sample in FORMATS {
        let (file, report) = bytes(format(48_000, sample), 48_000, |_| 0.0);
        assert!(samples(&file).1.iter().all(|s| *s == 0.0));
        assert_eq!((report.true_peak_dbtp, report.loudness_lufs), (None, None));
        assert_eq!(report.gain_db, 0.0);
    }
}

#[test]
fn no_frames_make_a_valid_empty_file() {
    let (file, report) = bytes(format(48_000, SampleFormat::Int24), 0, |_| 1.0);
    assert_eq!((samples(&file).1.len(), report.frames), (0, 0));
}

/// EBU Tech 3341, minimum requirements, test signals 1 and 2: a 1 kHz sine in
/// both channels at -23.0 and -33.0 dBFS reads as many LUFS, within 0.1. From
/// memory.
#[test]
fn loudness_reads_as_ebu_tech_3341_requires() {
    for level_db in [-23.0, -33.0] {
        let amplitude = 10_f64.powf(level_db / 20.0);
        let wave = sine(48_000, 1_000.0, amplitude, 0.0);
        let (_, report) = bytes(format(48_000, SampleFormat::Int24), 20 * 48_000, wave);
        let lufs = report.loudness_lufs.expect("a loudness");
        assert!((lufs - level_db).abs() <= 0.1, "{lufs}");
        assert_eq!(report.gain_db, 0.0);
    }
}

/// EBU Tech 3341, true-peak test signals 15 to 18: sines whose samples miss the
/// crest, of amplitude 0.5, read -6.0 dBTP within +0.2 and -0.4. From memory.
#[test]
fn true_peak_reads_as_ebu_tech_3341_requires() {
    for (divisor, phase_degrees) in [(4.0, 0.0), (4.0, 45.0), (6.0, 60.0), (8.0, 67.5)] {
        let faded = faded(sine(48_000, 48_000.0 / divisor, 0.5, phase_degrees));
        let (_, report) = bytes(format(48_000, SampleFormat::Float32), 48_000, faded);
        let peak = report.true_peak_dbtp.expect("a peak");
        assert!(
            (-6.4..=-5.8).contains(&peak),
            "{divisor} {phase_degrees}: {peak}"
        );
    }
}

#[test]
fn level_is_lowered_by_what_lies_between_the_samples() {
    // At a quarter of the rate and 45 degrees, samples are 3 dB below the crest:
    // none exceeds full scale, and yet the wave is 1.2 high.
    for sample in FORMATS {
        let faded = faded(sine(48_000, 12_000.0, 1.2, 45.0));
        let (file, report) = bytes(format(48_000, sample), 48_000, faded);
        let expected = -1.0 - 20.0 * 1.2_f64.log10();
        assert!(
            (report.gain_db - expected).abs() < 0.05,
            "{}",
            report.gain_db
        );
        let crest = samples(&file).1.iter().fold(0.0_f64, |p, s| p.max(s.abs())) * 2_f64.sqrt();
        assert!((20.0 * crest.log10() - -1.0).abs() < 0.05, "{crest}");
        assert!(report.true_peak_dbtp.is_some_and(|p| p <= -1.0));
    }
}

#[test]
fn a_peak_on_the_very_last_sample_counts() {
    let wave = |n| if n == 4_799 { 1.0 } else { 0.0 };
    let (_, report) = bytes(format(48_000, SampleFormat::Float32), 4_800, wave);
    assert!(report.gain_db < -0.99 && report.true_peak_dbtp.is_some_and(|p| p <= -1.0));
}

#[test]
fn the_source_is_asked_for_every_frame_once_in_blocks() {
    let mut frames = 0;
    let counting = |left: &mut [f32], right: &mut [f32]| {
        assert!(left.len() == right.len() && (1..=BLOCK_FRAMES).contains(&left.len()));
        frames += left.len() as u64;
    };
    let mut shares = Vec::new();
    let watching = |p: Progress| {
        shares.push(p.share());
        ControlFlow::Continue(())
    };
    let format = format(48_000, SampleFormat::Int16);
    write_stream(io::sink(), format, 10_001, counting, watching).expect("a file");
    assert_eq!(frames, 10_001);
    assert!(shares.windows(2).all(|s| s[0] < s[1]) && shares.last() == Some(&1.0));
}

#[test]
fn a_file_and_a_stream_hold_the_same_bytes_every_time() {
    let folder = Folder::new();
    let path = folder.file("take.wav");
    let format = format(48_000, SampleFormat::Int16);
    let wave = || sine(48_000, 440.0, 0.3, 0.0);
    let report = write_file(
        &path,
        Overwrite::Refuse,
        format,
        9_999,
        source(wave()),
        onwards,
    );
    let (stream, stream_report) = bytes(format, 9_999, wave());
    assert_eq!(report.expect("a file"), stream_report);
    assert_eq!(fs::read(&path).expect("the file"), stream);
    assert_eq!(folder.names(), ["take.wav"]);
}

fn try_file(path: &Path, overwrite: Overwrite) -> Result<Report, AudioError> {
    let format = format(48_000, SampleFormat::Int24);
    write_file(path, overwrite, format, 3_000, source(|_| 0.1), onwards)
}

#[test]
fn an_existing_file_is_replaced_only_when_asked() {
    let folder = Folder::new();
    let path = folder.file("take.wav");
    fs::write(&path, "precious").expect("a file");
    assert!(matches!(try_file(&path, Overwrite::Refuse), Err(AudioError::Exists(p)) if p == path));
    assert_eq!(fs::read(&path).expect("the file"), b"precious");
    try_file(&path, Overwrite::Replace).expect("a file");
    assert_eq!(samples(&fs::read(&path).expect("the file")).1.len(), 6_000);
    assert_eq!(folder.names(), ["take.wav"]);
}

#[test]
fn a_name_taken_meanwhile_is_not_overwritten() {
    let folder = Folder::new();
    let path = folder.file("take.wav");
    let intruding = |left: &mut [f32], right: &mut [f32]| {
        left.fill(0.1);
        right.fill(0.1);
        fs::write(&path, "precious").expect("a file");
    };
    let format = format(48_000, SampleFormat::Int24);
    let result = write_file(&path, Overwrite::Refuse, format, 100, intruding, onwards);
    assert!(matches!(result, Err(AudioError::Exists(_))));
    assert_eq!(fs::read(&path).expect("the file"), b"precious");
    assert_eq!(folder.names(), ["take.wav"]);
}

#[test]
fn what_fails_leaves_nothing_behind() {
    let folder = Folder::new();
    let path = folder.file("take.wav");
    let format = format(48_000, SampleFormat::Float32);
    for after in [0.2, 0.7] {
        let stop = |p: Progress| {
            if p.share() > after {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        };
        let result = write_file(
            &path,
            Overwrite::Refuse,
            format,
            9_000,
            source(|_| 0.1),
            stop,
        );
        assert!(matches!(result, Err(AudioError::Cancelled)));
        assert!(folder.names().is_empty());
    }
    for bad in [f64::NAN, f64::INFINITY] {
        let wave = |n| if n == 5_000 { bad } else { 0.1 };
        let result = write_file(
            &path,
            Overwrite::Refuse,
            format,
            9_000,
            source(wave),
            onwards,
        );
        assert!(matches!(result, Err(AudioError::NotFinite(5_000))));
        assert!(folder.names().is_empty());
    }
}

#[test]
fn places_that_are_no_files_are_refused_before_rendering() {
    let folder = Folder::new();
    let missing = folder.file("no such folder").join("take.wav");
    let never = |_: &mut [f32], _: &mut [f32]| panic!("nothing should be rendered");
    let format = format(48_000, SampleFormat::Int24);
    for (path, kind) in [
        (folder.0.clone(), true),
        (PathBuf::from(".."), true),
        (missing, false),
    ] {
        let error = write_file(&path, Overwrite::Replace, format, 100, never, onwards);
        let named = match error {
            Err(AudioError::NotAFile(_)) => true,
            Err(AudioError::Io { .. }) => false,
            other => panic!("{other:?}"),
        };
        assert_eq!(named, kind, "{}", path.display());
    }
}

#[test]
fn rates_and_lengths_out_of_range_are_refused() {
    let write = |rate_hz, sample, frames| {
        let never = |_: &mut [f32], _: &mut [f32]| panic!("nothing should be rendered");
        write_stream(io::sink(), format(rate_hz, sample), frames, never, onwards)
    };
    for rate_hz in [0, 7_999, 384_001, u32::MAX] {
        let error = write(rate_hz, SampleFormat::Int16, 10);
        assert!(matches!(error, Err(AudioError::Rate(r)) if r == rate_hz));
    }
    for (sample, frame_bytes) in FORMATS.into_iter().zip([4_u64, 6, 8]) {
        for frames in [(1_u64 << 32) / frame_bytes, u64::MAX] {
            let error = write(48_000, sample, frames);
            assert!(
                matches!(error, Err(AudioError::TooLong { .. })),
                "{sample:?} {frames}"
            );
        }
    }
}

#[test]
fn a_stream_that_breaks_is_an_error() {
    struct Broken;
    impl Write for Broken {
        fn write(&mut self, _: &[u8]) -> io::Result<usize> {
            Err(io::ErrorKind::BrokenPipe.into())
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }
    let format = format(48_000, SampleFormat::Int16);
    let result = write_stream(Broken, format, 100, source(|_| 0.0), onwards);
    let broken = matches!(result, Err(AudioError::Io { source, .. })
        if source.kind() == io::ErrorKind::BrokenPipe);
    assert!(broken);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Any noise, however loud, is held to the limit, and never raised.
    #[test]
    fn the_true_peak_in_the_file_never_exceeds_the_limit(
        noise in prop::collection::vec(-1.0_f64..1.0, 1..1_500),
        scale in prop::sample::select(vec![0.01, 0.5, 0.9, 1.0, 4.0, 1e6]),
        index in 0..3_usize,
        rate_hz in prop::sample::select(vec![44_100_u32, 96_000, 192_000]),
    ) {
        let wave = |n: u64| scale * noise[n as usize];
        let (_, report) = bytes(format(rate_hz, FORMATS[index]), noise.len() as u64, wave);
        prop_assert!(report.true_peak_dbtp.is_none_or(|p| p <= -1.0), "{:?}", report);
        prop_assert!(report.gain_db <= 0.0);
        if scale <= 0.01 {
            prop_assert_eq!(report.gain_db, 0.0);
        }
    }
}
