//! How fast a cell can be played.

use barform_app::craft::line::Line;
use barform_app::craft::playable::Playable;
use barform_app::music::Beats;

use super::super::answer::{Answer, Row};
use super::super::question::{Subject, rules};
use super::super::wishes::Wishes;

/// The top tempo of each level, with what limits it.
pub fn answer(wishes: &Wishes, subject: &Subject) -> Result<Answer, String> {
    let (cell, score) = (&subject.cell, &subject.score);
    let setup = rules().sticking.setup(&wishes.setup, &score.kit);
    let setup = setup.map_err(|e| e.problem.to_string())?;
    let line = Line::from_cells([cell]).map_err(|e| e.to_string())?;
    let playable = Playable::new(&line.strokes, Some(line.length), &setup, &rules().sticking);
    let levels = &rules().levels;
    let mut answer = Answer::default();
    answer.head.push(format!(
        "Top tempo, looped, with this sticking. The score is at {} bpm.",
        score.tempo.to_f64()
    ));
    for level in levels.all() {
        let top = playable
            .top_tempo(level, levels)
            .map_err(|e| e.to_string())?;
        let fits = |bpm: u32| Beats::whole(i64::from(bpm)) >= score.tempo;
        let name = match top.bpm {
            None => format!("{}: no tempo", level.name),
            Some(bpm) if fits(bpm) => format!("{}: {bpm} bpm", level.name),
            Some(bpm) => format!("{}: {bpm} bpm, below the score's", level.name),
        };
        answer.rows.push(Row {
            name,
            text: top.sentence(level, &line),
            slot: top
                .limit
                .and_then(|limit| Some(line.places.get(limit.first)?.slot)),
        });
    }
    answer.foot.push(
        "Limits, not targets: warm up, raise the tempo in small steps, stop at pain or \
         numbness. A teacher who sees you play, or a physician, knows better than a table."
            .to_owned(),
    );
    Ok(answer)
}
