//! One measure: attributes, bar lines, marks, two voices.

use super::head::Instruments;
use super::note::Writer;
use super::ticks::Ticks;
use super::xml::Xml;
use super::{MusicXmlError, Options};
use barform_score::music::{Beats, Meter};
use barform_sheet::{Mark, VoiceLine, Written, WrittenBar};

/// What the bars before have already said.
pub(super) struct State<'a> {
    written: &'a Written,
    options: &'a Options,
    instruments: Instruments,
    ticks: Ticks,
    meter: Option<Meter>,
    divisions: i64,
    unnumbered: u32,
}

impl<'a> State<'a> {
    pub fn new(
        written: &'a Written,
        options: &'a Options,
        instruments: Instruments,
        ticks: Ticks,
    ) -> State<'a> {
        State {
            written,
            options,
            instruments,
            ticks,
            meter: None,
            divisions: 0,
            unnumbered: 0,
        }
    }

    /// Writes a bar.
    pub fn bar(&mut self, xml: &mut Xml, index: usize) -> Result<(), MusicXmlError> {
        let bar = &self.written.bars[index];
        let number = match bar.number {
            Some(number) => number.to_string(),
            None if index == 0 => "0".to_owned(),
            None => {
                self.unnumbered += 1;
                format!("X{}", self.unnumbered)
            }
        };
        let mut attributes = vec![("number", number.as_str())];
        if bar.number.is_none() {
            attributes.push(("implicit", "yes"));
        }
        xml.open("measure", &attributes)?;
        self.attributes(xml, index, bar)?;
        if bar.repeat_from {
            xml.open("barline", &[("location", "left")])?;
            xml.text("bar-style", &[], "heavy-light")?;
            xml.empty("repeat", &[("direction", "forward")])?;
            xml.close("barline")?;
        }
        if index == 0 {
            tempo(xml, self.written.tempo)?;
        }
        let writer = Writer {
            ticks: &self.ticks,
            options: self.options,
            bar: index,
        };
        let mut marks = bar.marks.as_slice();
        for i in 0..bar.hands.elements.len() {
            let next = bar.hands.elements.get(i + 1).map(|e| e.at);
            let mine = match next {
                Some(next) => marks.partition_point(|m| m.at < next),
                None => marks.len(),
            };
            let (now, later) = marks.split_at(mine);
            for mark in now {
                let late = mark.at.checked_sub(bar.hands.elements[i].at)?;
                self.mark(xml, mark, self.ticks.count(index, late)?)?;
            }
            marks = later;
            writer.element(xml, bar, &bar.hands, 1, i)?;
        }
        let length = length(&bar.hands)?;
        if length.is_positive() && !bar.feet.elements.is_empty() {
            xml.open("backup", &[])?;
            xml.number("duration", self.ticks.count(index, length)?)?;
            xml.close("backup")?;
        }
        for i in 0..bar.feet.elements.len() {
            writer.element(xml, bar, &bar.feet, 2, i)?;
        }
        self.right(xml, index, bar)?;
        xml.close("measure")
    }

    fn attributes(
        &mut self,
        xml: &mut Xml,
        index: usize,
        bar: &WrittenBar,
    ) -> Result<(), MusicXmlError> {
        let divisions = self.ticks.divisions(index);
        let new_meter = bar.show_meter || self.meter != Some(bar.meter);
        if divisions == self.divisions && !new_meter && index > 0 {
            return Ok(());
        }
        xml.open("attributes", &[])?;
        if divisions != self.divisions {
            xml.number("divisions", divisions)?;
            self.divisions = divisions;
        }
        if index == 0 {
            xml.open("key", &[])?;
            xml.number("fifths", 0)?;
            xml.close("key")?;
        }
        if new_meter {
            let hidden: &[(&str, &str)] = &[("print-object", "no")];
            xml.open("time", if bar.show_meter { &[] } else { hidden })?;
            xml.number("beats", i64::from(bar.meter.count()))?;
            xml.number("beat-type", i64::from(bar.meter.unit()))?;
            xml.close("time")?;
            self.meter = Some(bar.meter);
        }
        if index == 0 {
            if self.instruments.len() > 1 {
                xml.number("instruments", self.instruments.len() as i64)?;
            }
            xml.open("clef", &[])?;
            xml.text("sign", &[], "percussion")?;
            xml.number("line", 2)?;
            xml.close("clef")?;
        }
        xml.close("attributes")
    }

    fn mark(&self, xml: &mut Xml, mark: &Mark, late: i64) -> Result<(), MusicXmlError> {
        let mut one = |name: &str, attributes: &[(&str, &str)], text: &str| {
            xml.open("direction", &[("placement", "above")])?;
            xml.open("direction-type", &[])?;
            xml.text(name, attributes, text)?;
            xml.close("direction-type")?;
            if late > 0 {
                xml.number("offset", late)?;
            }
            xml.close("direction")
        };
        if let Some(section) = mark.section.as_deref().filter(|name| !name.is_empty()) {
            one("words", &[("font-weight", "bold")], section)?;
        }
        if let Some(letter) = &mark.letter {
            one("rehearsal", &[], letter.as_str())?;
        }
        if !mark.note.is_empty() {
            one("words", &[("font-style", "italic")], &mark.note)?;
        }
        Ok(())
    }

    fn right(&self, xml: &mut Xml, index: usize, bar: &WrittenBar) -> Result<(), MusicXmlError> {
        let last = index + 1 == self.written.bars.len();
        let style = match bar.repeat_to {
            Some(_) => "light-heavy",
            None if last => "light-heavy",
            None if bar.double_after => "light-light",
            None => return Ok(()),
        };
        xml.open("barline", &[("location", "right")])?;
        xml.text("bar-style", &[], style)?;
        if let Some(repeat) = bar.repeat_to {
            let times = repeat.times.to_string();
            xml.empty("repeat", &[("direction", "backward"), ("times", &times)])?;
        }
        xml.close("barline")
    }
}

/// How long a voice's elements last together.
fn length(line: &VoiceLine) -> Result<Beats, MusicXmlError> {
    let mut all = line.elements.iter();
    Ok(all.try_fold(Beats::ZERO, |sum, e| sum.checked_add(e.length))?)
}

/// The metronome mark and the tempo that sounds.
fn tempo(xml: &mut Xml, tempo: Beats) -> Result<(), MusicXmlError> {
    let text = decimal(tempo);
    xml.open("direction", &[("placement", "above")])?;
    xml.open("direction-type", &[])?;
    xml.open("metronome", &[])?;
    xml.text("beat-unit", &[], "quarter")?;
    xml.text("per-minute", &[], &text)?;
    xml.close("metronome")?;
    xml.close("direction-type")?;
    xml.empty("sound", &[("tempo", &text)])?;
    xml.close("direction")
}

/// A tempo as a decimal number with at most six places, the nearest one.
pub(super) fn decimal(value: Beats) -> String {
    let numer = i128::from(value.numer()) * 1_000_000;
    let denom = i128::from(value.denom());
    let millionths = (2 * numer + denom).div_euclid(2 * denom).max(0);
    let (whole, part) = (millionths / 1_000_000, millionths % 1_000_000);
    if part == 0 {
        return whole.to_string();
    }
    let part = format!("{part:06}");
    format!("{whole}.{}", part.trim_end_matches('0'))
}
