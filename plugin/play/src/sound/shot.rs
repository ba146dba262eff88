//! A finished one-shot: what one voice sounds like, struck one way.

use super::synth::Layer;

/// Frames covered by one entry of [`Take::outline`].
pub(super) const OUTLINE_FRAMES: usize = 512;

/// Below this share of its peak the end of a layer is cut away (-80 dB).
const TAIL_FLOOR: f32 = 1e-4;

/// Share of a layer over which its cut end fades to zero.
const END_FADE: f64 = 0.15;

/// Seconds of rise at the very start: short against the millisecond a stroke
/// may take to speak, long enough that no layer starts on a step.
const START_FADE_S: f64 = 0.000_15;

/// Two channels of equal length.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stereo {
    pub left: Vec<f32>,
    pub right: Vec<f32>,
}

/// One rendering of a stroke. The body always sounds; the edge is what a harder
/// stroke adds in brightness: attack, wires, high modes.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Take {
    pub body: Stereo,
    pub edge: Stereo,
    /// Peak of body and edge together per [`OUTLINE_FRAMES`].
    pub outline: Vec<f32>,
}

/// One or more takes of the same stroke, used in turn so that fast strokes on
/// one drum are not carbon copies.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Shot {
    pub takes: Vec<Take>,
}

impl Take {
    /// Frames until the last sample.
    pub fn frames(&self) -> usize {
        self.body.left.len().max(self.edge.left.len())
    }

    fn peak(&self) -> f32 {
        self.outline.iter().copied().fold(0.0, f32::max)
    }

    fn energy(&self) -> f64 {
        let full = |b: &[f32], e: &[f32]| -> f64 {
            (0..b.len().max(e.len()))
                .map(|n| f64::from(at(b, n) + at(e, n)).powi(2))
                .sum()
        };
        full(&self.body.left, &self.edge.left) + full(&self.body.right, &self.edge.right)
    }

    fn scale(&mut self, gain: f32) {
        for channel in [
            &mut self.body.left,
            &mut self.body.right,
            &mut self.edge.left,
            &mut self.edge.right,
            &mut self.outline,
        ] {
            channel.iter_mut().for_each(|x| *x *= gain);
        }
    }

    fn new(rate_hz: f64, body: &Layer, edge: &Layer) -> Take {
        let body = finish(rate_hz, body);
        let edge = finish(rate_hz, edge);
        let frames = body.left.len().max(edge.left.len());
        let mut outline = vec![0.0_f32; frames.div_ceil(OUTLINE_FRAMES)];
        for n in 0..frames {
            let left = at(&body.left, n) + at(&edge.left, n);
            let right = at(&body.right, n) + at(&edge.right, n);
            let peak = &mut outline[n / OUTLINE_FRAMES];
            *peak = peak.max(left.abs()).max(right.abs());
        }
        Take {
            body,
            edge,
            outline,
        }
    }
}

impl Shot {
    /// Finishes the takes of a stroke (pairs of body and edge): the first one's
    /// full-force peak becomes `peak`, the others get the same energy.
    pub fn new(rate_hz: f64, peak: f32, layers: Vec<(Layer, Layer)>) -> Shot {
        let mut takes: Vec<Take> = layers
            .iter()
            .map(|(body, edge)| Take::new(rate_hz, body, edge))
            .collect();
        if let Some((first, others)) = takes.split_first_mut() {
            first.scale(peak / first.peak().max(f32::MIN_POSITIVE));
            if !others.is_empty() {
                let energy = first.energy();
                for take in others {
                    let gain = (energy / take.energy().max(f64::MIN_POSITIVE)).sqrt();
                    take.scale(gain as f32);
                }
            }
        }
        Shot { takes }
    }

    /// Frames of the longest take.
    pub fn frames(&self) -> usize {
        self.takes.iter().map(Take::frames).max().unwrap_or(0)
    }
}

fn at(channel: &[f32], n: usize) -> f32 {
    channel.get(n).copied().unwrap_or(0.0)
}

fn finish(rate_hz: f64, layer: &Layer) -> Stereo {
    let mut left = narrow(&layer.left);
    let mut right = narrow(&layer.right);
    let peak = left
        .iter()
        .chain(&right)
        .fold(0.0_f32, |p, x| p.max(x.abs()));
    let loud = |x: &f32| x.abs() > peak * TAIL_FLOOR;
    let last = |c: &[f32]| c.iter().rposition(loud).map_or(0, |n| n + 1);
    let frames = last(&left).max(last(&right));
    for channel in [&mut left, &mut right] {
        channel.truncate(frames);
        channel.shrink_to_fit();
        let start = ((START_FADE_S * rate_hz) as usize).min(frames);
        for (n, x) in channel.iter_mut().enumerate().take(start) {
            *x *= (n + 1) as f32 / (start + 1) as f32;
        }
        let end = (END_FADE * frames as f64) as usize;
        for (n, x) in channel.iter_mut().rev().enumerate().take(end) {
            let share = n as f32 / end as f32;
            *x *= share * share;
        }
        // Nothing a converter could show; slow to compute with.
        channel
            .iter_mut()
            .filter(|x| x.abs() < 1e-15)
            .for_each(|x| *x = 0.0);
    }
    Stereo { left, right }
}

fn narrow(channel: &[f64]) -> Vec<f32> {
    channel.iter().map(|x| *x as f32).collect()
}
