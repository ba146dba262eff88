//! What is to be shown at one moment: the cell that plays, the one that follows,
//! bar, beat, count and hand.

use barform_app::music::sticking_under;
use barform_app::timeline::Timeline;

use super::super::shown::Shown;
use crate::handover::Reading;

/// One moment.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Moment {
    /// The place whose cell is shown.
    pub place: usize,
    /// Beats since its start; `None` while it does not play.
    pub into_beats: Option<f64>,
    /// Beats until it ends.
    pub left_beats: Option<f64>,
    /// The place that follows.
    pub next: Option<usize>,
    /// A key plays the letter in place of the form.
    pub by_key: bool,
    /// Number of the bar as printed, and the beat in it, counted from 1 in the
    /// bar's own meter.
    pub bar: Option<(u32, i64)>,
}

impl Moment {
    /// What is to be shown; before the start of the form its first cell.
    pub fn of(shown: &Shown, reading: &Reading, repeat: bool) -> Moment {
        let timeline = &shown.checked.timeline;
        let beats = reading.position_beats;
        let by_form = beats.and_then(|beats| timeline.place_at(beats));
        let by_key = reading.letter.and_then(|letter| {
            let places = &timeline.places;
            places.iter().position(|p| p.letter as usize == letter)
        });
        let place = by_key.or(by_form).unwrap_or(0);
        // Stopped at the very start nothing has been struck yet.
        let at_start = beats == Some(0.0) && !reading.rolling;
        let plays = by_key.is_none() && by_form.is_some() && !at_start;
        let into_beats = beats.filter(|_| plays).and_then(|beats| {
            let place = timeline.places.get(place)?;
            Some(beats - place.start.to_f64())
        });
        let left_beats = into_beats.and_then(|into| {
            let place = timeline.places.get(place)?;
            Some(place.length.to_f64() - into)
        });
        let next = if by_key.is_some() {
            by_form
        } else {
            shown.next_place(place, repeat)
        };
        Moment {
            place,
            into_beats,
            left_beats,
            next,
            by_key: by_key.is_some(),
            bar: beats.and_then(|beats| bar_and_beat(timeline, beats)),
        }
    }
}

/// Number of the bar at `beats` from the start of the form, and the beat in it,
/// counted from 1 in the bar's own meter.
pub fn bar_and_beat(timeline: &Timeline, beats: f64) -> Option<(u32, i64)> {
    let bar = &timeline.bars[timeline.bar_at(beats)?];
    let unit = 4.0 / f64::from(bar.meter.unit());
    let mut into = beats - bar.start.to_f64();
    if bar.number == 0 {
        // A pickup is counted as the end of a full bar.
        into += bar.meter.bar().to_f64() - timeline.pickup.to_f64();
    }
    Some((bar.number, (into / unit).floor() as i64 + 1))
}

/// Counts, hands and times of the slots of one place.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Slots {
    /// Start of each slot in beats as written, from the start of the cell.
    starts: Vec<f64>,
    counts: Vec<String>,
    hands: Vec<String>,
    /// Speed against the cell as written.
    rate: f64,
}

impl Slots {
    /// Those of a place; none if there is no such place.
    pub fn of(timeline: &Timeline, place: usize) -> Slots {
        let Some(place) = timeline.places.get(place) else {
            return Slots::default();
        };
        let cell = timeline.cell_of(place);
        let bounds = cell.grid.slot_bounds().unwrap_or_default();
        Slots {
            starts: bounds.iter().map(|b| b.to_f64()).collect(),
            counts: timeline.counts(place).unwrap_or_default(),
            hands: cell.slots.iter().map(|slot| sticking_under(slot)).collect(),
            rate: place.rate.to_f64(),
        }
    }

    /// What is counted, and what plays, so many beats after the start.
    pub fn at(&self, into_beats: f64) -> (&str, &str) {
        let written = into_beats * self.rate + 1e-9;
        let slot = self.starts.partition_point(|start| *start <= written);
        let Some(slot) = slot.checked_sub(1) else {
            return ("", "");
        };
        (word(&self.counts, slot), word(&self.hands, slot))
    }
}

fn word(of: &[String], slot: usize) -> &str {
    of.get(slot).map_or("", String::as_str)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::check;

    const TWO: &str = "barform = 1\ntempo = 100\nmeter = \"4/4\"\nform = \"A B A\"\n\
        [cell.A]\ngrid = \"4\"\nsticking = \"R lR - R+K\"\n\
        [cell.B]\ngrid = \"3@3\"\nsticking = \"L R L\"\n";

    fn shown() -> Shown {
        Shown::of(check(TWO, "two.barform").unwrap())
    }

    fn at(beats: f64) -> Reading {
        Reading {
            position_beats: Some(beats),
            rolling: true,
            ..Reading::default()
        }
    }

    #[test]
    fn the_cell_that_plays_and_what_follows() {
        let shown = shown();
        let moment = Moment::of(&shown, &at(1.5), false);
        assert_eq!((moment.place, moment.next), (1, Some(2)));
        assert_eq!(moment.into_beats, Some(0.5));
        assert_eq!(moment.left_beats, Some(2.5));
        assert_eq!(moment.bar, Some((1, 2)));
        let last = Moment::of(&shown, &at(4.25), false);
        assert_eq!((last.place, last.next, last.bar), (2, None, Some((2, 1))));
        assert_eq!(Moment::of(&shown, &at(4.25), true).next, Some(0));
    }

    #[test]
    fn before_the_start_the_first_cell_is_shown_and_nothing_is_struck() {
        let moment = Moment::of(&shown(), &Reading::default(), true);
        assert_eq!((moment.place, moment.into_beats), (0, None));
        assert_eq!((moment.next, moment.bar), (Some(1), None));
    }

    #[test]
    fn a_letter_by_key_is_shown_and_the_form_comes_next() {
        let reading = Reading {
            letter: Some(1),
            ..at(0.5)
        };
        let moment = Moment::of(&shown(), &reading, true);
        assert!(moment.by_key);
        assert_eq!((moment.place, moment.next), (1, Some(0)));
        assert_eq!(moment.into_beats, None);
    }

    // Sixteenths are counted "1 e & a": common practice.
    #[test]
    fn count_and_hand_of_each_slot() {
        let shown = shown();
        let slots = Slots::of(&shown.checked.timeline, 0);
        let read: Vec<(&str, &str)> = [0.0, 0.25, 0.5, 0.75].map(|b| slots.at(b)).to_vec();
        assert_eq!(
            read,
            [("1", "R"), ("e", "lR"), ("&", ""), ("a", "R+K")],
            "on each slot"
        );
        assert_eq!(slots.at(0.49), ("e", "lR"), "until the next");
        let third = Slots::of(&shown.checked.timeline, 2);
        assert_eq!(third.at(0.0), ("1", "R"), "the second bar's first beat");
        let b = Slots::of(&shown.checked.timeline, 1);
        assert_eq!([0.0, 1.0, 2.9].map(|x| b.at(x).0), ["2", "3", "4"]);
    }
}
