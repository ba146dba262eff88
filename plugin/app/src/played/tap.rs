//! Tempo by tapping.
//!
//! Gives a tempo from the second tap on, the median of the last gaps, so that
//! one hasty tap among several does not pull it. A pause or a tap that does not
//! fit begins a new series.

use std::collections::VecDeque;

/// Tempos that the own clock knows, in beats per minute.
pub const TEMPO_BPM: std::ops::RangeInclusive<f64> = 20.0..=400.0;

/// So many gaps make the tempo: two bars of 4/4.
const GAPS: usize = 8;

/// After so long without a tap the next one begins a new series, in seconds.
/// Slower tempos than 30 are tapped in eighth notes or typed.
const PAUSE_S: f64 = 2.0;

/// A gap that differs from the tempo by more than this share of it belongs to
/// another tempo.
const OFF: f64 = 0.5;

/// The taps of one series.
#[derive(Debug, Clone, Default)]
pub struct Taps {
    last_s: Option<f64>,
    /// In seconds, the latest last.
    gaps_s: VecDeque<f64>,
}

impl Taps {
    /// A tap at `now_s` seconds of any clock that only goes forward. The tempo
    /// in beats per minute, 20 to 400, once there are two taps.
    pub fn tap(&mut self, now_s: f64) -> Option<f64> {
        let gap_s = self.last_s.replace(now_s).map(|last| now_s - last);
        // Two taps at one moment tell nothing.
        let gap_s = gap_s.filter(|gap| *gap > 0.0);
        let fits = |gap: f64| {
            let usual = self.median_s().unwrap_or(gap);
            gap < PAUSE_S && (gap - usual).abs() <= OFF * usual
        };
        let Some(gap_s) = gap_s.filter(|gap| fits(*gap)) else {
            self.gaps_s.clear();
            return None;
        };
        if self.gaps_s.len() == GAPS {
            self.gaps_s.pop_front();
        }
        self.gaps_s.push_back(gap_s);
        let bpm = 60.0 / self.median_s()?;
        Some(bpm.clamp(*TEMPO_BPM.start(), *TEMPO_BPM.end()))
    }

    /// The middle gap, or the mean of the two in the middle.
    fn median_s(&self) -> Option<f64> {
        let mut sorted: Vec<f64> = self.gaps_s.iter().copied().collect();
        sorted.sort_by(f64::total_cmp);
        let half = sorted.len() / 2;
        let upper = sorted.get(half)?;
        if sorted.len() % 2 == 1 {
            Some(*upper)
        } else {
            Some((upper + sorted[half - 1]) / 2.0)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn tap_all(taps: &mut Taps, times_s: &[f64]) -> Vec<Option<f64>> {
        times_s.iter().map(|time| taps.tap(*time)).collect()
    }

    fn close(found: Option<f64>, bpm: f64) -> bool {
        found.is_some_and(|found| (found - bpm).abs() < 1e-6)
    }

    #[test]
    fn the_second_tap_sets_the_tempo() {
        let mut taps = Taps::default();
        assert_eq!(taps.tap(10.0), None);
        assert!(close(taps.tap(10.5), 120.0));
    }

    #[test]
    fn one_hasty_tap_among_several_does_not_pull_it() {
        let mut taps = Taps::default();
        let tempos = tap_all(&mut taps, &[0.0, 0.5, 1.0, 1.4, 2.0, 2.5]);
        assert!(close(tempos[5], 120.0), "{tempos:?}");
    }

    #[test]
    fn a_pause_begins_a_new_series() {
        let mut taps = Taps::default();
        tap_all(&mut taps, &[0.0, 0.5, 1.0]);
        assert_eq!(taps.tap(3.0), None);
        assert!(close(taps.tap(4.0), 60.0));
    }

    #[test]
    fn a_tap_that_is_off_by_more_than_half_begins_a_new_series() {
        let mut taps = Taps::default();
        tap_all(&mut taps, &[0.0, 1.0, 2.0]);
        assert_eq!(taps.tap(2.4), None, "less than half the gap");
        assert!(close(taps.tap(2.8), 150.0));
        let mut taps = Taps::default();
        tap_all(&mut taps, &[0.0, 0.5, 1.0]);
        assert!(taps.tap(1.75).is_some(), "just within");
        assert_eq!(taps.tap(2.6), None, "0.85 after a median of 0.5");
    }

    #[test]
    fn it_stays_within_what_the_clock_knows() {
        let mut taps = Taps::default();
        assert!(close(tap_all(&mut taps, &[0.0, 0.01])[1], 400.0));
        assert_eq!(taps.tap(0.01), None, "twice at one moment");
        assert_eq!(taps.tap(f64::NAN), None);
        assert_eq!(taps.tap(1.0), None);
        assert!(close(taps.tap(2.0), 60.0), "it recovers");
    }

    proptest! {
        #[test]
        fn even_taps_give_their_tempo(bpm in 31.0f64..400.0, count in 2usize..40, start in 0.0f64..1e6) {
            let mut taps = Taps::default();
            let gap = 60.0 / bpm;
            for number in 0..count {
                let tempo = taps.tap(start + number as f64 * gap);
                prop_assert_eq!(tempo.is_some(), number > 0);
                if let Some(tempo) = tempo {
                    prop_assert!((tempo - bpm).abs() < 1e-3, "{} for {}", tempo, bpm);
                }
            }
        }

        #[test]
        fn unsteady_taps_stay_between_their_slowest_and_fastest_gap(
            gaps in prop::collection::vec(0.4f64..0.55, 1..40),
        ) {
            let mut taps = Taps::default();
            let (mut now, mut tempo) = (0.0, taps.tap(0.0));
            for gap in &gaps {
                now += gap;
                tempo = taps.tap(now);
            }
            let last = &gaps[gaps.len().saturating_sub(GAPS)..];
            let least = last.iter().copied().fold(f64::INFINITY, f64::min);
            let most = last.iter().copied().fold(0.0, f64::max);
            let tempo = tempo.unwrap();
            prop_assert!(tempo <= 60.0 / least + 1e-6 && tempo >= 60.0 / most - 1e-6);
        }

        #[test]
        fn any_taps_at_all_give_a_tempo_of_the_clock_or_none(
            times in prop::collection::vec(any::<f64>(), 0..20),
        ) {
            let mut taps = Taps::default();
            for time in times {
                if let Some(tempo) = taps.tap(time) {
                    prop_assert!(TEMPO_BPM.contains(&tempo));
                }
            }
        }
    }
}
