//! Signs at a note: tuplets, slurs, how it is struck, its accent, its count.

use super::MusicXmlError;
use super::note::type_name;
use super::xml::Xml;
use barform_sheet::{Tuplet, VoiceLine};

/// Signs of a note, each an element inside of `notations`.
#[derive(Default)]
pub(super) struct Signs<'a> {
    /// Ends of tuplets here, then their starts.
    pub tuplets: Vec<(&'a Tuplet, bool)>,
    /// Number of a slur and whether it starts.
    pub slurs: Vec<(usize, bool)>,
    pub fingering: Option<char>,
    pub technical: Option<Technical>,
    pub accent: bool,
    pub buzz: bool,
}

#[derive(Clone, Copy)]
pub(super) enum Technical {
    Open,
    HalfOpen,
    Choke,
}

/// Tuplets that end and start at an element, inner ones end first.
pub(super) fn tuplets(line: &VoiceLine, i: usize) -> Vec<(&Tuplet, bool)> {
    let mut all: Vec<(&Tuplet, bool)> = Vec::new();
    all.extend(
        line.tuplets
            .iter()
            .filter(|t| t.first == i)
            .map(|t| (t, true)),
    );
    let ends = line.tuplets.iter().rev().filter(|t| t.last == i);
    all.extend(ends.map(|t| (t, false)));
    all
}

fn tuplet(xml: &mut Xml, tuplet: &Tuplet, start: bool) -> Result<(), MusicXmlError> {
    let number = (u32::from(tuplet.depth) + 1).to_string();
    if !start {
        return xml.empty("tuplet", &[("type", "stop"), ("number", &number)]);
    }
    let bracket = if tuplet.bracket { "yes" } else { "no" };
    xml.open(
        "tuplet",
        &[("type", "start"), ("number", &number), ("bracket", bracket)],
    )?;
    for (side, notes) in [
        ("tuplet-actual", tuplet.ratio.actual),
        ("tuplet-normal", tuplet.ratio.normal),
    ] {
        xml.open(side, &[])?;
        xml.number("tuplet-number", i64::from(notes))?;
        xml.text("tuplet-type", &[], type_name(tuplet.unit))?;
        xml.close(side)?;
    }
    xml.close("tuplet")
}

/// The signs of a note.
pub(super) fn notations(xml: &mut Xml, signs: &Signs) -> Result<(), MusicXmlError> {
    let technical = signs.fingering.is_some() || signs.technical.is_some();
    let any = technical || signs.accent || signs.buzz;
    if !any && signs.tuplets.is_empty() && signs.slurs.is_empty() {
        return Ok(());
    }
    xml.open("notations", &[])?;
    for (t, start) in &signs.tuplets {
        tuplet(xml, t, *start)?;
    }
    for (number, start) in &signs.slurs {
        let number = number.to_string();
        let kind = if *start { "start" } else { "stop" };
        xml.empty("slur", &[("type", kind), ("number", &number)])?;
    }
    if signs.buzz {
        xml.open("ornaments", &[])?;
        xml.text("tremolo", &[("type", "unmeasured")], "0")?;
        xml.close("ornaments")?;
    }
    if technical {
        xml.open("technical", &[])?;
        if let Some(letter) = signs.fingering {
            let text = letter.to_string();
            xml.text("fingering", &[("placement", "below")], &text)?;
        }
        match signs.technical {
            Some(Technical::Open) => xml.empty("open", &[])?,
            Some(Technical::HalfOpen) => xml.empty("half-muted", &[])?,
            Some(Technical::Choke) => xml.text("other-technical", &[], "choke")?,
            None => {}
        }
        xml.close("technical")?;
    }
    if signs.accent {
        xml.open("articulations", &[])?;
        xml.empty("accent", &[])?;
        xml.close("articulations")?;
    }
    xml.close("notations")
}

/// A count beneath a note.
pub(super) fn lyric(xml: &mut Xml, text: Option<&str>) -> Result<(), MusicXmlError> {
    let Some(text) = text else { return Ok(()) };
    xml.open("lyric", &[("number", "1"), ("name", "count")])?;
    xml.text("syllabic", &[], "single")?;
    xml.text("text", &[], text)?;
    xml.close("lyric")
}
