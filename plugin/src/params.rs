//! The parameters a host can see, automate and store.
//!
//! Names are the trade's, units are shown, and the string ids never change:
//! sessions and automation hang on them.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use barform_app::player::{Mute, Quantise, Settings};
use barform_app::score::Rate;
use nice_plug::formatters;
use nice_plug::prelude::*;

use crate::state::Session;

/// Speed of the form against the beat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Enum)]
pub enum RateChoice {
    /// Half time.
    #[id = "half"]
    #[name = "×1/2"]
    Half,
    /// As written.
    #[id = "normal"]
    #[name = "×1"]
    Normal,
    /// Double time.
    #[id = "double"]
    #[name = "×2"]
    Double,
}

/// Whose time the form follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Enum)]
pub enum ClockChoice {
    /// The host's transport; the own clock where the host reports none.
    #[id = "host"]
    #[name = "Host clock"]
    Host,
    /// The built-in transport.
    #[id = "own"]
    #[name = "Internal clock"]
    Own,
}

/// Where a letter played by key starts and stops.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Enum)]
pub enum LetterStart {
    /// The next beat.
    #[id = "beat"]
    #[name = "Next beat"]
    Beat,
    /// The next bar line.
    #[id = "bar"]
    #[name = "Next bar"]
    Bar,
}

/// All parameters, and the session that is stored with them.
#[derive(Params)]
pub struct BarformParams {
    /// Score and editor, as one versioned document.
    #[persist = "session"]
    pub session: Arc<Session>,

    /// Silence, and only what comes in goes out.
    #[id = "bypass"]
    pub bypass: BoolParam,
    /// Length of every note.
    #[id = "note_ms"]
    pub note_ms: FloatParam,
    /// Time between grace notes.
    #[id = "grace_ms"]
    pub grace_ms: FloatParam,
    /// Time between the bounces of a buzz stroke.
    #[id = "buzz_ms"]
    pub buzz_ms: FloatParam,
    /// Speed against the beat.
    #[id = "rate"]
    pub rate: EnumParam<RateChoice>,
    /// Bar of the host where the form's first bar line falls.
    #[id = "start_bar"]
    pub start_bar: IntParam,
    /// Whether the form starts over at its end.
    #[id = "repeat"]
    pub repeat: BoolParam,

    /// Hands silent.
    #[id = "mute_hands"]
    pub mute_hands: BoolParam,
    /// Feet silent.
    #[id = "mute_feet"]
    pub mute_feet: BoolParam,
    /// Ostinatos silent.
    #[id = "mute_ostinato"]
    pub mute_ostinato: BoolParam,
    /// Click silent.
    #[id = "mute_click"]
    pub mute_click: BoolParam,

    /// Whether the embedded kit sounds.
    #[id = "sound"]
    pub sound: BoolParam,
    /// Level of the embedded kit.
    #[id = "level_db"]
    pub level_db: FloatParam,

    /// Whose time the form follows.
    #[id = "clock"]
    pub clock: EnumParam<ClockChoice>,
    /// Whether the own clock runs.
    #[id = "own_run"]
    pub own_run: BoolParam,
    /// Whether the own clock takes the score's tempo.
    #[id = "own_score_tempo"]
    pub own_score_tempo: BoolParam,
    /// Tempo of the own clock otherwise.
    #[id = "own_tempo"]
    pub own_tempo: FloatParam,

    /// Whether keys play letters.
    #[id = "keys"]
    pub keys: BoolParam,
    /// Key of the score's first letter.
    #[id = "first_key"]
    pub first_key: IntParam,
    /// Where a letter played by key starts.
    #[id = "letter_start"]
    pub letter_start: EnumParam<LetterStart>,

    /// Counts the edits of the score. Nothing listens to it; it is how a host
    /// learns that the session has changed and wants saving.
    #[id = "edits"]
    pub edits: IntParam,

    /// Raised by every change of a value until the audio thread has seen it.
    changed: Arc<Changed>,
}

/// A flag that any thread raises and the audio thread takes down.
#[derive(Debug)]
struct Changed(AtomicBool);

impl Changed {
    /// From any thread, after the value was stored.
    fn raise(&self) {
        self.0.store(true, Ordering::Release);
    }

    /// Whether something changed since the last call. Reads before it writes:
    /// nearly always nothing did.
    fn take(&self) -> bool {
        self.0.load(Ordering::Relaxed) && self.0.swap(false, Ordering::AcqRel)
    }
}

/// All that the audio thread asks of the parameters, in one place: reading some
/// twenty of them costs more than playing a quiet block.
#[derive(Debug, Clone, Copy)]
pub struct Snapshot {
    /// Silence, and only what comes in goes out.
    pub bypass: bool,
    /// What the player is told on the host's clock; the start is in bars.
    pub settings: Settings,
    /// Bars of the host before the form's first bar line.
    pub start_bars: f64,
    /// Whether the embedded kit sounds.
    pub sound: bool,
    /// Level of the embedded kit.
    pub level_db: f32,
    /// Whose time the form follows.
    pub clock: ClockChoice,
    /// Whether the own clock runs.
    pub own_run: bool,
    /// Tempo of the own clock in beats per minute; `None` for the score's.
    pub own_tempo_bpm: Option<f64>,
    /// First letter key, if keys play letters.
    pub first_key: Option<i32>,
    /// Where a letter played by key starts.
    pub letter_start: Quantise,
}

/// Ids of what the parameter of an id can be set to, if it is a choice.
pub fn choices(id: &str) -> Option<&'static [&'static str]> {
    match id {
        "rate" => RateChoice::ids(),
        "clock" => ClockChoice::ids(),
        "letter_start" => LetterStart::ids(),
        _ => None,
    }
}

/// Highest count of [`BarformParams::edits`], where it starts over.
pub const MAX_EDITS: i32 = 1_000_000;

fn on_off(name: &str, default: bool) -> BoolParam {
    BoolParam::new(name, default)
        .with_value_to_string(Arc::new(|on| if on { "On" } else { "Off" }.to_owned()))
        .with_string_to_value(Arc::new(|text| match text.trim().to_lowercase().as_str() {
            "on" | "yes" | "true" | "1" => Some(true),
            "off" | "no" | "false" | "0" => Some(false),
            _ => None,
        }))
}

fn milliseconds(name: &str, default: f64, min: f32, max: f32) -> FloatParam {
    let factor = FloatRange::skew_factor(-1.0);
    FloatParam::new(
        name,
        default as f32,
        FloatRange::Skewed { min, max, factor },
    )
    .with_unit(" ms")
    .with_value_to_string(formatters::v2s_f32_rounded(1))
}

impl BarformParams {
    /// The defaults, around a session.
    pub fn new(session: Arc<Session>) -> Self {
        let usual = Settings::default();
        let changed = Arc::new(Changed(AtomicBool::new(true)));
        let window = session.window.clone();
        let mut params = BarformParams {
            changed: changed.clone(),
            session,
            bypass: BoolParam::new("Bypass", false)
                .with_value_to_string(formatters::v2s_bool_bypass())
                .with_string_to_value(formatters::s2v_bool_bypass())
                .make_bypass(),
            note_ms: milliseconds("Note length", usual.gate_ms, 5.0, 1000.0),
            grace_ms: milliseconds("Grace note spacing", usual.grace_ms, 0.0, 100.0),
            buzz_ms: milliseconds("Buzz spacing", usual.buzz_ms, 10.0, 100.0),
            rate: EnumParam::new("Rate", RateChoice::Normal),
            start_bar: IntParam::new("Start bar", 1, IntRange::Linear { min: 1, max: 999 }),
            repeat: on_off("Repeat form", usual.repeat),
            mute_hands: on_off("Mute hands", usual.mute.hands),
            mute_feet: on_off("Mute feet", usual.mute.feet),
            mute_ostinato: on_off("Mute ostinatos", usual.mute.ostinato),
            mute_click: on_off("Mute click", usual.mute.click),
            sound: on_off("Kit sound", true),
            level_db: FloatParam::new(
                "Kit level",
                -6.0,
                FloatRange::Linear {
                    min: -60.0,
                    max: 0.0,
                },
            )
            .with_unit(" dB")
            .with_value_to_string(formatters::v2s_f32_rounded(1)),
            clock: EnumParam::new("Clock", ClockChoice::Host),
            own_run: on_off("Internal clock playing", false),
            own_score_tempo: on_off("Internal clock at score tempo", true),
            own_tempo: FloatParam::new(
                "Internal clock tempo",
                92.0,
                FloatRange::Linear {
                    min: 20.0,
                    max: 400.0,
                },
            )
            .with_unit(" BPM")
            .with_value_to_string(formatters::v2s_f32_rounded(1)),
            keys: on_off("Letter keys", true),
            first_key: IntParam::new(
                "First letter key",
                FIRST_LETTER_KEY,
                IntRange::Linear { min: 0, max: 127 },
            )
            .with_value_to_string(Arc::new(key_name))
            .with_string_to_value(Arc::new(|text| {
                text.split_whitespace().next()?.parse().ok()
            })),
            letter_start: EnumParam::new("Letters start at", LetterStart::Bar),
            edits: IntParam::new(
                "Score edits",
                0,
                IntRange::Linear {
                    min: 0,
                    max: MAX_EDITS,
                },
            )
            .non_automatable()
            .hide()
            .hide_in_generic_ui(),
        };
        // Every value that a snapshot holds.
        macro_rules! watch {
            ($($name:ident)*) => {$(
                let (flag, page) = (changed.clone(), window.clone());
                params.$name = params.$name.with_callback(Arc::new(move |_| {
                    flag.raise();
                    page.request_repaint();
                }));
            )*};
        }
        watch!(bypass note_ms grace_ms buzz_ms rate start_bar repeat);
        watch!(mute_hands mute_feet mute_ostinato mute_click sound level_db);
        watch!(clock own_run own_score_tempo own_tempo keys first_key letter_start);
        params
    }

    /// All values, if one changed since the last call. For the audio thread.
    pub fn take_changes(&self) -> Option<Snapshot> {
        self.changed.take().then(|| self.snapshot())
    }

    /// All values as they are.
    pub fn snapshot(&self) -> Snapshot {
        let own_tempo = f64::from(self.own_tempo.value());
        Snapshot {
            bypass: self.bypass.value(),
            settings: self.settings(0.0, true),
            start_bars: f64::from(self.start_bar.value() - 1),
            sound: self.sound.value(),
            level_db: self.level_db.value(),
            clock: self.clock.value(),
            own_run: self.own_run.value(),
            own_tempo_bpm: (!self.own_score_tempo.value()).then_some(own_tempo),
            first_key: self.keys.value().then(|| self.first_key.value()),
            letter_start: self.letter_start.value().into(),
        }
    }

    /// What the player is told for the next block. `bar_beats` is the length of
    /// the score's first bar; on the own clock the form starts at its zero.
    pub fn settings(&self, bar_beats: f64, own_clock: bool) -> Settings {
        let bars = f64::from(self.start_bar.value() - 1);
        Settings {
            gate_ms: f64::from(self.note_ms.value()),
            grace_ms: f64::from(self.grace_ms.value()),
            buzz_ms: f64::from(self.buzz_ms.value()),
            rate: self.rate.value().into(),
            start_beats: if own_clock { 0.0 } else { bars * bar_beats },
            repeat: self.repeat.value(),
            mute: Mute {
                hands: self.mute_hands.value(),
                feet: self.mute_feet.value(),
                ostinato: self.mute_ostinato.value(),
                click: self.mute_click.value(),
            },
        }
    }
}

/// Above the percussion keys 35 to 81 of General MIDI Level 1, with a gap for
/// the keys that drum modules add (C6 where 60 is C4).
pub const FIRST_LETTER_KEY: i32 = 84;

/// `84 (C6)`: the number is certain, the octave's number varies by maker.
fn key_name(key: i32) -> String {
    const NAMES: [&str; 12] = [
        "C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B",
    ];
    format!(
        "{key} ({}{})",
        NAMES[key.rem_euclid(12) as usize],
        key.div_euclid(12) - 1
    )
}

impl From<RateChoice> for Rate {
    fn from(choice: RateChoice) -> Rate {
        match choice {
            RateChoice::Half => Rate::Half,
            RateChoice::Normal => Rate::Normal,
            RateChoice::Double => Rate::Double,
        }
    }
}

impl From<LetterStart> for Quantise {
    fn from(start: LetterStart) -> Quantise {
        match start {
            LetterStart::Beat => Quantise::Beat,
            LetterStart::Bar => Quantise::Bar,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_letter_key_lies_above_the_percussion_map() {
        // General MIDI Level 1 percussion key map (MIDI Association): 35 to 81.
        assert!(!(35..=81).contains(&FIRST_LETTER_KEY));
        assert_eq!(key_name(FIRST_LETTER_KEY), "84 (C6)");
        assert_eq!(key_name(0), "0 (C-1)");
    }

    #[test]
    fn the_click_is_muted_until_asked_for() {
        let params = BarformParams::new(Arc::default());
        assert!(params.settings(4.0, false).mute.click);
        assert_eq!(params.settings(4.0, false).start_beats, 0.0);
    }

    #[test]
    fn the_audio_thread_learns_of_every_value_that_changes() {
        let params = BarformParams::new(Arc::default());
        assert!(params.take_changes().is_some(), "the first time");
        for (id, ptr, _) in params.param_map() {
            assert!(params.take_changes().is_none());
            // SAFETY: `params` lives to the end of this test.
            let old = unsafe { ptr.unmodulated_normalized_value() };
            // SAFETY: as above.
            unsafe { ptr._internal_set_normalized_value(if old > 0.5 { 0.0 } else { 1.0 }) };
            let told = params.take_changes().is_some();
            assert_eq!(told, id != "edits", "{id}");
        }
    }

    #[test]
    fn the_ids_of_every_choice_are_known() {
        for (id, ptr, _) in BarformParams::new(Arc::default()).param_map() {
            let is_choice = matches!(ptr, ParamPtr::EnumParam(_));
            assert_eq!(choices(&id).is_some(), is_choice, "{id}");
        }
    }

    #[test]
    fn every_shown_parameter_has_a_name_of_its_own() {
        let params = BarformParams::new(Arc::default());
        let mut names: Vec<String> = Vec::new();
        for (_, ptr, _) in params.param_map() {
            // SAFETY: `params` lives to the end of this test.
            names.push(unsafe { ptr.name() }.to_owned());
        }
        let count = names.len();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), count);
    }
}
