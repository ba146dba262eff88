//! How far the strokes of a take lie around their slots, from the take itself.

/// Narrowest and widest spread that is reckoned with, in seconds. Human players
/// keep within about 10 to 25 ms of a click; a programmed file lies on it.
const RANGE: (f64, f64) = (0.003, 0.03);

/// Where a reading begins, in seconds.
pub const FIRST: f64 = 0.012;

/// Middle and spread of distances in seconds: the median, and the spread that a
/// normal one with that middle half has, so that slips do not count.
pub fn middle_and_spread(distances: &[f64]) -> Option<(f64, f64)> {
    if distances.len() < 8 {
        return None;
    }
    let mut all = distances.to_vec();
    all.sort_by(f64::total_cmp);
    let middle = all[all.len() / 2];
    let mut off: Vec<f64> = all.iter().map(|d| (d - middle).abs()).collect();
    off.sort_by(f64::total_cmp);
    // 0.6745 of a normal spread on either side hold half of it.
    let spread = off[off.len() / 2] / 0.6745;
    Some((middle, spread.clamp(RANGE.0, RANGE.1)))
}
