//! Files that this program wrote: letters, lead-in, ostinatos.

use super::{Plan, Reading};
use crate::import::midi::Report;
use crate::import::midi::bars;
use crate::import::midi::cells::lines;
use crate::import::midi::cut::{Known, Stretch, Timed};
use crate::import::midi::file::File;
use crate::import::midi::ostinato::cycle;
use crate::import::midi::slots::{Loudness, content};
use crate::import::{ImportError, RemarkKind, Remarks};
use barform_score::music::{Beats, Letter, Meter, Voice};
use barform_score::score::{MAX_CELL_BEATS, MAX_OSTINATOS, Ostinato};
use std::collections::BTreeMap;

const HANDS: &str = "Hands";
const FEET: &str = "Feet";
const CLICK: &str = "Click";
const OSTINATO: &str = "Ostinato: ";

/// Whether a track's notes are the form's.
pub(super) fn is_form(track: &str) -> bool {
    matches!(track, HANDS | FEET)
}

/// Whether a track's notes are the feet's.
pub(super) fn foot(track: &str) -> bool {
    track == FEET
}

/// Whether a track's notes are the click's.
pub(super) fn is_click(track: &str) -> bool {
    track == CLICK
}

/// Whether a file has the shape of ours: letters in its markers, and only our
/// tracks.
pub(super) fn is_own(file: &File) -> bool {
    let known = |name: &str| is_form(name) || name == CLICK || name.starts_with(OSTINATO);
    let notes = file.tracks.iter().filter(|t| t.notes > 0);
    let first = file.tracks.first().is_some_and(|t| t.notes == 0);
    let names = notes.clone().all(|t| known(&t.name));
    let Some(start) = letters(file).first().map(|(tick, _)| *tick) else {
        return false;
    };
    let played = file
        .notes
        .iter()
        .find(|n| is_form(&file.tracks[n.track].name));
    // Grace notes may come before the first letter, at most by their time.
    let early = u64::from(i64::from(file.us_per_quarter) > 0) * file_beat_ticks(file);
    first && names && played.is_none_or(|n| n.tick.saturating_add(early) >= start)
}

/// Ticks of a beat, rounded up.
fn file_beat_ticks(file: &File) -> u64 {
    let (n, d) = (file.per_tick.numer(), file.per_tick.denom());
    (d / n.max(1) + 1).unsigned_abs()
}

/// The letters with their ticks: of several marks at one tick, the last one.
fn letters(file: &File) -> Vec<(u64, Letter)> {
    let at_once = file.marks.chunk_by(|a, b| a.0 == b.0);
    at_once
        .filter_map(|marks| {
            let (tick, text) = marks.last()?;
            Some((*tick, Letter::new(text)?))
        })
        .collect()
}

impl Reading<'_> {
    /// Bars and cells as the markers say.
    pub(super) fn own_plan(
        &self,
        report: &mut Report,
        remarks: &mut Remarks,
    ) -> Result<Plan, ImportError> {
        let letters = letters(self.file);
        let first_tick = letters.first().map_or(0, |(tick, _)| *tick);
        let meter = self
            .file
            .signatures
            .first()
            .map_or(Meter::FOUR_FOUR, |s| s.1);
        let file_start = self.clock.beats(first_tick)?;
        let bar = meter.bar();
        let into = self.time(file_start, Beats::ZERO)?.checked_rem(bar)?;
        let pickup = if into.is_zero() {
            Beats::ZERO
        } else {
            bar.checked_sub(into)?
        };
        let empty = file_start.checked_div(bar)?.floor();
        report.empty_bars = u32::try_from(empty).unwrap_or(u32::MAX);
        if empty > 0 {
            let what = format!("{empty} empty bars ahead of the form");
            remarks.add(RemarkKind::NotKept, None, what);
        }
        let mut stretches = Vec::with_capacity(letters.len());
        let mut at = Beats::ZERO;
        let mut ticks: Vec<u64> = letters.iter().map(|(tick, _)| *tick).collect();
        ticks.push(self.file.end);
        for (i, (tick, letter)) in letters.into_iter().enumerate() {
            let begins = self.clock.beats(tick)?.checked_sub(file_start)?;
            let ends = self.clock.beats(ticks[i + 1])?.checked_sub(file_start)?;
            let length = self.time(ends, at)?;
            if !length.is_positive() {
                continue;
            }
            if length > Beats::whole(MAX_CELL_BEATS) {
                return Err(ImportError::TooMuch(format!(
                    "letter {letter} lasts more than {MAX_CELL_BEATS} beats"
                )));
            }
            stretches.push(Stretch {
                letter: Some(letter),
                start: at,
                file_start: begins,
                length,
                unit: Beats::ONE,
                strokes: Vec::new(),
            });
            at = at.checked_add(length)?;
        }
        let tolerance = self.clock.per_tick;
        let starts: std::collections::BTreeSet<Beats> = stretches.iter().map(|s| s.start).collect();
        let bars = bars::draw(
            &self.file.signatures,
            self.clock,
            bars::Frame {
                origin: file_start,
                pickup,
                end: at,
                tolerance,
            },
            |at| starts.contains(&at),
            remarks,
        )?;
        let names = self.own_names(&stretches, file_start)?;
        Ok(Plan {
            bars,
            pickup,
            stretches,
            names,
            origin: file_start,
        })
    }

    /// The time from `from` to `to`. Where the file's ticks are too coarse for
    /// it to be anything usual, the plainest fraction within a tick.
    fn time(&self, to: Beats, from: Beats) -> Result<Beats, ImportError> {
        let exact = to.checked_sub(from)?;
        // Where all times are whole ticks, the writer takes a multiple of 960.
        if self.clock.per_tick.numer() != 1 || self.clock.per_tick.denom() % 960 == 0 {
            return Ok(exact);
        }
        if !exact.is_positive() || exact.denom() <= 960 {
            return Ok(exact);
        }
        let tick = self.clock.per_tick;
        for denom in 1..=960 {
            let near = exact.checked_mul(Beats::whole(denom))?;
            let near = near.checked_add(Beats::new(1, 2))?.floor();
            let plain = Beats::new(near, denom);
            if plain.is_positive() && bars::near(plain, exact, tick)? {
                return Ok(plain);
            }
        }
        Ok(exact)
    }

    /// Section names: the marks ahead of a letter at its tick.
    fn own_names(
        &self,
        stretches: &[Stretch],
        origin: Beats,
    ) -> Result<BTreeMap<usize, String>, ImportError> {
        let mut names = BTreeMap::new();
        for marks in self.file.marks.chunk_by(|a, b| a.0 == b.0) {
            let at = self.clock.beats(marks[0].0)?.checked_sub(origin)?;
            let stretch = stretches.partition_point(|s| s.file_start < at);
            let here = stretches.get(stretch).is_some_and(|s| s.file_start == at);
            let name = marks.split_last().and_then(|(_, before)| before.last());
            if let (Some((_, name)), true) = (name, here) {
                names.insert(stretch, name.clone());
            }
        }
        Ok(names)
    }

    /// The ostinatos, a track each.
    pub(super) fn own_ostinatos(
        &self,
        plan: &Plan,
        tempo: Beats,
        report: &mut Report,
        remarks: &mut Remarks,
    ) -> Result<Vec<Ostinato>, ImportError> {
        let mut all = Vec::new();
        let start = self.file.marks.first().map_or(0, |(tick, _)| *tick);
        let scale = self.scale()?;
        for (number, track) in self.file.tracks.iter().enumerate() {
            let Some(name) = track.name.strip_prefix(OSTINATO) else {
                continue;
            };
            let notes = self.file.notes.iter().filter(|n| n.track == number);
            let mut hits = Vec::new();
            for note in notes {
                hits.extend(self.hit(note, Some(false), remarks));
            }
            let mut strokes = self.strokes(&hits);
            for stroke in &mut strokes {
                let pedal = matches!(stroke.hit.voice, Voice::Kick | Voice::HatFoot);
                // Grace notes and buzz are for hands.
                stroke.hit.foot = pedal && stroke.graces == 0 && stroke.bounces.is_none();
            }
            let begin = strokes.first().map_or(start, |s| s.hit.tick.min(start));
            let ticks = cycle(&strokes, begin, self.file.end);
            let length = self.time(self.clock.beats(ticks)?, Beats::ZERO)?;
            if length > Beats::whole(MAX_CELL_BEATS) || !length.is_positive() {
                let what = format!("ostinato {name}: no cycle of at most {MAX_CELL_BEATS} beats");
                remarks.add(RemarkKind::NotKept, None, what);
                continue;
            }
            if all.len() >= MAX_OSTINATOS {
                let what = "an ostinato beyond the most of them";
                remarks.add(RemarkKind::NotKept, None, what);
                continue;
            }
            report.strokes += strokes.len();
            let mut inside = Vec::new();
            for played in strokes.into_iter().filter(|s| s.hit.tick < begin + ticks) {
                let at = self
                    .clock
                    .beats(played.hit.tick)?
                    .checked_sub(plan.origin)?;
                inside.push(Timed {
                    at,
                    played_at: at,
                    played,
                });
            }
            let stretch = Stretch {
                letter: Letter::new("A"),
                start: Beats::ZERO,
                file_start: Beats::ZERO,
                length,
                unit: Beats::ONE,
                strokes: inside,
            };
            let gridded = stretch.on_grid(&scale, super::drum, &mut Known::new(), 1, remarks)?;
            let loudness = Loudness::Nearest;
            let content = content(self.kit, &gridded, &stretch.strokes, loudness, 1, remarks);
            let (sticking, voices) = lines(&content, tempo, self.kit);
            all.push(Ostinato {
                name: free_name(name, &all),
                grid: content.grid,
                sticking,
                voices,
            });
        }
        Ok(all)
    }
}

/// A name that a form can hold and no other ostinato has.
fn free_name(name: &str, others: &[Ostinato]) -> String {
    let fits = |c: char| c.is_alphanumeric() || c == '-' || c == '_';
    let plain: String = name
        .chars()
        .map(|c| if fits(c) { c } else { '-' })
        .collect();
    let plain = if plain.is_empty() {
        "ostinato".into()
    } else {
        plain
    };
    let taken = |name: &str| others.iter().any(|o| o.name == name);
    let numbered = (2..).map(|n| format!("{}-{n}", plain.chars().take(180).collect::<String>()));
    std::iter::once(plain.clone())
        .chain(numbered)
        .find(|name| !taken(name))
        .unwrap_or(plain)
}
