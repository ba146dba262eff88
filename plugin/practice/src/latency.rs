//! Latency found by playing along with the click.
//!
//! The estimate is the mean of how late the strokes come, stray ones left out. No
//! estimate can be surer than the strokes allow: the mean of n strokes that
//! scatter by s ms is itself uncertain by s / √n. Sixteen strokes that scatter by
//! 10 ms tell the latency to 2.5 ms (one standard error, ±5.3 ms at 95 %); to be
//! within 1 ms at 95 % takes about 385 of them. So the result says how sure it
//! is, and how many strokes would do.

/// Strokes that are needed at all.
pub const FEWEST: usize = 8;

/// The quantile of 95 % of a normal distribution, both sides.
const Z: f64 = 1.959_964;

/// Robust standard deviations beyond which a stroke is a stray one.
const STRAY: f64 = 3.5;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Latency {
    /// How late strokes arrive, in milliseconds.
    pub ms: f64,
    /// Half of the interval that holds the true mean at 95 %, in milliseconds.
    pub within_ms: f64,
    /// How strokes scatter, one standard deviation in milliseconds.
    pub spread_ms: f64,
    /// Strokes that were counted.
    pub strokes: usize,
    /// Strokes in all that would tell it within 1 ms at 95 %.
    pub needed: usize,
}

/// Finds the latency from the seconds of clicks and of strokes, both in order.
/// `None` with fewer than [`FEWEST`] strokes near a click.
pub fn latency(clicks: &[f64], strokes: &[f64]) -> Option<Latency> {
    let mut late: Vec<f64> = strokes.iter().filter_map(|s| nearest(clicks, *s)).collect();
    late.sort_by(f64::total_cmp);
    let middle = *late.get(late.len() / 2)?;
    let mut off: Vec<f64> = late.iter().map(|l| (l - middle).abs()).collect();
    off.sort_by(f64::total_cmp);
    // 1.4826: from the median distance to a standard deviation.
    let robust = (1.4826 * off[off.len() / 2]).max(0.5);
    late.retain(|l| (l - middle).abs() <= STRAY * robust);
    let count = late.len();
    if count < FEWEST {
        return None;
    }
    let n = count as f64;
    let ms = late.iter().sum::<f64>() / n;
    let spread_ms = (late.iter().map(|l| (l - ms).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    Some(Latency {
        ms,
        within_ms: student(n - 1.0) * spread_ms / n.sqrt(),
        spread_ms,
        strokes: count,
        needed: (Z * spread_ms).powi(2).ceil().max(FEWEST as f64) as usize,
    })
}

/// How late a stroke is against the click that it lies nearest to, in
/// milliseconds; half a beat late at most.
fn nearest(clicks: &[f64], stroke: f64) -> Option<f64> {
    let after = clicks.partition_point(|c| *c <= stroke);
    let before = after.checked_sub(1).and_then(|i| clicks.get(i));
    let around = [before, clicks.get(after)];
    let late = around.into_iter().flatten().map(|c| stroke - c);
    let late = late.min_by(|a, b| a.abs().total_cmp(&b.abs()))?;
    let beat = match clicks {
        [first, .., last] => (last - first) / (clicks.len() - 1) as f64,
        _ => 1.0,
    };
    (late.abs() <= beat / 2.0).then_some(late * 1000.0)
}

/// The quantile of 95 %, both sides, of Student's distribution: the series of
/// Abramowitz and Stegun, *Handbook of Mathematical Functions*, 26.7.5 (from
/// memory); within 0.3 % from 7 degrees of freedom on.
fn student(freedom: f64) -> f64 {
    let z = Z;
    let first = (z.powi(3) + z) / 4.0;
    let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
    let third = (3.0 * z.powi(7) + 19.0 * z.powi(5) + 17.0 * z.powi(3) - 15.0 * z) / 384.0;
    z + first / freedom + second / freedom.powi(2) + third / freedom.powi(3)
}
