//! The form as written, beside the form as compiled.

use super::*;

fn score(form: &str) -> Score {
    let text = format!(
        "barform = 1\ntempo = 90\nmeter = \"4/4\"\nform = \"{form}\"\n\
         [cell.A]\ngrid = \"4\"\nsticking = \"R L R L\"\n"
    );
    Score::parse(&text, "test").unwrap()
}

#[test]
fn places_of_a_repeat_match_the_compiled_form() {
    let score = score("A (A A)x3 A ((A)x2 A)x2");
    let timeline = crate::timeline::Timeline::compile(&score).unwrap();
    let written = WrittenForm::of(&score);
    let outer: Vec<_> = written.groups.iter().filter(|r| r.depth == 0).collect();
    let shape = |r: &Repeat| (r.first, r.places, r.times);
    assert_eq!(shape(outer[0]), (1, 2, 3));
    assert_eq!(shape(outer[1]), (8, 3, 2));
    let inner = written.groups.iter().filter(|r| r.depth == 1);
    assert_eq!(inner.count(), 2, "once in each outer pass");
    assert_eq!(outer[1].end(), timeline.places.len());
    assert_eq!(outer[0].pass_of(4), Some(2));
    assert_eq!(outer[0].pass_of(7), None);
}

#[test]
fn a_form_without_groups_has_none() {
    assert!(WrittenForm::of(&score("A A A A")).groups.is_empty());
}

#[test]
fn numbers_and_paths_are_those_of_the_score() {
    let score = score("A A A A (A A A A | A A A A)x3 | A ((A)x2[rate 2] A)x2");
    let written = WrittenForm::of(&score);
    for number in 0..written.sections[0].len() {
        let path = written.path(0, number).unwrap();
        assert_eq!(Some(&path), ItemPath::of(&score, 0, number).as_ref());
        assert_eq!(written.number(&path), Some(number));
    }
    assert_eq!(written.number(&ItemPath::new(0, [19])), None);
    assert_eq!(written.number(&ItemPath::new(0, [4, 9])), None);
    assert_eq!(written.number(&ItemPath::new(1, [0])), None);
    let timeline = crate::timeline::Timeline::compile(&score).unwrap();
    for (place, found) in timeline.places.iter().enumerate() {
        let entry = written.entry(0, found.item as usize).unwrap();
        assert!(entry.first <= place);
        let first = &timeline.places[entry.first];
        assert_eq!(first.item, found.item);
    }
}

#[test]
fn checks_and_gaps_have_their_places() {
    let written = WrittenForm::of(&score("A A A A | (A A A A |)x2 A"));
    assert_eq!(written.checks, [4, 8, 12]);
    let gap = |items: &[usize]| written.places_of_gap(&ItemPath::new(0, items));
    assert_eq!(gap(&[2]), [2]);
    assert_eq!(gap(&[5, 4]), [8, 12]);
    assert_eq!(gap(&[5, 5]), [8, 12]);
    assert_eq!(gap(&[7]), [13]);
}

#[test]
fn overrides_are_said_shortly() {
    let score = score("A[16ths carry, rate 2] (A)[level 70%] A");
    let written = WrittenForm::of(&score);
    let said: Vec<&str> = written.sections[0].iter().map(|e| &*e.otherwise).collect();
    assert_eq!(said, ["16ths carry, ×2", "70%", "", ""]);
}
