//! Which round of the loop is under way.

/// Seconds after a start in which the position of what was heard before may
/// still be seen.
const SETTLING_S: f64 = 0.25;

/// Counts rounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clock {
    /// Length of a round in beats.
    length: f64,
    /// When it was started, in seconds on the window's clock.
    started_s: f64,
    /// The last position seen.
    position: Option<f64>,
    round: i64,
}

impl Clock {
    /// A start at a time in seconds on the window's clock; rounds of so many
    /// beats.
    pub fn start(length: f64, now_s: f64) -> Clock {
        Clock {
            length,
            started_s: now_s,
            position: None,
            round: 0,
        }
    }

    /// Sees where it stands.
    pub fn see(&mut self, position_beats: Option<f64>, now_s: f64) {
        if let (Some(now), Some(before)) = (position_beats, self.position) {
            let over = now + self.length / 2.0 < before;
            if over && now_s < self.started_s + SETTLING_S {
                self.round = 0;
            } else if over {
                self.round += 1;
            }
        }
        self.position = position_beats.or(self.position);
    }

    /// The round under way.
    pub fn round(&self) -> i64 {
        self.round
    }

    /// The round of a position that was current a moment ago or is in a moment:
    /// the audio thread tells of a note and of its own position at different
    /// times.
    pub fn round_of(&self, beats: f64) -> i64 {
        let Some(now) = self.position else {
            return self.round;
        };
        let half = self.length / 2.0;
        if beats > now + half {
            self.round - 1
        } else if beats + half < now {
            self.round + 1
        } else {
            self.round
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_position_that_falls_begins_a_round() {
        let mut clock = Clock::start(4.0, 10.0);
        for (at, round) in [(0.0, 0), (2.5, 0), (3.9, 0), (0.1, 1), (3.0, 1), (0.0, 2)] {
            clock.see(Some(at), 11.0);
            assert_eq!(clock.round(), round, "{at}");
        }
    }

    #[test]
    fn a_note_from_just_before_the_join_is_in_the_round_before() {
        let mut clock = Clock::start(4.0, 0.0);
        clock.see(Some(3.9), 1.0);
        clock.see(Some(0.05), 1.0);
        assert_eq!((clock.round_of(3.97), clock.round_of(0.04)), (0, 1));
        let mut clock = Clock::start(4.0, 0.0);
        clock.see(Some(3.99), 1.0);
        assert_eq!((clock.round_of(3.98), clock.round_of(0.01)), (0, 1));
    }

    #[test]
    fn what_was_heard_before_the_start_is_no_round() {
        let mut clock = Clock::start(4.0, 5.0);
        clock.see(Some(3.5), 5.0);
        clock.see(Some(0.0), 5.1);
        assert_eq!(clock.round(), 0);
        clock.see(Some(3.9), 7.0);
        clock.see(None, 7.1);
        clock.see(Some(0.1), 7.2);
        assert_eq!(clock.round(), 1);
    }
}
