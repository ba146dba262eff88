//! The plan: what is practised, at which tempos, with which click and silences.
//!
//! A plan is a file of its own, so that several go with one score and a score is
//! read alike by whoever does not practise. It says `barform = 1` and has one
//! table, `[practice]`; what it leaves out is as in [`Plan::default`].

mod error;
mod lists;
mod propose;
mod read;
mod steps;
mod text;

pub use error::PlanError;
pub use lists::{Fade, Gap, Layer, Part, Play, Stay, Then, Turn, TurnOf};
pub use propose::ProposeError;
pub use steps::{MAX_STEPS, Steps, StepsError};
pub use text::{Named, Percent, TextError, Words};

use barform_score::music::{Articulation, Beats, Letter, Subdivision, Voice};
use barform_score::score::VoiceToken;
use serde::{Deserialize, Serialize};

/// A practice plan over any score.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub struct Plan {
    /// What is played, round and round.
    pub play: Play,
    /// Tempo steps.
    pub tempo: Steps,
    /// How long each step lasts.
    pub each: Stay,
    /// What follows the last step.
    pub then: Then,
    /// What is counted ahead.
    pub count_in: CountIn,
    /// The click.
    pub click: Click,
    /// Bars that fall silent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gaps: Option<Gaps>,
    /// Who plays when.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trading: Option<Trading>,
    /// What is heard at first, and what is added.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layers: Option<Layers>,
    /// How joins are cut.
    pub join: JoinCut,
    /// How forms are drawn.
    pub drawn: Drawn,
}

/// What is counted ahead of the music.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub struct CountIn {
    /// Bars, `0 ..= 16`; ahead of a pickup, what its bar lacks as well.
    pub bars: u8,
    /// In the last bar this subdivision is clicked too.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last: Option<Named<Subdivision>>,
    /// Count in again at every tempo step, and start from the top.
    pub every_step: bool,
}

impl Default for CountIn {
    fn default() -> Self {
        CountIn {
            bars: 1,
            last: None,
            every_step: false,
        }
    }
}

/// The click: where, how loud, on what.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub struct Click {
    /// Not at all; also silent in the count-in.
    pub off: bool,
    /// What is clicked besides bar lines and beats.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on: Option<Named<Subdivision>>,
    /// On the bar line.
    #[serde(skip_serializing_if = "ClickSound::is_of_kit")]
    pub bar: ClickSound,
    /// On every other beat.
    #[serde(skip_serializing_if = "ClickSound::is_of_kit")]
    pub beat: ClickSound,
    /// On the slots of the subdivision between.
    #[serde(skip_serializing_if = "ClickSound::is_of_kit")]
    pub between: ClickSound,
    /// MIDI channel of the click, `1 ..= 16`; that of the sound's voice if none
    /// is stated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub channel: Option<u8>,
    /// It grows softer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fade: Option<Fade>,
}

/// One of the click's sounds; what it leaves out is the kit's click.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub struct ClickSound {
    /// Velocity, `1 ..= 127`, or 0 for silence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub level: Option<u8>,
    /// A voice of the kit, such as `cowbell` or `hat:bell`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sound: Option<Named<VoiceToken>>,
    /// MIDI key, `0 ..= 127`, instead of the voice's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub key: Option<u8>,
}

/// Bars that fall silent, so that the time is kept without help.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Gaps {
    /// How many bars of how many: the last ones of each round.
    pub bars: Gap,
    /// What is silent there.
    #[serde(default = "click_only")]
    pub silent: Vec<Part>,
    /// Bars more with each round; one bar in each round is always heard.
    #[serde(default)]
    pub grow: u8,
}

fn click_only() -> Vec<Part> {
    vec![Part::Click]
}

/// Barform plays, then the player. Where it is the player's turn the form is
/// left open over ostinato and click.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub struct Trading {
    /// Turns in order, over and over; none for letters alone.
    #[serde(skip_serializing_if = "Vec::is_empty", with = "text::turns")]
    pub turns: Vec<Turn>,
    /// Letters that are always the player's.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub player: Vec<Named<Letter>>,
}

/// A part at a time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub struct Layers {
    /// The layers in the order in which they come.
    pub order: Vec<Layer>,
    /// One more after so many passes, at least 1.
    #[serde(default = "one")]
    pub every: u16,
}

fn one() -> u16 {
    1
}

/// How the last beats of one letter and the first of the next are cut out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub struct JoinCut {
    /// Beats of each letter, above zero; a shorter letter is played whole.
    pub beats: Named<Beats>,
    /// Speed against the tempo of the step.
    pub rate: Percent,
}

impl Default for JoinCut {
    fn default() -> Self {
        JoinCut {
            beats: Named(Beats::ONE),
            rate: Percent(Beats::whole(100)),
        }
    }
}

/// Forms drawn at random under rules; the same seed draws the same forms.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub struct Drawn {
    /// The letters to draw from; all without a parent if none are stated.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub letters: Vec<Named<Letter>>,
    /// Length of each form in bars of the score's meter, `1 ..= 64`.
    pub bars: u8,
    /// How many forms are drawn, `1 ..= 999`, each for one pass; then over again.
    pub forms: u16,
    /// No letter more often in a row, at least 1.
    pub in_a_row: u8,
    /// Letters that every form must contain.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub contain: Vec<Named<Letter>>,
    /// Every form starts with it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start: Option<Named<Letter>>,
    /// Every form ends with it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end: Option<Named<Letter>>,
    /// A letter must begin on every bar line.
    pub on_bar_lines: bool,
    /// The seed of the draw.
    pub seed: u32,
}

impl Default for Drawn {
    fn default() -> Self {
        Drawn {
            letters: Vec::new(),
            bars: 4,
            forms: 8,
            in_a_row: 2,
            contain: Vec::new(),
            start: None,
            end: None,
            on_bar_lines: true,
            seed: 1,
        }
    }
}

impl ClickSound {
    /// Whether nothing is stated.
    pub fn is_of_kit(&self) -> bool {
        *self == ClickSound::default()
    }

    /// The voice it sounds with, if it is not the kit's click.
    pub fn voice(&self) -> Option<(Voice, Articulation)> {
        self.sound.map(|Named(t)| (t.voice, t.articulation))
    }
}
