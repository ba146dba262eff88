//! One sounding stroke, sample by sample.

use super::sample_set::SampleSet;
use super::shot::{OUTLINE_FRAMES, Take};
use barform_score::music::{Articulation, Velocity, Voice};

/// Gain of the body at the lowest velocity would be this, squared: a range of
/// some 44 dB, so that the softest stroke is still heard.
const SOFTEST: f32 = 0.08;

/// Share of the edge that even the softest stroke has.
const DULLEST: f32 = 0.12;

/// A fade to silence. Computed from a counter, not accumulated, so it is the
/// same however the host splits its blocks, and ends on zero exactly.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fade {
    wait: u32,
    left: u32,
    length: u32,
    from: f32,
}

impl Fade {
    /// Starts a fade, unless one under way ends sooner anyway.
    pub fn start(fade: &mut Option<Fade>, wait: u32, length: u32) {
        let length = length.max(1);
        let from = fade.as_ref().map_or(1.0, Fade::gain);
        if fade.is_some_and(|f| f.frames_left() <= wait + length) {
            return;
        }
        // A fade under way goes on from the level it has reached.
        let wait = if fade.is_some() { 0 } else { wait };
        *fade = Some(Fade {
            wait,
            left: length,
            length,
            from,
        });
    }

    pub fn gain(&self) -> f32 {
        let share = self.left as f32 / self.length as f32;
        self.from * share * share * share
    }

    pub fn step(&mut self) {
        if self.wait > 0 {
            self.wait -= 1;
        } else {
            self.left = self.left.saturating_sub(1);
        }
    }

    /// Whether it has reached silence.
    pub fn is_over(&self) -> bool {
        self.left == 0
    }

    fn frames_left(&self) -> u32 {
        self.wait + self.left
    }
}

/// A stroke that sounds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Strike {
    pub voice: Voice,
    pub articulation: Articulation,
    /// Whether it has been stolen and is only fading out.
    pub stolen: bool,
    shot: usize,
    take: usize,
    position: usize,
    body_gain: f32,
    edge_gain: f32,
    fade: Option<Fade>,
}

impl Strike {
    pub fn new(
        set: &SampleSet,
        voice: Voice,
        articulation: Articulation,
        velocity: Velocity,
        count: usize,
    ) -> Strike {
        let shot = set.index(voice, articulation);
        let take = count % set.shot(shot).takes.len().max(1);
        let force = velocity.to_unit();
        let body_gain = (SOFTEST + (1.0 - SOFTEST) * force).powi(2);
        let edge_gain = body_gain * (DULLEST + (1.0 - DULLEST) * force * force.sqrt());
        Strike {
            voice,
            articulation,
            stolen: false,
            shot,
            take,
            position: 0,
            body_gain,
            edge_gain,
            fade: None,
        }
    }

    fn take<'a>(&self, set: &'a SampleSet) -> &'a Take {
        &set.shot(self.shot).takes[self.take]
    }

    /// Whether nothing of it has been heard yet.
    pub fn is_new(&self) -> bool {
        self.position == 0
    }

    /// Peak it has about now, share of full scale; what stealing goes by.
    pub fn level(&self, set: &SampleSet) -> f32 {
        let outline = &self.take(set).outline;
        let peak = outline
            .get(self.position / OUTLINE_FRAMES)
            .copied()
            .unwrap_or(0.0);
        self.body_gain * peak * self.fade.as_ref().map_or(1.0, Fade::gain)
    }

    /// Starts a fade, unless one under way ends sooner anyway.
    pub fn fade_out(&mut self, wait: u32, length: u32) {
        Fade::start(&mut self.fade, wait, length);
    }

    /// Whether it has nothing left to play.
    pub fn is_over(&self, set: &SampleSet) -> bool {
        self.position >= self.take(set).frames() || self.fade.as_ref().is_some_and(Fade::is_over)
    }

    /// Adds its next samples to both channels and moves on.
    pub fn add_to(&mut self, set: &SampleSet, left: &mut [f32], right: &mut [f32]) {
        let take = self.take(set);
        let frames = left.len().min(take.frames().saturating_sub(self.position));
        let (left, right) = (&mut left[..frames], &mut right[..frames]);
        let start = self.position;
        if let Some(fade) = &mut self.fade {
            for n in 0..frames {
                let gain = fade.gain();
                let at = |c: &[f32]| c.get(start + n).copied().unwrap_or(0.0);
                let body = gain * self.body_gain;
                let edge = gain * self.edge_gain;
                left[n] += body * at(&take.body.left) + edge * at(&take.edge.left);
                right[n] += body * at(&take.body.right) + edge * at(&take.edge.right);
                fade.step();
            }
        } else {
            add(
                left,
                &take.body.left,
                start,
                self.body_gain,
                &take.edge.left,
                self.edge_gain,
            );
            add(
                right,
                &take.body.right,
                start,
                self.body_gain,
                &take.edge.right,
                self.edge_gain,
            );
        }
        self.position += frames;
    }
}

/// Adds body and edge in one expression per sample, so that splitting a block
/// changes no rounding.
fn add(out: &mut [f32], body: &[f32], start: usize, gb: f32, edge: &[f32], ge: f32) {
    let body = body.get(start..).unwrap_or(&[]);
    let edge = edge.get(start..).unwrap_or(&[]);
    let both = out.len().min(body.len()).min(edge.len());
    for ((o, b), e) in out.iter_mut().zip(body).zip(edge) {
        *o += gb * b + ge * e;
    }
    let rest = &mut out[both..];
    for (o, b) in rest.iter_mut().zip(body.get(both..).unwrap_or(&[])) {
        *o += gb * b;
    }
    for (o, e) in rest.iter_mut().zip(edge.get(both..).unwrap_or(&[])) {
        *o += ge * e;
    }
}
