//! Reads `[timing]`: how the strokes of a take lay against their slots.

use super::super::error::{Mend, ScoreErrorKind as Kind, Spot, brief};
use super::super::timing::{Lay, MAX_LAY_US, Timing};
use super::source::FileFault;
use super::{Read, Reader, TableRef};
use crate::music::{Beats, Limb, Voice};
use toml_edit::{Item, Value};

/// What an entry looks like.
const ALLOWED: &str = "mean and spread in milliseconds and a number of strokes: [-3.2, 9.5, 120]";

impl Reader<'_> {
    pub(super) fn timing(&mut self, root: TableRef, item: &Item) -> Read<Timing> {
        let head = self.key_span(root, "timing");
        self.spans.0.insert(Spot::Timing, (head, Vec::new()));
        let within = self.inner(root, "timing", item, "the timing")?;
        self.known_keys(within, &["all", "voice", "limb", "place"])?;
        let all = match within.table.get("all") {
            Some(item) => Some(self.lay(within, "all", item)?),
            None => None,
        };
        let voices: Vec<&str> = Voice::ALL.into_iter().map(Voice::name).collect();
        let voice = |name: &str| Voice::from_name(name).filter(|v| *v != Voice::Click);
        let limb = |name: &str| match *name.as_bytes() {
            [letter] => Limb::from_letter(char::from(letter)),
            _ => None,
        };
        let place = |name: &str| name.parse::<Beats>().ok();
        Ok(Timing {
            all,
            voices: self.lays(within, "voice", &voices, voice)?,
            limbs: self.lays(within, "limb", &["R", "L", "K", "H"], limb)?,
            places: self.lays(within, "place", &["0", "1/2", "0.25"], place)?,
        })
    }

    fn inner<'t>(
        &self,
        within: TableRef,
        key: &str,
        item: &'t Item,
        name: &'t str,
    ) -> Read<TableRef<'t>> {
        let table = item.as_table_like();
        let table = table.ok_or_else(|| self.wrong_type(within, key, item, "a table"))?;
        Ok(TableRef { table, name })
    }

    fn lays<K>(
        &self,
        within: TableRef,
        key: &str,
        known: &[&str],
        read: impl Fn(&str) -> Option<K>,
    ) -> Read<Vec<(K, Lay)>> {
        let Some(item) = within.table.get(key) else {
            return Ok(Vec::new());
        };
        let name = format!("timing.{key}");
        let within = self.inner(within, key, item, &name)?;
        let one = |(name, item): (&str, &Item)| {
            let key = read(name).ok_or_else(|| self.unknown_key(within, name, known))?;
            Ok((key, self.lay(within, name, item)?))
        };
        within.table.iter().map(one).collect()
    }

    fn lay(&self, within: TableRef, key: &str, item: &Item) -> Read<Lay> {
        let array = item.as_array();
        let array = array.ok_or_else(|| self.wrong_type(within, key, item, ALLOWED))?;
        let wrong = |read: String| {
            let kind = Kind::Unreadable {
                what: "timing",
                read: brief(&read),
                allowed: ALLOWED.into(),
                mend: Mend::default(),
            };
            FileFault::new(self.item_span(within, key, item), kind)
        };
        let values: Vec<&Value> = array.iter().take(4).collect();
        let [mean, spread, strokes] = values[..] else {
            return Err(wrong(format!("{} values", array.len())));
        };
        let us = |value: &Value| {
            let whole = value.as_integer().map(|n| n as f64);
            let ms = value.as_float().or(whole).unwrap_or(f64::NAN);
            let us = (ms * 1000.0).round();
            // Also false for what is no number.
            let in_range = us.abs() <= f64::from(MAX_LAY_US);
            in_range
                .then_some(us as i32)
                .ok_or_else(|| wrong(value.to_string()))
        };
        let count = strokes.as_integer().and_then(|n| u32::try_from(n).ok());
        Ok(Lay {
            mean_us: us(mean)?,
            spread_us: us(spread)?,
            strokes: count.ok_or_else(|| wrong(strokes.to_string()))?,
        })
    }
}
