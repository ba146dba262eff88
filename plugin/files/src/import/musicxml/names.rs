//! Which voice an instrument's name means: as we write it, as General MIDI has
//! it, else by the words in it.

use crate::import::midi::{FIRST_PERCUSSION_KEY, PERCUSSION_NAMES, percussion_voice};
use barform_score::music::{Articulation, Key, Voice};

const TOMS: [Voice; 6] = [
    Voice::Tom1,
    Voice::Tom2,
    Voice::Tom3,
    Voice::Tom4,
    Voice::Tom5,
    Voice::Tom6,
];

/// A voice by an instrument's name.
pub(super) fn of_name(name: &str) -> Option<(Voice, Articulation)> {
    let words = Words::of(name);
    let ours = Voice::ALL.into_iter().flat_map(|voice| {
        let ways = voice.articulations().iter();
        ways.map(move |how| (voice, *how))
    });
    let is = |other: &str| words == Words::of(other);
    let mut ours = ours.filter(|(voice, how)| is(&voice.instrument(*how)));
    if let Some(found) = ours.next() {
        return Some(found);
    }
    // Its key then means the same as its name. What General MIDI names and a drum
    // set has not (hand clap, congas) is no voice.
    if let Some(at) = PERCUSSION_NAMES.iter().position(|name| is(name)) {
        return percussion_voice(Key::new(FIRST_PERCUSSION_KEY + at as u8)?);
    }
    words.meaning()
}

/// The words of a name, spelt one way: `Hi Hat` and `hihat` are `hi-hat`.
#[derive(PartialEq)]
struct Words(Vec<String>);

/// Two words that are one, and other spellings.
const SPELLINGS: [(&str, &str); 14] = [
    ("hi hat", "hi-hat"),
    ("high hat", "hi-hat"),
    ("hihat", "hi-hat"),
    ("hi", "high"),
    ("tom tom", "tom"),
    ("tomtom", "tom"),
    ("toms", "tom"),
    ("cow bell", "cowbell"),
    ("side stick", "cross-stick"),
    ("sidestick", "cross-stick"),
    ("cross stick", "cross-stick"),
    ("rim click", "cross-stick"),
    ("rim shot", "rimshot"),
    ("bassdrum", "bass drum"),
];

impl Words {
    fn of(name: &str) -> Words {
        let lower = name.to_lowercase();
        let words: Vec<&str> = lower
            .split(|c: char| !c.is_alphanumeric())
            .filter(|word| !word.is_empty())
            .collect();
        let mut text = format!(" {} ", words.join(" "));
        for (from, to) in SPELLINGS {
            text = text.replace(&format!(" {from} "), &format!(" {to} "));
        }
        Words(text.split_whitespace().map(str::to_owned).collect())
    }

    fn has(&self, any: &[&str]) -> bool {
        self.0.iter().any(|word| any.contains(&word.as_str()))
    }

    /// Common practice.
    fn meaning(&self) -> Option<(Voice, Articulation)> {
        use Articulation::*;
        let second = self.has(&["2", "ii", "second"]);
        let rim = self.has(&["rim", "rimshot"]);
        let voice = if self.has(&["kick"]) || (self.has(&["bass"]) && self.has(&["drum"])) {
            Voice::Kick
        } else if self.has(&["hi-hat"]) {
            match self.has(&["pedal", "foot"]) {
                true => Voice::HatFoot,
                false => Voice::Hat,
            }
        } else if self.has(&["cowbell"]) {
            Voice::Cowbell
        } else if self.has(&["ride"]) {
            Voice::Ride
        } else if self.has(&["splash"]) {
            Voice::Splash
        } else if self.has(&["china", "chinese"]) {
            Voice::China
        } else if self.has(&["crash"]) {
            match second {
                true => Voice::Crash2,
                false => Voice::Crash,
            }
        } else if self.has(&["tom"]) {
            self.tom()
        } else if rim || self.has(&["snare", "cross-stick"]) {
            Voice::Snare
        } else {
            return None;
        };
        let how = if self.has(&["choke", "choked"]) {
            Choke
        } else if self.has(&["cross-stick"]) {
            Cross
        } else if rim {
            Rim
        } else if self.has(&["bell", "cup"]) {
            Bell
        } else if self.has(&["half"]) {
            Half
        } else if self.has(&["open"]) || (voice == Voice::HatFoot && self.has(&["splash"])) {
            Open
        } else {
            Plain
        };
        let can = voice.articulations().contains(&how);
        Some((voice, if can { how } else { Plain }))
    }

    /// Which tom: by number, else by height. A floor tom alone is the one that
    /// stands on A4 (Weinberg's guidelines).
    fn tom(&self) -> Voice {
        let number = self.0.iter().find_map(|word| word.parse::<usize>().ok());
        let number = number.filter(|n| (1..=TOMS.len()).contains(n));
        let high = self.has(&["high"]);
        let mid = self.has(&["mid", "middle", "medium"]);
        let low = self.has(&["low"]);
        if self.has(&["floor"]) {
            return match number {
                _ if high => Voice::Tom5,
                _ if low => Voice::Tom6,
                Some(1) => Voice::Tom5,
                Some(2) => Voice::Tom6,
                _ => Voice::Tom4,
            };
        }
        match number {
            Some(number) => TOMS[number - 1],
            None if high && mid => Voice::Tom2,
            None if low && mid => Voice::Tom3,
            None if high => Voice::Tom1,
            None if low => Voice::Tom4,
            None => Voice::Tom2,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Articulation::*;
    use barform_score::music::{Channel, Kit};

    #[test]
    fn our_own_names_mean_what_they_were_written_for() {
        for voice in Voice::ALL {
            for how in voice.articulations() {
                let name = voice.instrument(*how);
                assert_eq!(of_name(&name), Some((voice, *how)), "{name}");
                assert_eq!(of_name(&name.to_uppercase()), Some((voice, *how)));
            }
        }
    }

    /// General MIDI System Level 1, percussion key map (MIDI Association).
    #[test]
    fn a_general_midi_name_means_what_its_key_means() {
        let kit = Kit::general_midi();
        for (name, key) in PERCUSSION_NAMES.iter().zip(FIRST_PERCUSSION_KEY..) {
            let of_key = match key {
                // A second one of a kind.
                35 => Some((Voice::Kick, Plain)),
                59 => Some((Voice::Ride, Plain)),
                _ => kit.voice_of_key(Channel::PERCUSSION, Key::new(key).unwrap()),
            };
            assert_eq!(of_name(name), of_key, "{key} {name}");
            // Other copies of the map write hyphens and blanks the other way.
            assert_eq!(of_name(&name.replace('-', " ")), of_key, "{key} {name}");
        }
    }

    /// Common practice.
    #[test]
    fn words_of_a_name_are_told_apart() {
        for (name, meant) in [
            ("Tom 1 (rim)", Some((Voice::Tom1, Rim))),
            ("TomTom 3", Some((Voice::Tom3, Plain))),
            ("12\" Tom", Some((Voice::Tom2, Plain))),
            ("Floor Tom", Some((Voice::Tom4, Plain))),
            ("Floor Tom 1", Some((Voice::Tom5, Plain))),
            ("Floor Tom 2", Some((Voice::Tom6, Plain))),
            ("Middle Tom", Some((Voice::Tom2, Plain))),
            ("Snare rim shot", Some((Voice::Snare, Rim))),
            ("Rim click", Some((Voice::Snare, Cross))),
            ("Snare (side stick)", Some((Voice::Snare, Cross))),
            ("Hihat half open", Some((Voice::Hat, Half))),
            ("High hat with foot", Some((Voice::HatFoot, Plain))),
            ("Pedal hi-hat splash", Some((Voice::HatFoot, Open))),
            ("Ride (cup)", Some((Voice::Ride, Bell))),
            ("Crash choked", Some((Voice::Crash, Choke))),
            ("Second crash", Some((Voice::Crash2, Plain))),
            ("16\" Crash", Some((Voice::Crash, Plain))),
            ("Bass guitar", None),
            ("Custom noise", None),
            ("Steel drum", None),
            ("", None),
        ] {
            assert_eq!(of_name(name), meant, "{name}");
        }
    }
}
