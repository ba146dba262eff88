//! All notes of a file with their exact times, and what becomes of notes on the
//! same key.

use super::MidiError;
use crate::export::{MAX_EVENTS, Options, count_in};
use barform_play::player::{BOUNCE_FADE, Mute};
use barform_score::music::{Beats, Velocity};
use barform_score::score::Score;
use barform_score::timeline::{Lane, LaneRole, Note, Timeline, Track};

/// A note before ticks are known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TimedNote {
    /// Time of the main stroke from the start of the file.
    pub at: Beats,
    /// How far from it this note sounds, in microseconds; before is negative.
    pub shift_us: i64,
    /// Index into the names of the tracks.
    pub track: usize,
    /// What sounds.
    pub note: Note,
}

/// The notes of a file.
#[derive(Debug, Default)]
pub(super) struct Notes {
    /// Names of the tracks.
    pub tracks: Vec<String>,
    /// Notes in no order.
    pub notes: Vec<TimedNote>,
}

/// A note on ticks.
#[derive(Debug, Clone, Copy)]
pub(super) struct TickNote {
    /// First tick.
    pub on: u64,
    /// Tick of its end, after the first.
    pub off: u64,
    /// Index into [`Notes::tracks`].
    pub track: usize,
    /// What sounds.
    pub note: Note,
}

/// The parts of one lane that share a main stroke's time.
struct Ornament<'a> {
    track: &'a Track,
    shift_us: i64,
    /// For bounces: factor on velocity.
    fade: Option<f64>,
}

impl Notes {
    /// Collects every note of the file.
    pub fn collect(
        score: &Score,
        timeline: &Timeline,
        options: &Options,
        lead: Beats,
        us_per_quarter: u32,
    ) -> Result<Notes, MidiError> {
        let Mute {
            hands,
            feet,
            ostinato,
            click,
        } = options.mute;
        let mut notes = Notes::default();
        let total = timeline
            .length
            .checked_mul(Beats::whole(i64::from(options.passes)))?;
        for lane in &timeline.lanes {
            match lane.role {
                LaneRole::Form => {
                    let (hand, foot) = (notes.track("Hands"), notes.track("Feet"));
                    let track_of = |note: &Note| match note.limb {
                        Some(limb) if limb.is_foot() => (!feet).then_some(foot),
                        _ => (!hands).then_some(hand),
                    };
                    let job = Job {
                        lead,
                        total,
                        us_per_quarter,
                        options,
                    };
                    notes.add_lane(score, timeline, lane, &job, track_of)?;
                }
                LaneRole::Ostinato(number) if !ostinato => {
                    let name = score.ostinatos.get(usize::from(number)).map(|o| &o.name);
                    let name = name.map_or_else(String::new, |name| format!("Ostinato: {name}"));
                    let track = notes.track(&name);
                    let job = Job {
                        lead,
                        total,
                        us_per_quarter,
                        options,
                    };
                    notes.add_lane(score, timeline, lane, &job, |_| Some(track))?;
                }
                LaneRole::Click if !click => {
                    let track = notes.track("Click");
                    for (at, note) in count_in(timeline, options.empty_bars)? {
                        notes.notes.push(TimedNote {
                            at,
                            shift_us: 0,
                            track,
                            note,
                        });
                    }
                    let job = Job {
                        lead,
                        total,
                        us_per_quarter,
                        options,
                    };
                    notes.add_lane(score, timeline, lane, &job, |_| Some(track))?;
                }
                LaneRole::Ostinato(_) | LaneRole::Click | LaneRole::Letter(_) => {}
            }
        }
        Ok(notes)
    }

    fn track(&mut self, name: &str) -> usize {
        self.tracks.push(name.to_owned());
        self.tracks.len() - 1
    }

    /// Writes a lane out, cycle after cycle, up to the end of the last pass.
    fn add_lane(
        &mut self,
        score: &Score,
        timeline: &Timeline,
        lane: &Lane,
        job: &Job<'_>,
        track_of: impl Fn(&Note) -> Option<usize>,
    ) -> Result<(), MidiError> {
        let times = timeline.exact_times(score, lane)?;
        if times.is_empty() || !lane.cycle.is_positive() {
            return Ok(());
        }
        let parts = job.ornaments(lane);
        let per_cycle: usize = times.len() + parts.iter().map(|p| p.track.len()).sum::<usize>();
        // In f64 for the bound only.
        let cycles = (job.total.to_f64() / lane.cycle.to_f64()).ceil();
        if cycles * per_cycle as f64 + self.notes.len() as f64 > MAX_EVENTS as f64 {
            return Err(MidiError::TooLong);
        }
        // Grace and bounce tracks hold the times of their main strokes, as the
        // same f64: an index by those finds the exact time.
        let exact = |at: f64| {
            let i = lane.main.at.partition_point(|main| *main < at);
            times.get(i).copied().unwrap_or(Beats::ZERO)
        };
        let mut pass = 0;
        loop {
            let start = lane.cycle.checked_mul(Beats::whole(pass))?;
            if start >= job.total {
                return Ok(());
            }
            let mut add = |at: Beats, shift_us: i64, note: Note| -> Result<(), MidiError> {
                let in_form = start.checked_add(at)?;
                if in_form < job.total
                    && let Some(track) = track_of(&note)
                {
                    let at = in_form.checked_add(job.lead)?;
                    self.notes.push(TimedNote {
                        at,
                        shift_us,
                        track,
                        note,
                    });
                }
                Ok(())
            };
            for (at, note) in times.iter().zip(&lane.main.notes) {
                add(*at, 0, *note)?;
            }
            for part in &parts {
                for (i, (at, note)) in part.track.at.iter().zip(&part.track.notes).enumerate() {
                    let mut note = *note;
                    if let Some(fade) = part.fade {
                        if !job.has_room(part, i) {
                            continue;
                        }
                        let velocity = f64::from(note.velocity.value()) * fade;
                        note.velocity = Velocity::clamped(velocity);
                    }
                    add(exact(*at), part.shift_us, note)?;
                }
            }
            pass += 1;
        }
    }
}

/// What all lanes of a file share.
struct Job<'a> {
    lead: Beats,
    total: Beats,
    us_per_quarter: u32,
    options: &'a Options,
}

impl Job<'_> {
    fn ornaments<'l>(&self, lane: &'l Lane) -> Vec<Ornament<'l>> {
        let us = |ms: f64, times: usize| (ms * 1000.0).round() as i64 * times as i64;
        let (grace_ms, buzz_ms) = (self.options.grace_ms, self.options.buzz_ms);
        let graces = lane.graces.iter().enumerate().map(|(n, track)| Ornament {
            track,
            shift_us: -us(grace_ms, n + 1),
            fade: None,
        });
        let bounces = lane.bounces.iter().enumerate().map(|(n, track)| Ornament {
            track,
            shift_us: us(buzz_ms, n + 1),
            fade: Some(BOUNCE_FADE.powi(n as i32 + 1)),
        });
        graces
            .chain(bounces)
            .filter(|o| !o.track.is_empty())
            .collect()
    }

    /// Whether bounce `i` still falls before the next slot.
    fn has_room(&self, bounce: &Ornament<'_>, i: usize) -> bool {
        let room_us = f64::from(bounce.track.room[i]) * f64::from(self.us_per_quarter);
        (bounce.shift_us as f64) < room_us
    }
}

/// Makes one note of those that one track would start on one key at the same
/// tick (both hands on one drum, or a grace note with no room before it): the
/// louder. Ends a note before the next one on its key, in whatever track.
/// Returns the number of notes merged.
pub(super) fn settle_keys(notes: &mut Vec<TickNote>) -> usize {
    let id = |n: &TickNote| (n.note.channel, n.note.key);
    notes.sort_by_key(|n| (n.on, n.track, id(n), std::cmp::Reverse(n.note.velocity)));
    let before = notes.len();
    notes.dedup_by(|b, a| {
        let same = b.on == a.on && b.track == a.track && id(b) == id(a);
        if same {
            a.off = a.off.max(b.off);
        }
        same
    });
    // Per key: the first tick of the notes seen last, and of those after them.
    let mut next = vec![(u64::MAX, u64::MAX); 16 * 128];
    for note in notes.iter_mut().rev() {
        let (channel, key) = id(note);
        let slot = &mut next[usize::from(channel.index()) * 128 + usize::from(key.number())];
        if slot.0 != note.on {
            *slot = (note.on, slot.0);
        }
        // One tick early where there is one: in which order two tracks are read
        // at the same tick is up to the reader.
        let latest = slot.1.saturating_sub(1).max(note.on + 1);
        note.off = note.off.min(latest);
    }
    before - notes.len()
}
