//! Cells and their letters.
//!
//! In: what each stretch of the file plays on its grid. Out: a cell per unlike
//! content, each with a letter and with hands. Never here: where they stand.

use crate::import::{ImportError, RemarkKind, Remarks};
use barform_craft::sticking::{Ask, Rules, stick_cell};
use barform_score::music::{
    Articulation, Beats, Cell, Graces, Grid, Hand, Kit, Letter, Level, Limb, Slot, Stroke, Voice,
};
use barform_score::score::{CellDef, MAX_CELLS, StickSlot, StickToken, VoiceSlot, VoiceToken};
use std::collections::{HashMap, HashSet};

/// A stroke without a hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Mark {
    /// The foot, if it is one.
    pub foot: Option<Limb>,
    /// The instrument.
    pub voice: Voice,
    /// How it is struck.
    pub articulation: Articulation,
    /// How loud.
    pub level: Level,
    /// Grace notes.
    pub graces: usize,
    /// Whether it is buzzed.
    pub buzz: bool,
}

/// What a stretch plays.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Content {
    /// On what grid.
    pub grid: Grid,
    /// What on each slot: at most two hands and two feet, in order.
    pub slots: Vec<Vec<Mark>>,
}

impl Content {
    /// Whether `other` has the same grid and rhythm and differs on no more than
    /// half of the slots: a variation.
    fn varies(&self, other: &Content) -> bool {
        let pairs = || self.slots.iter().zip(&other.slots);
        let struck = self.slots.iter().filter(|s| !s.is_empty()).count();
        self.grid == other.grid
            && struck > 1
            && pairs().all(|(a, b)| a.is_empty() == b.is_empty())
            && 2 * pairs().filter(|(a, b)| a != b).count() <= struck
    }

    /// The same without grace notes on the first slot.
    pub fn without_first_graces(&self) -> Content {
        let mut plain = self.clone();
        if let Some(first) = plain.slots.first_mut() {
            first.iter_mut().for_each(|m| m.graces = 0);
        }
        plain
    }
}

/// All cells of a score to be.
#[derive(Debug, Default)]
pub(super) struct Cells {
    /// Letters and contents in order of their first appearance.
    list: Vec<(Letter, Option<usize>, Content)>,
    known: HashMap<(Option<String>, Content), usize>,
    /// Letters given out or spoken for.
    taken: HashSet<Letter>,
    /// First content of each stated letter.
    stated: HashMap<String, usize>,
}

impl Cells {
    /// No cell yet; `stated` letters are kept free for those that state them.
    pub fn new(stated: impl IntoIterator<Item = Letter>) -> Cells {
        Cells {
            taken: stated.into_iter().collect(),
            ..Cells::default()
        }
    }

    /// The content that a stated letter had first.
    pub fn first_of(&self, letter: &Letter) -> Option<&Content> {
        let index = self.stated.get(letter.as_str())?;
        self.list.get(*index).map(|(.., content)| content)
    }

    /// The letter of an index.
    pub fn letter(&self, index: usize) -> Letter {
        self.list[index].0.clone()
    }

    /// The cell of a content, new where there is none.
    pub fn index(
        &mut self,
        content: Content,
        stated: Option<&Letter>,
        bar: u32,
        remarks: &mut Remarks,
    ) -> Result<usize, ImportError> {
        let key = (stated.map(|l| l.as_str().to_owned()), content);
        if let Some(index) = self.known.get(&key) {
            return Ok(*index);
        }
        if self.list.len() >= MAX_CELLS {
            return Err(ImportError::TooMuch(format!(
                "more than {MAX_CELLS} unlike cells; ask for another length of cells"
            )));
        }
        let mut parent = None;
        let letter = match stated {
            Some(letter) if !self.stated.contains_key(letter.as_str()) => {
                self.stated
                    .insert(letter.as_str().to_owned(), self.list.len());
                letter.clone()
            }
            Some(letter) => {
                let what = format!(
                    "letter {letter} is played in more ways than one (another subdivision, \
                     voicing or speed); each has a letter of its own"
                );
                remarks.add(RemarkKind::NotKept, Some(bar), what);
                self.fresh(letter.as_str().chars().next())?
            }
            None => {
                let near = self
                    .list
                    .iter()
                    .position(|(letter, _, first)| letter.primes() == 0 && first.varies(&key.1));
                let primed = near.and_then(|near| Some((near, self.primed(near)?)));
                match primed {
                    Some((near, letter)) => {
                        parent = Some(near);
                        letter
                    }
                    None => self.fresh(None)?,
                }
            }
        };
        self.taken.insert(letter.clone());
        self.list.push((letter, parent, key.1.clone()));
        self.known.insert(key, self.list.len() - 1);
        Ok(self.list.len() - 1)
    }

    /// The next prime of a cell that no cell has.
    fn primed(&self, of: usize) -> Option<Letter> {
        let mut letter = self.list[of].0.primed()?;
        while self.taken.contains(&letter) {
            letter = letter.primed()?;
        }
        Some(letter)
    }

    /// A letter that no cell has: A to Z, then A1 to Z1, A2 …; those of `like`
    /// first.
    fn fresh(&self, like: Option<char>) -> Result<Letter, ImportError> {
        let digits = |first: char| (1..100).map(move |n| format!("{first}{n}"));
        let own = like.into_iter().flat_map(digits);
        let plain = ('A'..='Z').map(String::from);
        let rest = (1..100).flat_map(|n| ('A'..='Z').map(move |c| format!("{c}{n}")));
        let mut all = own.chain(plain).chain(rest).filter_map(|l| Letter::new(&l));
        all.find(|letter| !self.taken.contains(letter))
            .ok_or_else(|| ImportError::TooMuch("more unlike cells than letters".into()))
    }

    /// All cells with hands, as a score states them.
    pub fn defs(&self, tempo: Beats, kit: &Kit, remarks: &mut Remarks) -> Vec<CellDef> {
        let rules = Rules::builtin();
        let ask = rules.setup("right-handed", kit).ok();
        let ask = ask.map(|setup| Ask::new(tempo, setup));
        let def = |(letter, parent, content): &(Letter, Option<usize>, Content)| {
            let cell = cell(letter.clone(), content);
            let stuck = ask
                .as_ref()
                .and_then(|ask| stick_cell(&cell, |_, _| true, false, ask, &rules).ok());
            let cell = match stuck {
                Some((cell, _)) => cell,
                None => {
                    let what = "a cell whose hands could not be worked out";
                    remarks.add(RemarkKind::Assumed, None, what);
                    cell
                }
            };
            let like = parent.map(|p| self.list[p].0.clone());
            let own_voices = voices(&cell.slots);
            // A variation says what differs; where its parent names voices and
            // it has plain ones, it must say so.
            let own_voices = own_voices.or_else(|| {
                like.is_some()
                    .then(|| cell.slots.iter().map(named).collect())
            });
            CellDef {
                letter: letter.clone(),
                grid: like.is_none().then(|| content.grid.clone()),
                like,
                sticking: Some(sticking(&cell.slots)),
                voices: own_voices,
            }
        };
        self.list.iter().map(def).collect()
    }
}

/// Sticking and voices of a content that is no cell: of an ostinato.
pub(super) fn lines(
    content: &Content,
    tempo: Beats,
    kit: &Kit,
) -> (Vec<StickSlot>, Option<Vec<VoiceSlot>>) {
    let Some(letter) = Letter::new("A") else {
        return (Vec::new(), None);
    };
    let plain = cell(letter, content);
    let rules = Rules::builtin();
    let setup = rules.setup("right-handed", kit).ok();
    let stuck = setup.and_then(|setup| {
        let ask = Ask::new(tempo, setup);
        stick_cell(&plain, |_, _| true, false, &ask, &rules).ok()
    });
    let slots = stuck.map_or(plain.slots, |(cell, _)| cell.slots);
    (sticking(&slots), voices(&slots))
}

/// A cell with stand-in hands.
fn cell(letter: Letter, content: &Content) -> Cell {
    let slot = |marks: &Vec<Mark>| -> Slot {
        let mut hands = [Hand::Right, Hand::Left].into_iter();
        let stroke = |mark: &Mark| {
            let limb = mark.foot.or_else(|| hands.next().map(Limb::from))?;
            let grace = limb.hand().map_or(Hand::Left, Hand::other);
            Some(Stroke {
                limb,
                voice: mark.voice,
                articulation: mark.articulation,
                level: mark.level,
                graces: Graces::from_hands(&vec![grace; mark.graces]).unwrap_or(Graces::NONE),
                buzz: mark.buzz,
            })
        };
        marks.iter().filter_map(stroke).collect()
    };
    Cell {
        letter,
        grid: content.grid.clone(),
        slots: content.slots.iter().map(slot).collect(),
    }
}

fn sticking(slots: &[Slot]) -> Vec<StickSlot> {
    slots
        .iter()
        .map(|slot| slot.iter().map(StickToken::from).collect())
        .collect()
}

fn token(stroke: &Stroke) -> VoiceToken {
    stroke.into()
}

/// Every voice of a slot by name.
fn named(slot: &Slot) -> VoiceSlot {
    if slot.is_empty() {
        return VoiceSlot::Rest;
    }
    VoiceSlot::Voices(slot.iter().map(token).collect())
}

/// The voices line, with `.` where a limb goes on; `None` where all is plain.
fn voices(slots: &[Slot]) -> Option<Vec<VoiceSlot>> {
    let plain = |limb: Limb| token(&Stroke::plain(limb));
    let is_plain = |s: &Stroke| token(s) == plain(s.limb);
    if slots.iter().flatten().all(is_plain) {
        return None;
    }
    // What '.' means: for the hands only where they were on one drum.
    let mut hands = Some(plain(Limb::RightHand));
    let mut feet = [plain(Limb::KickFoot), plain(Limb::HatFoot)];
    let foot = |limb: Limb| usize::from(limb == Limb::HatFoot);
    let line = slots.iter().map(|slot| {
        let goes_on = |s: &Stroke| match s.limb.is_foot() {
            true => feet[foot(s.limb)] == token(s),
            false => hands == Some(token(s)),
        };
        if slot.iter().all(goes_on) && !slot.is_empty() {
            return VoiceSlot::Same;
        }
        let by_hand: Vec<VoiceToken> = (slot.iter())
            .filter(|s| !s.limb.is_foot())
            .map(token)
            .collect();
        if let Some(first) = by_hand.first() {
            hands = by_hand.iter().all(|t| t == first).then_some(*first);
        }
        for stroke in slot.iter().filter(|s| s.limb.is_foot()) {
            feet[foot(stroke.limb)] = token(stroke);
        }
        named(slot)
    });
    Some(line.collect())
}
