//! All sounds of the kit at one sample rate.

use super::recipes;
use super::shot::{Shot, Take};
use barform_score::music::{Articulation, Voice};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError, Weak};

/// Lowest sample rate the kit is built for, hertz.
pub const MIN_RATE_HZ: f64 = 8_000.0;
/// Highest sample rate the kit is built for, hertz.
pub const MAX_RATE_HZ: f64 = 384_000.0;

/// Why a kit could not be built.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SoundError {
    /// The sample rate is outside what the kit is built for.
    #[error("no kit at {0} Hz; sample rates from 8000 to 384000 Hz are allowed")]
    Rate(f64),
}

/// The sounds of the kit, ready to play. The same rate gives the same samples,
/// bit for bit, every time.
#[derive(Debug, PartialEq)]
pub struct SampleSet {
    rate_hz: f64,
    shots: Vec<Shot>,
    table: [[u8; Articulation::COUNT]; Voice::COUNT],
}

/// Sets in use by rate (as bits, to be orderable). Weak, so that the last user
/// of a rate frees it.
static IN_USE: Mutex<BTreeMap<u64, Weak<SampleSet>>> = Mutex::new(BTreeMap::new());

impl SampleSet {
    /// The set for a sample rate: the one already in use in this process, else
    /// a new one. Takes a fraction of a second when new and may wait for another
    /// caller; never call it on the audio thread.
    ///
    /// # Errors
    /// [`SoundError::Rate`] outside [`MIN_RATE_HZ`] to [`MAX_RATE_HZ`].
    pub fn for_rate(rate_hz: f64) -> Result<Arc<SampleSet>, SoundError> {
        check_rate(rate_hz)?;
        // A panic elsewhere leaves the map as whole as it was.
        let mut in_use = IN_USE.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(set) = in_use.get(&rate_hz.to_bits()).and_then(Weak::upgrade) {
            return Ok(set);
        }
        let set = Arc::new(SampleSet::build(rate_hz)?);
        in_use.retain(|_, set| set.strong_count() > 0);
        in_use.insert(rate_hz.to_bits(), Arc::downgrade(&set));
        Ok(set)
    }

    /// A set of one's own. [`SampleSet::for_rate`] shares and is what a plug-in
    /// wants.
    ///
    /// # Errors
    /// [`SoundError::Rate`] outside [`MIN_RATE_HZ`] to [`MAX_RATE_HZ`].
    pub fn build(rate_hz: f64) -> Result<SampleSet, SoundError> {
        check_rate(rate_hz)?;
        let mut recipes = Vec::new();
        let mut table = [[0; Articulation::COUNT]; Voice::COUNT];
        for voice in Voice::ALL.into_iter().chain([Voice::Click]) {
            let row = &mut table[voice.index()];
            // Whatever a voice has no sound of its own for is a plain stroke,
            // which every voice has and which comes first. A choked cymbal is
            // a plain one that is caught.
            *row = [recipes.len() as u8; Articulation::COUNT];
            for articulation in voice.articulations() {
                if *articulation != Articulation::Choke {
                    row[articulation.index()] = recipes.len() as u8;
                    recipes.push((voice, *articulation));
                }
            }
        }
        let shots = cook(rate_hz, &recipes);
        Ok(SampleSet {
            rate_hz,
            shots,
            table,
        })
    }

    /// The sample rate, hertz.
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// Frames from a stroke to the last sample of its sound, unless choked.
    pub fn frames(&self, voice: Voice, articulation: Articulation) -> usize {
        self.shots[self.index(voice, articulation)].frames()
    }

    /// Memory taken by the samples, bytes.
    pub fn bytes(&self) -> usize {
        let of = |t: &Take| 2 * (t.body.left.len() + t.edge.left.len()) * size_of::<f32>();
        self.shots.iter().flat_map(|s| &s.takes).map(of).sum()
    }

    pub(super) fn index(&self, voice: Voice, articulation: Articulation) -> usize {
        usize::from(self.table[voice.index()][articulation.index()])
    }

    pub(super) fn shot(&self, index: usize) -> &Shot {
        &self.shots[index]
    }
}

/// Builds every recipe, on as many threads as the machine has processors, up to
/// four. Which thread builds what makes no difference to the result.
fn cook(rate_hz: f64, recipes: &[(Voice, Articulation)]) -> Vec<Shot> {
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done = Vec::new();
        loop {
            let n = next.fetch_add(1, Ordering::Relaxed);
            let Some((voice, articulation)) = recipes.get(n) else {
                return done;
            };
            done.push((n, recipes::shot(rate_hz, *voice, *articulation)));
        }
    };
    let helpers = std::thread::available_parallelism()
        .map_or(1, usize::from)
        .min(4)
        - 1;
    let mut shots = std::thread::scope(|scope| {
        let helpers: Vec<_> = (0..helpers)
            // Where no thread can be had, the others do its share.
            .filter_map(|_| std::thread::Builder::new().spawn_scoped(scope, work).ok())
            .collect();
        let mut shots = work();
        for helper in helpers {
            match helper.join() {
                Ok(done) => shots.extend(done),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        shots
    });
    shots.sort_by_key(|(n, _)| *n);
    shots.into_iter().map(|(_, shot)| shot).collect()
}

fn check_rate(rate_hz: f64) -> Result<(), SoundError> {
    let ok = (MIN_RATE_HZ..=MAX_RATE_HZ).contains(&rate_hz);
    if ok {
        Ok(())
    } else {
        Err(SoundError::Rate(rate_hz))
    }
}
