//! Every form that fills so many bars: how many there are, and the best ones.

use super::ArrangeRules;
use super::graph::Graph;
use crate::variation::SplitMix64;
use barform_score::music::{Beats, BeatsError, Letter};
use num_bigint::BigUint;
use num_traits::Zero;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// A letter that forms may be made from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offer {
    /// Its letter.
    pub letter: Letter,
    /// Its length in beats, above zero.
    pub length: Beats,
    /// It is played at least so often.
    pub least: u32,
    /// It is played at most so often, if that is limited.
    pub most: Option<u32>,
}

/// What the forms must be like.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Request {
    /// The letters on offer, `1 ..= 26`, each once. Their order settles ties.
    pub offers: Vec<Offer>,
    /// Length of a bar in beats, above zero.
    pub bar: Beats,
    /// Number of bars, at least 1.
    pub bars: u32,
    /// The form starts with this letter.
    pub starts: Option<Letter>,
    /// The form ends on this letter.
    pub ends: Option<Letter>,
    /// No letter more than so many times in a row, if that is limited.
    pub most_in_a_row: Option<u32>,
    /// Whether a letter must begin on every bar line, so that none crosses one.
    pub meets_bar_lines: bool,
}

/// A form with its rank.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// The letters in order.
    pub letters: Vec<Letter>,
    /// Its price by the rules; smaller is better.
    pub price: u64,
}

/// Why forms cannot be listed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FormsError {
    /// No letter, too many, or the same one twice.
    #[error("1 to 26 different letters are allowed, {0} are on offer")]
    Offers(usize),
    /// The same letter is on offer twice.
    #[error("{0} is on offer twice")]
    Twice(Letter),
    /// A letter that must begin or end the form is not on offer.
    #[error("{0} is not on offer")]
    Unknown(Letter),
    /// A length or a number that must be above zero is not.
    #[error("{what} is {read}; it must be above zero")]
    NotPositive {
        /// What.
        what: String,
        /// What it is.
        read: String,
    },
    /// At least more often than at most.
    #[error("{letter} at least {least} times and at most {most} times")]
    LeastAboveMost {
        /// Its letter.
        letter: Letter,
        /// At least.
        least: u32,
        /// At most.
        most: u32,
    },
    /// Too many places to keep in mind at once.
    #[error("too many ways to keep apart; take fewer bars, letters or limits on their number")]
    TooMany,
    /// Lengths that do not add up exactly.
    #[error(transparent)]
    Beats(#[from] BeatsError),
}

/// All forms of a request, best first; an iterator that works out the next one
/// when it is asked for.
///
/// A form's rank is the sum of the prices in `data/arrange.toml`, `[rank]`: every
/// step from a letter to the next is one of *new* (not heard before), *back*
/// (heard before, not just now), *again* (a second time in a row) or *too often*
/// (a third time and on); *unused* for each letter that is never played; and
/// *end again* if the last letter only repeats the one before. As the rules come,
/// repetition costs nothing until it is a third time in a row, so the best forms
/// use every letter, hold none for long, and end on a change. Equal prices are
/// in the order of the offers, first letter first, which puts forms that repeat
/// a bar and change its end ahead: `A A B A A B A A B A A C`.
#[derive(Debug, Clone)]
pub struct Forms {
    letters: Vec<Letter>,
    graph: Graph,
    /// Beginnings of forms: whole price, letters, the place reached.
    open: BinaryHeap<Reverse<(u64, Vec<u8>, u32)>>,
}

impl Forms {
    /// The forms of a request, by the built-in rules.
    ///
    /// # Errors
    /// See [`FormsError`].
    pub fn new(request: &Request) -> Result<Forms, FormsError> {
        Forms::by(ArrangeRules::builtin(), request)
    }

    /// The forms of a request, by other rules.
    ///
    /// # Errors
    /// See [`FormsError`].
    pub fn by(rules: &ArrangeRules, request: &Request) -> Result<Forms, FormsError> {
        check(request)?;
        let graph = Graph::build(&rules.rank, request)?;
        let best = graph.best(Graph::START);
        let open = best.map(|price| Reverse((price, Vec::new(), Graph::START)));
        let letters = request.offers.iter().map(|o| o.letter.clone()).collect();
        Ok(Forms {
            letters,
            graph,
            open: open.into_iter().collect(),
        })
    }

    /// How many forms there are in all.
    pub fn in_all(&self) -> &BigUint {
        self.graph.in_all()
    }

    /// One form drawn by lot from all there are, each as likely as any other;
    /// `None` if there is none.
    pub fn draw(&self, lots: &mut SplitMix64) -> Option<Vec<Letter>> {
        let mut letters = Vec::new();
        let mut place = Graph::START;
        if self.in_all().is_zero() {
            return None;
        }
        // The form of a number: steps are passed over by how many forms they lead
        // to.
        let mut number = lots.below(self.in_all());
        while !self.graph.is_end(place) {
            let mut steps = self.graph.steps(place).iter();
            let (letter, _, next) = steps.find(|(.., next)| {
                let count = self.graph.count(*next);
                let here = number < *count;
                if !here {
                    number -= count;
                }
                here
            })?;
            letters.push(self.letters[usize::from(*letter)].clone());
            place = *next;
        }
        Some(letters)
    }
}

impl Iterator for Forms {
    type Item = Listed;

    fn next(&mut self) -> Option<Listed> {
        // Every beginning carries the price of the best form it leads to, so the
        // first whole one is the best that is left; ties go by letters.
        while let Some(Reverse((whole, letters, place))) = self.open.pop() {
            if self.graph.is_end(place) {
                let name = |i: &u8| self.letters[usize::from(*i)].clone();
                return Some(Listed {
                    letters: letters.iter().map(name).collect(),
                    price: whole,
                });
            }
            let Some(best_here) = self.graph.best(place) else {
                continue;
            };
            let so_far = whole - best_here;
            for (letter, price, next) in self.graph.steps(place) {
                let Some(rest) = self.graph.best(*next) else {
                    continue;
                };
                let mut longer = letters.clone();
                longer.push(*letter);
                self.open
                    .push(Reverse((so_far + price + rest, longer, *next)));
            }
        }
        None
    }
}

fn check(request: &Request) -> Result<(), FormsError> {
    let offers = &request.offers;
    if !(1..=26).contains(&offers.len()) {
        return Err(FormsError::Offers(offers.len()));
    }
    let positive = |what: String, n: Beats| match n.is_positive() {
        true => Ok(()),
        false => Err(FormsError::NotPositive {
            what,
            read: n.to_string(),
        }),
    };
    positive("the bar".into(), request.bar)?;
    positive(
        "the number of bars".into(),
        Beats::whole(i64::from(request.bars)),
    )?;
    if let Some(most) = request.most_in_a_row {
        positive("the number in a row".into(), Beats::whole(i64::from(most)))?;
    }
    for (i, offer) in offers.iter().enumerate() {
        positive(format!("the length of {}", offer.letter), offer.length)?;
        if offers[..i].iter().any(|o| o.letter == offer.letter) {
            return Err(FormsError::Twice(offer.letter.clone()));
        }
        if let Some(most) = offer.most.filter(|most| *most < offer.least) {
            let (letter, least) = (offer.letter.clone(), offer.least);
            return Err(FormsError::LeastAboveMost {
                letter,
                least,
                most,
            });
        }
    }
    for letter in [&request.starts, &request.ends].into_iter().flatten() {
        if !offers.iter().any(|o| o.letter == *letter) {
            return Err(FormsError::Unknown(letter.clone()));
        }
    }
    Ok(())
}
