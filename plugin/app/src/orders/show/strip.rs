//! What is shown of one bar, or of one cell.

use crate::music::{
    Articulation, Beats, BeatsError, Cell, Meter, Slot, Stroke, Voice, count_syllables,
};
use crate::timeline::Timeline;
use crate::words::sticking;

/// One slot in words.
#[derive(Debug, Clone)]
pub struct Tick {
    /// From the start of the strip.
    pub at: Beats,
    /// What is counted.
    pub count: String,
    /// What the limbs do.
    pub sticking: String,
    /// What is struck.
    pub voices: String,
}

/// A letter above the strip.
#[derive(Debug, Clone)]
pub struct Span {
    /// From the start of the strip.
    pub from: Beats,
    /// Where it ends, at most at the end of the strip.
    pub to: Beats,
    /// The letter.
    pub letter: String,
    /// Whether it began in an earlier strip.
    pub goes_on: bool,
}

/// A bar or a cell, ready to be laid out.
#[derive(Debug, Clone)]
pub struct Strip {
    /// Bar number; 0 for a pickup and for a cell.
    pub number: u32,
    /// What stands above it: section name, change of meter.
    pub heading: String,
    /// Length.
    pub length: Beats,
    /// Where lines may break: the felt pulses.
    pub pulse: Beats,
    /// From the start of the strip to its first pulse.
    pub first_pulse: Beats,
    /// Slots in order.
    pub ticks: Vec<Tick>,
    /// Letters in order.
    pub spans: Vec<Span>,
    /// Voices that occur, for the legend.
    pub used: Vec<Voice>,
}

impl Strip {
    fn empty(number: u32, length: Beats, meter: Meter) -> Strip {
        Strip {
            number,
            heading: String::new(),
            length,
            pulse: meter.pulse(),
            first_pulse: Beats::ZERO,
            ticks: Vec::new(),
            spans: Vec::new(),
            used: Vec::new(),
        }
    }

    /// One cell, counted from its first beat.
    pub fn of_cell(cell: &Cell, meter: Meter) -> Result<Strip, BeatsError> {
        let length = cell.grid.length()?;
        let mut strip = Strip::empty(0, length, meter);
        let letter = cell.letter.to_string();
        strip.spans.push(Span {
            from: Beats::ZERO,
            to: length,
            letter,
            goes_on: false,
        });
        let counts = count_syllables(&cell.grid, Beats::ZERO, meter)?;
        let bounds = cell.grid.slot_bounds()?;
        for ((slot, count), at) in cell.slots.iter().zip(counts).zip(bounds) {
            strip.add(at, count, slot);
        }
        Ok(strip)
    }

    /// Every bar of a form.
    pub fn of_bars(timeline: &Timeline) -> Result<Vec<Strip>, BeatsError> {
        let mut strips = Vec::with_capacity(timeline.bars.len());
        let mut sections = timeline.sections.iter().peekable();
        let mut meter = timeline.bars.first().map(|bar| bar.meter);
        for (i, bar) in timeline.bars.iter().enumerate() {
            let end = timeline
                .bars
                .get(i + 1)
                .map_or(timeline.length, |next| next.start);
            let mut strip = Strip::empty(bar.number, end.checked_sub(bar.start)?, bar.meter);
            if bar.number == 0 {
                strip.first_pulse = strip.length.checked_rem(strip.pulse)?;
            }
            let mut headings = Vec::new();
            while let Some(section) = sections.next_if(|s| s.start < end) {
                headings.extend((!section.name.is_empty()).then(|| section.name.clone()));
            }
            if meter != Some(bar.meter) {
                headings.push(bar.meter.to_string());
                meter = Some(bar.meter);
            }
            strip.heading = headings.join(", ");
            strips.push(strip);
        }
        let mut bar = 0;
        for place in &timeline.places {
            let cell = timeline.cell_of(place);
            let letter = timeline
                .letters
                .get(place.letter as usize)
                .map_or("", |l| l.as_str());
            let end = place.start.checked_add(place.length)?;
            let bar_end = |bar: usize| {
                timeline
                    .bars
                    .get(bar + 1)
                    .map_or(timeline.length, |next| next.start)
            };
            while bar + 1 < strips.len() && bar_end(bar) <= place.start {
                bar += 1;
            }
            // The letter over each bar it reaches into.
            for (n, strip) in strips.iter_mut().enumerate().skip(bar) {
                let start = timeline.bars[n].start;
                if start >= end {
                    break;
                }
                strip.spans.push(Span {
                    from: place.start.max(start).checked_sub(start)?,
                    to: end.min(bar_end(n)).checked_sub(start)?,
                    letter: letter.to_owned(),
                    goes_on: place.start < start,
                });
            }
            let counts = timeline.counts(place)?;
            let mut n = bar;
            for ((slot, count), bound) in
                cell.slots.iter().zip(counts).zip(cell.grid.slot_bounds()?)
            {
                let at = place.start.checked_add(bound.checked_div(place.rate)?)?;
                while n + 1 < strips.len() && bar_end(n) <= at {
                    n += 1;
                }
                let at = at.checked_sub(timeline.bars[n].start)?;
                strips[n].add(at, count, slot);
            }
        }
        Ok(strips)
    }

    /// Slots that start in `from .. to`.
    pub fn ticks_in(&self, from: Beats, to: Beats) -> &[Tick] {
        let first = self.ticks.partition_point(|t| t.at < from);
        let last = self.ticks.partition_point(|t| t.at < to);
        &self.ticks[first..last.max(first)]
    }

    /// Letters that sound in `from .. to`.
    pub fn spans_in(&self, from: Beats, to: Beats) -> impl Iterator<Item = &Span> {
        self.spans
            .iter()
            .filter(move |s| s.to > from && s.from < to)
    }

    fn add(&mut self, at: Beats, count: String, slot: &Slot) {
        let marks: Vec<String> = slot.iter().map(voice_mark).collect();
        let voices = match marks.is_empty() {
            true => "-".to_owned(),
            false => marks.join("+"),
        };
        for stroke in slot {
            if !self.used.contains(&stroke.voice) {
                self.used.push(stroke.voice);
            }
        }
        self.ticks.push(Tick {
            at,
            count,
            sticking: sticking(slot),
            voices,
        });
    }
}

/// The voice of a stroke in two letters, its articulation in one.
fn voice_mark(stroke: &Stroke) -> String {
    let articulation = match stroke.articulation {
        Articulation::Plain => "",
        Articulation::Rim => "r",
        Articulation::Cross => "x",
        Articulation::Open => "o",
        Articulation::Half => "h",
        Articulation::Bell => "b",
        Articulation::Choke => "c",
    };
    format!("{}{articulation}", stroke.voice.mark())
}
