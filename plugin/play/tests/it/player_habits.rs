//! The player in hosts with habits: each by itself, and all of them at random.
//!
//! `barform_hosts::habits` says what each habit is and what it excuses. The same
//! sessions are played by the built plugin in a real host; here they reach the player
//! without one.

use std::sync::Arc;

use barform_hosts::form::{Cycle, Form};
use barform_hosts::habits::{Personality, Song};
use barform_hosts::invented::{self, plain_form};
use barform_hosts::judge::{Fault, Kind, judge};
use barform_hosts::known::plans;
use barform_hosts::plan::Plan;
use barform_hosts::session::session;
use barform_hosts::told::{self, SongTime};
use barform_play::player::*;
use barform_score::score::Score;
use barform_score::timeline::Timeline;

/// The length of a note in milliseconds.
const GATE_MS: u32 = 60;

/// A form to play.
struct Stage {
    timeline: Arc<Timeline>,
    cycles: Vec<Cycle>,
    rate_hz: u32,
}

impl Stage {
    fn new(form: &Form, rate_hz: u32) -> Stage {
        let score = Score::parse(&form.score(), "invented").expect("a score");
        Stage {
            timeline: Arc::new(Timeline::compile(&score).expect("a timeline")),
            cycles: form.cycles(),
            rate_hz,
        }
    }

    fn play(&self, plan: &Plan, host: &Personality) -> Result<(), Fault> {
        let session = session(plan, host, &self.cycles, self.rate_hz, 0.0);
        let settings = Settings {
            gate_ms: f64::from(GATE_MS),
            ..Settings::default()
        };
        let mut player = Player::new();
        player.set_sample_rate(self.rate_hz.into());
        player.set_timeline(Some(self.timeline.clone()));
        let (mut notes, mut sample) = (Vec::new(), 0);
        for (frames, transport) in &session.blocks {
            player.process(&of(transport), &settings, *frames, &mut |event| {
                notes.push((sample + i64::from(event.offset), heard(event)));
            });
            sample += i64::from(*frames);
        }
        let gate = (i64::from(self.rate_hz) * i64::from(GATE_MS) + 500) / 1000;
        judge(&session, &notes, gate)
    }
}

/// What a host tells, as the player takes it.
fn of(told: &told::Transport) -> Transport {
    Transport {
        playing: told.playing,
        position_beats: told.tells_beats.then_some(told.position_beats),
        song_samples: match told.song {
            SongTime::At(samples) => Some(samples),
            SongTime::FromBeats | SongTime::Absent => None,
        },
        tempo_bpm: told.tempo_bpm,
        cycle: told.cycle.map(|(start_beats, end_beats)| Loop {
            start_beats,
            end_beats,
        }),
    }
}

fn heard(event: Event) -> told::Note {
    let (on, note) = match event.kind {
        EventKind::On(note) => (true, note),
        EventKind::Off(note) => (false, note),
    };
    told::Note {
        frame: event.offset,
        on,
        channel: note.channel.index(),
        key: note.key.number(),
        velocity: f64::from(note.velocity.value()) / 127.0,
    }
}

/// Plays all plans in a host of one habit, whether the place is told by the sample
/// or not.
fn holds(host: Personality) -> Result<(), String> {
    let stage = Stage::new(&plain_form(), 48_000);
    for song in [host.song, Song::Absent] {
        for plan in plans() {
            let host = Personality { song, ..host }.sensible();
            let played = stage.play(&plan, &host);
            played.map_err(|fault| format!("{fault}\n    {host:?}\n    {plan:?}"))?;
        }
    }
    Ok(())
}

barform_hosts::each_habit!(holds);

/// Random sessions.
const SESSIONS: u64 = 600;

/// Sample rates in Hz.
const RATES_HZ: [u32; 5] = [48_000, 44_100, 8_000, 96_000, 12_347];

/// All habits put together at random. As with the built plugin, a stroke may be a
/// little further off than each habit by itself excuses in one session of sixty.
#[test]
fn none_is_lost_doubled_or_cut_short_whatever_the_habits() {
    let mut moved = Vec::new();
    for number in 0..SESSIONS {
        let rate_hz = RATES_HZ[number as usize % RATES_HZ.len()];
        let stage = Stage::new(&plain_form(), rate_hz);
        let (host, plan) = invented::drawn(&invented::session(), number);
        match stage.play(&plan, &host) {
            Ok(()) => {}
            Err(fault) if fault.kind == Kind::Moved => moved.push(number),
            Err(fault) => panic!("session {number}: {fault}\n    {host:?}\n    {plan:?}"),
        }
    }
    assert!(moved.len() as u64 <= SESSIONS / 60, "moved in {moved:?}");
}
