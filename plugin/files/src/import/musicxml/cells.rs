//! Cells: each stretch of music that is cut out gets a letter, and like ones
//! share it.

use super::grid;
use super::hands::Hands;
use super::music::{Hit, Tuplet};
use crate::import::{ImportError, Remarks};
use barform_score::music::{Beats, Letter, Limb, Slot};
use barform_score::score::{CellDef, MAX_CELLS, MAX_SLOTS, StickToken, VoiceSlot, VoiceToken};
use std::collections::{HashMap, HashSet};
use std::fmt::Write as _;

/// A stretch of music between two cuts.
#[derive(Debug)]
pub(super) struct Piece<'a> {
    /// Length in beats.
    pub length: Beats,
    /// The beat that it is cut by.
    pub unit: Beats,
    /// Strokes with their times from its start, in order.
    pub hits: Vec<(Beats, &'a Hit)>,
    /// Tuplets from its start.
    pub tuplets: Vec<Tuplet>,
    /// The letter the file gives it.
    pub letter: Option<Letter>,
    /// Bar for remarks.
    pub bar: u32,
}

/// The cells so far.
pub(super) struct Cells {
    /// In order of their first place.
    pub defs: Vec<CellDef>,
    known: HashMap<String, Letter>,
    taken: HashSet<Letter>,
    /// Letters that the file gives to some place: free ones keep off them.
    reserved: HashSet<Letter>,
    next: usize,
}

impl Cells {
    /// No cells yet; `reserved` are the letters that the file gives.
    pub fn new(reserved: HashSet<Letter>) -> Cells {
        Cells {
            defs: Vec::new(),
            known: HashMap::new(),
            taken: HashSet::new(),
            reserved,
            next: 0,
        }
    }

    /// The letter of a piece.
    pub fn letter(
        &mut self,
        piece: &Piece,
        hands: &Hands,
        remarks: &mut Remarks,
    ) -> Result<Letter, ImportError> {
        let mut key = format!("{:?} {} {}", piece.letter, piece.length, piece.unit);
        for (at, hit) in &piece.hits {
            let Hit {
                at: _,
                voice,
                articulation,
                limb,
                level,
                graces,
                buzz,
            } = hit;
            let _ = write!(
                key,
                "|{at} {voice:?} {articulation:?} {limb:?} {level:?} {graces:?} {buzz}"
            );
        }
        let _ = write!(key, "{:?}", piece.tuplets);
        if let Some(letter) = self.known.get(&key) {
            return Ok(letter.clone());
        }
        if self.defs.len() >= MAX_CELLS {
            let what = format!("more than {MAX_CELLS} different cells; try shorter ones");
            return Err(ImportError::TooMuch(what));
        }
        let letter = match &piece.letter {
            Some(letter) if !self.taken.contains(letter) => letter.clone(),
            other => self.free(other.as_ref()),
        };
        let def = define(&letter, piece, hands, remarks)?;
        self.taken.insert(letter.clone());
        self.defs.push(def);
        self.known.insert(key, letter.clone());
        Ok(letter)
    }

    /// A letter that is not in use: the wished one with a number, else the next
    /// of `A … Z, A1 … Z99`.
    fn free(&mut self, wish: Option<&Letter>) -> Letter {
        let free = |l: &Letter| !self.taken.contains(l) && !self.reserved.contains(l);
        let initial = wish.and_then(|l| l.as_str().chars().next());
        let numbered = initial.and_then(|c| {
            let mut all = (1..=99).filter_map(|n| Letter::new(&format!("{c}{n}")));
            all.find(free)
        });
        if let Some(letter) = numbered {
            return letter;
        }
        loop {
            let capital = char::from(b'A' + (self.next % 26) as u8);
            let round = self.next / 26;
            self.next += 1;
            let number = if round == 0 {
                String::new()
            } else {
                round.to_string()
            };
            // 26 times 100 letters, and at most 1,000 cells and places of them.
            match Letter::new(&format!("{capital}{number}")) {
                Some(letter) if free(&letter) => return letter,
                Some(_) => {}
                None => self.next = 0,
            }
        }
    }
}

fn define(
    letter: &Letter,
    piece: &Piece,
    hands: &Hands,
    remarks: &mut Remarks,
) -> Result<CellDef, ImportError> {
    let mut times: Vec<Beats> = piece.hits.iter().map(|(at, _)| *at).collect();
    times.dedup();
    let mut grid = grid::least(piece.length, piece.unit, &times, &piece.tuplets)?;
    if grid.slot_count() > MAX_SLOTS {
        grid = grid::between(piece.length, &times)?;
        if grid.slot_count() > MAX_SLOTS {
            return Err(ImportError::TooMuch(format!(
                "{} strokes one after the other in one cell, which has at most {MAX_SLOTS} slots; \
                 read it in shorter cells",
                times.len()
            )));
        }
    }
    let bounds = grid.slot_bounds()?;
    let mut slots: Vec<Vec<&Hit>> = vec![Vec::new(); grid.slot_count()];
    for (at, hit) in &piece.hits {
        // The grid has a slot at each of these times.
        if let Ok(slot) = bounds.binary_search(at)
            && let Some(slot) = slots.get_mut(slot)
        {
            slot.push(hit);
        }
    }
    let slots = hands.slots(letter, &grid, &slots, piece.bar, remarks);
    let sticking = slots.iter().map(|slot| {
        let tokens = slot.iter().map(StickToken::from);
        tokens.collect()
    });
    Ok(CellDef {
        letter: letter.clone(),
        like: None,
        sticking: Some(sticking.collect()),
        voices: Some(voices(&slots)),
        grid: Some(grid),
    })
}

/// The voices line; a dot where a stroke stays where its limb was, as a drummer
/// writes it.
fn voices(slots: &[Slot]) -> Vec<VoiceSlot> {
    let mut hand: Option<VoiceToken> = None;
    let mut feet: HashMap<Limb, VoiceToken> = HashMap::new();
    let mut line = Vec::with_capacity(slots.len());
    for slot in slots {
        let tokens: Vec<VoiceToken> = slot.iter().map(VoiceToken::from).collect();
        let stays = match (slot.as_slice(), tokens.as_slice()) {
            ([one], [token]) if one.limb.is_foot() => feet.get(&one.limb) == Some(token),
            ([_], [token]) => hand == Some(*token),
            _ => false,
        };
        // After both hands at once a dot would speak of two voices.
        let mut hands = slot.iter().zip(&tokens).filter(|(s, _)| !s.limb.is_foot());
        if let Some((_, first)) = hands.next() {
            hand = hands.next().is_none().then_some(*first);
        }
        let steps = slot.iter().zip(&tokens).filter(|(s, _)| s.limb.is_foot());
        feet.extend(steps.map(|(s, token)| (s.limb, *token)));
        line.push(match tokens.is_empty() {
            true => VoiceSlot::Rest,
            false if stays => VoiceSlot::Same,
            false => VoiceSlot::Voices(tokens),
        });
    }
    line
}
