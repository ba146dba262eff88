//! The player of the kit: what the audio thread owns.

use super::choke;
use super::gain::SmoothGain;
use super::limiter::Limiter;
use super::sample_set::SampleSet;
use super::strike::Strike;
use barform_score::music::{Articulation, Velocity, Voice};
use std::ops::Range;
use std::sync::Arc;

/// Strokes that sound at the same time; one more steals the quietest.
pub const MAX_STRIKES: usize = 48;

/// Places for stolen strokes while they fade.
const MAX_FADING: usize = 48;

/// Seconds a stolen stroke takes to fade: short, yet per sample it moves by no
/// more than 3/384 of its level at 48 kHz, so it does not click.
const STEAL_FADE_S: f64 = 0.008;

/// Range of [`Mixer::set_gain_db`], dB.
const GAIN_RANGE_DB: (f32, f32) = (-90.0, 24.0);

/// A stretch of stereo audio, both channels equally long, full scale ±1.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Block {
    /// Left channel.
    pub left: Vec<f32>,
    /// Right channel.
    pub right: Vec<f32>,
}

/// Plays a [`SampleSet`]. Owned by one audio thread; [`Mixer::new`] is the only
/// call that allocates.
#[derive(Debug)]
pub struct Mixer {
    set: Arc<SampleSet>,
    strikes: Vec<Strike>,
    /// Strokes so far on each sound, to take turns among its takes.
    counts: [usize; Voice::COUNT * Articulation::COUNT],
    gain: SmoothGain,
    limiter: Limiter,
}

impl Mixer {
    /// A silent mixer at 0 dB.
    pub fn new(set: Arc<SampleSet>) -> Mixer {
        let rate_hz = set.rate_hz();
        Mixer {
            set,
            strikes: Vec::with_capacity(MAX_STRIKES + MAX_FADING),
            counts: [0; Voice::COUNT * Articulation::COUNT],
            gain: SmoothGain::new(rate_hz),
            limiter: Limiter::new(rate_hz),
        }
    }

    /// Takes another set, silences everything and hands the old set back, for
    /// the caller to drop away from the audio thread. Keeps the gain.
    pub fn set_samples(&mut self, set: Arc<SampleSet>) -> Arc<SampleSet> {
        let gain = self.gain.target();
        let rate_hz = set.rate_hz();
        let old = std::mem::replace(&mut self.set, set);
        self.gain = SmoothGain::new(rate_hz);
        self.gain.set(gain);
        self.limiter = Limiter::new(rate_hz);
        self.silence();
        old
    }

    /// The set being played.
    pub fn samples(&self) -> &Arc<SampleSet> {
        &self.set
    }

    /// Output gain in dB ahead of the limiter, held to -90 to 24; below -90, and
    /// for NaN, silent. A change takes 20 ms.
    pub fn set_gain_db(&mut self, gain_db: f32) {
        let (lowest, highest) = GAIN_RANGE_DB;
        let gain = if gain_db >= lowest {
            10_f32.powf(gain_db.min(highest) / 20.0)
        } else {
            0.0
        };
        self.gain.set(gain);
    }

    /// Starts a stroke at the first frame of the next block. An articulation
    /// the voice does not know is a plain stroke.
    ///
    /// With [`MAX_STRIKES`] sounding, the quietest (the oldest of equals) makes
    /// room in a short fade. Only after as many steals within that fade's eight
    /// milliseconds is a stroke cut off at once.
    pub fn trigger(&mut self, voice: Voice, articulation: Articulation, velocity: Velocity) {
        let new = (voice, articulation);
        let rate_hz = self.set.rate_hz();
        for strike in &mut self.strikes {
            if let Some(c) = choke::of_ringing(new, (strike.voice, strike.articulation)) {
                strike.fade_out(frames(c.wait_s, rate_hz), frames(c.fade_s, rate_hz));
            }
        }
        if self.sounding() >= MAX_STRIKES {
            self.steal();
        }
        let count = &mut self.counts[self.set.index(voice, articulation)];
        let mut strike = Strike::new(&self.set, voice, articulation, velocity, *count);
        *count = count.wrapping_add(1);
        if let Some(c) = choke::own(articulation) {
            strike.fade_out(frames(c.wait_s, rate_hz), frames(c.fade_s, rate_hz));
        }
        self.strikes.push(strike);
    }

    /// Writes (not adds) the next frames to both channels: the whole mix, gain
    /// and limiter included. No sample is above [`super::CEILING_DBFS`]. If the
    /// channels differ in length, the rest of the longer one is silent.
    pub fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        left.fill(0.0);
        right.fill(0.0);
        let frames = left.len().min(right.len());
        if self.strikes.is_empty() {
            self.gain.skip(frames);
            self.limiter.rest(frames);
            return;
        }
        let (left, right) = (&mut left[..frames], &mut right[..frames]);
        for strike in &mut self.strikes {
            strike.add_to(&self.set, left, right);
        }
        // Keeps the order, so sums round alike for any split into blocks.
        let set = &self.set;
        self.strikes.retain(|s| !s.is_over(set));
        for (l, r) in left.iter_mut().zip(right) {
            let gain = self.gain.next();
            *l *= gain;
            *r *= gain;
            self.limiter.frame(l, r);
        }
    }

    /// Adds the next frames to a range of each stem, a stroke to the stem that
    /// `stem_of` has for its voice, ahead of gain and limiter: the stems add up
    /// to what [`Mixer::render`] gives while its limiter has nothing to do and
    /// its gain is 0 dB. One mixer renders either the mix or the stems.
    pub fn render_stems(
        &mut self,
        stem_of: &[usize; Voice::COUNT],
        stems: &mut [Block],
        range: Range<usize>,
    ) {
        for strike in &mut self.strikes {
            let Some(stem) = stems.get_mut(stem_of[strike.voice.index()]) else {
                continue;
            };
            let left = stem.left.get_mut(range.clone()).unwrap_or(&mut []);
            let right = stem.right.get_mut(range.clone()).unwrap_or(&mut []);
            strike.add_to(&self.set, left, right);
        }
        let set = &self.set;
        self.strikes.retain(|s| !s.is_over(set));
    }

    /// Whether anything still rings.
    pub fn is_sounding(&self) -> bool {
        !self.strikes.is_empty()
    }

    /// Fades everything out in eight milliseconds: for a stop in live use.
    pub fn fade_out(&mut self) {
        let length = frames(STEAL_FADE_S, self.set.rate_hz());
        self.strikes.iter_mut().for_each(|s| s.fade_out(0, length));
    }

    /// Back to the state of a new mixer, gain aside, at once: for a reset. In
    /// the middle of a sound this clicks; see [`Mixer::fade_out`].
    pub fn silence(&mut self) {
        self.strikes.clear();
        self.counts = [0; Voice::COUNT * Articulation::COUNT];
        self.gain.settle();
        self.limiter.reset();
    }

    fn sounding(&self) -> usize {
        self.strikes.iter().filter(|s| !s.stolen).count()
    }

    fn steal(&mut self) {
        let set = &self.set;
        let quietest = |strikes: &[Strike], among: fn(&Strike) -> bool| {
            let candidates = strikes.iter().enumerate().filter(|(_, s)| among(s));
            candidates
                .min_by(|a, b| a.1.level(set).total_cmp(&b.1.level(set)))
                .map(|(n, _)| n)
        };
        let full = self.strikes.len() >= MAX_STRIKES + MAX_FADING;
        // With no place to fade in, what has not been heard yet can go unheard.
        let victim = full
            .then(|| quietest(&self.strikes, |s| !s.stolen && s.is_new()))
            .flatten()
            .or_else(|| quietest(&self.strikes, |s| !s.stolen));
        let Some(victim) = victim else { return };
        if full || self.strikes[victim].is_new() {
            self.strikes.remove(victim);
        } else {
            let length = frames(STEAL_FADE_S, set.rate_hz());
            self.strikes[victim].stolen = true;
            self.strikes[victim].fade_out(0, length);
        }
    }
}

fn frames(seconds: f64, rate_hz: f64) -> u32 {
    (seconds * rate_hz) as u32
}
