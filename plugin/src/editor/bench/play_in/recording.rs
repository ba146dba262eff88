//! One take on its way: what came in, where it fell, what cell it makes.

use std::collections::BTreeMap;
use std::sync::Arc;

use barform_app::answers::{cell_lines, rules};
use barform_app::craft::sticking::Ask;
use barform_app::music::{Beats, BeatsError, Cell, Channel, Key, Kit, Slot, Velocity};
use barform_app::played::{Hands, Hit, Over, Played, Struck, Take, late, moment, voice_of};
use barform_app::score::Score;
use barform_app::score::edit::Owner;
use barform_app::words::count;

use super::clock::Clock;
use super::keys::Tap;
use super::settings::Settings;
use crate::audition::Heard;
use crate::state::Session;

/// A take.
pub struct Recording {
    /// Where it is heard.
    pub session: Arc<Session>,
    /// The cell it is for.
    pub owner: Owner,
    /// That cell as it is written.
    pub written: Cell,
    /// What was played.
    pub take: Take,
    /// Where the loop stands.
    pub clock: Clock,
    /// Rounds that go ahead before strokes count.
    pub rounds_ahead: i64,
    /// Whether strokes are being taken.
    pub running: bool,
    /// The cell that the take makes.
    pub played: Option<Played>,
    /// That cell in words.
    pub lines: Vec<String>,
    /// Why it makes none.
    pub problem: Option<String>,
    /// Notes that no voice answers to: channel from 1 and key, how often.
    pub unknown: BTreeMap<(u8, u8), usize>,
}

impl Recording {
    /// Nothing played yet.
    ///
    /// # Errors
    /// [`BeatsError::Overflow`] if the cell's exact positions do not fit.
    pub fn start(
        session: Arc<Session>,
        owner: Owner,
        written: Cell,
        settings: &Settings,
        score: &Score,
        now_s: f64,
    ) -> Result<Recording, BeatsError> {
        let take = Take::new(&written.grid)?;
        let length = take.round().length();
        // A bar at least, so that the loop is heard from its first beat.
        let rounds = score.meter.bar().checked_div(length)?;
        let whole = rounds.floor() + i64::from(!rounds.is_whole());
        Ok(Recording {
            session,
            owner,
            clock: Clock::start(length.to_f64(), now_s),
            rounds_ahead: if settings.count_in { whole.max(1) } else { 0 },
            written,
            take,
            running: true,
            played: None,
            lines: Vec::new(),
            problem: None,
            unknown: BTreeMap::new(),
        })
    }

    /// Whether the count-in is under way.
    pub fn counts_in(&self) -> bool {
        self.running && self.clock.round() < self.rounds_ahead
    }

    /// Takes a note. Returns the stroke it is, if the kit knows it.
    pub fn hear(&mut self, heard: &Heard, settings: &Settings, score: &Score) -> Option<Struck> {
        let channel = Channel::new(heard.channel.saturating_add(1))?;
        let key = Key::new(heard.key)?;
        let Some((voice, articulation)) = voice_of(&score.kit, channel, key) else {
            let known = (channel.number(), key.number());
            *self.unknown.entry(known).or_default() += 1;
            return None;
        };
        let velocity = Velocity::clamped(f64::from(heard.velocity) * 127.0);
        let struck = Struck {
            voice,
            articulation,
            level: settings.loudness.level(velocity),
            velocity,
            limb: None,
        };
        self.strike(heard.beats, struck, settings, score);
        Some(struck)
    }

    /// Takes a tap on the computer keyboard at a position in the round.
    pub fn tap(&mut self, tap: &Tap, position: Option<f64>, settings: &Settings, score: &Score) {
        let curve = score.kit.voice(tap.voice).curve;
        let struck = Struck {
            voice: tap.voice,
            articulation: tap.articulation,
            level: tap.level,
            velocity: curve.at(tap.level),
            limb: Some(tap.limb),
        };
        self.strike(position, struck, settings, score);
    }

    fn strike(&mut self, beats: Option<f64>, struck: Struck, settings: &Settings, score: &Score) {
        // While nothing goes round there is no slot to go to.
        let Some(beats) = beats else { return };
        let late = late(settings.late_ms, settings.bpm(score)).unwrap_or(Beats::ZERO);
        let round = self.clock.round_of(beats);
        let at = || {
            let ahead = self.take.round().length().checked_mul(Beats::whole(round));
            let into = moment(beats).ok_or(BeatsError::Overflow)?;
            ahead?.checked_add(into)?.checked_sub(late)
        };
        let landed = at().and_then(|at| {
            // What belongs to the count-in is not meant.
            let counts = self.take.round().land(at)?.round >= self.rounds_ahead;
            if counts {
                self.take.strike(at, struck)?;
            }
            Ok(counts)
        });
        match landed {
            Ok(true) => self.work_out(settings, score),
            Ok(false) => {}
            Err(error) => self.problem = Some(error.to_string()),
        }
    }

    /// Works out the cell anew.
    pub fn work_out(&mut self, settings: &Settings, score: &Score) {
        self.problem = None;
        self.played = None;
        if self.take.hits().is_empty() {
            return;
        }
        let hands = &rules().sticking;
        let made = hands
            .setup(&settings.setup, &score.kit)
            .map_err(|e| e.problem)
            .and_then(|setup| {
                let tempo = moment(settings.bpm(score)).unwrap_or(score.tempo);
                let mut ask = Ask::new(tempo, setup);
                ask.pulse = score.meter.pulse();
                let hands = Hands {
                    ask: &ask,
                    rules: hands,
                };
                let played = self.take.cell(&self.written, settings.over, hands);
                played.map_err(|e| e.to_string())
            });
        match made {
            Ok(played) => {
                self.lines = cell_lines(&played.cell, true);
                self.played = Some(played);
            }
            Err(problem) => self.problem = Some(problem),
        }
    }

    /// What goes round: the cell so far, or what is to be heard of it.
    pub fn heard(&self, settings: &Settings) -> Cell {
        let so_far = self.played.as_ref().filter(|_| settings.play_back);
        match (so_far, settings.over) {
            (Some(played), _) => played.cell.clone(),
            (None, Over::Overdub) => self.written.clone(),
            (None, Over::Replace) => Cell {
                letter: self.written.letter.clone(),
                grid: self.written.grid.clone(),
                slots: vec![Slot::new(); self.written.grid.slot_count()],
            },
        }
    }

    /// The strokes that came last, newest first.
    pub fn newest(&self, count: usize) -> impl Iterator<Item = &Hit> {
        self.take.hits().iter().rev().take(count)
    }

    /// What to say of notes that no voice answers to.
    pub fn unknown_told(&self) -> Vec<String> {
        let told = |((channel, key), often): (&(u8, u8), &usize)| {
            let times = count(*often, "time");
            format!(
                "Note {key} on channel {channel} plays no voice ({times}): teach it on the Kit \
                 page."
            )
        };
        self.unknown.iter().map(told).collect()
    }
}

/// The kit's note for a stroke, to sound at once.
pub fn note_of(kit: &Kit, struck: &Struck) -> Option<barform_app::timeline::Note> {
    super::keys::note(kit, struck.voice, struck.articulation, struck.level)
}
