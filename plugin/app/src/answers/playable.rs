//! How fast something can be played, and what limits it.

use super::{Answer, AnswerError, Row, Subject, ToolSettings, rules, setup};
use crate::craft::line::Line;
use crate::craft::playable::{LimbReport, Playable, Top};
use crate::craft::rules::Rules;
use crate::music::{Beats, Cell, Kit};
use crate::session::CompiledScore;

/// How it is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlayableOptions {
    /// How the kit stands, by its name in the rules.
    pub setup: String,
    /// One level only, by its name in the rules.
    pub level: Option<String>,
    /// Beats a minute that it is to be played at; above zero.
    pub tempo: Beats,
    /// Whether it is played round and round.
    pub looped: bool,
}

/// How fast it can be played, and what each limb is asked for.
#[derive(Debug, Clone)]
pub struct Playability {
    /// Of each level asked about.
    pub levels: Vec<LevelTop>,
    /// Of each limb, at the tempo asked for, once through.
    pub limbs: [LimbReport; 4],
    /// Strokes that get in each other's way at that tempo, a sentence each.
    pub collisions: Vec<String>,
}

/// How fast players of a level can play it.
#[derive(Debug, Clone)]
pub struct LevelTop {
    /// The level.
    pub level: String,
    /// Its top tempo.
    pub top: Top,
    /// What limits it, in a sentence.
    pub why: String,
    /// Whether the tempo asked for is within it.
    pub fits: bool,
}

/// The whole form as a line of strokes, ostinatos included.
///
/// # Errors
/// [`AnswerError::Beats`] if times do not fit.
pub fn form_line(score: &CompiledScore) -> Result<Line, AnswerError> {
    let mut line = Line::from_timeline(&score.timeline)?;
    for ostinato in &score.score().ostinatos {
        line = line.with_ostinato(&ostinato.name, &ostinato.grid, &ostinato.slots())?;
    }
    Ok(line)
}

/// Says how fast a line can be played on a kit.
///
/// # Errors
/// See [`AnswerError`].
pub fn playable(
    rules: &Rules,
    kit: &Kit,
    line: &Line,
    options: &PlayableOptions,
) -> Result<Playability, AnswerError> {
    let setup = setup(rules, &options.setup, kit)?;
    let looped = options.looped.then_some(line.length);
    let playable = Playable::new(&line.strokes, looped, &setup, &rules.sticking);
    let (levels, tempo) = (&rules.levels, options.tempo);
    if let Some(name) = &options.level {
        super::level(rules, name)?;
    }
    if !tempo.is_positive() {
        return Err(AnswerError::Question(format!(
            "a tempo is above 0, {tempo} is not"
        )));
    }
    let wanted = |name: &str| options.level.as_ref().is_none_or(|level| level == name);
    let mut tops = Vec::new();
    for level in levels.all().iter().filter(|level| wanted(&level.name)) {
        let top = playable.top_tempo(level, levels)?;
        let fits = |bpm: u32| Beats::whole(i64::from(bpm)) >= tempo;
        tops.push(LevelTop {
            level: level.name.clone(),
            why: top.sentence(level, line),
            fits: top.bpm.is_some_and(fits),
            top,
        });
    }
    let collisions = playable.collisions(tempo, levels)?;
    Ok(Playability {
        levels: tops,
        limbs: playable.limbs(tempo)?,
        collisions: collisions.iter().map(|c| c.sentence(line)).collect(),
    })
}

/// The top tempo of a cell at a level, in beats a minute; `None` where there is no
/// such tempo, level or set-up.
pub fn top_tempo(
    rules: &Rules,
    kit: &Kit,
    setup_name: &str,
    level: &str,
    cell: &Cell,
    looped: bool,
) -> Result<Option<u32>, AnswerError> {
    let (Some(level), Ok(setup)) = (rules.levels.get(level), setup(rules, setup_name, kit)) else {
        return Ok(None);
    };
    let line = Line::from_cell(cell)?;
    let looped = looped.then_some(line.length);
    let playable = Playable::new(&line.strokes, looped, &setup, &rules.sticking);
    Ok(playable.top_tempo(level, &rules.levels)?.bpm)
}

/// The top tempo of each level, looped.
pub(super) fn rows(settings: &ToolSettings, subject: &Subject) -> Result<Answer, AnswerError> {
    let score = &subject.score;
    let line = Line::from_cells([&subject.cell])?;
    let options = PlayableOptions {
        setup: settings.setup.clone(),
        level: None,
        tempo: score.tempo,
        looped: true,
    };
    let found = playable(rules(), &score.kit, &line, &options)?;
    let mut answer = Answer::only(format!(
        "Top tempo, looped, with this sticking. The score is at {} bpm.",
        score.tempo.to_f64()
    ));
    for LevelTop {
        level,
        top,
        why,
        fits,
    } in found.levels
    {
        let name = match top.bpm {
            None => format!("{level}: no tempo"),
            Some(bpm) if fits => format!("{level}: {bpm} bpm"),
            Some(bpm) => format!("{level}: {bpm} bpm, below the score's"),
        };
        let limit = top.limit.as_ref();
        answer.rows.push(Row {
            name,
            text: why,
            slot: limit.and_then(|limit| Some(line.places.get(limit.first)?.slot)),
        });
    }
    answer.foot.push(
        "Limits, not targets: warm up, raise the tempo in small steps, stop at pain or \
         numbness. A teacher who sees you play, or a physician, knows better than a table."
            .to_owned(),
    );
    Ok(answer)
}
