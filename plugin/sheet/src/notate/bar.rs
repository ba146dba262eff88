//! Bars in order: where they start, which cells and ostinatos they hold. A bar
//! that holds the same as one before is copied, not spelt again.

use super::error::{NotateError, Whereabouts};
use super::gather::{Beneath, Content, Part, Row, content};
use super::mark::Marks;
use super::{MAX_ELEMENTS, Options};
use crate::{Kind, Mark, VoiceLine, Written, WrittenBar};
use barform_score::music::{Beats, Grid, Meter, Slot};
use barform_score::score::Score;
use barform_score::timeline::{Bar, Place, Timeline};
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::rc::Rc;

/// All that tells two bars apart, but for their numbers and section names.
#[derive(PartialEq, Eq, Hash)]
struct Key {
    meter: Meter,
    from: Beats,
    to: Beats,
    /// Part, start in the bar and level of each cell.
    cells: Vec<(usize, Beats, u8)>,
    /// How far each ostinato's cycle has come.
    phases: Vec<Beats>,
}

/// The words of each place that was counted: by part, start in its bar, meter.
type Counts = HashMap<(usize, Beats, Meter), Rc<Vec<String>>>;

struct Form<'a> {
    timeline: &'a Timeline,
    options: &'a Options,
    marks: Marks<'a>,
    ostinatos: Vec<Part>,
    parts: Vec<Part>,
    known_parts: HashMap<(u32, Beats), usize>,
    counts: Counts,
}

/// Writes every bar of a form. The second list has a number for each bar, the
/// same for bars that are alike in everything.
pub(super) fn form(
    score: &Score,
    timeline: &Timeline,
    options: &Options,
) -> Result<(Written, Vec<usize>), NotateError> {
    let mut ostinatos = Vec::new();
    for ostinato in &score.ostinatos {
        let part = Part::new(&ostinato.grid, &ostinato.slots(), Beats::ONE)?;
        if part.plays() {
            ostinatos.push(part);
        }
    }
    let mut form = Form {
        timeline,
        options,
        marks: Marks::new(score, timeline)?,
        ostinatos,
        parts: Vec::new(),
        known_parts: HashMap::new(),
        counts: HashMap::new(),
    };
    let mut known: HashMap<Key, usize> = HashMap::new();
    let mut contents: Vec<Content> = Vec::new();
    let (mut bars, mut alike) = (Vec::new(), Vec::new());
    let (mut first, mut elements) = (0, 0);
    for number in 0..timeline.bars.len() {
        let bar = timeline.bars[number];
        let place = whereabouts(&bar);
        let fine = |_| NotateError::TooFine {
            place: place.clone(),
        };
        let end = end_of(timeline, number);
        while timeline.places.get(first).is_some_and(|p| {
            p.start
                .checked_add(p.length)
                .is_ok_and(|end| end <= bar.start)
        }) {
            first += 1;
        }
        let places = &timeline.places[first..];
        let places = &places[..places.partition_point(|p| p.start < end)];
        let key = form.key(&bar, end, first, places).map_err(fine)?;
        let index = match known.entry(key) {
            Entry::Occupied(known) => *known.get(),
            Entry::Vacant(new) => {
                let content = form
                    .content(new.key(), places)
                    .map_err(|fault| fault.at(place.clone()))?;
                contents.push(content);
                *new.insert(contents.len() - 1)
            }
        };
        let content = &contents[index];
        elements += content.hands.elements.len() + content.feet.elements.len();
        if elements > MAX_ELEMENTS {
            return Err(NotateError::TooLong { place });
        }
        let marks = form.marks_of(&bar, first, places).map_err(fine)?;
        let meter_before = number.checked_sub(1).map(|n| timeline.bars[n].meter);
        bars.push(WrittenBar {
            start: bar.start,
            length: end.checked_sub(bar.start).map_err(fine)?,
            number: Some(bar.number).filter(|number| *number > 0),
            meter: bar.meter,
            show_meter: meter_before != Some(bar.meter),
            repeat_from: false,
            repeat_to: None,
            double_after: end == timeline.length
                || timeline
                    .sections
                    .binary_search_by_key(&end, |s| s.start)
                    .is_ok(),
            marks,
            hands: placed(&content.hands, first as u32),
            feet: placed(&content.feet, first as u32),
            under: content.under.clone(),
        });
        alike.push(index);
    }
    let written = Written {
        title: timeline.title.clone(),
        subtitle: String::new(),
        tempo: timeline.tempo,
        bars,
    };
    Ok((written, alike))
}

fn end_of(timeline: &Timeline, bar: usize) -> Beats {
    let next = timeline.bars.get(bar + 1);
    next.map_or(timeline.length, |bar| bar.start)
}

fn whereabouts(bar: &Bar) -> Whereabouts {
    match bar.number {
        0 => Whereabouts::Pickup,
        number => Whereabouts::Bar(number),
    }
}

/// A voice with the numbers of its places counted from the start of the form.
fn placed(line: &VoiceLine, first: u32) -> VoiceLine {
    let mut line = line.clone();
    for element in &mut line.elements {
        if let Kind::Notes(strokes) = &mut element.kind {
            for source in strokes.iter_mut().filter_map(|s| s.source.as_mut()) {
                source.place += first;
            }
        }
    }
    line
}

/// How much of a full bar is missing before a pickup.
fn missing(bar: &Bar, timeline: &Timeline) -> Result<Beats, barform_score::music::BeatsError> {
    if bar.number > 0 {
        return Ok(Beats::ZERO);
    }
    bar.meter.bar().checked_sub(timeline.pickup)
}

impl Form<'_> {
    /// The number of a place's part.
    fn part(&mut self, place: &Place) -> Result<usize, barform_score::music::BeatsError> {
        let count = self.parts.len();
        match self.known_parts.entry((place.variant, place.rate)) {
            Entry::Occupied(known) => Ok(*known.get()),
            Entry::Vacant(new) => {
                let cell = self.timeline.cell_of(place);
                self.parts
                    .push(Part::new(&cell.grid, &cell.slots, place.rate)?);
                Ok(*new.insert(count))
            }
        }
    }

    fn key(
        &mut self,
        bar: &Bar,
        end: Beats,
        first: usize,
        places: &[Place],
    ) -> Result<Key, barform_score::music::BeatsError> {
        let from = missing(bar, self.timeline)?;
        let mut cells = Vec::with_capacity(places.len());
        for (i, place) in places.iter().enumerate() {
            let start = place.start.checked_sub(bar.start)?.checked_add(from)?;
            cells.push((self.part(place)?, start, self.marks.level(first + i)));
        }
        let phases = self.ostinatos.iter();
        let phases = phases.map(|part| bar.start.checked_rem(part.length()));
        Ok(Key {
            meter: bar.meter,
            from,
            to: end.checked_sub(bar.start)?.checked_add(from)?,
            cells,
            phases: phases.collect::<Result<_, _>>()?,
        })
    }

    fn content(&mut self, key: &Key, places: &[Place]) -> Result<Content, super::error::Fault> {
        let mut counts = Vec::with_capacity(places.len());
        for ((part, ..), place) in key.cells.iter().zip(places) {
            counts.push(self.counts(*part, place)?);
        }
        let rows = key.cells.iter().zip(counts).enumerate();
        let rows: Vec<Row<'_>> = rows
            .map(|(i, ((part, start, _), counts))| Row {
                part: &self.parts[*part],
                start: *start,
                place: i as u32,
                counts,
            })
            .collect();
        let beneath = self.ostinatos.iter().zip(&key.phases);
        let beneath: Vec<Beneath<'_>> = beneath
            .map(|(part, phase)| Beneath {
                part,
                phase: *phase,
            })
            .collect();
        content(key.meter, key.from, key.to, &rows, &beneath)
    }

    /// Counts of a place, from the bar line before it.
    fn counts(
        &mut self,
        part: usize,
        place: &Place,
    ) -> Result<Rc<Vec<String>>, barform_score::music::BeatsError> {
        let bars = &self.timeline.bars;
        let bar = bars.partition_point(|b| b.start <= place.start);
        let Some(bar) = bar.checked_sub(1).and_then(|i| bars.get(i)) else {
            return Ok(Rc::default());
        };
        let from = place.start.checked_sub(bar.start)?;
        let from = from.checked_add(missing(bar, self.timeline)?)?;
        match self.counts.entry((part, from, bar.meter)) {
            Entry::Occupied(known) => Ok(known.get().clone()),
            Entry::Vacant(new) => {
                let counts = self.parts[part].counts(from, bar.meter, self.options)?;
                Ok(new.insert(Rc::new(counts)).clone())
            }
        }
    }

    fn marks_of(
        &self,
        bar: &Bar,
        first: usize,
        places: &[Place],
    ) -> Result<Vec<Mark>, barform_score::music::BeatsError> {
        let mut marks = Vec::new();
        for (i, place) in places.iter().enumerate() {
            if place.start >= bar.start {
                let at = place.start.checked_sub(bar.start)?;
                marks.extend(self.marks.mark(first + i, at));
            }
        }
        Ok(marks)
    }
}

/// Writes a grid that stands alone, from a bar line to its end.
pub(super) fn alone(
    grid: &Grid,
    slots: &[Slot],
    meter: Meter,
    options: &Options,
    place: Whereabouts,
) -> Result<Vec<WrittenBar>, NotateError> {
    let part = Part::new(grid, slots, Beats::ONE)?;
    let counts = Rc::new(part.counts(Beats::ZERO, meter, options)?);
    let length = part.length();
    let mut bars: Vec<WrittenBar> = Vec::new();
    let (mut start, mut elements) = (Beats::ZERO, 0);
    while start < length {
        let left = length.checked_sub(start)?;
        let to = left.min(meter.bar());
        let row = Row {
            part: &part,
            start: Beats::ZERO.checked_sub(start)?,
            place: 0,
            counts: counts.clone(),
        };
        let content = content(meter, Beats::ZERO, to, &[row], &[]);
        let content = content.map_err(|fault| fault.at(place.clone()))?;
        elements += content.hands.elements.len() + content.feet.elements.len();
        if elements > MAX_ELEMENTS {
            return Err(NotateError::TooLong { place });
        }
        bars.push(WrittenBar {
            start,
            length: to,
            number: None,
            meter,
            show_meter: start.is_zero() && to == meter.bar(),
            repeat_from: false,
            repeat_to: None,
            double_after: to == left,
            marks: Vec::new(),
            hands: content.hands,
            feet: content.feet,
            under: content.under,
        });
        start = start.checked_add(to)?;
    }
    Ok(bars)
}
