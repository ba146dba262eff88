//! A form and somebody who plays it.

use barform_dice::Dice;
use midly::{Header, MetaMessage, MidiMessage, Smf, Timing, TrackEvent, TrackEventKind};

/// General MIDI keys of the drums used: kick, snare, hat, three toms, ride, hi-hat pedal.
pub const KEYS: [u8; 8] = [36, 38, 42, 50, 47, 43, 51, 44];

/// A stroke of a cell: numerator and denominator in beats, key, velocity.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Note {
    pub at: (i64, i64),
    pub key: u8,
    pub velocity: u8,
    pub graces: u8,
}

#[derive(Clone, Debug)]
pub struct Cell {
    pub beats: i64,
    pub notes: Vec<Note>,
    /// The cell it is a prime of.
    pub like: Option<usize>,
}

#[derive(Clone, Debug)]
pub struct Piece {
    pub cells: Vec<Cell>,
    pub form: Vec<usize>,
}

/// A stroke as it was played: seconds, and what was meant, if anything.
#[derive(Clone, Copy, Debug)]
pub struct Played {
    pub seconds: f64,
    pub key: u8,
    pub velocity: u8,
    /// Beat from the start of the form and place in it.
    pub meant: Option<(i64, (i64, i64))>,
    /// Whether it is a grace note.
    pub grace: bool,
}

#[derive(Clone, Copy, Debug)]
pub struct Player {
    /// Spread in seconds.
    pub jitter: f64,
    /// Share of strokes that are wrong, missing or too many.
    pub slips: f64,
    /// Largest drift of tempo, as a share.
    pub drift: f64,
    pub tempo: f64,
    /// Seconds before the first beat.
    pub lead: f64,
}

const GRIDS: [(i64, f64, f64); 9] = [
    // Slots, how often, how full.
    (2, 2.0, 1.0),
    (4, 5.0, 0.8),
    (3, 2.0, 1.0),
    (6, 3.0, 0.95),
    (8, 1.0, 1.0),
    (5, 0.5, 1.0),
    (7, 0.3, 1.0),
    (9, 0.2, 1.0),
    (12, 0.2, 1.0),
];

fn beat(dice: &mut Dice, beat: i64, notes: &mut Vec<Note>) {
    let (slots, _, full) = GRIDS[dice.weighted(&GRIDS.map(|g| g.1))];
    for slot in 0..slots {
        // What tells a grid from a coarser one is always struck.
        let tells = slot == 0 || slot == 1 || slot == slots - 1;
        if !tells && !dice.chance(full) {
            continue;
        }
        let hand = [1, 2, 3, 4, 5, 6][dice.weighted(&[4.0, 2.0, 1.0, 1.0, 1.0, 1.0])];
        let main = if dice.chance(0.15) { 0 } else { hand };
        let velocity = [45, 80, 110][dice.weighted(&[1.0, 3.0, 1.0])];
        let flam = main != 0 && slots <= 4 && dice.chance(0.06);
        let note = |key: usize, graces| Note {
            at: (beat * slots + slot, slots),
            key: KEYS[key],
            velocity: if graces > 0 { 100 } else { velocity },
            graces,
        };
        notes.push(note(main, u8::from(flam)));
        if main != 0 && slots <= 4 && dice.chance(0.25) {
            notes.push(note(0, 0));
        }
    }
}

fn unlike(a: &Cell, b: &Cell) -> usize {
    let has = |c: &Cell, n: &Note| {
        c.notes
            .iter()
            .any(|m| m.key == n.key && m.at.0 * n.at.1 == n.at.0 * m.at.1)
    };
    let only = |a: &Cell, b: &Cell| a.notes.iter().filter(|n| !has(b, n)).count();
    only(a, b) + only(b, a)
}

fn part(cell: &Cell, beat: i64) -> Cell {
    let inside = |n: &&Note| n.at.0 >= beat * n.at.1 && n.at.0 < (beat + 1) * n.at.1;
    let notes = cell.notes.iter().filter(inside);
    Cell {
        beats: 1,
        notes: notes
            .map(|n| Note {
                at: (n.at.0 - beat * n.at.1, n.at.1),
                ..*n
            })
            .collect(),
        like: None,
    }
}

fn cell(dice: &mut Dice) -> Cell {
    let beats = 1 + dice.weighted(&[3.0, 4.0, 2.0, 2.0]) as i64;
    let mut notes = Vec::new();
    for k in 0..beats {
        beat(dice, k, &mut notes);
    }
    Cell {
        beats,
        notes,
        like: None,
    }
}

/// The cell with two to three strokes on other drums.
fn prime(dice: &mut Dice, cells: &[Cell], of: usize) -> Cell {
    let mut cell = cells[of].clone();
    cell.like = Some(of);
    let change = 2 + dice.below(2);
    let mut done = 0;
    for _ in 0..100 {
        let i = dice.below(cell.notes.len());
        let key = KEYS[1 + dice.below(6)];
        let at = cell.notes[i].at;
        let clash = cell.notes.iter().any(|n| n.key == key && n.at == at);
        let same = cells[of].notes[i].key != cell.notes[i].key;
        if !clash && !same && cell.notes[i].key != KEYS[0] && done < change {
            cell.notes[i].key = key;
            done += 1;
        }
    }
    cell
}

impl Piece {
    /// A form with one plain reading: all beats are unlike each other, each
    /// letter comes at least three times, before and after at least two others.
    pub fn new(dice: &mut Dice) -> Piece {
        'again: loop {
            let bases = 3 + dice.below(3);
            let mut cells: Vec<Cell> = (0..bases).map(|_| cell(dice)).collect();
            let beats: Vec<Cell> = cells
                .iter()
                .flat_map(|c| (0..c.beats).map(|b| part(c, b)))
                .collect();
            for (i, a) in beats.iter().enumerate() {
                let strokes = a.notes.len();
                if beats[..i]
                    .iter()
                    .any(|b| 2 * unlike(a, b) < strokes + b.notes.len())
                {
                    continue 'again;
                }
            }
            for of in 0..bases {
                if cells[of].notes.len() >= 5 && dice.chance(0.35) {
                    let made = prime(dice, &cells, of);
                    if unlike(&made, &cells[of]) < 4 {
                        continue 'again;
                    }
                    cells.push(made);
                }
            }
            for _ in 0..40 {
                if let Some(form) = form(dice, &cells) {
                    return Piece { cells, form };
                }
            }
        }
    }

    pub fn beats(&self) -> i64 {
        self.form.iter().map(|c| self.cells[*c].beats).sum()
    }

    /// Cell, and number of the placement, of each beat.
    pub fn labels(&self) -> Vec<(usize, usize)> {
        let steps = self.form.iter().enumerate();
        steps
            .flat_map(|(i, c)| vec![(*c, i); self.cells[*c].beats as usize])
            .collect()
    }

    /// Plays it.
    pub fn play(&self, player: &Player, dice: &mut Dice) -> (Vec<Played>, Vec<f64>) {
        let times = player.beats(self.beats() as usize + 1, dice);
        let seconds = |at: f64| {
            let k = (at.floor() as usize).min(times.len() - 2);
            times[k] + (at - k as f64) * (times[k + 1] - times[k])
        };
        let mut played = Vec::new();
        let mut start = 0;
        for c in &self.form {
            for note in &self.cells[*c].notes {
                let beat = start + note.at.0.div_euclid(note.at.1);
                let place = (note.at.0.rem_euclid(note.at.1), note.at.1);
                let exact = seconds(start as f64 + note.at.0 as f64 / note.at.1 as f64);
                let at = exact + player.jitter * dice.normal();
                let velocity = f64::from(note.velocity) + 4.0 * dice.normal();
                let mut stroke = Played {
                    seconds: at.max(0.0),
                    key: note.key,
                    velocity: velocity.clamp(1.0, 127.0) as u8,
                    meant: Some((beat, place)),
                    grace: false,
                };
                match (dice.chance(player.slips), dice.below(3)) {
                    (true, 0) => continue,
                    (true, 1) => {
                        stroke.key = KEYS[1 + dice.below(6)];
                        stroke.meant = None;
                    }
                    (true, _) => played.push(Played {
                        seconds: at + (dice.unit() - 0.5) * 0.3,
                        key: KEYS[dice.below(7)],
                        meant: None,
                        ..stroke
                    }),
                    _ => {}
                }
                for g in 0..note.graces {
                    let ahead = 0.022 * f64::from(note.graces - g) + 0.003 * dice.normal();
                    played.push(Played {
                        seconds: stroke.seconds - ahead,
                        velocity: stroke.velocity / 3,
                        grace: true,
                        ..stroke
                    });
                }
                played.push(stroke);
            }
            start += self.cells[*c].beats;
        }
        played
            .iter_mut()
            .for_each(|p| p.seconds = p.seconds.max(0.0));
        played.sort_by(|a, b| a.seconds.total_cmp(&b.seconds));
        (played, times)
    }
}

impl Player {
    /// Moments of the beats: the tempo wanders within the drift.
    pub fn beats(&self, count: usize, dice: &mut Dice) -> Vec<f64> {
        let (a, b) = (dice.unit(), dice.unit());
        let period = 24.0 + 40.0 * dice.unit();
        let mut at = self.lead;
        (0..count)
            .map(|k| {
                let turn = std::f64::consts::TAU * (k as f64 / period + a);
                let drift = self.drift * (0.7 * turn.sin() + 0.3 * (2.3 * turn + b).sin());
                let now = at;
                at += 60.0 / self.tempo / (1.0 + drift);
                now
            })
            .collect()
    }
}

fn form(dice: &mut Dice, cells: &[Cell]) -> Option<Vec<usize>> {
    let wanted = 64 + 16 * dice.below(4) as i64;
    let mut form: Vec<usize> = Vec::new();
    let mut beats = 0;
    while beats < wanted {
        let c = dice.below(cells.len());
        if form.last() == Some(&c) && !dice.chance(0.3) {
            continue;
        }
        beats += cells[c].beats;
        form.push(c);
    }
    if beats % 4 != 0 {
        return None;
    }
    let base = |c: usize| cells[c].like.unwrap_or(c);
    for c in 0..cells.len() {
        if form.iter().filter(|f| **f == c).count() < 3 {
            return None;
        }
        let mut before: Vec<usize> = Vec::new();
        let mut after: Vec<usize> = Vec::new();
        for w in form.windows(2) {
            if base(w[1]) == base(c) && base(w[0]) != base(c) {
                before.push(base(w[0]));
            }
            if base(w[0]) == base(c) && base(w[1]) != base(c) {
                after.push(base(w[1]));
            }
        }
        for side in [&mut before, &mut after] {
            side.sort_unstable();
            side.dedup();
            if side.len() < 2 {
                return None;
            }
        }
    }
    Some(form)
}

/// A MIDI file of type 0; with `beats` it states a tempo for each of them.
pub fn midi(played: &[Played], beats: Option<&[f64]>, tempo: f64) -> Vec<u8> {
    const PER: f64 = 960.0;
    let mut events: Vec<(u64, u8, TrackEventKind<'static>)> = Vec::new();
    let us = |s: f64| midly::num::u24::new((s * 1e6).round() as u32);
    let even = 60.0 / tempo;
    let tick = |seconds: f64| -> u64 {
        let at = match beats {
            None => seconds / even,
            // The lead-in is one beat long, whatever it takes.
            Some(b) if seconds < b[0] => seconds / b[0].max(1e-9) * 4.0,
            Some(b) => {
                let k = b.partition_point(|t| *t <= seconds).clamp(1, b.len() - 1);
                4.0 + (k - 1) as f64 + (seconds - b[k - 1]) / (b[k] - b[k - 1])
            }
        };
        (at * PER).round().max(0.0) as u64
    };
    if let Some(b) = beats {
        let tempo = |s: f64| TrackEventKind::Meta(MetaMessage::Tempo(us(s)));
        events.push((0, 0, tempo(b[0] / 4.0)));
        for (k, w) in b.windows(2).enumerate() {
            events.push(((4 + k as u64) * PER as u64, 0, tempo(w[1] - w[0])));
        }
    }
    for p in played {
        let message = MidiMessage::NoteOn {
            key: p.key.into(),
            vel: p.velocity.max(1).into(),
        };
        events.push((
            tick(p.seconds),
            1,
            TrackEventKind::Midi {
                channel: 9.into(),
                message,
            },
        ));
    }
    events.sort_by_key(|e| (e.0, e.1));
    let mut track = Vec::new();
    let mut before = 0;
    for (at, _, kind) in events {
        track.push(TrackEvent {
            delta: ((at - before) as u32).into(),
            kind,
        });
        before = at;
    }
    track.push(TrackEvent {
        delta: 0.into(),
        kind: TrackEventKind::Meta(MetaMessage::EndOfTrack),
    });
    let header = Header::new(midly::Format::SingleTrack, Timing::Metrical(960.into()));
    let mut bytes = Vec::new();
    Smf {
        header,
        tracks: vec![track],
    }
    .write(&mut bytes)
    .expect("memory takes bytes");
    bytes
}
