//! FLAC files hold, sample by sample, what the WAV file holds.

use crate::audio_support;

use audio_support::{bytes, flac_steps, format, onwards, quiet, source, wav_steps};
use barform_app::export::Options;
use barform_app::export::audio::blocks;
use barform_app::export::audio::{AudioError, FileKind, Level, SampleFormat};
use md5::{Digest, Md5};
use proptest::prelude::*;

const INTEGERS: [SampleFormat; 2] = [SampleFormat::Int16, SampleFormat::Int24];

/// RFC 9639, section 8.2: the MD5 sum is that of the samples, channels in turn,
/// little-endian, in as few bytes as hold them.
fn sum(steps: &[i32], bits: u16) -> [u8; 16] {
    let mut sum = Md5::new();
    for step in steps {
        sum.update(&step.to_le_bytes()[..usize::from(bits / 8)]);
    }
    sum.finalize().into()
}

#[test]
fn a_form_is_the_same_in_both_kinds() {
    let timeline = quiet();
    let options = Options::default();
    let source = source(&timeline, &options);
    for rate_hz in [44_100, 192_000] {
        for sample in INTEGERS {
            let of = |kind| bytes(&source, format(kind, rate_hz, sample), Level::default());
            let (wav, in_wav) = of(FileKind::Wav).unwrap();
            let (flac, in_flac) = of(FileKind::Flac).unwrap();
            let (steps, info) = flac_steps(&flac);
            assert!(steps == wav_steps(&wav), "{rate_hz} {sample:?}");
            assert!(steps.iter().any(|s| *s != 0));
            assert_eq!(in_wav, in_flac);
            assert_eq!((info.sample_rate, info.channels), (rate_hz, 2));
            assert_eq!(info.bits_per_sample, u32::from(sample.bits()));
            assert_eq!(info.samples, Some(in_flac.report.frames));
            assert_eq!(info.md5sum, sum(&steps, sample.bits()));
            assert!(flac.len() < wav.len());
        }
    }
}

#[test]
fn frames_are_as_long_as_the_head_says() {
    let timeline = quiet();
    let options = Options::default();
    let format = format(FileKind::Flac, 48_000, SampleFormat::Int24);
    let (file, _) = bytes(&source(&timeline, &options), format, Level::default()).unwrap();
    let (_, info) = flac_steps(&file);
    assert_eq!((info.min_block_size, info.max_block_size), (4096, 4096));
    let (least, most) = (info.min_frame_size.unwrap(), info.max_frame_size.unwrap());
    assert!(0 < least && least <= most && u64::from(most) < file.len() as u64);
}

#[test]
fn floating_point_is_refused_with_a_mend() {
    let timeline = quiet();
    let options = Options::default();
    let format = format(FileKind::Flac, 48_000, SampleFormat::Float32);
    let error = bytes(&source(&timeline, &options), format, Level::default()).unwrap_err();
    assert!(matches!(error, AudioError::FlacFloat), "{error}");
    let told = error.to_string();
    assert!(told.contains("24 bits") && told.contains("WAV"), "{told}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// Any noise, of any length, at any rate: silence, full scale, one frame.
    #[test]
    fn any_audio_comes_back(
        noise in prop::collection::vec((-1.0_f32..1.0, -1.0_f32..1.0), 0..9_000),
        scale in prop::sample::select(vec![0.0_f32, 1e-6, 0.3, 1.0]),
        same in any::<bool>(),
        index in 0..2_usize,
        rate_hz in prop::sample::select(
            vec![8_000_u32, 11_025, 44_100, 65_537, 88_200, 95_999, 176_400, 192_000, 384_000]
        ),
    ) {
        let write = |kind| {
            let mut frame = 0;
            let fill = |left: &mut [f32], right: &mut [f32]| {
                for (l, r) in left.iter_mut().zip(right) {
                    let (a, b) = noise[frame];
                    *l = scale * a;
                    *r = if same { *l } else { scale * b };
                    frame += 1;
                }
            };
            let mut out = Vec::new();
            let format = format(kind, rate_hz, INTEGERS[index]);
            let frames = noise.len() as u64;
            blocks::write_stream(&mut out, format, Level::default(), frames, fill, onwards)
                .map(|_| out)
        };
        let wav = write(FileKind::Wav).unwrap();
        let flac = write(FileKind::Flac).unwrap();
        // Never longer than the samples but for the heads of file and frames.
        prop_assert!(flac.len() <= wav.len() + 64, "{} of {}", flac.len(), wav.len());
        let (steps, info) = flac_steps(&flac);
        prop_assert_eq!(&steps, &wav_steps(&wav));
        prop_assert_eq!(info.sample_rate, rate_hz);
        prop_assert_eq!(info.md5sum, sum(&steps, INTEGERS[index].bits()));
    }
}
