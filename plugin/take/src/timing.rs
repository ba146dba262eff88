//! How a take lay against its slots, summed up.

use crate::form::Form;
use crate::reading::Reading;
use crate::strokes::foot;
use barform_score::music::{Beats, Cell, Limb, Voice};
use barform_score::score::{Lay, MAX_LAY_US, Timing};
use std::collections::BTreeMap;

/// Sums of a few strokes.
#[derive(Default)]
struct Sum {
    count: u32,
    sum: f64,
    squares: f64,
}

impl Sum {
    fn add(&mut self, us: f64) {
        self.count += 1;
        self.sum += us;
        self.squares += us * us;
    }

    fn lay(&self) -> Lay {
        let n = f64::from(self.count.max(1));
        let mean = self.sum / n;
        let spread = (self.squares / n - mean * mean).max(0.0).sqrt();
        let most = f64::from(MAX_LAY_US);
        // A tenth of a millisecond is finer than any pad tells.
        let tenths = |us: f64| ((us.clamp(-most, most) / 100.0).round() * 100.0) as i32;
        Lay {
            mean_us: tenths(mean),
            spread_us: tenths(spread),
            strokes: self.count,
        }
    }
}

/// The timing of all strokes against the beats they were played to: by voice, by
/// limb, by place in the beat.
pub fn summed(reading: &Reading, form: &Form, cells: &[Cell]) -> Timing {
    let mut all = Sum::default();
    let mut voices: BTreeMap<Voice, Sum> = BTreeMap::new();
    let mut limbs: BTreeMap<Limb, Sum> = BTreeMap::new();
    let mut places: BTreeMap<Beats, Sum> = BTreeMap::new();
    for placed in &reading.strokes {
        let us = (placed.click_ms + reading.late_ms) * 1000.0;
        all.add(us);
        voices.entry(placed.stroke.voice).or_default().add(us);
        let into = Beats::new(placed.slot.0, placed.slot.1);
        if let Ok(place) = into.checked_mul(reading.meter.pulse()) {
            places.entry(place).or_default().add(us);
        }
        let limb = foot(placed.stroke.voice).or_else(|| {
            hand(
                reading,
                form,
                cells,
                placed.pulse,
                into,
                placed.stroke.voice,
            )
        });
        if let Some(limb) = limb {
            limbs.entry(limb).or_default().add(us);
        }
    }
    Timing {
        all: (all.count > 0).then(|| all.lay()),
        voices: voices.into_iter().map(|(v, s)| (v, s.lay())).collect(),
        limbs: limbs.into_iter().map(|(l, s)| (l, s.lay())).collect(),
        places: places.into_iter().map(|(p, s)| (p, s.lay())).collect(),
    }
}

/// The hand that the score has for a stroke.
fn hand(
    reading: &Reading,
    form: &Form,
    cells: &[Cell],
    pulse: i64,
    into: Beats,
    voice: Voice,
) -> Option<Limb> {
    let pulse = usize::try_from(pulse).ok()?;
    let step = form
        .steps
        .partition_point(|s| s.start <= pulse)
        .checked_sub(1)?;
    let step = form.steps.get(step)?;
    let at = Beats::whole((pulse - step.start) as i64)
        .checked_add(into)
        .ok()?;
    let at = at.checked_mul(reading.meter.pulse()).ok()?;
    let cell = cells.get(step.cell)?;
    let slot = cell
        .grid
        .slot_bounds()
        .ok()?
        .iter()
        .position(|b| *b == at)?;
    let stroke = cell.slots.get(slot)?.iter().find(|s| s.voice == voice)?;
    Some(stroke.limb)
}
