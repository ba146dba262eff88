//! What was heard against what must be: no note lost, doubled, hanging or cut
//! short, each within what its host's habits excuse, and even distances once the
//! line is steady.

use std::collections::HashMap;
use std::fmt;

use crate::form::Sound;
use crate::told::Note;

use crate::session::{Session, Want};

/// What is wrong with a session.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// In a word.
    pub kind: Kind,
    /// In full.
    pub text: String,
}

/// Kinds of faults.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Kind {
    /// All is there, but a stroke sounded up to five milliseconds further from its
    /// place than its host excuses, or two on a steady line are too near or far.
    Moved,
    /// A stroke did not sound, or not in its place.
    Lost,
    /// A note that no stroke is left for.
    Extra,
    /// A note without an end, or an end without a note.
    Hanging,
    /// A note ends early or late.
    Length,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        write!(f, "{:?}: {}", self.kind, self.text)
    }
}

fn fault(kind: Kind, text: String) -> Fault {
    Fault { kind, text }
}

/// Distances on a steady line are right to one sample: by so much less than two
/// may they be off before they are rounded.
const DISTANCE_SAMPLES: f64 = 1.5;

/// Compares `notes`, on samples of the session and in order, each of which lasts
/// `gate` samples, with what must be heard.
///
/// # Errors
/// The first thing that is wrong.
pub fn judge(session: &Session, notes: &[(i64, Note)], gate: i64) -> Result<(), Fault> {
    let matched = match_up(&session.wants, notes);
    if matched.is_err() {
        // Is it only a little off?
        let near: Vec<Want> = session.wants.iter().map(Want::nearly).collect();
        match_up(&near, notes)?;
    }
    check_lengths(session, notes, gate)?;
    match matched {
        Ok(matched) => check_distances(matched),
        Err(fault) => Err(Fault {
            kind: Kind::Moved,
            ..fault
        }),
    }
}

/// Which stroke each note is: per sound, in order, one to one.
fn match_up<'a>(wants: &'a [Want], notes: &[(i64, Note)]) -> Result<Vec<(&'a Want, i64)>, Fault> {
    let mut by_sound: HashMap<Sound, (Vec<&Want>, Vec<i64>)> = HashMap::new();
    for want in wants {
        by_sound.entry(want.sound).or_default().0.push(want);
    }
    for (sample, note) in notes.iter().filter(|(_, note)| note.on) {
        by_sound.entry(note.sound()).or_default().1.push(*sample);
    }
    let mut matched = Vec::with_capacity(wants.len());
    let mut first: Option<(i64, Fault)> = None;
    for (sound, (mut wants, mut heard)) in by_sound {
        wants.sort_by(|a, b| a.time.total_cmp(&b.time));
        heard.sort_unstable();
        match match_sound(sound, &wants, &heard) {
            Ok(pairs) => matched.extend(pairs),
            Err((at, fault)) => {
                if first.as_ref().is_none_or(|(before, _)| at < *before) {
                    first = Some((at, fault));
                }
            }
        }
    }
    match first {
        Some((_, fault)) => Err(fault),
        None => Ok(matched),
    }
}

/// How far a matching has come: so many notes are taken, at what cost, and what
/// was done with each stroke.
type State = (usize, f64, Vec<bool>);

fn match_sound<'a>(
    sound: Sound,
    wants: &[&'a Want],
    heard: &[i64],
) -> Result<Vec<(&'a Want, i64)>, (i64, Fault)> {
    let mut states: Vec<State> = vec![(0, 0.0, Vec::new())];
    for want in wants {
        let mut next: Vec<State> = Vec::new();
        let mut add = |taken: usize, cost: f64, before: &[bool], came: bool| {
            let done = || before.iter().copied().chain([came]).collect();
            match next.iter_mut().find(|state| state.0 == taken) {
                Some(state) if state.1 <= cost => {}
                Some(state) => *state = (taken, cost, done()),
                None => next.push((taken, cost, done())),
            }
        };
        for (taken, cost, done) in &states {
            let note = heard.get(*taken).copied();
            if let Some(note) = note.filter(|note| (want.first..=want.last).contains(note)) {
                let off = (note as f64 - want.time).abs();
                add(taken + 1, cost + off, done, true);
            }
            if want.optional {
                add(*taken, *cost, done, false);
            }
        }
        if next.is_empty() {
            let taken = states.iter().map(|state| state.0).max().unwrap_or(0);
            let around: Vec<_> = heard[taken.saturating_sub(2)..].iter().take(5).collect();
            let note = heard.get(taken).copied();
            // A note that comes before its time is one too many, or it is early.
            let early = note.is_some_and(|note| note < want.first);
            let kind = if early { Kind::Extra } else { Kind::Lost };
            let text = format!(
                "{sound:?} at {:.3}, on {}..={}, but there is {around:?}",
                want.time, want.first, want.last
            );
            return Err((note.unwrap_or(want.last).min(want.last), fault(kind, text)));
        }
        states = next;
    }
    let Some((_, _, done)) = states.iter().find(|state| state.0 == heard.len()) else {
        let taken = states.iter().map(|state| state.0).max().unwrap_or(0);
        let text = format!("{sound:?} on {} is not in the score", heard[taken]);
        return Err((heard[taken], fault(Kind::Extra, text)));
    };
    let came = wants.iter().zip(done).filter(|(_, came)| **came);
    Ok(came
        .map(|(want, _)| *want)
        .zip(heard.iter().copied())
        .collect())
}

/// Every note lasts as long as it should: the gate, but no longer than to the
/// next note of its key or to the end of the run.
fn check_lengths(session: &Session, notes: &[(i64, Note)], gate: i64) -> Result<(), Fault> {
    let mut sounding: HashMap<(u8, u8), i64> = HashMap::new();
    let mut restruck: HashMap<(u8, u8), (i64, i64)> = HashMap::new();
    for (sample, note) in notes {
        let key = (note.channel, note.key);
        if note.on {
            if let Some(since) = sounding.insert(key, *sample) {
                let text = format!("{note:?} on {sample}, but on since {since}");
                return Err(fault(Kind::Hanging, text));
            }
            // Cut short by this one, and not by something before it.
            if let Some((since, end)) = restruck.remove(&key)
                && end != *sample
            {
                let text = format!("{note:?} on {since} lasts {} samples", end - since);
                return Err(fault(Kind::Length, text));
            }
            continue;
        }
        let Some(since) = sounding.remove(&key) else {
            let text = format!("{note:?} on {sample} ends no note");
            return Err(fault(Kind::Hanging, text));
        };
        let length = sample - since;
        let cut = session.cuts.partition_point(|cut| cut.at <= since);
        let cut = session.cuts.get(cut).copied();
        let most = cut
            .filter(|cut| cut.stops)
            .map_or(gate, |cut| gate.min(cut.at - since));
        if length > most {
            let text = format!("{note:?} on {since} lasts {length} samples");
            return Err(fault(Kind::Length, text));
        }
        if length < gate && cut.is_none_or(|cut| *sample < cut.at) {
            restruck.insert(key, (since, *sample));
        }
    }
    if let Some((key, since)) = sounding.iter().next() {
        let text = format!("{key:?} on {since} has no end");
        return Err(fault(Kind::Hanging, text));
    }
    if let Some((key, (since, end))) = restruck.iter().next() {
        let text = format!("{key:?} on {since} lasts {} samples", end - since);
        return Err(fault(Kind::Length, text));
    }
    Ok(())
}

/// Neighbours on one steady line are as far apart as they should be.
fn check_distances(mut matched: Vec<(&Want, i64)>) -> Result<(), Fault> {
    matched.retain(|(want, _)| want.steady.is_some());
    matched.sort_by(|a, b| a.0.time.total_cmp(&b.0.time));
    for pair in matched.windows(2) {
        let [(before, from), (after, to)] = [pair[0], pair[1]];
        let (Some(first), Some(second)) = (before.steady, after.steady) else {
            continue;
        };
        if first.line != second.line {
            continue;
        }
        let off = (to - from) as f64 - (after.time - before.time);
        let learnt = (first.unknown - second.unknown).max(0.0);
        if off.abs() > DISTANCE_SAMPLES + learnt {
            let text = format!(
                "from {from} to {to}, where {:.3} to {:.3} is right",
                before.time, after.time
            );
            return Err(fault(Kind::Moved, text));
        }
    }
    Ok(())
}
