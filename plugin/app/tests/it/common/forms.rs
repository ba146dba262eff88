//! Invented forms: nested groups, overrides, bar lines, sections.

use super::{grid, meter};
use barform_app::music::{Fit, Letter, Subdivision};
use barform_app::score::{FormItem, Overrides, Rate, Section};
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;

fn overrides(voicings: Vec<String>) -> impl Strategy<Value = Overrides> {
    let named = select(Subdivision::NAMES.map(|(name, ..)| name).to_vec())
        .prop_map(|name| Subdivision::from_name(name).unwrap());
    let subdivision = prop_oneof![named, grid().prop_map(Subdivision)];
    let voicing = if voicings.is_empty() {
        Just(None).boxed()
    } else {
        option::weighted(0.2, select(voicings)).boxed()
    };
    let fit = select(vec![Fit::Refit, Fit::Carry]);
    (
        option::weighted(0.2, (subdivision, fit)),
        option::weighted(0.2, select(vec![Rate::Half, Rate::Normal, Rate::Double])),
        option::weighted(0.2, 10_u8..=150),
        voicing,
    )
        .prop_map(|(subdivision, rate, level, voicing)| Overrides {
            subdivision,
            rate,
            level,
            voicing,
        })
}

fn items(letters: Vec<Letter>, voicings: Vec<String>) -> impl Strategy<Value = Vec<FormItem>> {
    let over = move || overrides(voicings.clone());
    let letter = (select(letters), over())
        .prop_map(|(letter, overrides)| FormItem::Letter { letter, overrides })
        .boxed();
    let leaf = prop_oneof![5 => letter.clone(), 1 => Just(FormItem::BarLine)];
    let item = leaf.prop_recursive(4, 12, 4, move |inner| {
        (vec(inner, 1..4), 1_u32..4, over()).prop_map(|(items, times, overrides)| FormItem::Group {
            items,
            times,
            overrides,
        })
    });
    (vec(item, 0..8), letter).prop_map(|(mut items, letter)| {
        items.push(letter);
        tidy(&mut items);
        items
    })
}

/// No two bar lines in a row, no group without a letter.
fn tidy(items: &mut Vec<FormItem>) {
    for item in items.iter_mut() {
        if let FormItem::Group { items, .. } = item {
            tidy(items);
        }
    }
    items.retain(|item| {
        !matches!(item, FormItem::Group { items, .. }
        if items.iter().all(|i| *i == FormItem::BarLine))
    });
    items.dedup_by(|a, b| *a == FormItem::BarLine && *b == FormItem::BarLine);
}

/// Sections that play these letters with these voicings.
pub fn sections(
    letters: Vec<Letter>,
    voicings: Vec<String>,
) -> impl Strategy<Value = Vec<Section>> {
    let section = (
        prop_oneof![Just(String::new()), Just("Fill".to_owned()), "[ -~]{1,12}"],
        option::weighted(0.3, meter()),
        overrides(voicings.clone()),
        items(letters.clone(), voicings.clone()),
    )
        .prop_map(|(name, meter, overrides, items)| Section {
            name,
            meter,
            overrides,
            items,
        });
    let plain = items(letters, voicings).prop_map(|items| {
        vec![Section {
            name: String::new(),
            meter: None,
            overrides: Overrides::default(),
            items,
        }]
    });
    prop_oneof![plain, vec(section, 1..4)]
}
