//! Which signs a note carries outside of its stem.

use crate::{Glyph, Role, WrittenStroke};
use barform_score::music::{Articulation, Level, Voice};

/// Whether the last hat stroke before was an open one: the next closed one says so.
#[derive(Debug, Clone, Copy, Default)]
pub struct HatState(bool);

/// What stands outside of the stem: articulation, then accent.
pub fn signs(strokes: &[WrittenStroke], hat: &mut HatState) -> Vec<(Glyph, Role)> {
    let mut signs = Vec::new();
    for s in strokes.iter().map(|s| s.stroke) {
        let mark = match s.articulation {
            Articulation::Open => Some(Glyph::Open),
            Articulation::Half => Some(Glyph::HalfOpen),
            Articulation::Choke => Some(Glyph::Choke),
            Articulation::Plain if s.voice == Voice::Hat && hat.0 => Some(Glyph::Closed),
            _ => None,
        };
        if matches!(s.voice, Voice::Hat | Voice::HatFoot) {
            hat.0 = matches!(s.articulation, Articulation::Open | Articulation::Half);
        }
        if let Some(glyph) = mark.filter(|g| !signs.iter().any(|(have, _)| have == g)) {
            signs.push((glyph, Role::Articulation));
        }
    }
    if strokes.iter().any(|s| s.stroke.level == Level::Accent) {
        signs.push((Glyph::Accent, Role::Accent));
    }
    signs
}
