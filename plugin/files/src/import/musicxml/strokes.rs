//! From notes to strokes: what is struck, how, by which limb, with which grace
//! notes.

use super::brief;
use super::instruments::Instrument;
use super::music::Hit;
use super::note::{RawNote, Technical, Tremolo};
use crate::import::{RemarkKind, Remarks};
use barform_score::music::{Articulation, Graces, Hand, Level, Limb, Voice};
use barform_sheet::{self, Head, StaffStep};
use std::collections::HashMap;

/// What a part says for all of its notes.
pub(super) struct Reader<'a> {
    pub instruments: &'a HashMap<String, Instrument>,
    /// A percussion clef or MIDI's percussion channel: notes with a pitch are
    /// read by their place.
    pub percussion: bool,
}

impl Reader<'_> {
    /// The strokes of one bar, in order of time.
    pub fn bar(&self, notes: &[RawNote], number: u32, remarks: &mut Remarks) -> Vec<Hit> {
        let mut hits = Vec::new();
        let mut voices: Vec<&str> = notes.iter().map(|n| n.voice.as_str()).collect();
        voices.sort_unstable();
        voices.dedup();
        for voice in voices {
            let mut graces: Vec<Vec<&RawNote>> = Vec::new();
            let mut mine = notes.iter().filter(|n| n.voice == voice).peekable();
            while let Some(note) = mine.next() {
                let mut chord = vec![note];
                while let Some(next) = mine.next_if(|n| n.chord && n.grace == note.grace) {
                    chord.push(next);
                }
                if note.grace {
                    graces.push(chord);
                } else {
                    self.chord(&chord, &graces, number, remarks, &mut hits);
                    graces.clear();
                }
            }
            if !graces.is_empty() {
                let what = "grace notes after the last note of a bar are not kept";
                remarks.add(RemarkKind::NotKept, Some(number), what);
            }
        }
        // Stable: strokes at one time stay in the order of the file.
        hits.sort_by_key(|h| h.at);
        hits
    }

    fn chord(
        &self,
        chord: &[&RawNote],
        graces: &[Vec<&RawNote>],
        number: u32,
        remarks: &mut Remarks,
        hits: &mut Vec<Hit>,
    ) {
        let first = hits.len();
        let mut from: Vec<&RawNote> = Vec::new();
        for note in chord {
            for unknown in &note.unknown {
                let what = format!("{unknown} was passed over");
                remarks.add(RemarkKind::NotUnderstood, Some(number), what);
            }
            if note.rest || note.tied {
                continue;
            }
            if note.cue {
                remarks.add(
                    RemarkKind::NotKept,
                    Some(number),
                    "cue notes are not played",
                );
                continue;
            }
            if let Some(hit) = self.hit(note, number, remarks) {
                hits.push(hit);
                from.push(note);
            }
        }
        let hits = &mut hits[first..];
        self.graces(graces, &from, hits, number, remarks);
        for lyric in chord.iter().flat_map(|n| &n.lyrics) {
            if sticking(lyric, hits) {
                let what = "lyrics of the letters R L K H were taken for sticking";
                remarks.add(RemarkKind::Assumed, None, what);
            } else {
                let what = format!("the lyric '{}' was passed over", brief(lyric));
                remarks.add(RemarkKind::NotUnderstood, Some(number), what);
            }
        }
    }

    fn hit(&self, note: &RawNote, number: u32, remarks: &mut Remarks) -> Option<Hit> {
        if note.pitched && !self.percussion {
            let what = "notes with a pitch are not a drum set's";
            remarks.add(RemarkKind::NotKept, Some(number), what);
            return None;
        }
        if let Some(head) = &note.unknown_head {
            let what = format!("the note head '{head}' was passed over");
            remarks.add(RemarkKind::NotUnderstood, Some(number), what);
        }
        let Some((voice, articulation)) = self.struck(note, number, remarks) else {
            let place = note
                .place
                .map_or("nowhere".to_owned(), |(s, o)| format!("{s}{o}"));
            let what = format!("a note at {place} is none of the drum set's and was left out");
            remarks.add(RemarkKind::NotUnderstood, Some(number), what);
            return None;
        };
        if let Some(Tremolo::Measured(beams)) = note.buzz {
            let what = format!("a tremolo of {beams} beams was taken for a buzz");
            remarks.add(RemarkKind::Assumed, Some(number), what);
        }
        Some(Hit {
            at: note.at.0,
            voice,
            articulation,
            limb: note.limb,
            level: match (note.accent, note.parentheses) {
                (true, _) => Level::Accent,
                (_, true) => Level::Ghost,
                _ => Level::Normal,
            },
            graces: Vec::new(),
            buzz: note.buzz.is_some(),
        })
    }

    /// What a note strikes: by its instrument, else by its place and head.
    fn struck(
        &self,
        note: &RawNote,
        number: u32,
        remarks: &mut Remarks,
    ) -> Option<(Voice, Articulation)> {
        let instrument = match &note.instrument {
            Some(id) => self.instruments.get(id),
            // The only instrument of a part need not be named.
            None if self.instruments.len() == 1 => self.instruments.values().next(),
            None => None,
        };
        let known = instrument.and_then(|i| Some((i.voice?, i.named)));
        let (voice, articulation) = match known {
            Some((struck, true)) => return Some(struck),
            Some((struck, false)) => struck,
            None => {
                let (step, octave) = note.place?;
                let step = StaffStep::of_pitch(step, octave)?;
                let struck = by_place(step, note.head)?;
                let what = "instruments without a known key or name were read by their place \
                            on the staff and their heads";
                remarks.add(RemarkKind::Assumed, Some(number), what);
                struck
            }
        };
        Some((voice, refined(voice, articulation, note)))
    }

    /// Gives grace notes to the strokes after them.
    fn graces(
        &self,
        graces: &[Vec<&RawNote>],
        from: &[&RawNote],
        hits: &mut [Hit],
        number: u32,
        remarks: &mut Remarks,
    ) {
        let mut said = |what: &str| remarks.add(RemarkKind::NotKept, Some(number), what);
        if graces.is_empty() {
            return;
        }
        if hits.is_empty() {
            said("grace notes before a rest are not kept");
            return;
        }
        // Which stroke each slur leads to.
        let owner = |slur: &String| from.iter().position(|n| n.slurs_to.contains(slur));
        let mut open: Vec<usize> = Vec::new();
        for group in graces {
            for note in group {
                let starts = note.slurs_from.iter().find_map(owner);
                if let Some(hit) = starts.filter(|hit| !open.contains(hit)) {
                    open.push(hit);
                }
            }
            // The notes of one moment stand in the order of their strokes.
            open.sort_unstable();
            let mut taken: Vec<usize> = Vec::new();
            for note in group {
                let same = |hit: &usize| note.instrument == from[*hit].instrument;
                let free = |hit: &usize| !taken.contains(hit);
                let slurred = note.slurs_from.iter().find_map(owner);
                let hand = |hit: &usize| !foot(hits[*hit].voice, hits[*hit].limb);
                let all = 0..hits.len();
                let hit = slurred
                    .filter(free)
                    .or_else(|| open.iter().copied().filter(free).find(same))
                    .or_else(|| all.clone().filter(free).filter(hand).find(same))
                    .or_else(|| all.clone().filter(free).find(hand));
                match hit {
                    Some(hit) if hits[hit].graces.len() < Graces::MAX => {
                        hits[hit].graces.push(note.hand);
                        taken.push(hit);
                    }
                    Some(_) => said("more than three grace notes before a stroke are not kept"),
                    None => said("grace notes of a foot are not kept"),
                }
            }
        }
    }
}

/// Whether a stroke is a foot's: as the file says, else by its voice.
pub(super) fn foot(voice: Voice, limb: Option<Limb>) -> bool {
    match limb {
        Some(limb) => limb.is_foot(),
        None => matches!(voice, Voice::Kick | Voice::HatFoot),
    }
}

/// The voice that our staff has at a place, with the head if one has it.
fn by_place(step: StaffStep, head: Option<Head>) -> Option<(Voice, Articulation)> {
    let head = head.unwrap_or(Head::Oval);
    let at = || {
        let all = Voice::ALL
            .into_iter()
            .filter(move |v| barform_sheet::step(*v) == step);
        all.flat_map(|v| v.articulations().iter().map(move |a| (v, *a)))
    };
    at().find(|(v, a)| barform_sheet::head(*v, *a) == head)
        .or_else(|| at().next())
}

/// What signs and heads add to a plain stroke.
fn refined(voice: Voice, articulation: Articulation, note: &RawNote) -> Articulation {
    if articulation != Articulation::Plain && note.technical.is_none() {
        return articulation;
    }
    let signed = match (note.technical, note.head) {
        (Some(Technical::Open), _) => Articulation::Open,
        (Some(Technical::HalfOpen), _) => Articulation::Half,
        (Some(Technical::Choke), _) => Articulation::Choke,
        (Some(Technical::Closed), _) => Articulation::Plain,
        (None, Some(Head::CircledCross)) => Articulation::Rim,
        (None, Some(Head::Diamond)) => Articulation::Bell,
        (None, Some(Head::Cross)) if voice == Voice::Snare => Articulation::Cross,
        _ => articulation,
    };
    if voice.articulations().contains(&signed) {
        signed
    } else {
        articulation
    }
}

/// Takes a lyric for sticking if it is nothing but limbs, as `R`, `lR`, `R+K`.
fn sticking(lyric: &str, hits: &mut [Hit]) -> bool {
    let mut limbs: Vec<(Vec<Hand>, Limb)> = Vec::new();
    let mut hands = Vec::new();
    for letter in lyric.chars() {
        match (letter, Limb::from_letter(letter)) {
            (_, Some(limb)) => limbs.push((std::mem::take(&mut hands), limb)),
            ('r', _) => hands.push(Hand::Right),
            ('l', _) => hands.push(Hand::Left),
            ('+' | '/' | ' ', _) if hands.is_empty() => {}
            _ => return false,
        }
    }
    if limbs.is_empty() || limbs.len() > 4 || !hands.is_empty() {
        return false;
    }
    for (graces, limb) in limbs {
        let fits = |h: &&mut Hit| h.limb.is_none() && foot(h.voice, None) == limb.is_foot();
        if let Some(hit) = hits.iter_mut().find(fits) {
            hit.limb = Some(limb);
            if graces.len() == hit.graces.len() {
                hit.graces = graces.into_iter().map(Some).collect();
            }
        }
    }
    true
}
