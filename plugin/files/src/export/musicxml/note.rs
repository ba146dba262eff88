//! Notes and rests: a chord's notes, the grace notes before it, its tuplets,
//! beams and signs.

use super::head::id;
use super::signs::{Signs, Technical, lyric, notations, tuplets};
use super::ticks::Ticks;
use super::xml::Xml;
use super::{MusicXmlError, Options};
use barform_score::music::{Articulation, Hand, Level};
use barform_sheet::{
    Beam, Element, Head, Kind, Ratio, Tuplet, Value, VoiceLine, WrittenBar, WrittenStroke,
};

/// Writes the elements of one bar.
pub(super) struct Writer<'a> {
    pub ticks: &'a Ticks,
    pub options: &'a Options,
    /// Index of the bar.
    pub bar: usize,
}

/// Names of note values (`note-type-value`), the whole note first.
pub(crate) const TYPES: [&str; 11] = [
    "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th", "256th", "512th",
    "1024th",
];

/// The name of a value.
pub(super) fn type_name(value: Value) -> &'static str {
    TYPES[usize::from(value.halvings())]
}

impl Writer<'_> {
    /// Writes element `i` of a voice.
    pub fn element(
        &self,
        xml: &mut Xml,
        bar: &WrittenBar,
        line: &VoiceLine,
        voice: u8,
        i: usize,
    ) -> Result<(), MusicXmlError> {
        let element = &line.elements[i];
        let count = self.count(bar, element, voice);
        match &element.kind {
            Kind::Rest { hidden, whole_bar } => {
                let attributes: &[(&str, &str)] = &[("print-object", "no")];
                xml.open("note", if *hidden { attributes } else { &[] })?;
                if *whole_bar {
                    xml.empty("rest", &[("measure", "yes")])?;
                } else {
                    xml.empty("rest", &[])?;
                }
                xml.number("duration", self.ticks.count(self.bar, element.length)?)?;
                xml.number("voice", i64::from(voice))?;
                // A rest for the whole bar has no value of its own.
                if !*whole_bar {
                    value(xml, element, line, i)?;
                }
                let signs = Signs {
                    tuplets: tuplets(line, i),
                    ..Signs::default()
                };
                notations(xml, &signs)?;
                lyric(xml, count)?;
                xml.close("note")
            }
            Kind::Notes(strokes) => {
                self.graces(xml, strokes, voice)?;
                for (n, stroke) in strokes.iter().enumerate() {
                    xml.open("note", &[])?;
                    if n > 0 {
                        xml.empty("chord", &[])?;
                    }
                    unpitched(xml, stroke)?;
                    xml.number("duration", self.ticks.count(self.bar, element.length)?)?;
                    self.instrument(xml, stroke)?;
                    xml.number("voice", i64::from(voice))?;
                    value(xml, element, line, i)?;
                    if element.value > Value::WHOLE {
                        xml.text("stem", &[], stem(voice))?;
                    }
                    notehead(xml, stroke, stroke.stroke.level == Level::Ghost)?;
                    let first = n == 0;
                    if first {
                        beams(xml, &line.beams, &line.elements, i)?;
                    }
                    notations(xml, &self.signs(line, i, stroke, n))?;
                    lyric(xml, count.filter(|_| first))?;
                    xml.close("note")?;
                }
                Ok(())
            }
        }
    }

    /// The count of an element: hands carry it, feet where hands have nothing
    /// at that time.
    fn count<'b>(&self, bar: &'b WrittenBar, element: &Element, voice: u8) -> Option<&'b str> {
        if !self.options.counts {
            return None;
        }
        let taken = || bar.hands.elements.iter().any(|e| e.at == element.at);
        if voice == 2 && taken() {
            return None;
        }
        let under = bar.under.iter().find(|u| u.at == element.at)?;
        (!under.count.is_empty()).then_some(&under.count)
    }

    fn signs<'l>(
        &self,
        line: &'l VoiceLine,
        i: usize,
        stroke: &WrittenStroke,
        n: usize,
    ) -> Signs<'l> {
        let WrittenStroke { stroke, .. } = stroke;
        Signs {
            tuplets: if n == 0 { tuplets(line, i) } else { Vec::new() },
            slurs: if stroke.graces.is_empty() {
                Vec::new()
            } else {
                vec![(n + 1, false)]
            },
            fingering: self.options.sticking.then(|| stroke.limb.letter()),
            technical: match stroke.articulation {
                Articulation::Open => Some(Technical::Open),
                Articulation::Half => Some(Technical::HalfOpen),
                Articulation::Choke => Some(Technical::Choke),
                _ => None,
            },
            accent: stroke.level == Level::Accent,
            buzz: stroke.buzz,
        }
    }

    /// The grace notes before a chord, at the same time where several strokes
    /// have some; each stroke's own are slurred to it.
    fn graces(
        &self,
        xml: &mut Xml,
        strokes: &[WrittenStroke],
        voice: u8,
    ) -> Result<(), MusicXmlError> {
        let most = strokes.iter().map(|s| s.stroke.graces.len()).max();
        let most = most.unwrap_or(0);
        for place in 0..most {
            let mut first = true;
            for (n, stroke) in strokes.iter().enumerate() {
                let graces: Vec<Hand> = stroke.stroke.graces.iter().collect();
                let Some(own) = (place + graces.len()).checked_sub(most) else {
                    continue;
                };
                let Some(hand) = graces.get(own) else {
                    continue;
                };
                xml.open("note", &[])?;
                // A single one is crossed through; drags and ruffs are beamed.
                xml.empty("grace", &[("slash", if most == 1 { "yes" } else { "no" })])?;
                if !first {
                    xml.empty("chord", &[])?;
                }
                unpitched(xml, stroke)?;
                self.instrument(xml, stroke)?;
                xml.number("voice", i64::from(voice))?;
                let value = if most == 1 { "eighth" } else { "16th" };
                xml.text("type", &[], value)?;
                xml.text("stem", &[], stem(voice))?;
                notehead(xml, stroke, false)?;
                if first && most > 1 {
                    let part = match place {
                        0 => "begin",
                        _ if place + 1 == most => "end",
                        _ => "continue",
                    };
                    for level in ["1", "2"] {
                        xml.text("beam", &[("number", level)], part)?;
                    }
                }
                let signs = Signs {
                    slurs: if own == 0 {
                        vec![(n + 1, true)]
                    } else {
                        Vec::new()
                    },
                    fingering: self.options.sticking.then(|| hand.grace_letter()),
                    ..Signs::default()
                };
                notations(xml, &signs)?;
                xml.close("note")?;
                first = false;
            }
        }
        Ok(())
    }

    fn instrument(&self, xml: &mut Xml, stroke: &WrittenStroke) -> Result<(), MusicXmlError> {
        let id = id(stroke.stroke.voice, stroke.stroke.articulation);
        xml.empty("instrument", &[("id", &id)])
    }
}

fn stem(voice: u8) -> &'static str {
    if voice == 1 { "up" } else { "down" }
}

fn unpitched(xml: &mut Xml, stroke: &WrittenStroke) -> Result<(), MusicXmlError> {
    let (letter, octave) = stroke.step.pitch();
    xml.open("unpitched", &[])?;
    xml.text("display-step", &[], letter.encode_utf8(&mut [0; 4]))?;
    xml.number("display-octave", i64::from(octave))?;
    xml.close("unpitched")
}

fn notehead(xml: &mut Xml, stroke: &WrittenStroke, ghost: bool) -> Result<(), MusicXmlError> {
    let shape = match stroke.head {
        Head::Oval => "normal",
        Head::Cross => "x",
        Head::CircledCross => "circle-x",
        Head::Diamond => "diamond",
        Head::Triangle => "triangle",
    };
    if ghost {
        xml.text("notehead", &[("parentheses", "yes")], shape)
    } else if stroke.head != Head::Oval {
        xml.text("notehead", &[], shape)
    } else {
        Ok(())
    }
}

/// Printed value, dots and the ratio of all tuplets around.
fn value(
    xml: &mut Xml,
    element: &Element,
    line: &VoiceLine,
    i: usize,
) -> Result<(), MusicXmlError> {
    xml.text("type", &[], type_name(element.value))?;
    for _ in 0..element.dots {
        xml.empty("dot", &[])?;
    }
    if element.ratio == Ratio::NONE {
        return Ok(());
    }
    xml.open("time-modification", &[])?;
    xml.number("actual-notes", i64::from(element.ratio.actual))?;
    xml.number("normal-notes", i64::from(element.ratio.normal))?;
    let around = |t: &&Tuplet| (t.first..=t.last).contains(&i);
    let innermost = line.tuplets.iter().filter(around).max_by_key(|t| t.depth);
    if let Some(tuplet) = innermost.filter(|t| t.unit != element.value || element.dots > 0) {
        xml.text("normal-type", &[], type_name(tuplet.unit))?;
    }
    xml.close("time-modification")
}

fn beams(
    xml: &mut Xml,
    beams: &[Beam],
    elements: &[Element],
    i: usize,
) -> Result<(), MusicXmlError> {
    let mut mine: Vec<(u8, &str)> = beams
        .iter()
        .filter(|b| (b.first..=b.last).contains(&i) && matches!(elements[i].kind, Kind::Notes(_)))
        .map(|b| {
            let part = match (b.first == b.last, i == b.first, i == b.last) {
                (true, ..) if b.backward => "backward hook",
                (true, ..) => "forward hook",
                (_, true, _) => "begin",
                (_, _, true) => "end",
                _ => "continue",
            };
            (b.level, part)
        })
        .collect();
    mine.sort_unstable();
    for (level, part) in mine {
        xml.text("beam", &[("number", &level.to_string())], part)?;
    }
    Ok(())
}
