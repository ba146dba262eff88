//! One file for each voice or group, which add up to the mix.

use super::blocks::{self, BLOCK_FRAMES, Progress, Report, Spool};
use super::meter::Meter;
use super::place;
use super::quantise::Quantiser;
use super::{AudioError, Format, Level, Overwrite, Written};
use crate::export::render::{Rendering, Source};
use crate::save::Draft;
use barform_play::sound::Block;
use barform_score::music::Voice;
use std::fs;
use std::io::{self, BufWriter};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

/// What shares a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Grouping {
    /// Nothing: a file for each voice.
    #[default]
    Voices,
    /// Kick, snare, toms, hi-hats, cymbals, cowbell and click.
    Groups,
}

/// Where a set of stems goes.
#[derive(Debug, Clone, Copy)]
pub struct StemTarget<'a> {
    /// The folder; made if it is not there.
    pub folder: &'a Path,
    /// What every name begins with: `NAME` gives `NAME-snare.wav`.
    pub name: &'a str,
    /// What shares a file.
    pub grouping: Grouping,
    /// Whether files that exist may be replaced.
    pub overwrite: Overwrite,
}

/// A stem that was written.
#[derive(Debug, Clone, PartialEq)]
pub struct Stem {
    /// What sounds in it.
    pub name: &'static str,
    /// Its file.
    pub path: PathBuf,
    /// What is in it.
    pub report: Report,
}

/// A set of stems that was written.
#[derive(Debug, Clone, PartialEq)]
pub struct StemSet {
    /// The stems in score order.
    pub stems: Vec<Stem>,
    /// Their sum, as it is if all are played at once.
    pub sum: Written,
}

impl Grouping {
    /// The name of the stem of a voice.
    pub fn name(self, voice: Voice) -> &'static str {
        use Voice::*;
        match (self, voice) {
            (Grouping::Voices, _) => voice.name(),
            (Grouping::Groups, Hat | HatFoot) => "hats",
            (Grouping::Groups, Tom1 | Tom2 | Tom3 | Tom4 | Tom5 | Tom6) => "toms",
            (Grouping::Groups, Ride | Crash | Crash2 | Splash | China) => "cymbals",
            (Grouping::Groups, Kick | Snare | Cowbell | Click) => voice.name(),
        }
    }
}

/// A stem under way.
struct Growing {
    name: &'static str,
    path: PathBuf,
    spool: Spool,
    peak: Meter,
}

/// Writes a file for each voice or group that sounds.
///
/// All get the same gain, so that they keep their balance and add up to the mix:
/// sample by sample to the rounding of the format (with dither, 1.5 steps for
/// each file), as long as the limiter of the built-in kit has nothing to do;
/// stems are made without it. The gain keeps the true peak of every stem and of
/// their sum at -1 dB or below; a loudness target is that of the sum.
///
/// # Errors
/// See [`AudioError`]. Either all files are there in the end or none.
pub fn write_stems(
    source: &Source,
    format: Format,
    level: Level,
    target: &StemTarget,
    mut progress: impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<StemSet, AudioError> {
    format.check(0)?;
    level.check()?;
    let mut rendering = Rendering::of(source, f64::from(format.rate_hz))?;
    format.check(rendering.frames())?;
    let voices = rendering.voices();
    let mut names: Vec<&'static str> = Vec::new();
    let mut stem_of = [usize::MAX; Voice::COUNT];
    for voice in &voices {
        let name = target.grouping.name(*voice);
        let known = names.iter().position(|n| *n == name);
        stem_of[voice.index()] = known.unwrap_or(names.len());
        if known.is_none() {
            names.push(name);
        }
    }
    if names.is_empty() {
        return Err(AudioError::Silent);
    }
    let folder = Folder::make(target.folder)?;
    let set = write(
        &mut rendering,
        &stem_of,
        &names,
        (format, level),
        target,
        &mut progress,
    )?;
    folder.keep();
    Ok(set)
}

fn write(
    rendering: &mut Rendering,
    stem_of: &[usize; Voice::COUNT],
    names: &[&'static str],
    (format, level): (Format, Level),
    target: &StemTarget,
    progress: &mut impl FnMut(Progress) -> ControlFlow<()>,
) -> Result<StemSet, AudioError> {
    let mut growing = Vec::new();
    let mut drafts = Vec::new();
    for name in names {
        let file = format!("{}-{name}.{}", target.name, format.kind.ending());
        let path = target.folder.join(file);
        drafts.push(place::draft(&path, target.overwrite)?);
        growing.push(Growing {
            name,
            spool: Spool::beside(&path)?,
            path,
            peak: Meter::new(format.rate_hz)?,
        });
    }
    let frames = rendering.frames();
    let steps = frames * (1 + names.len() as u64);
    let mut sum = take_in(rendering, stem_of, &mut growing, format, |done| {
        blocks::tell(progress, done, steps)
    })?;
    let sum_peak = sum.true_peak()?;
    let loudness = sum.into_loudness();
    let mut highest = sum_peak;
    for stem in &mut growing {
        highest = highest.max(stem.peak.true_peak()?);
    }
    let gain = level.gain(highest, &loudness, format.sample, names.len());
    let gain_db = 20.0 * gain.factor.log10();
    let report = |true_peak, loudness_lufs| Report {
        frames,
        seconds: frames as f64 / f64::from(format.rate_hz),
        gain_db,
        held_back_db: gain.held_back_db,
        true_peak_dbtp: blocks::decibels(true_peak),
        loudness_lufs,
    };
    let mut stems = Vec::new();
    for (n, (mut stem, draft)) in growing.into_iter().zip(&drafts).enumerate() {
        let (peak, lufs) = blocks::store(
            &mut stem.spool.rewound()?,
            BufWriter::new(draft.file()),
            format,
            gain.factor,
            frames,
            Quantiser::new(format.sample, n),
            |done| blocks::tell(progress, frames * (1 + n as u64) + done, steps),
        )?;
        stems.push(Stem {
            name: stem.name,
            path: stem.path,
            report: report(peak, lufs),
        });
    }
    publish(drafts, &stems, target.overwrite)?;
    Ok(StemSet {
        stems,
        sum: Written {
            report: report(sum_peak * gain.factor, loudness.integrated(gain_db)),
            substitutes: rendering.substitutes().to_vec(),
        },
    })
}

/// Renders every stem and measures it and the sum.
fn take_in(
    rendering: &mut Rendering,
    stem_of: &[usize; Voice::COUNT],
    growing: &mut [Growing],
    format: Format,
    mut told: impl FnMut(u64) -> Result<(), AudioError>,
) -> Result<Meter, AudioError> {
    let mut sum = Meter::new(format.rate_hz)?;
    let mut stems = vec![Block::default(); growing.len()];
    let (mut left, mut right) = ([0.0_f32; BLOCK_FRAMES], [0.0_f32; BLOCK_FRAMES]);
    let mut done = 0;
    while done < rendering.frames() {
        let count = blocks::block(rendering.frames() - done);
        for stem in &mut stems {
            for channel in [&mut stem.left, &mut stem.right] {
                channel.clear();
                channel.resize(count, 0.0);
            }
        }
        rendering.fill_stems(stem_of, &mut stems, count);
        let (left, right) = (&mut left[..count], &mut right[..count]);
        left.fill(0.0);
        right.fill(0.0);
        for (stem, block) in growing.iter_mut().zip(&stems) {
            blocks::put_aside(&mut stem.spool.raw, &block.left, &block.right, done)?;
            stem.peak.add(&block.left, &block.right)?;
            left.iter_mut().zip(&block.left).for_each(|(s, x)| *s += x);
            right
                .iter_mut()
                .zip(&block.right)
                .for_each(|(s, x)| *s += x);
        }
        sum.add(left, right)?;
        done += count as u64;
        told(done)?;
    }
    Ok(sum)
}

/// Gives all files their names, or none: should one name be taken by now, those
/// given before are taken back.
fn publish(drafts: Vec<Draft>, stems: &[Stem], overwrite: Overwrite) -> Result<(), AudioError> {
    for (n, (draft, stem)) in drafts.into_iter().zip(stems).enumerate() {
        if let Err(error) = place::publish(draft, &stem.path) {
            if overwrite == Overwrite::Refuse {
                for stem in &stems[..n] {
                    let _ = fs::remove_file(&stem.path);
                }
            }
            return Err(error);
        }
    }
    Ok(())
}

/// The folder of a set; taken back if it was made for a set that failed.
struct Folder<'a> {
    path: &'a Path,
    made: bool,
}

impl Folder<'_> {
    fn make(path: &Path) -> Result<Folder<'_>, AudioError> {
        let made = match fs::create_dir(path) {
            Ok(()) => true,
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists && path.is_dir() => false,
            Err(source) => {
                return Err(AudioError::Io {
                    what: path.display().to_string(),
                    source,
                });
            }
        };
        Ok(Folder { path, made })
    }

    fn keep(mut self) {
        self.made = false;
    }
}

impl Drop for Folder<'_> {
    fn drop(&mut self) {
        if self.made {
            // Fails if somebody has put something there, as it should.
            let _ = fs::remove_dir(self.path);
        }
    }
}
