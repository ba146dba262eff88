//! The click: what is struck on bar lines, beats and subdivisions. The one place
//! where it is worked out, for forms, count-ins, letters on their own and practice.

use super::{Bar, Note};
use crate::music::{Articulation, Beats, BeatsError, Kit, Level, Subdivision, Voice};

/// What a click marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ClickKind {
    /// A bar line.
    Bar,
    /// A beat as it is felt: see [`Meter::pulse`](crate::music::Meter::pulse).
    Beat,
    /// A slot of the subdivision between two beats.
    Subdivision,
}

impl ClickKind {
    /// The kit's own click: another sound, accented, on the bar line. `None` if
    /// the kit has no key for it.
    pub fn note(self, kit: &Kit) -> Option<Note> {
        let (articulation, level) = match self {
            ClickKind::Bar => (Articulation::Bell, Level::Accent),
            ClickKind::Beat => (Articulation::Plain, Level::Normal),
            ClickKind::Subdivision => (Articulation::Plain, Level::Ghost),
        };
        let voice = kit.voice(Voice::Click);
        Some(Note {
            key: kit.key(Voice::Click, articulation)?,
            channel: voice.channel,
            velocity: voice.curve.at(level),
            voice: Voice::Click,
            articulation,
            limb: None,
        })
    }
}

impl Bar {
    /// Where a bar that goes on to `end` clicks, in order: its bar line, its
    /// beats and, if one is asked for, the slots of a subdivision that starts
    /// anew on every bar line. A pickup bar (number 0) is the end of a full one,
    /// so its beats are counted from a bar line before its start.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if a time does not fit.
    pub fn clicks(
        &self,
        end: Beats,
        subdivision: Option<&Subdivision>,
    ) -> Result<Vec<(Beats, ClickKind)>, BeatsError> {
        let line = if self.number == 0 {
            end.checked_sub(self.meter.bar())?
        } else {
            self.start
        };
        let mut clicks = Vec::new();
        let mut beat = Beats::ZERO;
        let mut at = line;
        while at < end {
            if at >= self.start {
                let first = at == line;
                clicks.push((
                    at,
                    if first {
                        ClickKind::Bar
                    } else {
                        ClickKind::Beat
                    },
                ));
            }
            beat = beat.checked_add(self.meter.pulse())?;
            at = line.checked_add(beat)?;
        }
        let Some(Subdivision(grid)) = subdivision else {
            return Ok(clicks);
        };
        let (bounds, cycle) = (grid.slot_bounds()?, grid.length()?);
        let beats = clicks.len();
        let mut turn = line;
        while turn < end {
            for slot in &bounds[..grid.slot_count()] {
                let at = turn.checked_add(*slot)?;
                let taken = || clicks[..beats].binary_search_by(|c| c.0.cmp(&at)).is_ok();
                if at >= self.start && at < end && !taken() {
                    clicks.push((at, ClickKind::Subdivision));
                }
            }
            turn = turn.checked_add(cycle)?;
        }
        clicks.sort_unstable();
        Ok(clicks)
    }
}
