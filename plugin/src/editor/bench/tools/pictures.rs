//! Proposals on a staff, as the printed sheet has them.
//!
//! They are made on the tool's thread; a frame only shows them.

use barform_app::answers::Proposal;
use barform_app::music::{Beats, Cell, Meter, count_syllables};
use egui::Context;

use super::super::super::engraved::{Picture, Request, within};

/// Height of the staff in points.
const STAFF: f32 = 32.0;

/// Lower than this a staff is hard to read: the text does better.
const LEAST_STAFF: f32 = 14.0;

/// Width of the panel in points.
const WIDTH: f32 = 256.0;

/// The pictures of an answer.
#[derive(Default)]
pub struct Pictures(Vec<Option<Picture>>);

impl Pictures {
    /// Makes them.
    pub fn of_all(ctx: &Context, proposals: &[Proposal], meter: Meter) -> Pictures {
        let one = |p: &Proposal| picture(ctx, &p.cell, meter);
        Pictures(proposals.iter().map(one).collect())
    }

    /// The picture of proposal number `n`, if it has one.
    pub fn of(&self, n: usize) -> Option<&Picture> {
        self.0.get(n)?.as_ref()
    }
}

fn picture(ctx: &Context, cell: &Cell, meter: Meter) -> Option<Picture> {
    let counts = count_syllables(&cell.grid, Beats::ZERO, meter).unwrap_or_default();
    let request = Request {
        variant: 0,
        cell,
        meter,
        counts: &counts,
        staff_points: STAFF,
    };
    within(ctx, &request, WIDTH).filter(|picture| picture.staff_height() >= LEAST_STAFF)
}
