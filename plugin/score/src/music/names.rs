//! What voices, limbs and ways of striking are called: the one table for score
//! files, pages, messages and notation files.

use super::{Articulation, Limb, Voice};

/// The names of a voice.
struct Names {
    /// In a score file.
    word: &'static str,
    /// In a sentence.
    said: &'static str,
    /// At the head of something.
    title: &'static str,
    /// In full, as in a list of instruments.
    full: &'static str,
    /// In two letters: the trade's abbreviations where there are any.
    mark: &'static str,
}

const fn names(
    word: &'static str,
    said: &'static str,
    title: &'static str,
    full: &'static str,
    mark: &'static str,
) -> Names {
    Names {
        word,
        said,
        title,
        full,
        mark,
    }
}

impl Voice {
    const fn names(self) -> Names {
        match self {
            Voice::Kick => names("kick", "kick", "Kick", "Bass drum", "BD"),
            Voice::Snare => names("snare", "snare", "Snare", "Snare drum", "SD"),
            Voice::Hat => names("hat", "hi-hat", "Hi-hat", "Hi-hat", "HH"),
            Voice::HatFoot => names(
                "hatfoot",
                "hi-hat foot",
                "Hi-hat foot",
                "Hi-hat pedal",
                "HF",
            ),
            Voice::Tom1 => names("tom1", "tom 1", "Tom 1", "Tom 1", "T1"),
            Voice::Tom2 => names("tom2", "tom 2", "Tom 2", "Tom 2", "T2"),
            Voice::Tom3 => names("tom3", "tom 3", "Tom 3", "Tom 3", "T3"),
            Voice::Tom4 => names("tom4", "tom 4", "Tom 4", "Tom 4", "T4"),
            Voice::Tom5 => names("tom5", "tom 5", "Tom 5", "Tom 5", "T5"),
            Voice::Tom6 => names("tom6", "tom 6", "Tom 6", "Tom 6", "T6"),
            Voice::Ride => names("ride", "ride", "Ride", "Ride cymbal", "RC"),
            Voice::Crash => names("crash", "crash", "Crash", "Crash cymbal", "CC"),
            Voice::Crash2 => names("crash2", "crash 2", "Crash 2", "Crash cymbal 2", "C2"),
            Voice::Splash => names("splash", "splash", "Splash", "Splash cymbal", "SP"),
            Voice::China => names("china", "china", "China", "China cymbal", "CH"),
            Voice::Cowbell => names("cowbell", "cowbell", "Cowbell", "Cowbell", "CB"),
            Voice::Click => names("click", "click", "Click", "Metronome", "CK"),
        }
    }

    /// The word in a score file.
    pub const fn name(self) -> &'static str {
        self.names().word
    }

    /// The trade's name in a sentence: `hi-hat`.
    pub const fn said(self) -> &'static str {
        self.names().said
    }

    /// The trade's name with a capital: `Hi-hat`.
    pub const fn title(self) -> &'static str {
        self.names().title
    }

    /// Two letters, the trade's abbreviation where there is one: `HH`.
    pub const fn mark(self) -> &'static str {
        self.names().mark
    }

    /// The full name of a way to strike the voice, as in a list of instruments:
    /// `Snare drum, rimshot`.
    pub fn instrument(self, how: Articulation) -> String {
        match how.said() {
            "" => self.names().full.to_owned(),
            said => format!("{}, {said}", self.names().full),
        }
    }
}

impl Articulation {
    /// The trade's word in a sentence; empty for plain.
    pub const fn said(self) -> &'static str {
        match self {
            Articulation::Plain => "",
            Articulation::Rim => "rimshot",
            Articulation::Cross => "cross-stick",
            Articulation::Open => "open",
            Articulation::Half => "half-open",
            Articulation::Bell => "bell",
            Articulation::Choke => "choked",
        }
    }
}

impl Limb {
    /// The limb in a sentence: `right hand`.
    pub const fn said(self) -> &'static str {
        match self {
            Limb::RightHand => "right hand",
            Limb::LeftHand => "left hand",
            Limb::KickFoot => "kick foot",
            Limb::HatFoot => "hi-hat foot",
        }
    }

    /// The limb with a capital: `Right hand`.
    pub const fn title(self) -> &'static str {
        match self {
            Limb::RightHand => "Right hand",
            Limb::LeftHand => "Left hand",
            Limb::KickFoot => "Kick foot",
            Limb::HatFoot => "Hi-hat foot",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_are_called_the_same_and_titles_are_what_is_said() {
        let titled = |said: &str| said[..1].to_uppercase() + &said[1..];
        let mut seen: Vec<String> = Vec::new();
        for voice in Voice::ALL.into_iter().chain([Voice::Click]) {
            assert_eq!(voice.title(), titled(voice.said()));
            assert_eq!(voice.mark().len(), 2);
            seen.push(voice.mark().to_owned());
            seen.push(voice.title().to_owned());
            for how in voice.articulations() {
                seen.push(format!("in full: {}", voice.instrument(*how)));
            }
        }
        for limb in Limb::ALL {
            assert_eq!(limb.title(), titled(limb.said()));
            seen.push(format!("limb: {}", limb.title()));
        }
        let count = seen.len();
        seen.sort();
        seen.dedup();
        assert_eq!(seen.len(), count);
    }
}
