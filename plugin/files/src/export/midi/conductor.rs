//! Track 0: time signatures and markers.

use super::bars;
use barform_score::music::{Beats, BeatsError, Meter};
use barform_score::timeline::Timeline;
use midly::MetaMessage;

/// What stands in track 0 besides title and tempo.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark<'a> {
    /// A time signature.
    Meter(Meter),
    /// A marker.
    Text(&'a str),
}

impl Mark<'_> {
    /// As it stands in the file.
    pub(super) fn message(&self) -> MetaMessage<'_> {
        match self {
            Mark::Text(text) => MetaMessage::Marker(text.as_bytes()),
            Mark::Meter(meter) => {
                // 24 MIDI clocks a quarter note; a metronome follows the pulse.
                let clocks = (meter.pulse().to_f64() * 24.0).max(1.0) as u8;
                let power = meter.unit().trailing_zeros() as u8;
                MetaMessage::TimeSignature(meter.count(), power, clocks, 8)
            }
        }
    }
}

/// Time signatures and markers in order; at one time the signature first, then
/// the section, then the letter.
pub(super) fn conductor<'t>(
    timeline: &'t Timeline,
    lead: Beats,
    passes: u32,
) -> Result<Vec<(Beats, Mark<'t>)>, BeatsError> {
    let mut marks: Vec<(Beats, Mark<'t>)> = bars::signatures(timeline, lead, passes)?
        .into_iter()
        .map(|(at, meter)| (at, Mark::Meter(meter)))
        .collect();
    for pass in 0..passes {
        let shift = timeline.length.checked_mul(Beats::whole(i64::from(pass)))?;
        let shift = shift.checked_add(lead)?;
        for section in timeline.sections.iter().filter(|s| !s.name.is_empty()) {
            marks.push((section.start.checked_add(shift)?, Mark::Text(&section.name)));
        }
        for place in &timeline.places {
            if let Some(letter) = timeline.letters.get(place.letter as usize) {
                marks.push((place.start.checked_add(shift)?, Mark::Text(letter.as_str())));
            }
        }
    }
    // Stable, so the order of kinds above stays within one time.
    marks.sort_by_key(|(at, _)| *at);
    Ok(marks)
}
