//! A plan from a file and from options.

use crate::failure::Failure;
use crate::input::ScoreFile;
use barform_app::answers::plan_for_level;
use barform_app::music::{Letter, Subdivision};
use barform_app::practice::history::{History, worst_joins};
use barform_app::practice::plan::{
    Fade, Gap, Gaps, Layer, Layers, Named, Part, Percent, Plan, Play, Stay, Steps, Then, Trading,
    Turn,
};
use barform_app::practice::schedule::{Ornaments, Schedule};
use barform_app::score::Score;
use std::path::PathBuf;

/// Which plan; options override the plan file.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "What is practised")]
pub struct PlanArgs {
    /// A plan file; the options below override it
    #[arg(long, value_name = "FILE")]
    pub plan: Option<PathBuf>,
    /// form, 'letter A', 'bars 3 to 6', 'join A B', joins or drawn
    #[arg(long, value_name = "WHAT")]
    pub play: Option<Play>,
    /// Tempo steps: '60 70 80', '60 to 120 by 5', '50% to 100% by 10% of 120'
    #[arg(short, long, value_name = "STEPS")]
    pub tempo: Option<Steps>,
    /// Propose the steps for a level: beginner, intermediate, advanced, professional
    #[arg(long, value_name = "LEVEL", conflicts_with = "tempo")]
    pub level: Option<String>,
    /// How long each step lasts: '2 passes', '8 bars'
    #[arg(long, value_name = "LENGTH")]
    pub each: Option<Stay>,
    /// What follows the last step: end, down or 'hold 4'
    #[arg(long, value_name = "WHAT")]
    pub then: Option<Then>,
    /// Bars of count-in
    #[arg(long, value_name = "BARS")]
    #[arg(value_parser = clap::value_parser!(u8).range(0..=16))]
    pub count_in: Option<u8>,
    /// Click this subdivision too in the last bar of the count-in
    #[arg(long, value_name = "SUBDIVISION")]
    pub count_last: Option<Named<Subdivision>>,
    /// Count in again at every step, and start from the top
    #[arg(long)]
    pub count_every: bool,
    /// No click
    #[arg(long, conflicts_with = "click")]
    pub no_click: bool,
    /// Click a subdivision besides the beats, such as 8ths
    #[arg(long, value_name = "SUBDIVISION")]
    pub click: Option<Named<Subdivision>>,
    /// The click grows softer: '20% every 4 bars'
    #[arg(long, value_name = "FADE")]
    pub fade: Option<Fade>,
    /// Bars that fall silent: '1 of 4'
    #[arg(long, value_name = "BARS")]
    pub gaps: Option<Gap>,
    /// What is silent there: click, ostinato, form or all (several with commas)
    #[arg(long, value_name = "WHAT", value_delimiter = ',', requires = "gaps")]
    pub silent: Vec<Part>,
    /// How many more bars fall silent in each round
    #[arg(long, value_name = "BARS", requires = "gaps")]
    pub grow: Option<u8>,
    /// Who plays when: 'barform 4 bars, player 4 bars', 'barform 2 bars, echo'
    #[arg(long, value_name = "TURNS", value_parser = turns)]
    pub trade: Option<Turns>,
    /// Letters left to the player (several with commas)
    #[arg(long, value_name = "LETTERS", value_delimiter = ',')]
    pub player: Vec<Named<Letter>>,
    /// Layers in the order in which they come: hands, feet, ostinato, accents, R,
    /// L, K, H, a voice, or all
    #[arg(long, value_name = "LAYERS", value_delimiter = ',')]
    pub layers: Vec<Layer>,
    /// Add a layer after this many passes
    #[arg(long, value_name = "PASSES", requires = "layers")]
    #[arg(value_parser = clap::value_parser!(u16).range(1..=9999))]
    pub every: Option<u16>,
    /// Joins: beats of each letter
    #[arg(long, value_name = "BEATS", value_parser = crate::args::beats)]
    pub join_beats: Option<barform_app::music::Beats>,
    /// Joins: speed against the tempo, such as 80%
    #[arg(long, value_name = "SHARE")]
    pub join_rate: Option<Percent>,
    /// Drawn forms: the same seed draws the same forms
    #[arg(long, value_name = "N")]
    pub seed: Option<u32>,
}

/// Turns in order.
#[derive(Debug, Clone)]
pub struct Turns(Vec<Turn>);

fn turns(text: &str) -> Result<Turns, String> {
    Turn::list(text).map(Turns).map_err(|e| e.to_string())
}

impl PlanArgs {
    /// The file's plan with the options in place of what it says.
    pub fn plan(&self) -> Result<Plan, Failure> {
        let mut plan = match &self.plan {
            None => Plan::default(),
            Some(path) => {
                let (name, text) = crate::input::text(path)?;
                let told = |e: barform_app::practice::plan::PlanError| {
                    Failure::Score(format!("{e}\n{}", e.excerpt.trim_end()))
                };
                Plan::parse(&text, &name).map_err(told)?
            }
        };
        fn put<T: Clone>(to: &mut T, from: &Option<T>) {
            if let Some(value) = from {
                *to = value.clone();
            }
        }
        put(&mut plan.play, &self.play);
        put(&mut plan.tempo, &self.tempo);
        put(&mut plan.each, &self.each);
        put(&mut plan.then, &self.then);
        put(&mut plan.count_in.bars, &self.count_in);
        plan.count_in.last = self.count_last.clone().or(plan.count_in.last);
        plan.count_in.every_step |= self.count_every;
        plan.click.off |= self.no_click;
        plan.click.on = self.click.clone().or(plan.click.on);
        plan.click.fade = self.fade.or(plan.click.fade);
        if let Some(bars) = self.gaps {
            let silent = if self.silent.is_empty() {
                vec![Part::Click]
            } else {
                self.silent.clone()
            };
            let grow = self.grow.unwrap_or(0);
            plan.gaps = Some(Gaps { bars, silent, grow });
        }
        if self.trade.is_some() || !self.player.is_empty() {
            let mut trading: Trading = plan.trading.unwrap_or_default();
            if let Some(Turns(turns)) = &self.trade {
                trading.turns = turns.clone();
            }
            if !self.player.is_empty() {
                trading.player = self.player.clone();
            }
            plan.trading = Some(trading);
        }
        if !self.layers.is_empty() {
            let (order, every) = (self.layers.clone(), self.every.unwrap_or(1));
            plan.layers = Some(Layers { order, every });
        }
        if let Some(beats) = self.join_beats {
            plan.join.beats = Named(beats);
        }
        put(&mut plan.join.rate, &self.join_rate);
        put(&mut plan.drawn.seed, &self.seed);
        plan.check()
            .map_err(|(_, problem)| Failure::Usage(problem))?;
        Ok(plan)
    }

    /// The plan over a score: with the steps proposed for a level, if one is named.
    pub fn plan_over(&self, score: &Score) -> Result<Plan, Failure> {
        let plan = self.plan()?;
        match &self.level {
            None => Ok(plan),
            Some(level) => Ok(plan_for_level(plan, score, level)?),
        }
    }

    /// The schedule over a score; joins in the order of the history, if there is
    /// one, the worst first.
    pub fn schedule(
        &self,
        file: &ScoreFile,
        history: Option<&History>,
    ) -> Result<Schedule, Failure> {
        let plan = self.plan_over(file.score())?;
        let sessions = match history {
            Some(history) if plan.play == Play::Joins => super::today::read(history)?,
            _ => Vec::new(),
        };
        let first = worst_joins(&sessions, &super::today::title(file));
        Schedule::new(&plan, file.score(), &first).map_err(Failure::export)
    }
}

/// Times of ornaments.
#[derive(Debug, clap::Args)]
pub struct OrnamentArgs {
    /// Milliseconds between grace notes
    #[arg(long, default_value_t = barform_app::export::Options::default().grace_ms, value_name = "MS", value_parser = grace)]
    pub grace: f64,
    /// Milliseconds between the bounces of a buzz
    #[arg(long, default_value_t = barform_app::export::Options::default().buzz_ms, value_name = "MS", value_parser = buzz)]
    pub buzz: f64,
}

impl OrnamentArgs {
    /// As the schedule takes them.
    pub fn times(&self) -> Ornaments {
        Ornaments::of_ms(self.grace, self.buzz)
    }
}

fn grace(text: &str) -> Result<f64, String> {
    within(text, 0.0, 100.0)
}

fn buzz(text: &str) -> Result<f64, String> {
    within(text, 1.0, 1000.0)
}

/// A number within bounds.
pub fn within(text: &str, least: f64, most: f64) -> Result<f64, String> {
    let number = text.parse::<f64>().ok();
    let number = number.filter(|n| (least..=most).contains(n));
    number.ok_or_else(|| format!("a number from {least} to {most} is allowed"))
}
