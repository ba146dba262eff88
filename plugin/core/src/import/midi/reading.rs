//! The course of a reading, from notes to the checked score.

mod own;

use super::bars::{self, Bar, bar_of};
use super::cells::{Cells, Content};
use super::clock::{Clock, tempo};
use super::cut::{Stretch, Timed, at_beats, share};
use super::file::{File, RawNote};
use super::fit::Scale;
use super::form::{Part, Step};
use super::keys::{self, voice_or_relation};
use super::slots::{Loudness, content, percents};
use super::strokes::{Hit, Ornaments, Played};
use super::{Channels, Options, Report};
use crate::import::{ImportError, Imported, RemarkKind, Remarks};
use crate::music::{Beats, Kit, Meter, Voice};
use crate::score::{MAX_NAME_CHARS, MAX_SECTIONS, Score};
use std::collections::BTreeMap;

/// How many places of the first letter are looked at for grace notes that its
/// first place lost.
const LOOK_AHEAD: usize = 16;

/// What all steps of a reading share.
struct Reading<'a> {
    file: &'a File,
    clock: Clock,
    kit: &'a Kit,
    channels: Channels,
    options: &'a Options,
    own: bool,
}

/// A form before it is written: where it is cut and what stands over it.
struct Plan {
    bars: Vec<Bar>,
    pickup: Beats,
    stretches: Vec<Stretch>,
    /// Names by the stretch they stand over.
    names: BTreeMap<usize, String>,
    /// Beat of the file where the form begins.
    origin: Beats,
}

/// Reads a file whose options are checked.
pub(super) fn read(bytes: &[u8], options: &Options) -> Result<(Imported, Report), ImportError> {
    let mut remarks = Remarks::default();
    let file = File::read(bytes, &mut remarks)?;
    let (fits, best) = keys::fits(&options.kits, options.channels, &file.notes);
    let reading = Reading {
        file: &file,
        clock: Clock::of(&file),
        kit: &options.kits[best].kit,
        channels: options.channels,
        options,
        own: options.own_letters && own::is_own(&file),
    };
    reading.tell_keys(&fits, best, &mut remarks)?;
    let mut report = Report {
        kits: fits,
        kit: best,
        strokes: 0,
        largest_error_us: 0,
        own: reading.own,
        empty_bars: 0,
    };
    let score = reading.score(&mut report, &mut remarks)?;
    score.check()?;
    let notes = remarks.into_sorted();
    Ok((Imported { score, notes }, report))
}

impl Reading<'_> {
    /// Remarks on keys and channels.
    fn tell_keys(
        &self,
        fits: &[keys::KitFit],
        best: usize,
        remarks: &mut Remarks,
    ) -> Result<(), ImportError> {
        let fit = &fits[best];
        let others = self.file.notes.len() - fit.notes;
        if fit.known == 0 {
            let mut channels: Vec<u8> = (self.file.notes.iter())
                .map(|n| n.channel.number())
                .collect();
            channels.sort_unstable();
            channels.dedup();
            let channels: Vec<String> = channels.iter().map(u8::to_string).collect();
            let what = match channels.as_slice() {
                [] => "there is no note in the file".to_owned(),
                _ if fit.notes == 0 => format!(
                    "no note on the channels read; there are notes on channel {}",
                    channels.join(", ")
                ),
                _ => format!("no key of the file is on the kit '{}'", fit.name),
            };
            return Err(ImportError::Nothing(what));
        }
        if fits.len() > 1 {
            let what = format!(
                "the kit '{}' fits best: it knows {} of {} notes",
                fit.name, fit.known, fit.notes
            );
            remarks.add(RemarkKind::Assumed, None, what);
        }
        if others > 0 {
            let what = format!("{others} notes on channels that are not read");
            remarks.add(RemarkKind::NotKept, None, what);
        }
        for (key, count) in &fit.unknown {
            let what = format!(
                "{count} notes on {}, which the kit has not",
                keys::told(*key)
            );
            remarks.add(RemarkKind::NotUnderstood, None, what);
        }
        Ok(())
    }

    /// What a note plays, if it is read; the click is not.
    fn hit(&self, note: &RawNote, foot: Option<bool>, remarks: &mut Remarks) -> Option<Hit> {
        let (channel, key) = (note.channel, note.key);
        let fits = match self.channels {
            Channels::Only(only) => only == channel,
            _ => true,
        };
        let prefer = foot.unwrap_or(false);
        let (voice, articulation, related) =
            voice_or_relation(self.kit, self.channels, channel, key, prefer).filter(|_| fits)?;
        if voice == Voice::Click {
            remarks.add(RemarkKind::NotKept, None, "notes of the click");
            return None;
        }
        if related {
            let what = format!("{} was read as {}", keys::told(key), voice.name());
            remarks.add(RemarkKind::Assumed, None, what);
        }
        Some(Hit {
            tick: note.tick,
            voice,
            articulation,
            velocity: note.velocity,
            foot: foot.unwrap_or(matches!(voice, Voice::Kick | Voice::HatFoot)),
        })
    }

    /// Main strokes of hits in order of time.
    fn strokes(&self, hits: &[Hit]) -> Vec<Played> {
        let ornaments = Ornaments {
            clock: self.clock,
            kit: self.kit,
            ours: self.own,
        };
        ornaments.strokes(hits)
    }

    fn scale(&self) -> Result<Scale, ImportError> {
        Ok(Scale {
            us_per_quarter: self.clock.us_per_quarter,
            tolerance: self.clock.per_tick.checked_div(Beats::whole(2))?,
            exact: self.own,
        })
    }

    /// The score, not yet checked.
    fn score(&self, report: &mut Report, remarks: &mut Remarks) -> Result<Score, ImportError> {
        let foot_of = |note: &RawNote| own::foot(&self.file.tracks[note.track].name);
        let mut hits = Vec::with_capacity(self.file.notes.len());
        for note in &self.file.notes {
            if self.own && !own::is_form(&self.file.tracks[note.track].name) {
                continue;
            }
            let foot = self.own.then(|| foot_of(note));
            hits.extend(self.hit(note, foot, remarks));
        }
        let strokes = self.strokes(&hits);
        drop(hits);
        report.strokes = strokes.len();
        let tempo = self.tempo(remarks);
        let mut plan = if self.own {
            self.own_plan(report, remarks)?
        } else {
            self.plan(&strokes, report, remarks)?
        };
        let scale = self.scale()?;
        let timed = |played: Played| -> Result<Timed, ImportError> {
            let at = self
                .clock
                .beats(played.hit.tick)?
                .checked_sub(plan.origin)?;
            Ok(Timed {
                at,
                played_at: at,
                played,
            })
        };
        let timed: Vec<Timed> = strokes.into_iter().map(timed).collect::<Result<_, _>>()?;
        share(&mut plan.stretches, timed, &scale, drum)?;
        let stated = plan.stretches.iter().filter_map(|s| s.letter.clone());
        let mut cells = Cells::new(stated);
        let steps = self.steps(&plan, &scale, &mut cells, report, remarks)?;
        if report.largest_error_us > 0 {
            let what = format!(
                "the largest distance of a stroke from its slot is {:.1} ms",
                report.largest_error_us as f64 / 1000.0
            );
            remarks.add(RemarkKind::Assumed, None, what);
        }
        let what = "which hand plays is worked out; the file does not say it";
        remarks.add(RemarkKind::Assumed, None, what);
        let ostinatos = if self.own {
            self.own_ostinatos(&plan, tempo, report, remarks)?
        } else {
            Vec::new()
        };
        let meter = plan.bars.first().map_or(Meter::FOUR_FOUR, |b| b.meter);
        let title = self.file.title.chars().take(MAX_NAME_CHARS).collect();
        Ok(Score {
            title,
            tempo,
            meter,
            pickup: plan.pickup,
            sections: self
                .parts(&plan, steps, meter, remarks)
                .into_iter()
                .map(Part::section)
                .collect(),
            cells: cells.defs(tempo, self.kit, remarks),
            ostinatos,
            voicings: Vec::new(),
            kit: self.kit.clone(),
        })
    }

    fn tempo(&self, remarks: &mut Remarks) -> Beats {
        let (slowest, fastest) = (Beats::whole(20), Beats::whole(400));
        let stated = tempo(self.file.us_per_quarter);
        let kept = stated.clamp(slowest, fastest);
        if kept != stated {
            let what = format!(
                "a tempo of {:.2} beats per minute; a score has 20 to 400",
                stated.to_f64()
            );
            remarks.add(RemarkKind::NotKept, None, what);
        }
        for (_, us) in self.file.tempos.iter().skip(1) {
            if *us != self.file.us_per_quarter {
                let what = "a change of tempo; a score has one, the first";
                remarks.add(RemarkKind::NotKept, None, what);
            }
        }
        kept
    }

    /// Bars and cells of a file that is not ours: whole bars, from the bar of
    /// the first stroke to that of the last.
    fn plan(
        &self,
        strokes: &[Played],
        report: &mut Report,
        remarks: &mut Remarks,
    ) -> Result<Plan, ImportError> {
        let tolerance = self.scale()?.tolerance;
        let (Some(first), Some(last)) = (strokes.first(), strokes.last()) else {
            return Err(ImportError::Nothing("only the click plays".into()));
        };
        let signatures = &self.file.signatures;
        let last = self.clock.beats(last.hit.tick)?;
        // The last stroke may be an early one of the next bar.
        let sixteenth = Beats::new(1, 24);
        let end = last.checked_add(sixteenth)?;
        let clock = self.clock;
        let mut all = bars::draw(
            signatures,
            clock,
            Beats::ZERO,
            Beats::ZERO,
            end,
            tolerance,
            |_| true,
            remarks,
        )?;
        let first = clock.beats(first.hit.tick)?.checked_add(sixteenth)?;
        let empty = all.partition_point(|b| b.start <= first).saturating_sub(1);
        let origin = all[empty].start;
        all.drain(..empty);
        for bar in &mut all {
            bar.start = bar.start.checked_sub(origin)?;
            bar.number -= empty as u32;
        }
        report.empty_bars = empty as u32;
        if empty > 0 {
            let what = format!("{empty} empty bars ahead of the first stroke");
            remarks.add(RemarkKind::NotKept, None, what);
        }
        let stretches = at_beats(&all, self.options.cell)?;
        let mut names = BTreeMap::new();
        for (tick, text) in &self.file.marks {
            let at = clock.beats(*tick)?.checked_sub(origin)?;
            let nearest = all.partition_point(|b| b.start <= at);
            let near = all[nearest.saturating_sub(1)..].iter().take(2);
            let bar = near.into_iter().find_map(|b| {
                bars::near(b.start, at, Beats::new(1, 16))
                    .ok()?
                    .then_some(b)
            });
            match bar {
                Some(bar) if !text.is_empty() => {
                    let stretch = stretches.partition_point(|s| s.start < bar.start);
                    names.insert(stretch, text.clone());
                }
                _ => {
                    let what = "a marker, cue or word that does not stand on a bar line";
                    let bar = bar_of(&all, at);
                    remarks.add(RemarkKind::NotKept, Some(bar), what);
                }
            }
        }
        Ok(Plan {
            bars: all,
            pickup: Beats::ZERO,
            stretches,
            names,
            origin,
        })
    }

    /// The form, cell by cell.
    fn steps(
        &self,
        plan: &Plan,
        scale: &Scale,
        cells: &mut Cells,
        report: &mut Report,
        remarks: &mut Remarks,
    ) -> Result<Vec<Step>, ImportError> {
        let mut steps = Vec::with_capacity(plan.stretches.len());
        for stretch in &plan.stretches {
            let bar = bar_of(&plan.bars, stretch.start);
            let gridded = stretch.on_grid(scale, drum, bar, remarks)?;
            let off = u64::try_from(gridded.off_us).unwrap_or(0);
            // Half a tick is the file's, not ours.
            if off > self.clock.us(scale.tolerance).unsigned_abs() + 1 {
                report.largest_error_us = report.largest_error_us.max(off);
            }
            let mut make =
                |loudness| content(self.kit, &gridded, &stretch.strokes, loudness, bar, remarks);
            let (mut played, mut level) = (None, 100);
            if self.own {
                let percents = percents(self.kit, &stretch.strokes);
                let first = stretch.letter.as_ref().and_then(|l| cells.first_of(l));
                let ways: Vec<(u8, Content)> = (percents.into_iter())
                    .map(|p| (p, make(Loudness::Percent(p))))
                    .collect();
                let known = ways.iter().position(|(_, c)| Some(c) == first);
                if let Some((percent, way)) = ways.into_iter().nth(known.unwrap_or(0)) {
                    (played, level) = (Some(way), percent);
                }
            }
            let level_unknown = played.is_none();
            let played = match played {
                Some(played) => played,
                None => make(Loudness::Nearest),
            };
            if self.own && level_unknown {
                let what = "velocities that are no levels of the kit took the nearest";
                remarks.add(RemarkKind::NotKept, Some(bar), what);
            }
            let played = if steps.is_empty() {
                self.with_lost_graces(played, plan, scale, level, remarks)?
            } else {
                played
            };
            let index = cells.index(played, stretch.letter.as_ref(), bar, remarks)?;
            let end = stretch.start.checked_add(stretch.length)?;
            steps.push(Step {
                letter: cells.letter(index),
                level,
                bar_line: ends_bar(&plan.bars, end)?,
            });
        }
        Ok(steps)
    }

    /// The first cell of a form that begins with the file. Grace notes ahead of
    /// its first stroke had no room there; another place of the same letter
    /// shows them, and written again they are lost again.
    fn with_lost_graces(
        &self,
        first: Content,
        plan: &Plan,
        scale: &Scale,
        level: u8,
        remarks: &mut Remarks,
    ) -> Result<Content, ImportError> {
        let letter = plan.stretches.first().and_then(|s| s.letter.as_ref());
        if !self.own || letter.is_none() || !plan.origin.is_zero() {
            return Ok(first);
        }
        let same = plan.stretches[1..]
            .iter()
            .filter(|s| s.letter.as_ref() == letter);
        for stretch in same.take(LOOK_AHEAD) {
            let bar = bar_of(&plan.bars, stretch.start);
            let gridded = stretch.on_grid(scale, drum, bar, remarks)?;
            let loudness = Loudness::Percent(level);
            let strokes = &stretch.strokes;
            let fuller = content(self.kit, &gridded, strokes, loudness, bar, remarks);
            if fuller != first && fuller.without_first_graces() == first {
                return Ok(fuller);
            }
        }
        Ok(first)
    }

    /// The form cut where a section begins.
    fn parts(
        &self,
        plan: &Plan,
        steps: Vec<Step>,
        score_meter: Meter,
        remarks: &mut Remarks,
    ) -> Vec<Part> {
        let mut parts: Vec<Part> = Vec::new();
        let mut meter = score_meter;
        for (i, (step, stretch)) in steps.into_iter().zip(&plan.stretches).enumerate() {
            let bar = plan.bars.partition_point(|b| b.start <= stretch.start);
            let bar = bar.checked_sub(1).map(|bar| plan.bars[bar]);
            let now = bar.map_or(score_meter, |b| b.meter);
            let at_start = bar.is_some_and(|b| b.start == stretch.start);
            let name = plan.names.get(&i);
            let changes = at_start && now != meter;
            if changes {
                meter = now;
            }
            if parts.len() >= MAX_SECTIONS && name.is_some() && !changes {
                remarks.add(
                    RemarkKind::NotKept,
                    None,
                    "a section beyond the most of them",
                );
            } else if parts.is_empty() || name.is_some() || changes {
                parts.push(Part {
                    name: name.cloned().unwrap_or_default(),
                    meter: (meter != score_meter).then_some(meter),
                    steps: Vec::new(),
                });
            }
            if let Some(part) = parts.last_mut() {
                part.steps.push(step);
            }
        }
        parts
    }
}

/// A number per drum, for strokes that cannot share a slot.
fn drum(played: &Played) -> u16 {
    let hit = played.hit;
    let way = hit.voice.index() * 16 + hit.articulation.index();
    (way * 2 + usize::from(hit.foot)) as u16
}

/// Whether a bar ends at `at`.
fn ends_bar(bars: &[Bar], at: Beats) -> Result<bool, ImportError> {
    let i = bars.partition_point(|b| b.start < at);
    match i.checked_sub(1).map(|i| bars[i]) {
        Some(bar) => Ok(bar.start.checked_add(bar.length)? == at),
        None => Ok(false),
    }
}
