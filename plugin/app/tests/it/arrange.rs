//! Forms that do not fill their bars, mended; forms that do, listed and counted.
//! Both against brute force.

use crate::craft_cells;

use barform_app::craft::arrange::*;
use barform_app::music::*;
use barform_app::score::{FormItem, Overrides, Rate, Score, Section, Timing};
use craft_cells::{cell, grid};
use proptest::prelude::*;
use std::collections::BTreeSet;

fn letter(name: &str) -> Letter {
    Letter::new(name).unwrap()
}

fn play(name: &str) -> FormItem {
    FormItem::Letter {
        letter: letter(name),
        overrides: Overrides::default(),
    }
}

fn line() -> FormItem {
    FormItem::BarLine
}

fn group(items: Vec<FormItem>, times: u32) -> FormItem {
    FormItem::Group {
        items,
        times,
        overrides: Overrides::default(),
    }
}

/// `A B | A`.
fn form(text: &str) -> Vec<FormItem> {
    text.split_whitespace()
        .map(|w| if w == "|" { line() } else { play(w) })
        .collect()
}

fn written(items: &[FormItem]) -> String {
    let item = |item: &FormItem| match item {
        FormItem::BarLine => "|".to_owned(),
        FormItem::Letter { letter, overrides } => match &overrides.subdivision {
            Some((to, Fit::Carry)) => format!("{letter}[{to} carry]"),
            Some((to, Fit::Refit)) => format!("{letter}[{to}]"),
            None => letter.to_string(),
        },
        FormItem::Group { items, times, .. } => format!("({})x{times}", written(items)),
    };
    items.iter().map(item).collect::<Vec<_>>().join(" ")
}

/// A cell of one stroke a beat.
fn beats(name: &str, n: usize) -> Cell {
    let strokes = vec!["R"; n].join(" ");
    Cell {
        letter: letter(name),
        ..cell(&format!("{n}@{n}"), &strokes)
    }
}

static NONE: Overrides = Overrides {
    subdivision: None,
    rate: None,
    level: None,
    voicing: None,
};

fn in_four(cells: &[Cell]) -> Material<'_> {
    Material {
        cells,
        overrides: &NONE,
        bar: Beats::whole(4),
        pickup: Beats::ZERO,
    }
}

#[test]
fn what_is_over_and_where() {
    let cells = [beats("A", 3), beats("B", 2)];
    let told = |text: &str| {
        let found = misfits(&form(text), &in_four(&cells)).unwrap();
        found.iter().map(Misfit::to_string).collect::<Vec<_>>()
    };
    assert!(told("B B | B A A").is_empty());
    assert_eq!(
        told("A B"),
        ["at the end: 1 beat over, B crosses the bar line by 1 beat; or 3 beats short"]
    );
    assert_eq!(
        told("A | B B"),
        ["at the bar line 2: 3 beats over, A is the last; or 1 beat short"]
    );
    // One letter too many is told once: the bars after it are counted anew.
    assert_eq!(told("B B B | B B | B B").len(), 1);
}

#[test]
fn pickups_rates_groups_and_carries_are_counted() {
    let cells = [beats("A", 3), beats("B", 2)];
    let mut of = in_four(&cells);
    of.pickup = Beats::whole(3);
    assert!(misfits(&form("A | B B"), &of).unwrap().is_empty());
    of.pickup = Beats::whole(4);
    assert!(matches!(
        misfits(&form("A"), &of),
        Err(ArrangeError::Bar { .. })
    ));
    let fast = Overrides {
        rate: Some(Rate::Double),
        ..Overrides::default()
    };
    let double = FormItem::Group {
        items: form("A B A"),
        times: 1,
        overrides: fast,
    };
    assert!(misfits(&[double], &in_four(&cells)).unwrap().is_empty());
    let repeated = group(vec![play("A"), line()], 3);
    let found = misfits(&[repeated], &in_four(&cells)).unwrap();
    assert_eq!(found.len(), 1, "a check inside a repeat is told once");
    assert_eq!(found[0].line, Some(Path(vec![0, 1])));
    let endless = group(vec![group(form("A"), 9_999)], 9_999);
    assert_eq!(
        misfits(&[endless], &in_four(&cells)),
        Err(ArrangeError::TooLong)
    );
    let unknown = misfits(&form("C"), &in_four(&cells)).unwrap_err();
    assert_eq!(unknown.to_string(), "no cell has the letter C");
}

/// Hand-worked.
#[test]
fn the_smallest_mend_comes_first() {
    let cells = [beats("A", 1), beats("B", 2)];
    let best = |text: &str| {
        let found = mends(&form(text), &in_four(&cells)).unwrap();
        (found[0].to_string(), written(&found[0].items))
    };
    assert_eq!(
        best("A B"),
        ("play A once more (item 1)".into(), "A A B".into())
    );
    assert_eq!(best("A A B A"), ("drop A (item 1)".into(), "A B A".into()));
    let repeat = [group(form("A"), 5)];
    let found = mends(&repeat, &in_four(&cells)).unwrap();
    assert_eq!(
        found[0].to_string(),
        "repeat the group x4 instead of x5 (item 1)"
    );
    assert!(
        mends(&form("B B"), &in_four(&cells)).unwrap().is_empty(),
        "nothing to mend"
    );
}

#[test]
fn cuts_carries_and_refits_are_among_the_mends() {
    let six = Cell {
        letter: letter("A"),
        ..cell("6 6 6 6 6", &vec!["R"; 30].join(" "))
    };
    let cells = [six, beats("B", 3)];
    let found = mends(&form("A"), &in_four(&cells)).unwrap();
    let told: Vec<String> = found.iter().map(Mend::to_string).collect();
    assert!(
        told.contains(&"cut A after 24 slots, as A' (item 1)".into()),
        "{told:?}"
    );
    let cut = found.iter().find(|m| !m.added.is_empty()).unwrap();
    assert_eq!(cut.added[0].letter, letter("A'"));
    assert_eq!(cut.added[0].grid.length().unwrap(), Beats::whole(4));
    let carried = Overrides {
        subdivision: Some((Subdivision(grid("5")), Fit::Carry)),
        ..Overrides::default()
    };
    let items = [FormItem::Letter {
        letter: letter("C"),
        overrides: carried,
    }];
    let cells = [Cell {
        letter: letter("C"),
        ..cell("6 6 6 6", &vec!["R"; 24].join(" "))
    }];
    let found = mends(&items, &in_four(&cells)).unwrap();
    assert_eq!(
        found[0].to_string(),
        "refit C to quintuplets instead of carrying it (item 1)"
    );
    let told: Vec<String> = found.iter().map(Mend::to_string).collect();
    assert!(
        told.contains(&"carry C to 16th-triplets (item 1)".into()),
        "{told:?}"
    );
}

#[test]
fn several_misfits_are_mended_together_and_pairs_where_no_single_edit_does() {
    let cells = [beats("A", 3)];
    let found = mends(&form("A | A"), &in_four(&cells)).unwrap();
    for mend in &found {
        assert_eq!(
            misfits(&mend.items, &with(&cells, mend).as_slice().material()),
            Ok(vec![])
        );
        assert!(mend.edits.len() >= 2);
    }
    assert!(!found.is_empty());
}

/// A bar of four over cells.
trait InFour {
    fn material(&self) -> Material<'_>;
}

impl InFour for [Cell] {
    fn material(&self) -> Material<'_> {
        in_four(self)
    }
}

fn with(cells: &[Cell], mend: &Mend) -> Vec<Cell> {
    cells.iter().chain(&mend.added).cloned().collect()
}

#[test]
fn arranging_rules_are_checked() {
    let text = include_str!("../../../craft/src/data/arrange.toml");
    assert_eq!(
        &ArrangeRules::from_toml(text).unwrap(),
        ArrangeRules::builtin()
    );
    let told = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        ArrangeRules::from_toml(&text.replacen(from, to, 1))
            .unwrap_err()
            .to_string()
    };
    assert_eq!(
        told("most = 12", "most = 0"),
        "arranging rules: mend.most is 0; allowed are 1 to 100"
    );
    assert!(told("unused = 4", "unusd = 4").contains("unusd"));
    // Rules are data: where dropping is cheapest, it comes first.
    let other = ArrangeRules::from_toml(&text.replacen("drop = 4", "drop = 0", 1)).unwrap();
    let cells = [beats("A", 1), beats("B", 3)];
    let found = mends_by(&other, &form("A B A"), &in_four(&cells)).unwrap();
    assert_eq!(found[0].to_string(), "drop A (item 1)");
}

/// A score of two sections that both play A, one of them in a group.
fn two_sections() -> Score {
    let carried = Overrides {
        subdivision: Some((Subdivision(grid("3")), Fit::Carry)),
        ..Overrides::default()
    };
    let own = FormItem::Letter {
        letter: letter("B"),
        overrides: carried,
    };
    let section = |items| Section {
        name: String::new(),
        meter: None,
        overrides: Overrides::default(),
        items,
    };
    Score {
        title: String::new(),
        tempo: Beats::whole(100),
        meter: Meter::FOUR_FOUR,
        pickup: Beats::ZERO,
        sections: vec![
            section(form("A B")),
            section(vec![group(form("A"), 2), own]),
        ],
        cells: Vec::new(),
        ostinatos: Vec::new(),
        voicings: Vec::new(),
        kit: Kit::general_midi(),
        timing: Timing::default(),
    }
}

#[test]
fn a_letter_a_section_or_the_score_on_another_subdivision() {
    let (score, six) = (
        two_sections(),
        Subdivision::from_name("16th-triplets").unwrap(),
    );
    let on = |scope: &Scope| {
        let new = resubdivide(&score, scope, &six, Fit::Refit)?;
        let section = |s: &Section| {
            let own = s
                .overrides
                .subdivision
                .as_ref()
                .map_or(String::new(), |(to, _)| to.to_string());
            format!("{own}: {}", written(&s.items))
        };
        Some(
            new.sections
                .iter()
                .map(section)
                .collect::<Vec<_>>()
                .join(" / "),
        )
    };
    assert_eq!(
        on(&Scope::Letter(letter("A"))).as_deref(),
        Some(": A[16th-triplets] B / : (A[16th-triplets])x2 B[8th-triplets carry]")
    );
    assert_eq!(
        on(&Scope::Section(1)).as_deref(),
        Some(": A B / 16th-triplets: (A)x2 B")
    );
    assert_eq!(
        on(&Scope::Score).as_deref(),
        Some("16th-triplets: A B / 16th-triplets: (A)x2 B")
    );
    assert_eq!(on(&Scope::Letter(letter("C"))), None);
    assert_eq!(on(&Scope::Section(2)), None);
}

fn offer(name: &str, length: Beats) -> Offer {
    Offer {
        letter: letter(name),
        length,
        least: 0,
        most: None,
    }
}

fn request(offers: Vec<Offer>, bars: u32) -> Request {
    Request {
        offers,
        bar: Beats::whole(4),
        bars,
        starts: None,
        ends: None,
        most_in_a_row: None,
        meets_bar_lines: false,
    }
}

fn spelt(listed: &Listed) -> String {
    listed.letters.iter().map(Letter::as_str).collect()
}

/// Forms of one and two beats are the compositions of a number into ones and
/// twos: the Fibonacci numbers (known since Pingala's metres). Sixteen beats:
/// 1597.
#[test]
fn ones_and_twos_are_counted_by_fibonacci() {
    let two = || vec![offer("A", Beats::ONE), offer("B", Beats::whole(2))];
    assert_eq!(
        Forms::new(&request(two(), 4)).unwrap().in_all().to_string(),
        "1597"
    );
    // F(401): sixteen digits would not hold it.
    let (mut a, mut b) = (
        num_bigint::BigUint::from(1u8),
        num_bigint::BigUint::from(1u8),
    );
    for _ in 1..400 {
        (a, b) = (b.clone(), a + b);
    }
    assert_eq!(Forms::new(&request(two(), 100)).unwrap().in_all(), &b);
}

/// Four bars from one beat and two beats, ending on a two-beat C.
#[test]
fn four_bars_ending_on_c() {
    let mut of = request(
        vec![
            offer("A", Beats::ONE),
            offer("B", Beats::whole(2)),
            offer("C", Beats::whole(2)),
        ],
        4,
    );
    of.ends = Some(letter("C"));
    let best: Vec<String> = Forms::new(&of)
        .unwrap()
        .take(1)
        .map(|l| spelt(&l))
        .collect();
    assert_eq!(best, ["AABAABAABAAC"]);
    of.offers[2].most = Some(0);
    let none = Forms::new(&of).unwrap();
    assert_eq!(
        (none.in_all().to_string().as_str(), none.clone().next()),
        ("0", None)
    );
}

#[test]
fn bar_lines_are_met_if_asked() {
    let mut of = request(vec![offer("A", Beats::whole(3)), offer("B", Beats::ONE)], 2);
    of.meets_bar_lines = true;
    let all: BTreeSet<String> = Forms::new(&of).unwrap().map(|l| spelt(&l)).collect();
    let each = ["AB", "BA", "BBBB"];
    let want = each
        .iter()
        .flat_map(|a| each.iter().map(move |b| format!("{a}{b}")));
    assert_eq!(all, want.collect());
}

#[test]
fn requests_are_checked() {
    let told = |change: &dyn Fn(&mut Request)| {
        let mut of = request(vec![offer("A", Beats::ONE)], 1);
        change(&mut of);
        Forms::new(&of).unwrap_err().to_string()
    };
    assert_eq!(
        told(&|r| r.offers.clear()),
        "1 to 26 different letters are allowed, 0 are on offer"
    );
    assert_eq!(
        told(&|r| r.offers.push(offer("A", Beats::ONE))),
        "A is on offer twice"
    );
    assert_eq!(told(&|r| r.ends = Some(letter("Z"))), "Z is not on offer");
    assert_eq!(
        told(&|r| r.offers[0].length = Beats::ZERO),
        "the length of A is 0; it must be above zero"
    );
    assert_eq!(
        told(&|r| r.bars = 0),
        "the number of bars is 0; it must be above zero"
    );
    assert_eq!(
        told(&|r| (r.offers[0].least, r.offers[0].most) = (3, Some(2))),
        "A at least 3 times and at most 2 times"
    );
}

/// All words of letters that are `left` beats long.
fn words(lengths: &[i64], left: i64) -> Vec<String> {
    if left == 0 {
        return vec![String::new()];
    }
    let mut all = Vec::new();
    for (i, length) in lengths.iter().enumerate().filter(|(_, l)| **l <= left) {
        let first = char::from(b'A' + i as u8);
        all.extend(
            words(lengths, left - length)
                .into_iter()
                .map(|w| format!("{first}{w}")),
        );
    }
    all
}

/// The price of a form as the rules are worded, with their built-in prices.
fn price(word: &str, offered: usize) -> u64 {
    let w: Vec<char> = word.chars().collect();
    let mut sum = 0;
    for i in 1..w.len() {
        sum += if w[i] != w[i - 1] {
            u64::from(!w[..i].contains(&w[i]))
        } else if i >= 2 && w[i - 2] == w[i] {
            6
        } else {
            0
        };
    }
    let used: BTreeSet<char> = w.iter().copied().collect();
    let end = w.len() >= 2 && w[w.len() - 1] == w[w.len() - 2];
    sum + 4 * (offered - used.len()) as u64 + if end { 3 } else { 0 }
}

fn longest_row(word: &str) -> usize {
    let w: Vec<char> = word.chars().collect();
    w.chunk_by(|a, b| a == b)
        .map(<[char]>::len)
        .max()
        .unwrap_or(0)
}

proptest! {
    /// Listing, order and count against writing all forms out.
    #[test]
    fn listing_equals_brute_force(
        lengths in proptest::collection::vec(1i64..=4, 1..=3),
        bars in 1u32..=2,
        starts in proptest::option::of(0usize..3),
        ends in proptest::option::of(0usize..3),
        row in proptest::option::of(1u32..=4),
        least in proptest::collection::vec(0u32..=2, 3),
        most in proptest::collection::vec(proptest::option::of(2u32..=4), 3),
        halves in any::<bool>(),
    ) {
        // The same in half beats: exact lengths other than whole ones.
        let unit = if halves { Beats::new(1, 2) } else { Beats::ONE };
        let name = |i: usize| char::from(b'A' + i as u8).to_string();
        let known = |i: Option<usize>| i.filter(|i| *i < lengths.len());
        let offers = lengths.iter().enumerate().map(|(i, n)| Offer {
            letter: letter(&name(i)),
            length: unit.checked_mul(Beats::whole(*n)).unwrap(),
            least: least[i],
            most: most[i],
        });
        let mut of = request(offers.collect(), bars);
        of.bar = unit.checked_mul(Beats::whole(4)).unwrap();
        of.starts = known(starts).map(|i| letter(&name(i)));
        of.ends = known(ends).map(|i| letter(&name(i)));
        of.most_in_a_row = row;
        let fits = |w: &String| {
            let times = |i: usize| w.matches(&name(i)).count() as u32;
            known(starts).is_none_or(|i| w.starts_with(&name(i)))
                && known(ends).is_none_or(|i| w.ends_with(&name(i)))
                && row.is_none_or(|most| longest_row(w) as u32 <= most)
                && (0..lengths.len()).all(|i| times(i) >= least[i])
                && (0..lengths.len()).all(|i| most[i].is_none_or(|most| times(i) <= most))
        };
        let mut want: Vec<(u64, String)> = words(&lengths, i64::from(bars) * 4)
            .into_iter().filter(fits).map(|w| (price(&w, lengths.len()), w)).collect();
        want.sort();
        let forms = Forms::new(&of).unwrap();
        prop_assert_eq!(forms.in_all().to_string(), want.len().to_string());
        let found: Vec<(u64, String)> = forms.map(|l| (l.price, spelt(&l))).collect();
        prop_assert_eq!(found, want);
    }

    /// Mending against trying everything: forms of plain letters, cells of one
    /// slot, so that only letters can be dropped, repeated, swapped or carried.
    #[test]
    fn mending_equals_brute_force(
        word in proptest::collection::vec(0usize..3, 1..=4),
        lengths in proptest::collection::vec(1i64..=4, 3),
    ) {
        let name = |i: usize| char::from(b'A' + i as u8).to_string();
        let cells: Vec<Cell> = lengths.iter().enumerate().map(|(i, n)| Cell {
            letter: letter(&name(i)),
            ..cell(&format!("1@{n}"), "R")
        }).collect();
        let beat = |i: usize| Beats::whole(lengths[i]);
        // A letter of a form: which, or which on what slot length.
        let written_as = |form: &[(usize, Option<(&str, Beats)>)]| {
            let item = |(i, carried): &(usize, Option<(&str, Beats)>)| match carried {
                Some((to, _)) => format!("{}[{to} carry]", name(*i)),
                None => name(*i),
            };
            form.iter().map(item).collect::<Vec<_>>().join(" ")
        };
        let whole = |form: &[(usize, Option<(&str, Beats)>)]| {
            let sum = form.iter().fold(Beats::ZERO, |sum, (i, carried)| {
                sum.checked_add(carried.map_or(beat(*i), |(_, l)| l)).unwrap()
            });
            sum.checked_rem(Beats::whole(4)).unwrap().is_zero()
        };
        let start: Vec<(usize, Option<(&str, Beats)>)> = word.iter().map(|i| (*i, None)).collect();
        let once = |form: &[(usize, Option<(&'static str, Beats)>)]| {
            let mut all = Vec::new();
            for at in 0..form.len() {
                let mut dropped = form.to_vec();
                dropped.remove(at);
                if !dropped.is_empty() {
                    all.push(dropped);
                }
                let mut again = form.to_vec();
                again.insert(at, form[at]);
                all.push(again);
                for i in (0..3).filter(|i| *i != form[at].0) {
                    let mut swapped = form.to_vec();
                    swapped[at].0 = i;
                    all.push(swapped);
                }
                for (to, slots, beats) in Subdivision::NAMES {
                    let mut carried = form.to_vec();
                    carried[at].1 = Some((to, Beats::new(beats, i64::from(slots))));
                    all.push(carried);
                }
            }
            all
        };
        let text = word.iter().map(|i| name(*i)).collect::<Vec<_>>().join(" ");
        let rules = include_str!("../../../craft/src/data/arrange.toml").replacen("most = 12", "most = 100", 1);
        let rules = ArrangeRules::from_toml(&rules).unwrap();
        let found = mends_by(&rules, &form(&text), &in_four(&cells)).unwrap();
        // Each really fills its bars.
        for mend in &found {
            let cells = with(&cells, mend);
            prop_assert_eq!(misfits(&mend.items, &in_four(&cells)), Ok(vec![]), "{}", mend);
        }
        let prices: Vec<Beats> = found.iter().map(|m| m.price).collect();
        prop_assert!(prices.is_sorted());
        if whole(&start) {
            prop_assert!(found.is_empty());
            return Ok(());
        }
        let want: BTreeSet<String> =
            once(&start).iter().filter(|f| whole(f)).map(|f| written_as(f)).collect();
        let found_once: BTreeSet<String> =
            found.iter().filter(|m| m.edits.len() == 1).map(|m| written(&m.items)).collect();
        if found.len() < 100 {
            prop_assert_eq!(&found_once, &want);
        }
        if want.is_empty() {
            let exists = once(&start).iter().any(|f| once(f).iter().any(|g| whole(g)));
            prop_assert_eq!(!found.is_empty(), exists);
            prop_assert!(found.iter().all(|m| m.edits.len() == 2));
        }
    }

    /// Forms with groups, bar lines and a pickup, cells that can be cut: what is
    /// offered fills every bar, by the edits it names.
    #[test]
    fn every_mend_fills_the_bars(items in any_form(), pickup in 0i64..3, shuffled in any::<bool>()) {
        let cells = [
            Cell { letter: letter("A"), ..cell("4", "R L R L") },
            Cell { letter: letter("B"), ..cell("6 6", "R L K R L K R L K R L K") },
            Cell { letter: letter("C"), ..cell("3@3/2", "R L K") },
        ];
        let cells = if shuffled { cells.into_iter().rev().collect() } else { cells.to_vec() };
        let of = Material { pickup: Beats::whole(pickup), ..in_four(&cells) };
        let off = misfits(&items, &of).unwrap();
        let found = mends(&items, &of).unwrap();
        if off.is_empty() {
            prop_assert!(found.is_empty());
        }
        prop_assert!(found.len() <= 12);
        prop_assert!(found.is_sorted_by_key(|m| m.price));
        for mend in &found {
            let mut at = (items.clone(), cells.clone());
            for edit in &mend.edits {
                let (next, added) = edit.apply(&at.0, &at.1).unwrap();
                at = (next, at.1.iter().cloned().chain(added).collect());
            }
            prop_assert_eq!(&at.0, &mend.items);
            prop_assert_eq!(&at.1[cells.len()..], mend.added.as_slice());
            let of = Material { cells: &at.1, ..of };
            prop_assert_eq!(misfits(&mend.items, &of), Ok(vec![]), "{}", mend);
        }
    }
}

fn any_form() -> impl Strategy<Value = Vec<FormItem>> {
    let one = prop_oneof![Just("A"), Just("B"), Just("C")].prop_map(play);
    let some = proptest::collection::vec(one.clone(), 1..4);
    let nested = (some, 1u32..4).prop_map(|(items, times)| group(items, times));
    let item = prop_oneof![3 => one, 1 => nested];
    let part = proptest::collection::vec(item, 1..4);
    proptest::collection::vec(part, 1..4).prop_map(|parts| parts.join(&line()))
}
