//! What all pages work on: the score with its steps, what is chosen, the way to
//! the host.
//!
//! Gives the score after them, playing, or why not, kept for the place where it
//! was asked. Every change of the score goes through here, so that undo knows
//! it and the host saves it.

mod choice;

use std::sync::Arc;
use std::time::Duration;

use barform_app::score::edit::{Change, Done, Edit, Group, ItemPath, Loosened, Merge};
use barform_app::score::{Score, ScoreError};
use barform_app::shelf::Folders;

pub use choice::Chosen;

use super::engraved::Gallery;
use super::pages::Page;
use super::shown::Shown;
use super::widgets::Host;
use crate::params::{BarformParams, MAX_EDITS};
use crate::state::{Problem, Session};
use barform_app::preferences::Preferences;
use barform_app::session::TypedText;

/// A place where something can be wrong, and is then said there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Spot {
    /// The Form strip.
    Strip,
    /// The Bench.
    Bench,
    /// The Kit page.
    Kit,
    /// The Shelf.
    Shelf,
    /// The line of buttons at the top.
    Top,
}

/// Everything that pages share.
pub struct Desk {
    /// The instance's parameters and session.
    pub params: Arc<BarformParams>,
    /// The way to the host.
    pub host: Host,
    /// The score text.
    pub typed: TypedText,
    /// What plays.
    pub shown: Shown,
    /// Engraved cells.
    pub gallery: Gallery,
    /// What is worked on.
    pub chosen: Chosen,
    /// The page in view.
    pub page: Page,
    /// The user's data folder; `None` where there is none.
    pub folders: Option<Folders>,
    /// Someone asked for the Bench: its staff takes the keyboard's focus.
    pub called: bool,
    /// What the user likes in every window.
    pub prefs: Preferences,
    /// Seconds on the window's clock at the start of this frame.
    pub now_s: f64,
    /// What the last action did beyond what was asked, a line each.
    told: Vec<String>,
    /// Gaps where edits took bar-line checks away, until the strip asks.
    loosened: Vec<ItemPath>,
    refused: Option<(Spot, Problem)>,
    stamp: u64,
    /// Loads of the session when `shown` was taken.
    loads: u64,
}

impl Desk {
    /// The desk of one window.
    pub fn new(params: Arc<BarformParams>, folders: Option<Folders>) -> Desk {
        let session = &params.session;
        let prefs = Preferences::of(folders.as_ref());
        session.begin_with(prefs.start());
        Desk {
            host: Host::default(),
            typed: TypedText::new(session),
            shown: Shown::of(session.checked()),
            gallery: Gallery::default(),
            chosen: Chosen::default(),
            page: Page::Bench,
            folders,
            called: false,
            prefs,
            now_s: 0.0,
            told: Vec::new(),
            loosened: Vec::new(),
            refused: None,
            stamp: 0,
            loads: session.loads(),
            params,
        }
    }

    /// The session.
    pub fn session(&self) -> &Arc<Session> {
        &self.params.session
    }

    /// The score that plays.
    pub fn score(&self) -> &Score {
        self.shown.checked.score()
    }

    /// How much later a stroke played in arrives than it was meant, in
    /// milliseconds: take it off before the stroke is put on a grid.
    pub fn latency_offset_ms(&self) -> f64 {
        self.prefs.latency_offset_ms()
    }

    /// Whether things are to appear at once instead of moving or fading.
    pub fn reduced_motion(&self) -> bool {
        self.prefs.reduced_motion()
    }

    /// A number that changes with every change of the score: who keeps something
    /// worked out from it works it out anew.
    pub fn stamp(&self) -> u64 {
        self.stamp
    }

    /// A group of edits that go on from each other, as typing in one field.
    pub fn typing(&self, key: impl Into<String>) -> Group {
        self.group(key, Merge::Follow)
    }

    /// A group of edits each of which starts where the first one did, as a drag.
    /// [`Desk::seal`] ends it.
    pub fn drag(&self, key: impl Into<String>) -> Group {
        self.group(key, Merge::Again)
    }

    fn group(&self, key: impl Into<String>, merge: Merge) -> Group {
        Group {
            key: key.into(),
            at: Duration::from_secs_f64(self.now_s.max(0.0)),
            merge,
        }
    }

    /// Makes an edit that `spot` asks for. `None` if it was refused; why is then
    /// kept for that place.
    pub fn edit(&mut self, spot: Spot, edit: &Edit, group: Option<&Group>) -> Option<Done> {
        let done = self.attempt(spot, |session| session.edit(edit, group))?;
        self.told = done.told.clone();
        self.told
            .extend(done.loosened.iter().map(Loosened::to_string));
        let gaps = done.loosened.iter().filter_map(|loosened| match loosened {
            Loosened::BarLine(gap) => Some(gap.clone()),
            Loosened::Meter { .. } => None,
        });
        self.loosened.extend(gaps);
        self.focus(&done.focus, done.run.clone());
        Some(done)
    }

    /// Gaps of the form where edits took bar-line checks away, each told once.
    pub fn take_loosened(&mut self) -> Vec<ItemPath> {
        std::mem::take(&mut self.loosened)
    }

    /// Changes the score in a way that no [`Edit`] knows; undo calls it `label`.
    pub fn change(
        &mut self,
        spot: Spot,
        label: &str,
        group: Option<&Group>,
        change: impl FnOnce(&mut Score) -> Result<(), ScoreError>,
    ) -> Option<Change> {
        let change = self.attempt(spot, |session| session.change(label, group, change))?;
        self.told.clear();
        Some(change)
    }

    fn attempt<T>(
        &mut self,
        spot: Spot,
        go: impl FnOnce(&Session) -> Result<T, Problem>,
    ) -> Option<T> {
        let session = self.params.session.clone();
        if !self.typed.settle(&session, self.now_s) {
            self.refuse(spot, unfinished());
            return None;
        }
        match go(&session) {
            Ok(done) => {
                self.refused = None;
                self.after_step();
                Some(done)
            }
            Err(problem) => {
                self.refuse(spot, problem);
                None
            }
        }
    }

    /// Says at `spot` that something could not be done.
    pub fn refuse(&mut self, spot: Spot, problem: Problem) {
        self.told.clear();
        self.refused = Some((spot, problem));
    }

    /// Says what was done beyond what was asked.
    pub fn tell(&mut self, line: impl Into<String>) {
        self.refused = None;
        self.told = vec![line.into()];
    }

    /// What was refused at `spot`.
    pub fn refused_at(&self, spot: Spot) -> Option<&Problem> {
        let (at, problem) = self.refused.as_ref()?;
        (*at == spot).then_some(problem)
    }

    /// What the last action did beyond what was asked.
    pub fn told(&self) -> &[String] {
        &self.told
    }

    /// What was said has been read.
    pub fn dismiss(&mut self) {
        self.told.clear();
        self.refused = None;
    }

    /// Takes the last step back. Text that does not play is given up first: it is
    /// the newest change.
    pub fn undo(&mut self) {
        let session = self.params.session.clone();
        if !self.typed.settle(&session, self.now_s) {
            self.typed.follow(&session);
            self.tell("The text that did not play was put back.");
            return;
        }
        if let Some(change) = session.undo() {
            self.travelled(&change, "Undone");
        }
    }

    /// Makes the step again that was taken back last.
    pub fn redo(&mut self) {
        let session = self.params.session.clone();
        if !self.typed.settle(&session, self.now_s) {
            self.refuse(Spot::Top, unfinished());
        } else if let Some(change) = session.redo() {
            self.travelled(&change, "Redone");
        }
    }

    fn travelled(&mut self, change: &Change, what: &str) {
        let before = self.shown.checked.clone();
        self.after_step();
        self.focus(&change.focus, None);
        self.choose_difference(before.score());
        self.tell(format!("{what}: {}.", change.label));
    }

    /// Ends a group of edits.
    pub fn seal(&self) {
        self.params.session.seal();
    }

    /// The host has loaded a session, or text was accepted: everything anew.
    /// Returns whether something changed.
    pub fn tick(&mut self, now_s: f64, wake: impl FnOnce() + Send + 'static) -> bool {
        self.now_s = now_s;
        let session = self.params.session.clone();
        let loaded = self.loads != session.loads();
        if loaded {
            self.loads = session.loads();
            self.chosen = Chosen::default();
            self.dismiss();
            self.refresh();
        }
        let accepted = self.typed.tick(&session, now_s, wake).is_some();
        if accepted {
            self.dismiss();
            self.refresh();
            self.ask_to_save();
        }
        session.prune();
        loaded || accepted
    }

    fn after_step(&mut self) {
        let session = self.params.session.clone();
        self.typed.follow(&session);
        self.refresh();
        self.ask_to_save();
    }

    fn refresh(&mut self) {
        self.shown = Shown::of(self.params.session.checked());
        self.gallery.clear();
        self.stamp += 1;
        self.mend_choice();
    }

    /// The host learns that there is something to save.
    fn ask_to_save(&mut self) {
        let edits = self.params.edits.value();
        self.host.set(&self.params.edits, (edits + 1) % MAX_EDITS);
    }
}

fn unfinished() -> Problem {
    Problem {
        line: 0,
        column: 0,
        span: 0..0,
        message: "The score text has an error, so nothing else can be changed".to_owned(),
        mend: Some("fix it on the Score page, or put it back with Ctrl+Z".to_owned()),
    }
}
