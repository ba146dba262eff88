//! What Barform can do for a cell by itself, as buttons beside it.
//!
//! What there is to ask, and the answers with their reasons, are
//! [`barform_app::answers`]. A proposal is used with one click as a step that can
//! be undone, or heard before it is. They are worked out on a thread of their
//! own, once for each question.

mod pictures;
mod rows;
mod settings;

use std::sync::Arc;

use barform_app::answers::{Answer, Proposal, Subject, Tool, ToolSettings, answer};
use barform_app::background::Job;
use barform_app::music::Letter;
use barform_app::score::edit::{CellEdit, Edit, Owner, Paste, next_prime};
use barform_app::session::alone_timeline;
use barform_app::words;
use egui::{Label, RichText, ScrollArea, Ui};

use super::super::desk::{Desk, Spot};
use super::super::palette::Palette;
use crate::state::Session;
use pictures::Pictures;
use rows::{Act, Rows};

/// What is asked: as long as it stays the same, so does the answer.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Question {
    /// The score it is asked of.
    stamp: u64,
    /// The cell.
    owner: Owner,
    /// The tool.
    tool: Tool,
    /// How.
    settings: ToolSettings,
    /// Dots of the display for a thousand points, which pictures are made for.
    dots: u32,
}

/// What the panel keeps between frames.
#[derive(Default)]
pub struct Tools {
    tool: Tool,
    settings: ToolSettings,
    worker: Job<(Answer, Pictures)>,
    /// What the thread works on.
    asked: Option<Question>,
    /// The last answer.
    answer: Option<(Question, (Answer, Pictures))>,
    /// The proposal that is heard, by its name, and where.
    hearing: Option<(String, Arc<Session>)>,
    /// Tempo it is heard at, in quarter-note beats per minute; the score's if
    /// none is set.
    tempo_bpm: Option<f64>,
    /// The proposal whose reasons are open, by its name.
    open: Option<String>,
}

impl Tools {
    /// Whether a proposal is heard.
    pub fn is_heard(&self) -> bool {
        self.hearing.is_some()
    }

    /// How the player's kit stands, by its name in the rules.
    pub fn setup(&self) -> &str {
        &self.settings.setup
    }

    /// Something else is heard by itself now.
    pub fn give_way(&mut self) {
        self.hearing = None;
    }

    /// The panel is left: nothing is heard from here.
    pub fn leave(&mut self) {
        if let Some((_, session)) = self.hearing.take() {
            session.audition.stop();
        }
    }

    /// The tempo that proposals are heard at, in quarter-note beats per minute.
    pub fn set_tempo(&mut self, bpm: f64) {
        if self.tempo_bpm != Some(bpm)
            && let Some((_, session)) = &self.hearing
        {
            session.audition.set_tempo(bpm);
        }
        self.tempo_bpm = Some(bpm);
    }

    /// Shows the panel in the space that is left.
    pub fn show(&mut self, ui: &mut Ui, desk: &mut Desk, palette: &Palette) {
        let Some(owner) = desk.owner() else {
            ui.label("Add a cell first: what can be done with it is then listed here.");
            return;
        };
        self.tools(ui);
        let subject = || Some(Subject::of(&desk.shown.checked, desk.chosen_cell()?));
        settings::show(&mut self.settings, ui, self.tool, desk.score(), palette);
        let question = Question {
            stamp: desk.stamp(),
            owner: owner.clone(),
            tool: self.tool,
            settings: self.settings.clone(),
            dots: (ui.pixels_per_point() * 1_000.0).round() as u32,
        };
        self.work(ui, &question, subject);
        if self.hearing.is_some() && !desk.session().audition.is_playing() {
            self.hearing = None;
        }
        let Some((_, (answer, pictures))) = self.answer.as_ref().filter(|(q, _)| *q == question)
        else {
            ui.label(RichText::new("Working it out…").color(palette.dim));
            return;
        };
        let mut wanted = None;
        let prime = match &owner {
            Owner::Cell(letter) => next_prime(desk.score(), letter),
            Owner::Ostinato(_) => None,
        };
        let shown = Rows {
            palette,
            prime: prime.as_ref(),
            hearing: self.hearing.as_ref().map(|(name, session)| {
                let at = session.audition.position_beats();
                (name.as_str(), at)
            }),
        };
        ScrollArea::vertical()
            .id_salt(("bench tools", self.tool))
            .auto_shrink([false, false])
            .show(ui, |ui| {
                for line in &answer.head {
                    ui.add(Label::new(RichText::new(line).color(palette.ink)).wrap());
                }
                if !answer.as_written.is_empty() {
                    let line = format!("As it is written: {}.", answer.as_written.join("; "));
                    ui.add(Label::new(RichText::new(line).color(palette.dim)).wrap());
                }
                for row in &answer.rows {
                    if let Some(act) = shown.row(ui, row) {
                        wanted = Some((act, None));
                    }
                }
                for (n, proposal) in answer.proposals.iter().enumerate() {
                    let picture = pictures.of(n);
                    if let Some(act) = shown.proposal(ui, proposal, picture, &mut self.open) {
                        wanted = Some((act, Some(proposal.clone())));
                    }
                }
                for line in &answer.foot {
                    let text = RichText::new(line).small().color(palette.dim);
                    ui.add(Label::new(text).wrap());
                }
            });
        if let Some((act, proposal)) = wanted {
            self.act(desk, &owner, prime, &act, proposal);
        }
    }

    /// The names of the tools, the chosen one marked.
    fn tools(&mut self, ui: &mut Ui) {
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 4.0;
            for (tool, name, hint) in Tool::ALL {
                let response = ui.selectable_label(self.tool == tool, name);
                if response.on_hover_text(hint).clicked() {
                    self.tool = tool;
                    self.open = None;
                }
            }
        });
    }

    /// Asks the thread, and takes its answer.
    fn work(&mut self, ui: &Ui, question: &Question, subject: impl Fn() -> Option<Subject>) {
        if let Some(answer) = self.worker.poll()
            && let Some(asked) = self.asked.take()
        {
            let lost = "This could not be worked out. Please tell the makers of Barform.";
            let answer = answer.unwrap_or_else(|_| (Answer::only(lost), Pictures::default()));
            self.answer = Some((asked, answer));
        }
        let known = self.answer.as_ref().is_some_and(|(q, _)| q == question);
        if known || self.worker.is_busy() {
            return;
        }
        let Some(subject) = subject() else { return };
        let (ctx, paints) = (ui.ctx().clone(), ui.ctx().clone());
        let (tool, settings) = (question.tool, question.settings.clone());
        self.asked = Some(question.clone());
        // Without a thread it is tried again in the next frame.
        let _ = self.worker.start(
            "bench tools",
            move || {
                let answer = answer(tool, &settings, &subject);
                let pictures = Pictures::of_all(&paints, &answer.proposals, subject.score.meter);
                (answer, pictures)
            },
            move || ctx.request_repaint(),
        );
    }

    fn act(
        &mut self,
        desk: &mut Desk,
        owner: &Owner,
        prime: Option<Letter>,
        act: &Act,
        proposal: Option<Proposal>,
    ) {
        match (act, proposal) {
            (Act::Show(slot), _) => desk.chosen.slot = *slot,
            (Act::Hear, Some(proposal)) => self.hear(desk, &proposal),
            (Act::Use, Some(proposal)) => {
                self.leave();
                let edit = Edit::Cell(owner.clone(), proposal.edit);
                desk.edit(Spot::Bench, &edit, None);
            }
            (Act::Keep, Some(proposal)) => {
                self.leave();
                if let (Some(prime), Owner::Cell(letter)) = (prime, owner) {
                    keep(desk, letter, &prime, proposal);
                }
            }
            (_, None) => {}
        }
    }

    /// Plays a proposal by itself, or ends it.
    fn hear(&mut self, desk: &mut Desk, proposal: &Proposal) {
        let heard = self.hearing.as_ref().map(|(name, _)| name);
        if heard == Some(&proposal.name) {
            self.leave();
            return;
        }
        let Some(timeline) = alone_timeline(desk.score(), &proposal.cell) else {
            desk.tell("This cell cannot be played by itself: its lengths are too fine.");
            return;
        };
        let own_bpm = || desk.score().tempo.to_f64();
        let tempo_bpm = self.tempo_bpm.unwrap_or_else(own_bpm);
        let session = desk.session().clone();
        session.audition.play(timeline, tempo_bpm, false);
        self.hearing = Some((proposal.name.clone(), session));
    }
}

/// Adds a proposal as a variation that states only what differs: one step.
fn keep(desk: &mut Desk, letter: &Letter, prime: &Letter, proposal: Proposal) {
    let label = format!("Keep {prime}");
    let made = desk.change(Spot::Bench, &label, None, |score| {
        let paste = Paste {
            text: format!("[cell.\"{prime}\"]\nlike = \"{letter}\"\n"),
            at: None,
        };
        let added = Edit::Paste(paste).apply(score)?;
        let edit = CellEdit::Become(proposal.cell);
        *score = Edit::Cell(Owner::Cell(prime.clone()), edit)
            .apply(&added.score)?
            .score;
        Ok(())
    });
    if made.is_some() {
        desk.tell(format!(
            "{} is kept as a variation of {}: put it in the form where you want it.",
            words::letter(prime),
            words::letter(letter)
        ));
    }
}

impl Drop for Tools {
    fn drop(&mut self) {
        self.leave();
    }
}
