//! Straight lines through points, by least squares.

/// A straight line.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Line {
    /// The mean of the points, which lies on the line.
    pub mean: (f64, f64),
    /// Sum of the squared distances from the mean along x.
    pub sxx: f64,
    /// 0 if all points have the same x.
    pub slope: f64,
}

impl Line {
    /// The line through at least one point.
    pub fn through(points: &[(f64, f64)]) -> Line {
        let n = points.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
        let (mx, my) = (mean(|p| p.0), mean(|p| p.1));
        let sxx: f64 = points.iter().map(|p| (p.0 - mx).powi(2)).sum();
        let sxy: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
        Line {
            mean: (mx, my),
            sxx,
            slope: if sxx > 0.0 { sxy / sxx } else { 0.0 },
        }
    }

    /// Its y at an x.
    pub fn at(&self, x: f64) -> f64 {
        self.mean.1 + self.slope * (x - self.mean.0)
    }
}
