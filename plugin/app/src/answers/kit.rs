//! What a score does with its kit, and what a key plays.

use super::rules;
use crate::craft::sticking::Setup;
use crate::music::{Articulation, Channel, Key, Kit, Limb, Stroke, Voice};
use crate::score::Score;
use crate::words::{letter, listed};

/// What a score does with the voices of its kit.
pub struct KitUse {
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

impl KitUse {
    /// Of a score.
    pub fn of(score: &Score) -> KitUse {
        let mut facts = KitUse {
            setup: rules().sticking.setup("right-handed", &score.kit).ok(),
            uses: vec![Use::default(); Voice::COUNT],
        };
        for cell in score.cells_resolved().unwrap_or_default() {
            let name = letter(&cell.letter);
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

/// Other strokes that a key on a channel plays.
pub fn other_strokes(
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
