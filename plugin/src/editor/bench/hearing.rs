//! The cell heard by itself, round and round.
//!
//! Ends when asked to, when the page is left, and with the window.

use std::sync::Arc;

use barform_app::music::{Beats, Letter};
use barform_app::score::edit::Owner;
use barform_app::score::{CellDef, FormItem, Overrides, Score, Section};
use barform_app::timeline::Timeline;

use super::super::desk::Desk;
use super::known::Known;
use crate::state::Session;

/// What plays.
struct Playing {
    session: Arc<Session>,
    stamp: u64,
    owner: Owner,
}

/// Whether and how the cell is heard.
#[derive(Default)]
pub struct Hearing {
    playing: Option<Playing>,
    /// In quarter-note beats per minute; the score's own until it is set.
    tempo_bpm: Option<f64>,
    /// Whether a click goes along.
    click: bool,
}

impl Hearing {
    /// Whether it sounds.
    pub fn is_on(&self) -> bool {
        self.playing.is_some()
    }

    /// In quarter-note beats per minute.
    pub fn tempo_bpm(&self, desk: &Desk) -> f64 {
        self.tempo_bpm
            .unwrap_or_else(|| desk.score().tempo.to_f64())
    }

    /// Sets the tempo.
    pub fn set_tempo(&mut self, bpm: f64) {
        self.tempo_bpm = Some(bpm);
        if let Some(playing) = &self.playing {
            playing.session.audition.set_tempo(bpm);
        }
    }

    /// Whether a click goes along.
    pub fn click(&self) -> bool {
        self.click
    }

    /// Sets whether a click goes along.
    pub fn set_click(&mut self, on: bool) {
        self.click = on;
        if let Some(playing) = &self.playing {
            playing.session.audition.set_click(on);
        }
    }

    /// Begins, or ends.
    pub fn toggle(&mut self, desk: &Desk, known: &Known) {
        if self.playing.is_some() {
            self.stop();
            return;
        }
        if let Some(timeline) = alone(desk.score(), known) {
            let session = desk.session().clone();
            let bpm = self.tempo_bpm(desk);
            session.audition.play(Arc::new(timeline), bpm, self.click);
            self.playing = Some(Playing {
                session,
                stamp: known.stamp,
                owner: known.owner.clone(),
            });
        }
    }

    /// Ends.
    pub fn stop(&mut self) {
        if let Some(playing) = self.playing.take() {
            playing.session.audition.stop();
        }
    }

    /// Something else is heard by itself now: no longer ours to end.
    pub fn let_go(&mut self) {
        self.playing = None;
    }

    /// Goes along with edits and with the choice of another cell.
    pub fn follow(&mut self, desk: &Desk, known: &Known) {
        let ended = |playing: &Playing| !playing.session.audition.is_playing();
        self.playing = self.playing.take().filter(|playing| !ended(playing));
        let (bpm, click) = (self.tempo_bpm(desk), self.click);
        let Some(playing) = &mut self.playing else {
            return;
        };
        let audition = &playing.session.audition;
        audition.prune();
        let other = playing.owner != known.owner;
        if !other && playing.stamp == known.stamp {
            return;
        }
        playing.stamp = known.stamp;
        playing.owner = known.owner.clone();
        if let Some(timeline) = alone(desk.score(), known).map(Arc::new) {
            if other {
                audition.play(timeline, bpm, click);
            } else {
                audition.swap(timeline);
            }
        }
    }

    /// The slot that sounds.
    pub fn slot(&self, known: &Known) -> Option<usize> {
        let playing = self.playing.as_ref()?;
        let beats = playing.session.audition.position_beats()?;
        let next = known
            .bounds
            .partition_point(|start| start.to_f64() <= beats);
        let slot = next.checked_sub(1)?;
        (slot < known.cell.slots.len()).then_some(slot)
    }
}

impl Drop for Hearing {
    fn drop(&mut self) {
        self.stop();
    }
}

/// The cell or ostinato as a score of its own, compiled.
fn alone(score: &Score, known: &Known) -> Option<Timeline> {
    let (letter, cells) = match &known.owner {
        Owner::Cell(letter) => (letter.clone(), family(score, letter)),
        Owner::Ostinato(name) => {
            let ostinato = score.ostinatos.iter().find(|o| o.name == *name)?;
            let letter = Letter::new("O")?;
            let cell = CellDef {
                letter: letter.clone(),
                like: None,
                grid: Some(ostinato.grid.clone()),
                sticking: Some(ostinato.sticking.clone()),
                voices: ostinato.voices.clone(),
            };
            (letter, vec![cell])
        }
    };
    let item = FormItem::Letter {
        letter,
        overrides: Overrides::default(),
    };
    let alone = Score {
        title: score.title.clone(),
        tempo: score.tempo,
        meter: score.meter,
        pickup: Beats::ZERO,
        sections: vec![Section {
            name: String::new(),
            meter: None,
            overrides: Overrides::default(),
            items: vec![item],
        }],
        cells,
        ostinatos: Vec::new(),
        voicings: Vec::new(),
        kit: score.kit.clone(),
        timing: barform_app::score::Timing::default(),
    };
    Timeline::compile(&alone).ok()
}

/// A cell with its parents.
pub fn family(score: &Score, letter: &Letter) -> Vec<CellDef> {
    let mut cells: Vec<CellDef> = Vec::new();
    let mut next = Some(letter.clone());
    while let Some(letter) = next {
        let Some(def) = score.cells.iter().find(|c| c.letter == letter) else {
            break;
        };
        if cells.iter().any(|known| known.letter == letter) {
            break;
        }
        next = def.like.clone();
        cells.push(def.clone());
    }
    cells
}
