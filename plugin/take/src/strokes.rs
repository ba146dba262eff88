//! From notes to strokes: what is one stroke to a drummer is one here, with its
//! grace notes and bounces.

use crate::keys::Keys;
use crate::recording::Recording;
use barform_score::music::{Articulation, Limb, Velocity, Voice};

/// Two pads of one drum answer one blow within this time, in seconds; pads also
/// send a second contact so soon. Common practice, no source.
const CONTACT: f64 = 0.012;

/// Longest time from a grace note to the next of its stroke, in seconds, where
/// nothing else can be meant; as the MIDI reader has it.
pub const GRACE: f64 = 0.042;

/// Longest time between the bounces of a buzz, in seconds. Common practice.
const BOUNCE: f64 = 0.05;

/// A stroke as it was played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    /// Seconds from the start of the file.
    pub seconds: f64,
    /// What was struck.
    pub voice: Voice,
    /// How.
    pub articulation: Articulation,
    /// How loud.
    pub velocity: Velocity,
    /// Grace notes ahead of it, at most 3.
    pub graces: u8,
    /// Whether it bounced on: a buzz.
    pub buzz: bool,
    /// Notes of the file in it, itself included.
    pub notes: u16,
}

impl Stroke {
    /// The foot that plays it, if one does.
    pub fn foot(&self) -> Option<Limb> {
        foot(self.voice)
    }
}

/// The foot of a pedal's voice.
pub fn foot(voice: Voice) -> Option<Limb> {
    match voice {
        Voice::Kick => Some(Limb::KickFoot),
        Voice::HatFoot => Some(Limb::HatFoot),
        _ => None,
    }
}

/// Strokes of a take, in order of time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Strokes {
    /// The strokes.
    pub list: Vec<Stroke>,
    /// Notes that were a second contact of a stroke.
    pub contacts: usize,
}

/// Grace notes, bounces and second contacts are put with their strokes.
/// `graces` is the longest time of a grace note in seconds; where slots are
/// close, less than [`GRACE`].
pub fn strokes(recording: &Recording, keys: &Keys, graces: f64) -> Strokes {
    let mut drums: Vec<Vec<Stroke>> = vec![Vec::new(); Voice::COUNT];
    let mut contacts = 0;
    for note in &recording.notes {
        let (voice, articulation) = keys.voice(note);
        let stroke = Stroke {
            seconds: note.seconds,
            voice,
            articulation,
            velocity: note.velocity,
            graces: 0,
            buzz: false,
            notes: 1,
        };
        let drum = &mut drums[voice.index()];
        if let Some(last) = drum.last_mut()
            && stroke.seconds - last.seconds < CONTACT
        {
            contacts += 1;
            last.notes = last.notes.saturating_add(1);
            if stroke.velocity > last.velocity {
                last.velocity = stroke.velocity;
            }
            // The rim says more than the head that sounds with it.
            if articulation != Articulation::Plain {
                last.articulation = articulation;
            }
            continue;
        }
        drum.push(stroke);
    }
    let mut hands: Vec<f64> = drums
        .iter()
        .flatten()
        .filter(|s| s.foot().is_none())
        .map(|s| s.seconds)
        .collect();
    hands.sort_by(f64::total_cmp);
    let mut list = Vec::with_capacity(recording.notes.len());
    for drum in drums {
        list.extend(ornaments(&drum, graces, &hands));
    }
    list.sort_by(|a, b| a.seconds.total_cmp(&b.seconds));
    Strokes { list, contacts }
}

/// Grace notes and buzzes of one drum.
fn ornaments(drum: &[Stroke], graces: f64, hands: &[f64]) -> Vec<Stroke> {
    let mut out: Vec<Stroke> = Vec::with_capacity(drum.len());
    let mut i = 0;
    while let Some(first) = drum.get(i) {
        let bounces = bounces(&drum[i..], BOUNCE.min(1.2 * graces));
        if bounces >= 2 && foot(first.voice).is_none() {
            out.push(Stroke {
                buzz: true,
                notes: notes(&drum[i..=i + bounces]),
                ..*first
            });
            i += bounces + 1;
            continue;
        }
        let ahead = ahead(&drum[i..], graces, hands);
        let main = drum[i + ahead];
        out.push(Stroke {
            // At most three.
            graces: ahead as u8,
            notes: notes(&drum[i..=i + ahead]),
            ..main
        });
        i += ahead + 1;
    }
    out
}

fn notes(some: &[Stroke]) -> u16 {
    some.iter()
        .map(|s| s.notes)
        .fold(0, |sum, n| sum.saturating_add(n))
}

/// How many softer notes stand right ahead of the first loud one.
fn ahead(drum: &[Stroke], graces: f64, hands: &[f64]) -> usize {
    if drum.first().is_none_or(|s| foot(s.voice).is_some()) {
        return 0;
    }
    let softer = |a: &Stroke, b: &Stroke| {
        f64::from(a.velocity.value()) <= 0.7 * f64::from(b.velocity.value())
    };
    // The farthest main note that all notes before it lead to.
    (1..=3)
        .take_while(|n| {
            let gap = |w: &[Stroke]| w[1].seconds - w[0].seconds <= graces;
            drum.len() > *n && drum[..=*n].windows(2).all(gap)
        })
        .filter(|n| drum[..*n].iter().all(|s| softer(s, &drum[*n])))
        .filter(|n| !in_run(drum[0].seconds, drum[*n].seconds, *n, hands))
        .last()
        .unwrap_or(0)
}

/// Whether notes from one moment to another are strokes of a fast run: what the
/// hands play right before or after them comes as close as they do.
fn in_run(from: f64, to: f64, gaps: usize, hands: &[f64]) -> bool {
    let gap = (to - from) / gaps as f64;
    let before = hands[..hands.partition_point(|t| *t < from - 1e-9)].last();
    let after = hands.get(hands.partition_point(|t| *t < to + CONTACT));
    let near = [before.map(|t| from - t), after.map(|t| t - to)];
    let nearest = near.into_iter().flatten().fold(f64::INFINITY, f64::min);
    gap > 0.018 && nearest < 1.45 * gap
}

/// How many bounces follow the first note: each softer than it, close on the
/// one before.
fn bounces(drum: &[Stroke], longest: f64) -> usize {
    let first = f64::from(drum[0].velocity.value());
    drum.windows(2)
        .take_while(|w| {
            let (before, now) = (
                f64::from(w[0].velocity.value()),
                f64::from(w[1].velocity.value()),
            );
            let gap = w[1].seconds - w[0].seconds;
            gap <= longest && now <= 0.8 * first && now <= 1.1 * before
        })
        .count()
}
