//! Invented scores as text, written as MusicXML and read back.

// Every test binary uses its own part of this.
#![allow(dead_code)]

use barform_app::export::musicxml::{Options, write};
use barform_app::music::Stroke;
use barform_app::score::Score;
use barform_app::sheet::notate::{self, Fold};
use barform_app::timeline::Timeline;

/// The built-in score.
pub fn demo() -> Score {
    Score::parse(barform_app::DEMO_SCORE, "demo.barform").unwrap()
}

/// The document of a score; `None` if it has no sensible notation.
pub fn document(score: &Score, fold: Fold, options: &Options) -> Option<String> {
    let timeline = Timeline::compile(score).unwrap();
    let how = notate::Options {
        fold,
        ..notate::Options::default()
    };
    let written = notate::written(score, &timeline, &how).ok()?;
    Some(write(&written, &timeline, score, options).unwrap())
}

/// Options without the score itself: only what every program reads.
pub fn bare() -> Options {
    Options {
        carry_score: false,
        ..Options::default()
    }
}

/// Every stroke of a score in order of time, ostinatos included, exact: time in
/// beats as text, and the stroke.
pub fn strokes(score: &Score) -> Vec<(String, Stroke)> {
    use barform_app::music::Beats;
    let timeline = Timeline::compile(score).unwrap();
    let mut all: Vec<(Beats, Stroke)> = Vec::new();
    for place in &timeline.places {
        let cell = timeline.cell_of(place);
        let bounds = cell.grid.slot_bounds().unwrap();
        for (slot, strokes) in cell.slots.iter().enumerate() {
            let at = bounds[slot].checked_div(place.rate).unwrap();
            let at = at.checked_add(place.start).unwrap();
            all.extend(strokes.iter().map(|s| (at, *s)));
        }
    }
    for ostinato in &score.ostinatos {
        let bounds = ostinato.grid.slot_bounds().unwrap();
        let mut start = Beats::ZERO;
        while start < timeline.length {
            for (slot, strokes) in ostinato.slots().iter().enumerate() {
                let at = start.checked_add(bounds[slot]).unwrap();
                if at < timeline.length {
                    all.extend(strokes.iter().map(|s| (at, *s)));
                }
            }
            start = start.checked_add(*bounds.last().unwrap()).unwrap();
        }
    }
    all.sort_by_key(|(at, s)| (*at, s.limb, s.voice, s.articulation));
    all.into_iter().map(|(at, s)| (at.to_string(), s)).collect()
}
