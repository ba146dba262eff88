//! Whether the values of a score go together. Files and edits alike pass here,
//! so that nothing after it can fail on a score.

mod lines;

pub(super) use lines::{Size, long_enough, shortest_allowed, shortest_slot, size};

use super::error::{Fault, Line, Mend, ScoreError, ScoreErrorKind as Kind, Spot, beats, brief};
use super::limits::*;
use super::model::Score;
use super::placements::{Placements, weight};
use super::resolve;
use super::timing::{MAX_LAY_US, Timing};
use crate::music::{Articulation, Beats, Cell, Kit, Voice};
use lines::{check_ostinato, grid, sticking, strikable, voices};
use std::collections::HashSet;

impl Score {
    /// Whether everything in the score goes together; [`Score::parse`] returns
    /// only scores that pass.
    ///
    /// # Errors
    /// The first thing that does not, without a place in a file.
    pub fn check(&self) -> Result<(), ScoreError> {
        check(self).map(|_| ()).map_err(Fault::without_text)
    }

    /// The form written out: every cell in playing order, repeats and
    /// overrides applied.
    ///
    /// # Errors
    /// As [`Score::check`].
    pub fn placements(&self) -> Result<Placements, ScoreError> {
        check(self).map_err(Fault::without_text)
    }
}

/// Checks everything, and writes the form out on the way.
pub(super) fn check(score: &Score) -> Result<Placements, Fault> {
    check_with(score, true)
}

/// As [`check`]; without `bar_lines` those of the forms may fall anywhere.
pub(super) fn check_with(score: &Score, bar_lines: bool) -> Result<Placements, Fault> {
    head(score)?;
    names(score)?;
    let cells = cells(score)?;
    for (i, ostinato) in score.ostinatos.iter().enumerate() {
        check_ostinato(i, ostinato)?;
    }
    voicings(score)?;
    kit(&score.kit)?;
    timing(&score.timing)?;
    Placements::build(score, &cells, bar_lines)
}

fn out_of_range(spot: Spot, what: &str, read: impl ToString, allowed: impl ToString) -> Fault {
    let (read, allowed) = (brief(&read.to_string()), allowed.to_string());
    Fault::new(
        spot,
        Kind::OutOfRange {
            what: what.to_owned(),
            read,
            allowed,
        },
    )
}

fn too_many(spot: Spot, what: &'static str, read: usize, most: usize) -> Fault {
    let (read, most) = (read.to_string(), most as u64);
    Fault::new(
        spot,
        Kind::TooMany {
            what,
            read,
            most,
            mend: Mend::default(),
        },
    )
}

fn timing(timing: &Timing) -> Result<(), Fault> {
    let fault = |what: &str, read: String, allowed: &str| {
        Err(out_of_range(Spot::Timing, what, read, allowed))
    };
    let voices = timing.voices.iter().map(|(v, l)| (v.name().to_owned(), l));
    let limbs = timing
        .limbs
        .iter()
        .map(|(x, l)| (x.letter().to_string(), l));
    let places = timing.places.iter().map(|(p, l)| (p.to_string(), l));
    let all = timing.all.iter().map(|l| ("all".to_owned(), l));
    let mut seen = HashSet::new();
    for (name, lay) in all.chain(voices).chain(limbs).chain(places) {
        let most = MAX_LAY_US;
        if !(-most..=most).contains(&lay.mean_us) || !(0..=most).contains(&lay.spread_us) {
            let read = format!("{} and {} µs", lay.mean_us, lay.spread_us);
            return fault(
                "a timing",
                read,
                "a second either way, and a spread up to one",
            );
        }
        if lay.strokes == 0 || u64::from(lay.strokes) > MAX_STROKES {
            let read = format!("of {} strokes", lay.strokes);
            return fault("a timing", read, "1 to 2000000 strokes");
        }
        if !seen.insert(name.clone()) || name == Voice::Click.name() {
            return fault(
                "a name in the timing",
                name,
                "each drum, limb and place once",
            );
        }
    }
    for (place, _) in &timing.places {
        if *place < Beats::ZERO || *place >= Beats::whole(64) || !writable(*place) {
            let allowed = "0 up to, but not including, 64 beats";
            return fault("a place in the timing", place.to_string(), allowed);
        }
    }
    Ok(())
}

/// Whether a score file can hold it.
fn writable(time: Beats) -> bool {
    time.numer().abs() <= MAX_TERM && time.denom() <= MAX_TERM
}

fn head(score: &Score) -> Result<(), Fault> {
    text(Spot::Title, "the title", &score.title)?;
    let tempo = score.tempo;
    if tempo < Beats::whole(20) || tempo > Beats::whole(400) || !writable(tempo) {
        let allowed = if writable(tempo) {
            "20 to 400 beats per minute".to_owned()
        } else {
            format!("a fraction with terms of at most {MAX_TERM}")
        };
        return Err(out_of_range(Spot::Tempo, "the tempo", tempo, allowed));
    }
    let first = score
        .sections
        .first()
        .and_then(|s| s.meter)
        .unwrap_or(score.meter);
    if score.pickup < Beats::ZERO || score.pickup >= first.bar() || !writable(score.pickup) {
        let allowed = format!(
            "0 up to, but not including, a bar of {first} ({})",
            beats(first.bar())
        );
        return Err(out_of_range(
            Spot::Pickup,
            "the pickup",
            score.pickup,
            allowed,
        ));
    }
    Ok(())
}

fn text(spot: Spot, what: &str, text: &str) -> Result<(), Fault> {
    if text.chars().count() > MAX_NAME_CHARS || text.chars().any(char::is_control) {
        let allowed = format!("one line of at most {MAX_NAME_CHARS} characters");
        return Err(out_of_range(
            spot,
            what,
            format!("'{}'", text.escape_debug()),
            allowed,
        ));
    }
    Ok(())
}

/// A name that brackets in a form can hold.
fn word(spot: Spot, what: &str, name: &str) -> Result<(), Fault> {
    let fits = |c: char| c.is_alphanumeric() || c == '-' || c == '_';
    if name.is_empty() || name.chars().count() > MAX_NAME_CHARS || !name.chars().all(fits) {
        let allowed = format!("letters, digits, - and _, at most {MAX_NAME_CHARS}");
        let read = format!("'{}'", brief(name).escape_debug());
        return Err(out_of_range(spot, what, read, allowed));
    }
    Ok(())
}

fn names(score: &Score) -> Result<(), Fault> {
    if score.sections.is_empty() {
        let kind = Kind::Missing {
            what: "section".into(),
            within: "the score".into(),
            allowed: "there is at least one".into(),
            mend: Mend::default(),
        };
        return Err(Fault::new(Spot::File, kind));
    }
    for (what, many, most, spot) in [
        (
            "sections",
            score.sections.len(),
            MAX_SECTIONS,
            Spot::Section(MAX_SECTIONS),
        ),
        (
            "cells",
            score.cells.len(),
            MAX_CELLS,
            Spot::Cell(MAX_CELLS, Line::Head),
        ),
        (
            "ostinatos",
            score.ostinatos.len(),
            MAX_OSTINATOS,
            Spot::Ostinato(MAX_OSTINATOS, Line::Head),
        ),
        (
            "voicings",
            score.voicings.len(),
            MAX_VOICINGS,
            Spot::Voicing(MAX_VOICINGS),
        ),
    ] {
        if many > most {
            return Err(too_many(spot, what, many, most));
        }
    }
    let mut seen = HashSet::new();
    for (i, cell) in score.cells.iter().enumerate() {
        once(
            &mut seen,
            "cell",
            cell.letter.as_str(),
            Spot::Cell(i, Line::Head),
        )?;
    }
    seen.clear();
    for (i, ostinato) in score.ostinatos.iter().enumerate() {
        let spot = Spot::Ostinato(i, Line::Head);
        word(spot, "the name of an ostinato", &ostinato.name)?;
        once(&mut seen, "ostinato", &ostinato.name, spot)?;
    }
    seen.clear();
    for (i, voicing) in score.voicings.iter().enumerate() {
        word(Spot::Voicing(i), "the name of a voicing", &voicing.name)?;
        once(&mut seen, "voicing", &voicing.name, Spot::Voicing(i))?;
    }
    for (i, section) in score.sections.iter().enumerate() {
        text(Spot::Section(i), "the name of a section", &section.name)?;
    }
    Ok(())
}

fn once<'s>(
    seen: &mut HashSet<&'s str>,
    what: &'static str,
    name: &'s str,
    spot: Spot,
) -> Result<(), Fault> {
    if seen.insert(name) {
        return Ok(());
    }
    Err(Fault::new(
        spot,
        Kind::Twice {
            what,
            name: name.to_owned(),
        },
    ))
}

/// All cells resolved, or what is wrong with one.
pub(super) fn cells(score: &Score) -> Result<Vec<Cell>, Fault> {
    for (i, def) in score.cells.iter().enumerate() {
        let spot = |line| Spot::Cell(i, line);
        let owner = || format!("cell {}", def.letter);
        if let Some(written) = &def.grid {
            grid(spot(Line::Grid), &owner(), written)?;
        }
        sticking(
            spot(Line::Sticking),
            &owner(),
            def.sticking.as_deref().unwrap_or_default(),
        )?;
        voices(
            spot(Line::Voices),
            &owner(),
            def.voices.as_deref().unwrap_or_default(),
        )?;
    }
    let sources = resolve::sources(score)?;
    let mut cells = Vec::with_capacity(score.cells.len());
    let mut strokes = 0_u64;
    for (i, sources) in sources.into_iter().enumerate() {
        let cell = resolve::resolve(score, i, sources)?;
        strokes = strokes.saturating_add(weight(&cell));
        if strokes > MAX_STROKES {
            let kind = Kind::TooMany {
                what: "strokes in all cells together",
                read: format!("{strokes} or more"),
                most: MAX_STROKES,
                mend: Mend(Some("remove variations of long cells".into())),
            };
            return Err(Fault::new(Spot::Cell(i, Line::Head), kind));
        }
        cells.push(cell);
    }
    Ok(cells)
}

fn voicings(score: &Score) -> Result<(), Fault> {
    for (i, voicing) in score.voicings.iter().enumerate() {
        let spot = Spot::Voicing(i);
        for (part, (from, to)) in voicing.map.iter().enumerate() {
            if voicing.map[..part].iter().any(|(other, _)| other == from) {
                let kind = Kind::Twice {
                    what: "voice of a voicing",
                    name: from.name().into(),
                };
                return Err(Fault::part(spot, part, kind));
            }
            if *from == Voice::Click || !strikable(*to) {
                let kind = Kind::OutOfRange {
                    what: format!("an entry of voicing {}", voicing.name),
                    read: format!("{} to {}", from.name(), to.voice.name()),
                    allowed: "a voice of the kit to a voice and one of its articulations".into(),
                };
                return Err(Fault::part(spot, part, kind));
            }
        }
    }
    Ok(())
}

pub(super) fn kit(kit: &Kit) -> Result<(), Fault> {
    if kit.order.is_empty() {
        let kind = Kind::Missing {
            what: "order".into(),
            within: "the kit".into(),
            allowed: "write for example order = \"hat snare tom1 tom3 ride\"".into(),
            mend: Mend::default(),
        };
        return Err(Fault::new(Spot::KitOrder, kind));
    }
    for (i, voice) in kit.order.iter().enumerate() {
        if *voice == Voice::Click || kit.order[..i].contains(voice) {
            let kind = Kind::Twice {
                what: "place in the kit's order",
                name: voice.name().into(),
            };
            return Err(Fault::part(Spot::KitOrder, i, kind));
        }
    }
    for voice in super::read::every_voice() {
        let keys = &kit.voice(voice).keys;
        let foreign = |(i, _): (usize, _)| !voice.articulations().iter().any(|a| a.index() == i);
        let stray = keys
            .iter()
            .enumerate()
            .filter(|(_, k)| k.is_some())
            .any(foreign);
        if stray || keys[Articulation::Plain.index()].is_none() {
            let kind = Kind::OutOfRange {
                what: format!("the keys of {}", voice.name()),
                read: if stray {
                    "one too many"
                } else {
                    "without a plain one"
                }
                .into(),
                allowed: "a plain key, and one for each articulation it has".into(),
            };
            return Err(Fault::new(Spot::KitVoice(voice), kind));
        }
    }
    Ok(())
}
