//! What voices, strokes and keys are called, and what the score does with a
//! voice.
//!
//! In: voices and a score. Out: words. Never here: a widget.

use barform_app::craft::sticking::{Rules, Setup};
use barform_app::import::midi::percussion_name;
use barform_app::music::{Articulation, Channel, Key, Kit, Limb, Stroke, Voice};
use barform_app::score::Score;

use crate::editor::palette::print_letter;

/// Most letters that are named in a line.
const NAMED: usize = 12;

/// The trade's name of a way to strike a voice.
pub fn stroke_name(voice: Voice, articulation: Articulation) -> &'static str {
    match (articulation, voice) {
        (Articulation::Plain, Voice::Hat) => "closed",
        (Articulation::Plain, Voice::HatFoot) => "closed by the foot",
        (Articulation::Plain, Voice::Ride) => "bow",
        (Articulation::Plain, Voice::Click) => "beat",
        (Articulation::Plain, Voice::Kick) => "beater",
        (
            Articulation::Plain,
            Voice::Crash | Voice::Crash2 | Voice::Splash | Voice::China | Voice::Cowbell,
        ) => "struck",
        (Articulation::Plain, _) => "head",
        (Articulation::Open, Voice::HatFoot) => "foot splash",
        (Articulation::Bell, Voice::Click) => "first of a bar",
        (other, _) => other.said(),
    }
}

/// A stroke of a voice: `Snare, rimshot`; a plain one is the voice's name.
pub fn full_name(voice: Voice, articulation: Articulation) -> String {
    match articulation {
        Articulation::Plain => voice.title().to_owned(),
        other => format!("{}, {}", voice.title(), stroke_name(voice, other)),
    }
}

/// What General MIDI calls a key; empty if it has no name for it. Keys 33 and 34
/// are of Level 2 (from memory), the others of Level 1.
pub fn key_name(key: Key) -> &'static str {
    match key.number() {
        33 => "Metronome Click",
        34 => "Metronome Bell",
        _ => percussion_name(key).unwrap_or_default(),
    }
}

/// A key in a sentence: `key 38 (Acoustic Snare)`.
pub fn told(key: Key) -> String {
    match key_name(key) {
        "" => format!("note {}", key.number()),
        name => format!("note {} ({name})", key.number()),
    }
}

/// Which limb plays a voice where the score says nothing else.
pub fn limbs(voice: Voice) -> &'static str {
    match voice {
        Voice::Kick => "Played by the foot on its pedal, K.",
        Voice::HatFoot => "Played by the foot on the hi-hat pedal, H.",
        Voice::Click => "Played by nobody: the metronome.",
        _ => "Played by either hand, R or L.",
    }
}

/// All that is worked out of a score for the page.
pub struct Facts {
    setup: Option<Setup>,
    uses: Vec<Use>,
}

/// What the score does with a voice.
#[derive(Default, Clone)]
struct Use {
    /// Cells and ostinatos that play it.
    named: Vec<String>,
    /// Strokes written for each limb.
    strokes: [usize; Limb::ALL.len()],
}

impl Facts {
    /// Of a score.
    pub fn of(score: &Score) -> Facts {
        let mut facts = Facts {
            setup: Rules::builtin().setup("right-handed", &score.kit).ok(),
            uses: vec![Use::default(); Voice::COUNT],
        };
        for cell in score.cells_resolved().unwrap_or_default() {
            let name = print_letter(&cell.letter);
            facts.count(&name, cell.slots.iter().flatten());
        }
        for ostinato in &score.ostinatos {
            let name = format!("ostinato {}", ostinato.name);
            facts.count(&name, ostinato.slots().iter().flatten());
        }
        facts
    }

    fn count<'s>(&mut self, name: &str, strokes: impl Iterator<Item = &'s Stroke>) {
        for stroke in strokes {
            let used = &mut self.uses[stroke.voice.index()];
            if used.named.last().is_none_or(|last| last != name) {
                used.named.push(name.to_owned());
            }
            let limb = Limb::ALL.iter().position(|l| *l == stroke.limb);
            used.strokes[limb.unwrap_or_default()] += 1;
        }
    }

    /// Whether any cell or ostinato plays a voice.
    pub fn is_used(&self, voice: Voice) -> bool {
        !self.uses[voice.index()].named.is_empty()
    }

    /// What plays a voice: `Played in A and B: 12 strokes of R, 3 of L.`
    pub fn use_line(&self, voice: Voice) -> String {
        let used = &self.uses[voice.index()];
        if voice == Voice::Click {
            return "Sounds on every beat of the form, unless the click is muted.".to_owned();
        }
        if used.named.is_empty() {
            return "No cell of this score plays it.".to_owned();
        }
        let limbs = Limb::ALL.iter().zip(used.strokes).filter(|(_, n)| *n > 0);
        let limbs: Vec<String> = limbs.map(|(l, n)| format!("{} {n}", l.letter())).collect();
        let limbs = limbs.join(", ");
        format!("Strokes in {}: {limbs}.", listed(&used.named))
    }

    /// Where a voice stands, as the sticking rules see it.
    pub fn reach_line(&self, voice: Voice) -> Option<String> {
        let pedal = matches!(
            voice,
            Voice::Kick | Voice::HatFoot | Voice::Click | Voice::Snare
        );
        let setup = self.setup.as_ref().filter(|_| !pedal)?;
        let away = setup.cm_between(Voice::Snare, voice);
        let side = match setup.cm_right(voice) {
            0 => "straight ahead",
            1.. => "to the right",
            _ => "to the left",
        };
        Some(format!(
            "About {away} cm from the snare, {side} (right-handed set-up; stickings are worked \
             out with it)."
        ))
    }
}

/// Names in a sentence.
pub fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        _ if names.len() > NAMED => {
            let more = names.len() - NAMED;
            format!("{} and {more} more", names[..NAMED].join(", "))
        }
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Other strokes that a key on a channel plays.
pub fn others(
    kit: &Kit,
    channel: Channel,
    key: Key,
    but: (Voice, Articulation),
) -> Vec<(Voice, Articulation)> {
    let mut found = Vec::new();
    for voice in Voice::ALL.into_iter().chain([Voice::Click]) {
        let side = kit.voice(voice);
        if side.channel != channel {
            continue;
        }
        let ways = voice.articulations().iter();
        let hit = ways.filter(|a| side.keys[a.index()] == Some(key));
        found.extend(hit.map(|a| (voice, *a)).filter(|other| *other != but));
    }
    found
}
