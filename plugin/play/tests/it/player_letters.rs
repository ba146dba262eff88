//! Letters by key, the host's loop, rates and starts, at random: against a plan of
//! which letter has which half beat, and with a loop against without one.

use crate::player_support;

use barform_play::player::*;
use barform_score::music::*;
use barform_score::score::Rate;
use barform_score::timeline::*;
use proptest::prelude::*;
use proptest::sample::select;

/// Samples and beats are whole binary fractions of each other, so a key may go down
/// on the very line.
const RATE_HZ: f64 = 32_768.0;
const TEMPO_BPM: f64 = 60.0;
const BEAT: i64 = 32_768;
/// Beats of the form; its two bars are not alike.
const FORM_BEATS: i64 = 6;
const BARS: [i64; 2] = [0, 4];
/// In samples, and in milliseconds.
const BUZZ: (i64, f64) = (1_024, 31.25);
const GRACE: (i64, f64) = (512, 15.625);
/// The form's buzz is on this beat and has half a beat of room.
const BUZZ_BEAT: i64 = 3;

fn note(key: u8) -> Note {
    player_support::note(key)
}

/// Two bars, 4/4 and 2/4: a stroke on each beat, the first of each bar a flam, the
/// fourth of all a buzz; letter A strikes each half beat, B each beat and buzzes, a quarter beat of room.
fn timeline(pickup: i64) -> std::sync::Arc<Timeline> {
    let mut form = Lane::new(LaneRole::Form, Beats::whole(FORM_BEATS));
    for beat in 0..FORM_BEATS {
        form.main.push(beat as f64, note(60));
    }
    for bar in BARS {
        form.graces[0].push(bar as f64, note(62));
    }
    for track in &mut form.bounces {
        track.push(BUZZ_BEAT as f64, note(61));
        track.room.push(0.5);
    }
    let mut a = Lane::new(LaneRole::Letter(0), Beats::new(1, 2));
    a.main.push(0.0, note(70));
    let mut b = Lane::new(LaneRole::Letter(1), Beats::whole(1));
    b.main.push(0.0, note(80));
    for track in &mut b.bounces {
        track.push(0.0, note(81));
        track.room.push(0.25);
    }
    let mut timeline = player_support::timeline(Beats::whole(FORM_BEATS), vec![form, a, b]);
    let own = std::sync::Arc::get_mut(&mut timeline).unwrap();
    own.pickup = Beats::whole(pickup);
    own.bars.push(Bar {
        start: Beats::whole(BARS[1]),
        meter: Meter::new(2, 4).unwrap(),
        number: 2,
    });
    timeline
}

/// A key of a letter that goes down or up, `at` samples from the start.
#[derive(Debug, Clone, Copy)]
struct Key {
    at: i64,
    letter: usize,
    down: bool,
    quantise: Quantise,
}

#[derive(Debug, Clone)]
struct Session {
    rate: Rate,
    /// Beat of the host on which the form starts.
    start: i64,
    /// Beats of the form before that.
    pickup: i64,
    keys: Vec<Key>,
    frames: Vec<i64>,
    /// Passes of the form in the host's loop, and before it.
    passes: (i64, i64),
}

impl Session {
    /// Samples of one beat of the form.
    fn beat(&self) -> i64 {
        match self.rate {
            Rate::Half => 2 * BEAT,
            Rate::Normal => BEAT,
            Rate::Double => BEAT / 2,
        }
    }

    /// Samples of one pass.
    fn pass(&self) -> i64 {
        FORM_BEATS * self.beat()
    }

    /// Samples that are played, from the start of the form on.
    fn length(&self) -> i64 {
        24 * BEAT
    }
}

fn session() -> impl Strategy<Value = Session> {
    let at = prop_oneof![0..22 * BEAT, (0i64..22 * 8).prop_map(|n| n * BEAT / 8)];
    let key = (
        at,
        0usize..2,
        prop::bool::weighted(0.7),
        select(vec![Quantise::Beat, Quantise::Bar]),
    );
    let key = key.prop_map(|(at, letter, down, quantise)| Key {
        at,
        letter,
        down,
        quantise,
    });
    let frames = prop_oneof![1i64..40, 100i64..3_000, 3_000i64..8_193];
    (
        select(vec![Rate::Half, Rate::Normal, Rate::Double]),
        (0i64..9, 0i64..3),
        prop::collection::vec(key, 0..7),
        prop::collection::vec(frames, 1..8),
        (1i64..3, 0i64..2),
    )
        .prop_map(|(rate, (start, pickup), mut keys, frames, passes)| {
            keys.sort_by_key(|key| key.at);
            Session {
                rate,
                start,
                pickup,
                keys,
                frames,
                passes,
            }
        })
}

/// Plays a session from the form's first sample on; what starts, by sample and key.
fn play(s: &Session, looped: bool) -> Vec<(i64, u8)> {
    let mut player = Player::new();
    player.set_sample_rate(RATE_HZ);
    player.set_timeline(Some(timeline(s.pickup)));
    let settings = Settings {
        rate: s.rate,
        start_beats: s.start as f64,
        grace_ms: GRACE.1,
        buzz_ms: BUZZ.1,
        gate_ms: 5.0,
        ..Settings::default()
    };
    let turn = (s.passes.0 + s.passes.1) * s.pass();
    let pickup = s.pickup * s.beat();
    let beats = |sample: i64| s.start as f64 + (sample - pickup) as f64 / BEAT as f64;
    let cycle = looped.then(|| Loop {
        start_beats: beats(s.passes.1 * s.pass()),
        end_beats: beats(turn),
    });
    let (mut heard, mut open) = (Vec::new(), 0i64);
    let (mut sample, mut keys, mut frames) = (0, s.keys.iter().peekable(), s.frames.iter().cycle());
    while sample < s.length() {
        let n = *frames.next().unwrap();
        while let Some(key) = keys.next_if(|key| key.at < sample + n) {
            let offset = (key.at - sample) as u32;
            // Nothing is laid out before the first block.
            if sample > 0 && key.down {
                player.letter_down(key.letter, offset, key.quantise);
            } else if sample > 0 {
                player.letter_up(key.letter, offset, key.quantise);
            }
        }
        let place = if looped && sample >= turn {
            sample - ((sample - turn) / (s.passes.0 * s.pass()) + 1) * s.passes.0 * s.pass()
        } else {
            sample
        };
        let transport = Transport {
            playing: true,
            position_beats: Some(beats(place)),
            song_samples: None,
            tempo_bpm: TEMPO_BPM,
            cycle,
        };
        player.process(&transport, &settings, n as u32, &mut |event| {
            match event.kind {
                EventKind::On(note) => {
                    heard.push((sample + i64::from(event.offset), note.key.number()));
                    open += 1;
                }
                EventKind::Off(_) => open -= 1,
            }
            assert!((0..=3).contains(&open), "{open} notes sound at {sample}");
        });
        sample += n;
    }
    heard.retain(|(at, _)| *at < s.length());
    heard.sort_unstable();
    heard
}

/// A letter's stretch of time, in samples.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    letter: usize,
    from: i64,
    until: i64,
}

/// What must start, worked out from the keys alone.
fn expected(s: &Session) -> Vec<(i64, u8)> {
    let first = s.frames[0];
    let mut stretches: Vec<Stretch> = Vec::new();
    for key in s.keys.iter().filter(|key| key.at >= first) {
        let line = match key.quantise {
            // The host's beats as the form counts them, from its start on.
            Quantise::Beat => key.at.div_euclid(s.beat()) * s.beat(),
            Quantise::Bar => {
                let pass = key.at.div_euclid(s.pass()) * s.pass();
                let bar = |n: &i64| pass + n * s.beat();
                BARS.iter().map(bar).rfind(|at| *at <= key.at).unwrap()
            }
        };
        let line = if line == key.at {
            line
        } else {
            match key.quantise {
                Quantise::Beat => line + s.beat(),
                Quantise::Bar => {
                    let into = (line - line.div_euclid(s.pass()) * s.pass()) / s.beat();
                    line + s.beat() * if into == BARS[0] { 4 } else { 2 }
                }
            }
        };
        if key.down {
            stretches.retain(|x| x.from <= key.at && x.from < line);
            for x in &mut stretches {
                x.until = x.until.min(line);
            }
            stretches.push(Stretch {
                letter: key.letter,
                from: line,
                until: i64::MAX,
            });
        } else {
            let held = |x: &Stretch| x.letter == key.letter && x.until == i64::MAX;
            stretches.retain(|x| !held(x) || x.from <= key.at);
            for x in stretches.iter_mut().filter(|x| held(x)) {
                x.until = line;
            }
        }
    }
    let free = |at: i64| !stretches.iter().any(|x| x.from <= at && at < x.until);
    let mut all = Vec::new();
    for at in (0..=s.length()).step_by(s.beat() as usize) {
        if free(at) {
            all.push((at, 60));
        }
        let into = at % s.pass() / s.beat();
        if BARS.contains(&into) && free(at) {
            // There is no time before the start.
            all.push(((at - GRACE.0).max(0), 62));
        }
        if at % s.pass() == BUZZ_BEAT * s.beat() && free(at) {
            let bounces = (1..=BOUNCES as i64).map(|n| n * BUZZ.0);
            let bounces = bounces.filter(|after| 2 * after < s.beat() && free(at + after));
            all.extend(bounces.map(|after| (at + after, 61)));
        }
    }
    for x in &stretches {
        let until = x.until.min(s.length());
        let step = s.beat() / if x.letter == 0 { 2 } else { 1 };
        for at in (x.from..until).step_by(step as usize) {
            all.push((at, if x.letter == 0 { 70 } else { 80 }));
            if x.letter == 1 {
                let bounces = (1..=BOUNCES as i64).map(|n| n * BUZZ.0);
                let bounces = bounces.filter(|after| 4 * after < s.beat() && at + after < x.until);
                all.extend(bounces.map(|after| (at + after, 81)));
            }
        }
    }
    all.retain(|(at, _)| *at < s.length());
    all.sort_unstable();
    all
}

/// Without the grace notes near a key: whether one has begun when its stroke gives
/// way depends on the blocks.
fn settled(s: &Session, mut all: Vec<(i64, u8)>) -> Vec<(i64, u8)> {
    let near = |at: i64| {
        s.keys
            .iter()
            .any(|key| (key.at - at).abs() <= 8_192 + GRACE.0)
    };
    all.retain(|(at, key)| *key != 62 || !near(*at));
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Keys take effect where they should, under every rate and start.
    #[test]
    fn letters_have_the_beats_that_their_keys_ask_for(s in session()) {
        prop_assert_eq!(settled(&s, play(&s, false)), settled(&s, expected(&s)));
    }

    /// A loop of whole passes sounds as the repeated form does, keys or not.
    #[test]
    fn a_loop_of_whole_passes_changes_nothing(s in session()) {
        prop_assert_eq!(settled(&s, play(&s, true)), settled(&s, expected(&s)));
    }
}
