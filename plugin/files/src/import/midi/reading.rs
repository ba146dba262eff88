//! The course of a reading, from notes to the checked score.

mod foreign;
mod own;
mod steps;
mod verify;

use super::bars::Bar;
use super::cells::Cells;
use super::clock::{Clock, tempo};
use super::cut::{Stretch, Timed, share};
use super::file::{File, RawNote};
use super::fit::Scale;
use super::form::Part;
use super::keys::{self, voice_or_relation};
use super::strokes::{Hit, Ornaments, Played};
use super::{Channels, Options, Report};
use crate::import::{ImportError, Imported, RemarkKind, Remarks};
use barform_score::music::{Beats, Kit, Meter, Voice};
use barform_score::score::{MAX_NAME_CHARS, Score};
use std::collections::BTreeMap;

/// What all steps of a reading share.
struct Reading<'a> {
    file: &'a File,
    clock: Clock,
    kit: &'a Kit,
    channels: Channels,
    options: &'a Options,
    own: bool,
    /// See [`Ornaments::slack`].
    slack: bool,
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
    let mut reading = Reading {
        file: &file,
        clock: Clock::of(&file),
        kit: &options.kits[best].kit,
        channels: options.channels,
        options,
        own: options.own_letters && own::is_own(&file),
        slack: false,
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
    if !reading.own {
        let score = reading.score(&mut report, &mut remarks)?;
        score.check()?;
        let notes = remarks.into_sorted();
        return Ok((Imported { score, notes }, report));
    }
    // A file of ours is written again and compared. Where its ticks were too
    // coarse for its times, one more way of reading it is tried.
    let mut best: Option<(usize, Imported, Report)> = None;
    for slack in [false, true] {
        reading.slack = slack;
        let (mut report, mut remarks) = (report.clone(), remarks.clone());
        let score = reading.score(&mut report, &mut remarks)?;
        score.check()?;
        let off = verify::notes_off(&reading, &score, report.empty_bars);
        if off > 0 {
            let what = format!("written again, {off} notes would not be on their ticks");
            remarks.add(RemarkKind::NotKept, None, what);
        }
        if best.as_ref().is_none_or(|(known, ..)| off < *known) {
            let notes = remarks.into_sorted();
            best = Some((off, Imported { score, notes }, report));
        }
        if best.as_ref().is_some_and(|(off, ..)| *off == 0) {
            break;
        }
    }
    let Some((_, imported, report)) = best else {
        return Err(ImportError::Nothing("no form in the file".into()));
    };
    Ok((imported, report))
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
            slack: self.slack,
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
            timing: barform_score::score::Timing::default(),
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
}

/// A number per drum, for strokes that cannot share a slot.
fn drum(played: &Played) -> u16 {
    let hit = played.hit;
    let way = hit.voice.index() * 16 + hit.articulation.index();
    (way * 2 + usize::from(hit.foot)) as u16
}
