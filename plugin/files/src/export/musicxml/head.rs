//! What stands before the notes: title, origin, instruments.

use super::xml::Xml;
use super::{DIGEST_FIELD, MusicXmlError, SCORE_FIELD};
use barform_score::music::{Articulation, Kit, Voice};
use barform_sheet::{Kind, Written};
use std::collections::BTreeSet;

/// Id of the one part.
pub(super) const PART: &str = "P1";

/// The instruments of a part: ways of striking a voice that occur.
pub(super) type Instruments = BTreeSet<(Voice, Articulation)>;

/// The id of an instrument.
pub(super) fn id(voice: Voice, articulation: Articulation) -> String {
    let how = articulation.name();
    let gap = if how.is_empty() { "" } else { "-" };
    format!("{PART}-{}{gap}{how}", voice.name())
}

/// Title and origin.
pub(super) fn head(
    xml: &mut Xml,
    written: &Written,
    carried: Option<(&str, &str)>,
) -> Result<(), MusicXmlError> {
    if !written.title.is_empty() {
        xml.open("work", &[])?;
        xml.text("work-title", &[], &written.title)?;
        xml.close("work")?;
    }
    xml.open("identification", &[])?;
    xml.open("encoding", &[])?;
    let software = concat!("Barform ", env!("CARGO_PKG_VERSION"));
    xml.text("software", &[], software)?;
    for element in ["beam", "stem"] {
        xml.empty("supports", &[("element", element), ("type", "yes")])?;
    }
    xml.close("encoding")?;
    if let Some((score, digest)) = carried {
        xml.open("miscellaneous", &[])?;
        xml.text("miscellaneous-field", &[("name", DIGEST_FIELD)], digest)?;
        xml.text("miscellaneous-field", &[("name", SCORE_FIELD)], score)?;
        xml.close("miscellaneous")?;
    }
    xml.close("identification")?;
    if !written.subtitle.is_empty() {
        xml.open("credit", &[("page", "1")])?;
        xml.text("credit-type", &[], "subtitle")?;
        xml.text("credit-words", &[("justify", "center")], &written.subtitle)?;
        xml.close("credit")?;
    }
    Ok(())
}

/// The part with its instruments: one for each way of striking each voice.
pub(super) fn part_list(
    xml: &mut Xml,
    written: &Written,
    kit: &Kit,
) -> Result<Instruments, MusicXmlError> {
    let mut instruments = Instruments::new();
    for bar in &written.bars {
        for element in bar.hands.elements.iter().chain(&bar.feet.elements) {
            if let Kind::Notes(strokes) = &element.kind {
                let keys = strokes
                    .iter()
                    .map(|s| (s.stroke.voice, s.stroke.articulation));
                instruments.extend(keys);
            }
        }
    }
    xml.open("part-list", &[])?;
    xml.open("score-part", &[("id", PART)])?;
    xml.text("part-name", &[], "Drum set")?;
    xml.text("part-abbreviation", &[], "Dr.")?;
    for (voice, articulation) in &instruments {
        xml.open("score-instrument", &[("id", &id(*voice, *articulation))])?;
        let name = voice.instrument(*articulation);
        xml.text("instrument-name", &[], &name)?;
        xml.close("score-instrument")?;
    }
    for (voice, articulation) in &instruments {
        let channel = kit.voice(*voice).channel.number();
        xml.open("midi-instrument", &[("id", &id(*voice, *articulation))])?;
        xml.number("midi-channel", i64::from(channel))?;
        if let Some(key) = kit.key(*voice, *articulation) {
            // Counted from 1 in this standard.
            xml.number("midi-unpitched", i64::from(key.number()) + 1)?;
        }
        xml.close("midi-instrument")?;
    }
    xml.close("score-part")?;
    xml.close("part-list")?;
    Ok(instruments)
}
