//! A cell played in, on the pads of a MIDI instrument or the computer keyboard,
//! while it goes round with a click.
//!
//! Each stroke goes to the nearest slot of the cell's own grid; how far it was
//! from it is shown as it comes.

mod clock;
mod keys;
mod recording;
mod ruler;
mod settings;
mod state;

use barform_app::played::to_ms;
use barform_app::score::edit::{CellEdit, Edit, Owner};
use barform_app::session::alone_timeline;
use egui::{Button, ScrollArea, Ui};

use super::super::desk::{Desk, Spot};
use super::super::palette::Palette;
use keys::Wish;
use recording::{Recording, note_of};
use settings::Settings;

/// What the panel keeps between frames.
#[derive(Default)]
pub struct PlayIn {
    settings: Settings,
    recording: Option<Recording>,
    /// What is to be done after this frame's drawing.
    wish: Option<Do>,
}

/// What a button or a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Do {
    Start,
    Stop,
    Keep,
    Again,
    TakeBack,
    MakeUp,
}

impl PlayIn {
    /// Whether letter keys play just now: then nobody else may take them.
    pub fn takes_keys(&self) -> bool {
        self.is_running() && self.settings.keys
    }

    /// Whether strokes are being taken.
    pub fn is_running(&self) -> bool {
        self.recording.as_ref().is_some_and(|r| r.running)
    }

    /// Something else goes round now. What was played stays to be kept.
    pub fn give_way(&mut self) {
        if let Some(recording) = &mut self.recording
            && std::mem::take(&mut recording.running)
        {
            recording.session.audition.listen(false);
        }
    }

    /// The panel is left: nothing listens or plays on. What was played stays to
    /// be kept.
    pub fn leave(&mut self) {
        if self.is_running() {
            self.give_way();
            if let Some(recording) = &self.recording {
                recording.session.audition.stop();
            }
        }
    }

    /// How the player's kit stands, by its name in the rules: whose hands play.
    pub fn set_setup(&mut self, name: &str) {
        if self.settings.setup != name {
            self.settings.setup = name.to_owned();
        }
    }

    /// The tempo of the loop, in quarter-note beats per minute.
    pub fn set_tempo(&mut self, bpm: f64) {
        if self.settings.tempo_bpm != Some(bpm)
            && let Some(recording) = self.recording.as_ref().filter(|r| r.running)
        {
            recording.session.audition.set_tempo(bpm);
        }
        self.settings.tempo_bpm = Some(bpm);
    }

    /// Shows the panel in the space that is left.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
        let Some(owner) = desk.owner() else {
            ui.label("Add a cell first: then you can play its strokes in.");
            return;
        };
        self.settings.follow(desk);
        self.follow(desk, &owner);
        self.listen(ui, desk);
        ScrollArea::vertical()
            .id_salt("play in")
            .auto_shrink([false, false])
            .show(ui, |ui| {
                self.buttons(ui);
                let audition = &desk.session().audition;
                let position = audition.position_beats().filter(|_| self.is_running());
                let bpm = self.settings.bpm(desk.score());
                if state::show(ui, self.recording.as_ref(), bpm, position, palette) {
                    self.wish = Some(Do::MakeUp);
                }
                ui.separator();
                let over = self.settings.over;
                let before = self.settings.clone();
                if self.settings.show(ui, desk, palette) {
                    let audition = &desk.session().audition;
                    audition.set_click(self.settings.click);
                }
                let heard_differs =
                    over != self.settings.over || before.play_back != self.settings.play_back;
                if heard_differs {
                    self.work_out(desk);
                }
            });
        if let Some(wish) = self.wish.take() {
            self.carry_out(ui, desk, &owner, wish);
        }
    }

    /// Another cell on the Bench, or another grid, ends a take.
    fn follow(&mut self, desk: &mut Desk, owner: &Owner) {
        let Some(recording) = &mut self.recording else {
            return;
        };
        let cell = desk.chosen_cell();
        match cell {
            Some(cell) if recording.owner == *owner && recording.written.grid == cell.grid => {
                if recording.written != cell {
                    recording.written = cell;
                    recording.work_out(&self.settings, desk.score());
                }
            }
            _ => {
                let had = !recording.take.hits().is_empty();
                self.leave();
                self.recording = None;
                if had {
                    desk.tell("The take was discarded: another cell or grid is on the Bench.");
                }
            }
        }
    }

    /// Takes what came in since the last frame.
    fn listen(&mut self, ui: &Ui, desk: &mut Desk) {
        let takes_keys = self.takes_keys();
        let Some(recording) = self.recording.as_mut().filter(|r| r.running) else {
            return;
        };
        let session = desk.session().clone();
        let audition = &session.audition;
        if !audition.is_playing() {
            // Somebody else has ended it.
            self.give_way();
            return;
        }
        let position = audition.position_beats();
        let before = recording.take.hits().len();
        recording.clock.see(position, desk.now_s);
        while let Some(heard) = audition.heard() {
            let struck = recording.hear(&heard, &self.settings, desk.score());
            let note = struck.filter(|_| self.settings.sound);
            if let Some(note) = note.and_then(|s| note_of(&desk.score().kit, &s)) {
                audition.strike(note);
            }
        }
        if takes_keys && !ui.ctx().text_edit_focused() {
            // A button in focus would be pressed by the same keys.
            ui.memory_mut(|memory| {
                if let Some(id) = memory.focused() {
                    memory.surrender_focus(id);
                }
            });
            let (taps, wish) = keys::take(ui);
            for tap in taps {
                let kit = &desk.score().kit;
                if let Some(note) = keys::note(kit, tap.voice, tap.articulation, tap.level) {
                    audition.strike(note);
                }
                recording.tap(&tap, position, &self.settings, desk.score());
            }
            self.wish = wish.map(|wish| match wish {
                Wish::Keep => Do::Keep,
                Wish::TakeBack => Do::TakeBack,
                Wish::Stop => Do::Stop,
            });
        }
        if recording.take.hits().len() != before {
            self.swap(desk);
        }
        // Notes do not wake the window, and the line moves.
        ui.ctx().request_repaint();
    }

    fn buttons(&mut self, ui: &mut Ui) {
        let recording = self.recording.as_ref();
        let running = recording.is_some_and(|r| r.running);
        let some = recording.is_some_and(|r| !r.take.hits().is_empty());
        let whole = recording.is_some_and(|r| r.played.is_some());
        let keys = self.takes_keys();
        let mut wish = self.wish;
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 5.0;
            let mut button =
                |on: bool, name: &str, label: &str, (hint, key): (&str, &str), what| {
                    let hint = match keys && !key.is_empty() {
                        true => format!("{hint} ({key})"),
                        false => hint.to_owned(),
                    };
                    let response = ui.add_enabled(on, Button::new(name));
                    let response = response.on_hover_text(&hint).on_disabled_hover_text(hint);
                    if response.clicked() {
                        wish = Some(what);
                    }
                    response.accessible_name(label);
                };
            if running {
                let hint = "Ends the loop; your take stays here to be used";
                button(true, "Stop", "Stop recording", (hint, "Escape"), Do::Stop);
            } else {
                let hint = "The cell loops with a click, and what you strike is recorded";
                button(true, "Play it in", "Play it in", (hint, ""), Do::Start);
            }
            let hint = "Puts the take in the cell, as one step (Ctrl+Z undoes it)";
            button(whole, "Use take", "Use take", (hint, "Enter"), Do::Keep);
            let hint = "Discards the take and starts again";
            button(some, "Again", "Again", (hint, ""), Do::Again);
            let hint = "Removes the last stroke";
            button(
                some,
                "Undo last stroke",
                "Undo last stroke",
                (hint, "Backspace"),
                Do::TakeBack,
            );
        });
        self.wish = wish;
    }

    fn carry_out(&mut self, ui: &Ui, desk: &mut Desk, owner: &Owner, wish: Do) {
        match wish {
            Do::Start | Do::Again => self.start(ui, desk, owner),
            Do::Stop => self.leave(),
            Do::TakeBack => {
                if let Some(recording) = &mut self.recording {
                    recording.take.take_back();
                }
                self.work_out(desk);
            }
            Do::MakeUp => {
                let bpm = self.settings.bpm(desk.score());
                let off = self.recording.as_ref().and_then(|r| r.take.median_off());
                if let Some(off) = off {
                    let late_ms = self.settings.late_ms + to_ms(off, bpm);
                    self.settings.set_late(desk, late_ms);
                }
            }
            Do::Keep => self.keep(desk, owner),
        }
    }

    fn start(&mut self, ui: &Ui, desk: &mut Desk, owner: &Owner) {
        self.leave();
        let Some(cell) = desk.chosen_cell() else {
            return;
        };
        let score = desk.score();
        let session = desk.session().clone();
        let now_s = desk.now_s;
        let begun = Recording::start(session, owner.clone(), cell, &self.settings, score, now_s);
        let recording = match begun {
            Ok(recording) => recording,
            Err(error) => {
                desk.tell(format!("This cell cannot be played in: {error}."));
                return;
            }
        };
        let Some(timeline) = alone_timeline(score, &recording.heard(&self.settings)) else {
            desk.tell("This cell cannot be played in: its lengths are too fine.");
            return;
        };
        let audition = &desk.session().audition;
        audition.listen(true);
        audition.play(timeline, self.settings.bpm(score), self.settings.click);
        self.recording = Some(recording);
        ui.ctx().request_repaint();
    }

    fn keep(&mut self, desk: &mut Desk, owner: &Owner) {
        let played = self.recording.as_ref().and_then(|r| r.played.clone());
        let Some(played) = played else { return };
        self.leave();
        // Its own edit is no other cell on the Bench.
        let recording = self.recording.take();
        let edit = Edit::Cell(owner.clone(), CellEdit::Become(played.cell));
        if desk.edit(Spot::Bench, &edit, None).is_none() {
            self.recording = recording;
        }
    }

    /// Works the cell out anew, and lets it be heard.
    fn work_out(&mut self, desk: &Desk) {
        if let Some(recording) = &mut self.recording {
            recording.work_out(&self.settings, desk.score());
        }
        self.swap(desk);
    }

    /// Puts what is to be heard in the place of what goes round.
    fn swap(&self, desk: &Desk) {
        let Some(recording) = self.recording.as_ref().filter(|r| r.running) else {
            return;
        };
        if let Some(timeline) = alone_timeline(desk.score(), &recording.heard(&self.settings)) {
            desk.session().audition.swap(timeline);
        }
    }
}

impl Drop for PlayIn {
    fn drop(&mut self) {
        self.leave();
    }
}
