//! Reads `[cell.X]`, `[ostinato.NAME]` and `[voicing.NAME]`.

use super::source::FileFault;
use super::{Read, Reader, tokens};
use crate::music::Voice;
use crate::score::error::{Fault, Line, Mend, ScoreErrorKind as Kind, Spot, brief};
use crate::score::model::{CellDef, Ostinato, Voicing};
use toml_edit::{Item, Key};

impl Reader<'_> {
    pub(super) fn cell(&mut self, key: &Key, item: &Item, index: usize) -> Read<CellDef> {
        let head = key.span().unwrap_or_default();
        let spot = |line| Spot::Cell(index, line);
        let letter = self.letter(key.get(), head.clone(), spot(Line::Head))?;
        let name = format!("cell {letter}");
        let within = self.table(key, item, &name)?;
        self.spans.0.insert(spot(Line::Head), (head, Vec::new()));
        self.known_keys(within, &["grid", "sticking", "voices", "like"])?;
        let like = match self.string(within, "like", spot(Line::Like))? {
            Some(text) => Some(self.letter(text.text, text.span.clone(), spot(Line::Like))?),
            None => None,
        };
        Ok(CellDef {
            letter,
            like,
            grid: self.line(within, "grid", spot(Line::Grid), tokens::grid)?,
            sticking: self.line(within, "sticking", spot(Line::Sticking), tokens::sticking)?,
            voices: self.line(within, "voices", spot(Line::Voices), tokens::voices)?,
        })
    }

    pub(super) fn ostinato(&mut self, key: &Key, item: &Item, index: usize) -> Read<Ostinato> {
        let head = key.span().unwrap_or_default();
        let spot = |line| Spot::Ostinato(index, line);
        let name = format!("ostinato {}", brief(key.get()));
        let within = self.table(key, item, &name)?;
        self.spans
            .0
            .insert(spot(Line::Head), (head.clone(), Vec::new()));
        self.known_keys(within, &["grid", "sticking", "voices"])?;
        let missing = |what: &str, allowed: &str| {
            let kind = Kind::Missing {
                what: what.into(),
                within: name.clone(),
                allowed: allowed.into(),
                mend: Mend::default(),
            };
            FileFault {
                span: head.clone(),
                fault: Fault::new(spot(Line::Head), kind),
            }
        };
        Ok(Ostinato {
            name: key.get().to_owned(),
            grid: self
                .line(within, "grid", spot(Line::Grid), tokens::grid)?
                .ok_or_else(|| missing("grid", "write for example grid = \"2\""))?,
            sticking: self
                .line(within, "sticking", spot(Line::Sticking), tokens::sticking)?
                .ok_or_else(|| missing("sticking", "write for example sticking = \"- H\""))?,
            voices: self.line(within, "voices", spot(Line::Voices), tokens::voices)?,
        })
    }

    pub(super) fn voicing(&mut self, key: &Key, item: &Item, index: usize) -> Read<Voicing> {
        let spot = Spot::Voicing(index);
        let name = format!("voicing {}", brief(key.get()));
        let within = self.table(key, item, &name)?;
        let mut map = Vec::new();
        let mut parts = Vec::new();
        for (from, _) in within.table.iter() {
            let names: Vec<&str> = Voice::ALL.into_iter().map(Voice::name).collect();
            let voice = Voice::from_name(from).filter(|v| *v != Voice::Click);
            let voice = voice.ok_or_else(|| self.unknown_key(within, from, &names))?;
            let Some(to) = self.string(within, from, spot)? else {
                continue;
            };
            let to_voice = tokens::voice_token(to.text, 0).map_err(|f| to.fault(f))?;
            parts.push(to.span.clone());
            map.push((voice, to_voice));
        }
        self.spans
            .0
            .insert(spot, (key.span().unwrap_or_default(), parts));
        Ok(Voicing {
            name: key.get().to_owned(),
            map,
        })
    }
}
