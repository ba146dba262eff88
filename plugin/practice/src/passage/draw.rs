//! Forms drawn at random: every form that keeps the rules is as likely as any other.

use super::{Passage, PassageError};
use crate::plan::Drawn;
use barform_craft::arrange::{Forms, FormsError, Offer, Request};
use barform_craft::variation::SplitMix64;
use barform_score::music::{Beats, Letter};
use barform_score::score::{FormItem, Overrides, Score, Section};
use barform_score::timeline::Timeline;

/// Why forms cannot be drawn.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DrawError {
    /// A letter that the score does not have.
    #[error("the score has no letter {0} to draw")]
    NoLetter(Letter),
    /// The rules leave no form.
    #[error("no form of these letters keeps the rules; try other lengths or fewer rules")]
    None,
    /// The rules make no sense.
    #[error(transparent)]
    Forms(#[from] FormsError),
}

/// The rules as the craft takes them.
fn request(rules: &Drawn, score: &Score) -> Result<Request, PassageError> {
    let letters: Vec<Letter> = if rules.letters.is_empty() {
        let own = score.cells.iter().filter(|cell| cell.like.is_none());
        own.map(|cell| cell.letter.clone()).take(26).collect()
    } else {
        rules.letters.iter().map(|l| l.0.clone()).collect()
    };
    let mut offers = Vec::new();
    for letter in letters {
        let Some(cell) = score.cell(&letter) else {
            return Err(DrawError::NoLetter(letter).into());
        };
        let least = u32::from(rules.contain.iter().any(|l| l.0 == letter));
        offers.push(Offer {
            letter,
            length: cell.grid.length()?,
            least,
            most: None,
        });
    }
    if let Some(missing) = rules
        .contain
        .iter()
        .find(|l| !offers.iter().any(|o| o.letter == l.0))
    {
        return Err(DrawError::Forms(FormsError::Unknown(missing.0.clone())).into());
    }
    Ok(Request {
        offers,
        bar: score.meter.bar(),
        bars: u32::from(rules.bars),
        starts: rules.start.as_ref().map(|l| l.0.clone()),
        ends: rules.end.as_ref().map(|l| l.0.clone()),
        most_in_a_row: Some(u32::from(rules.in_a_row)),
        meets_bar_lines: rules.on_bar_lines,
    })
}

/// The drawn forms one after the other, each a round of its own.
pub(super) fn drawn(rules: &Drawn, score: &Score) -> Result<Passage, PassageError> {
    let forms = Forms::new(&request(rules, score)?).map_err(DrawError::Forms)?;
    let mut random = SplitMix64::new(u64::from(rules.seed));
    let mut items = Vec::new();
    for _ in 0..rules.forms {
        let form = forms.draw(&mut random).ok_or(DrawError::None)?;
        items.extend(form.into_iter().map(|letter| FormItem::Letter {
            letter,
            overrides: Overrides::default(),
        }));
    }
    let long = Score {
        sections: vec![Section {
            name: String::new(),
            meter: None,
            overrides: Overrides::default(),
            items,
        }],
        pickup: Beats::ZERO,
        ..score.clone()
    };
    let mut passage = Passage::form(&long, &Timeline::compile(&long)?)?;
    let round = score
        .meter
        .bar()
        .checked_mul(Beats::whole(i64::from(rules.bars)))?;
    for n in 1..rules.forms {
        passage
            .rounds
            .push(round.checked_mul(Beats::whole(i64::from(n)))?);
    }
    passage.name = "drawn".to_owned();
    Ok(passage)
}
