//! The drum-set staff: where a voice stands on five lines, and its head.
//!
//! After Weinberg, "Guidelines for Drumset Notation" (Percussive Notes, June
//! 1994), positions as if in treble clef. The guidelines give the voices of a
//! usual kit; toms between and beyond those, and effect cymbals, are placed in
//! order of pitch (common practice).

use barform_score::music::{Articulation, Limb, Voice};

/// Steps above the lowest line (E4 in treble clef); from a line to the next
/// space is one step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StaffStep(pub i8);

impl StaffStep {
    /// The pitch letter and octave at this place in treble clef: what MusicXML
    /// calls `display-step` and `display-octave`.
    pub fn pitch(self) -> (char, i8) {
        // E4 is 4 * 7 + 2 steps above C0.
        let from_c0 = i16::from(self.0) + 30;
        let letter = ['C', 'D', 'E', 'F', 'G', 'A', 'B'][from_c0.rem_euclid(7) as usize];
        (letter, from_c0.div_euclid(7) as i8)
    }

    /// The step of a pitch in treble clef; `None` if the letter is none or the
    /// octave is outside of `0 ..= 9`.
    pub fn of_pitch(letter: char, octave: i8) -> Option<StaffStep> {
        let letter = "CDEFGAB".find(letter.to_ascii_uppercase())? as i8;
        (0..=9)
            .contains(&octave)
            .then(|| StaffStep(octave * 7 + letter - 30))
    }
}

/// Shape of a note head.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Head {
    /// Oval: drums. Filled for a quarter and shorter, open for longer.
    Oval,
    /// x: cymbals, hi-hat, cross-stick.
    Cross,
    /// x in a circle: rimshot.
    CircledCross,
    /// Diamond: bell of a cymbal.
    Diamond,
    /// Triangle: cowbell.
    Triangle,
}

/// Whether a limb's stem points up: hands yes, feet no.
pub fn stem_up(limb: Limb) -> bool {
    matches!(limb, Limb::RightHand | Limb::LeftHand)
}

/// Where a voice stands.
pub fn step(voice: Voice) -> StaffStep {
    StaffStep(match voice {
        Voice::HatFoot => -1,
        Voice::Kick => 1,
        Voice::Tom6 => 0,
        Voice::Tom5 => 2,
        Voice::Tom4 => 3,
        Voice::Tom3 => 4,
        Voice::Snare => 5,
        Voice::Tom2 => 6,
        Voice::Tom1 | Voice::Cowbell => 7,
        Voice::Ride => 8,
        Voice::Hat | Voice::Click => 9,
        Voice::Crash => 10,
        Voice::Crash2 => 11,
        Voice::Splash => 12,
        Voice::China => 13,
    })
}

/// Head of a voice struck in a way.
pub fn head(voice: Voice, articulation: Articulation) -> Head {
    match (voice, articulation) {
        (_, Articulation::Rim) => Head::CircledCross,
        (_, Articulation::Cross) => Head::Cross,
        (_, Articulation::Bell) => Head::Diamond,
        (Voice::Cowbell, _) => Head::Triangle,
        (
            Voice::Hat
            | Voice::HatFoot
            | Voice::Ride
            | Voice::Crash
            | Voice::Crash2
            | Voice::Splash
            | Voice::China
            | Voice::Click,
            _,
        ) => Head::Cross,
        _ => Head::Oval,
    }
}
