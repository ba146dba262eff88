//! Where the beats are: seconds to pulses and back.

/// Beats at known moments, straight between them. A pulse is what is felt as one
/// beat: a quarter note in 4/4, three eighths in 6/8.
#[derive(Debug, Clone, PartialEq)]
pub struct BeatMap {
    /// Pulse and its moment in seconds, both rising; at least two.
    knots: Vec<(f64, f64)>,
}

impl BeatMap {
    /// A map through knots of (pulse, seconds); `None` unless there are two and
    /// both rise.
    pub fn new(knots: Vec<(f64, f64)>) -> Option<BeatMap> {
        let rising = |w: &[(f64, f64)]| w[1].0 > w[0].0 && w[1].1 > w[0].1;
        (knots.len() >= 2 && knots.windows(2).all(rising)).then_some(BeatMap { knots })
    }

    /// An even beat of `seconds` each, pulse 0 at `first` seconds.
    pub fn even(seconds: f64, first: f64) -> BeatMap {
        BeatMap {
            knots: vec![(0.0, first), (1.0, first + seconds)],
        }
    }

    fn segment(&self, at: usize) -> ((f64, f64), (f64, f64)) {
        let i = at.clamp(1, self.knots.len() - 1);
        (self.knots[i - 1], self.knots[i])
    }

    /// The pulse at a moment; before the first and after the last knot at the
    /// tempo there.
    pub fn pulse(&self, seconds: f64) -> f64 {
        let ((p, s), (q, t)) = self.segment(self.knots.partition_point(|k| k.1 <= seconds));
        p + (seconds - s) * (q - p) / (t - s)
    }

    /// The moment of a pulse in seconds.
    pub fn seconds(&self, pulse: f64) -> f64 {
        let ((p, s), (q, t)) = self.segment(self.knots.partition_point(|k| k.0 <= pulse));
        s + (pulse - p) * (t - s) / (q - p)
    }

    /// Length of a pulse there, in seconds.
    pub fn length(&self, pulse: f64) -> f64 {
        let ((p, s), (q, t)) = self.segment(self.knots.partition_point(|k| k.0 <= pulse));
        (t - s) / (q - p)
    }

    /// The map with all pulses numbered `by` higher.
    pub fn renumbered(&self, by: f64) -> BeatMap {
        let knots = self.knots.iter().map(|(p, s)| (p + by, *s)).collect();
        BeatMap { knots }
    }

    /// The map with all moments `by` seconds later.
    pub fn later(&self, by: f64) -> BeatMap {
        let knots = self.knots.iter().map(|(p, s)| (*p, s + by)).collect();
        BeatMap { knots }
    }

    /// Its knots: pulse, seconds.
    pub fn knots(&self) -> &[(f64, f64)] {
        &self.knots
    }
}

impl BeatMap {
    /// The map with a knot on every whole pulse between its first and last.
    pub fn filled(&self) -> BeatMap {
        let (first, last) = (self.knots[0].0, self.knots[self.knots.len() - 1].0);
        let mut knots: Vec<(f64, f64)> = Vec::new();
        let mut at = first;
        while at <= last + 1e-9 {
            knots.push((at, self.seconds(at)));
            at += 1.0;
        }
        BeatMap::new(knots).unwrap_or_else(|| self.clone())
    }
}
