//! The beats between strokes that lie around them: a smooth line through all.

use super::BeatMap;

/// Pulses on either side that a beat is drawn through.
const REACH: f64 = 5.0;

/// A stroke farther off than this, in seconds, is not meant for its slot.
const FAR: f64 = 0.07;

/// A smoother map for strokes at (pulse meant, seconds played), in order of
/// pulses.
pub fn refine(map: &BeatMap, strokes: &[(f64, f64)]) -> BeatMap {
    let (Some(first), Some(last)) = (strokes.first(), strokes.last()) else {
        return map.clone();
    };
    let (from, to) = (first.0.floor() as i64, last.0.ceil() as i64 + 1);
    let mut knots: Vec<(f64, f64)> = Vec::new();
    for k in from..=to {
        let pulse = k as f64;
        let guess = map.seconds(pulse);
        let low = strokes.partition_point(|s| s.0 < pulse - REACH);
        let high = strokes.partition_point(|s| s.0 <= pulse + REACH);
        let offs = strokes[low..high].iter().filter_map(|(q, t)| {
            // Against the map so far, so that its bends are kept.
            let off = t - map.seconds(*q);
            let x = (q - pulse) / REACH;
            (off.abs() < FAR).then(|| (x, off, (1.0 - x.abs().powi(3)).max(0.0).powi(3)))
        });
        let off = centre(offs);
        knots.push((pulse, guess + off));
    }
    // Beats that would not rise are left as they were.
    BeatMap::new(knots).unwrap_or_else(|| map.clone())
}

/// The value at 0 of a weighted parabola, by least squares.
fn centre(points: impl Iterator<Item = (f64, f64, f64)>) -> f64 {
    let (mut s, mut b) = ([0.0_f64; 5], [0.0_f64; 3]);
    let mut count = 0;
    for (x, y, w) in points {
        let mut power = w;
        for (i, sum) in s.iter_mut().enumerate() {
            *sum += power;
            if i < 3 {
                b[i] += power * y;
            }
            power *= x;
        }
        count += 1;
    }
    if count == 0 || s[0] < 1e-9 {
        return 0.0;
    }
    // A little weight on no bend keeps thin places straight.
    let calm = 0.05 * s[0].max(1.0);
    let m = [
        [s[0], s[1], s[2]],
        [s[1], s[2] + calm, s[3]],
        [s[2], s[3], s[4] + calm],
    ];
    let det = |m: &[[f64; 3]; 3]| {
        m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
            - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
            + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
    };
    let whole = det(&m);
    if count < 4 || whole.abs() < 1e-12 {
        return b[0] / s[0];
    }
    let mut own = m;
    (0..3).for_each(|i| own[i][0] = b[i]);
    det(&own) / whole
}
