//! Sizes: what glyphs and words take, and the measures of a page of music.
//! Lengths in staff spaces, y downward, 0 on the upper staff line.
//!
//! Measures after Gould, *Behind Bars* (Faber 2011): stems of 3.5 spaces, beams
//! half a space thick and a quarter apart (from memory); line weights and
//! gaps are common practice.

use crate::{Anchor, Bounds, Face, Glyph, Head, StaffStep, ink};

/// Height of a staff.
pub const STAFF: f32 = 4.0;
/// Thickness of staff lines.
pub const STAFF_LINE: f32 = 0.11;
/// Thickness of ledger lines.
pub const LEDGER: f32 = 0.15;
/// How far a ledger line reaches beyond its head.
pub const LEDGER_OUT: f32 = 0.3;
/// Thickness of stems.
pub const STEM: f32 = 0.12;
/// Length of a stem.
pub const STEM_LENGTH: f32 = 3.5;
/// Thickness of a beam.
pub const BEAM: f32 = 0.5;
/// From one beam to the next, edge to the same edge.
pub const BEAM_STEP: f32 = 0.75;
/// Thickness of a thin bar line.
pub const THIN: f32 = 0.16;
/// Thickness of a thick bar line.
pub const THICK: f32 = 0.5;
/// White between lines of a double bar line.
pub const LINE_GAP: f32 = 0.4;
/// Size of grace notes against full notes.
pub const GRACE: f32 = 0.62;
/// Least white between the ink of two moments.
pub const INK_GAP: f32 = 0.3;

/// Where a step stands.
pub fn y_of(step: StaffStep) -> f32 {
    STAFF - f32::from(step.0) / 2.0
}

/// Box of a glyph at its origin.
pub fn glyph(glyph: Glyph) -> Bounds {
    ink::glyph_bounds(glyph)
}

/// Box of a glyph at a place and a scale.
pub fn glyph_at(sign: Glyph, x: f32, y: f32, scale: f32) -> Bounds {
    let b = glyph(sign);
    Bounds {
        left: x + b.left * scale,
        top: y + b.top * scale,
        right: x + b.right * scale,
        bottom: y + b.bottom * scale,
    }
}

/// Box of words held at a place.
pub fn text_at(text: &str, x: f32, y: f32, size: f32, face: Face, anchor: Anchor) -> Bounds {
    let b = ink::text_bounds(text, face, size);
    let advance = ink::text_width(text, face, size);
    let shift = match anchor {
        Anchor::Start => x,
        Anchor::Middle => x - advance / 2.0,
        Anchor::End => x - advance,
    };
    Bounds {
        left: shift + b.left,
        top: y + b.top,
        right: shift + b.right,
        bottom: y + b.bottom,
    }
}

/// The glyph of a head on a note of so many halvings of a whole note.
pub fn head_glyph(head: Head, halvings: u8) -> Glyph {
    match (head, halvings) {
        (Head::Oval, 0) => Glyph::HeadWhole,
        (Head::Oval, 1) => Glyph::HeadHalf,
        (Head::Oval, _) => Glyph::HeadFilled,
        (Head::Cross, 0 | 1) => Glyph::HeadCrossOpen,
        (Head::Cross, _) => Glyph::HeadCross,
        (Head::CircledCross, _) => Glyph::HeadCircledCross,
        (Head::Diamond, 0 | 1) => Glyph::HeadDiamondOpen,
        (Head::Diamond, _) => Glyph::HeadDiamond,
        (Head::Triangle, 0 | 1) => Glyph::HeadTriangleOpen,
        (Head::Triangle, _) => Glyph::HeadTriangle,
    }
}

/// How far above the middle of a head an upward stem leaves it; a downward one
/// as far below.
pub fn stem_leaves(head: Glyph, up: bool) -> f32 {
    match head {
        // Where the arms of an x end.
        Glyph::HeadCross => 0.34,
        Glyph::HeadCrossOpen => 0.2,
        // The lower corners of a triangle are its widest part.
        Glyph::HeadTriangle | Glyph::HeadTriangleOpen => {
            if up {
                -0.4
            } else {
                0.4
            }
        }
        Glyph::HeadFilled | Glyph::HeadHalf => 0.15,
        _ => 0.0,
    }
}
