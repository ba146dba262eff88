//! What is asked, and what about.

use std::sync::OnceLock;

use barform_app::craft::rules::Rules;
use barform_app::music::{Cell, Limb, Voice};
use barform_app::score::Score;
use barform_app::score::edit::Owner;

use super::super::super::desk::Desk;
use super::wishes::Wishes;

/// A part of the craft.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Tool {
    /// Which hand plays which stroke.
    #[default]
    Sticking,
    /// Rudiments that are in it.
    Rudiments,
    /// New cells in its frame.
    Vary,
    /// Other voices.
    Revoice,
    /// Another subdivision, same length.
    Refit,
    /// Another subdivision, same strokes.
    Carry,
    /// How fast it can be played.
    Tempo,
}

impl Tool {
    /// All of them, with the word on the button and what it means.
    pub const ALL: [(Tool, &str, &str); 7] = [
        (
            Tool::Sticking,
            "Sticking",
            "Which hand plays which stroke: several ways, and what each costs the hands",
        ),
        (
            Tool::Rudiments,
            "Rudiments",
            "Which of the 40 International Drum Rudiments are in the cell, and where",
        ),
        (
            Tool::Vary,
            "Vary",
            "New cells in the frame of this one, nearest first",
        ),
        (
            Tool::Revoice,
            "Re-voice",
            "The same strokes on other drums and cymbals",
        ),
        (
            Tool::Refit,
            "Refit",
            "On another subdivision, as long as before: strokes are repeated or left out",
        ),
        (
            Tool::Carry,
            "Carry",
            "On another subdivision with all its strokes: the length changes, and it moves \
             across the bar line",
        ),
        (
            Tool::Tempo,
            "Top tempo",
            "How fast each level of player is asked to be at most, and what limits it",
        ),
    ];
}

/// What is asked: as long as it stays the same, so does the answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// The score it is asked of.
    pub stamp: u64,
    /// The cell.
    pub owner: Owner,
    /// The tool.
    pub tool: Tool,
    /// How.
    pub wishes: Wishes,
    /// Dots of the display for a thousand points, which pictures are made for.
    pub dots: u32,
}

/// What is asked about.
pub struct Subject {
    /// The cell as it plays.
    pub cell: Cell,
    /// Its score without form and cells.
    pub score: Score,
    /// Whether the other foot plays the bass drum somewhere in the score.
    pub double_kick: bool,
}

impl Subject {
    /// The chosen cell.
    pub fn of(desk: &Desk) -> Option<Subject> {
        let score = desk.score();
        let second = |slot: &Vec<barform_app::music::Stroke>| {
            slot.iter()
                .any(|s| s.limb == Limb::HatFoot && s.voice == Voice::Kick)
        };
        let cells = &desk.shown.checked.timeline.variants;
        Some(Subject {
            cell: desk.chosen_cell()?,
            double_kick: cells.iter().flat_map(|c| &c.slots).any(second),
            score: Score {
                title: String::new(),
                sections: Vec::new(),
                cells: Vec::new(),
                ostinatos: Vec::new(),
                ..score.clone()
            },
        })
    }
}

/// The built-in rule sets, read once.
pub fn rules() -> &'static Rules {
    static RULES: OnceLock<Rules> = OnceLock::new();
    RULES.get_or_init(Rules::builtin)
}
