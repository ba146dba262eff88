//! What a form plays: order, lengths, overrides, variations, voices.

use barform_app::music::{Articulation, Beats, Letter, Level, Limb, Stroke, Voice};
use barform_app::score::{Placements, Score};
use proptest::prelude::*;

use crate::common;

const CELLS: &str = r#"
[cell.A]
grid = "6"
sticking = "R> L R L R L"
[cell.B]
grid = "4"
sticking = "R L R K"
[cell.C]
grid = "6 6"
sticking = "R L R L R L  R L R L K K"
[voicing.up]
snare = "tom1"
tom1 = "ride:bell"
"#;

fn plan(form: &str) -> (Score, Placements) {
    let text = format!("barform = 1\nform = \"{form}\"\n{CELLS}");
    let score = Score::parse(&text, "f.barform").unwrap_or_else(|e| panic!("{e}"));
    let plan = score.placements().unwrap();
    (score, plan)
}

fn letters(score: &Score, plan: &Placements) -> String {
    plan.places
        .iter()
        .map(|p| score.cells[p.letter as usize].letter.as_str())
        .collect()
}

fn length(form: &str) -> Beats {
    plan(form).1.length
}

/// The voices a cell plays, slot by slot, as the file writes them.
fn voices(text: &str, letter: &str) -> Vec<String> {
    let score = Score::parse(text, "f.barform").unwrap_or_else(|e| panic!("{e}"));
    let cell = score.cell(&Letter::new(letter).unwrap()).unwrap();
    let name = |s: &Stroke| match s.articulation {
        Articulation::Plain => s.voice.name().to_owned(),
        way => format!("{}:{}", s.voice.name(), way.name()),
    };
    cell.slots
        .iter()
        .map(|s| s.iter().map(name).collect::<Vec<_>>().join("+"))
        .collect()
}

fn one_cell(grid: &str, sticking: &str, line: &str) -> Vec<String> {
    let text = format!(
        "barform = 1\nform = \"A\"\n[cell.A]\ngrid = \"{grid}\"\nsticking = \"{sticking}\"\n\
         voices = \"{line}\"\n"
    );
    voices(&text, "A")
}

#[test]
fn groups_repeat_in_order() {
    let (score, plan) = plan("A (B (C A)x2)x2 B |");
    assert_eq!(letters(&score, &plan), "ABCACABCACAB");
    assert_eq!(plan.length, Beats::whole(1 + 2 * (1 + 2 * 3) + 1));
}

/// Two one-beat cells and one two-beat cell fill a bar of 4/4: common practice.
#[test]
fn two_short_cells_and_a_long_one_fill_a_bar() {
    assert_eq!(length("A B C |"), Beats::whole(4));
}

#[test]
fn adjacent_tokens_need_no_blanks() {
    let (score, close) = plan("(AB)x2|C(B)[rate 2]");
    let (_, apart) = plan("( A  B ) x2 [rate 1] | C (B) [ rate  2 ]");
    assert_eq!(letters(&score, &close), "ABABCB");
    assert_eq!(letters(&score, &apart), "ABABCB");
    assert_eq!(close.length, apart.length);
}

/// Refit keeps the length, carry keeps the strokes.
#[test]
fn a_subdivision_refits_or_carries() {
    assert_eq!(length("A[16ths]"), Beats::ONE);
    assert_eq!(length("A[16ths carry]"), Beats::new(3, 2));
    assert_eq!(length("B[16th-triplets carry]"), Beats::new(2, 3));
    assert_eq!(length("C[3@2 carry]"), Beats::whole(8));
    assert_eq!(plan("A[16ths]").1.variants[0].slots.len(), 4);
    assert_eq!(plan("A[16ths carry]").1.variants[0].slots.len(), 6);
}

#[test]
fn rates_and_levels_multiply_and_the_innermost_subdivision_wins() {
    let (_, plan) = plan("((B[rate 2, level 50%] B)[rate 1/2, level 80%] B[16ths])[8ths]");
    let rates: Vec<_> = plan.places.iter().map(|p| p.rate).collect();
    assert_eq!(rates, [Beats::ONE, Beats::new(1, 2), Beats::ONE]);
    let levels: Vec<_> = plan.places.iter().map(|p| p.level_percent).collect();
    assert_eq!(levels, [40, 80, 100]);
    let slots: Vec<_> = plan
        .places
        .iter()
        .map(|p| plan.variants[p.variant as usize].slots.len())
        .collect();
    assert_eq!(slots, [2, 2, 4]);
    let lengths: Vec<_> = plan.places.iter().map(|p| p.length).collect();
    assert_eq!(lengths, [Beats::ONE, Beats::whole(2), Beats::ONE]);
}

#[test]
fn alike_cells_are_worked_out_once() {
    let (_, plan) = plan("(A B A[rate 2] A[level 50%])x50 A[16ths] A[4] B[voicing up] A");
    // A, B, A on sixteenths however it is spelt, B on the toms.
    assert_eq!(plan.variants.len(), 4);
}

#[test]
fn a_voicing_moves_strokes_once() {
    let (_, plan) = plan("B[voicing up]");
    let voices: Vec<_> = plan.variants[0]
        .slots
        .iter()
        .flatten()
        .map(|s| s.voice)
        .collect();
    assert_eq!(voices, [Voice::Tom1, Voice::Tom1, Voice::Tom1, Voice::Kick]);
}

#[test]
fn a_voicing_keeps_an_articulation_the_new_voice_has() {
    let text = format!(
        "barform = 1\nform = \"D[voicing up]\"\n{CELLS}[cell.D]\ngrid = \"3\"\n\
         sticking = \"R L R\"\nvoices = \"snare:rim snare:cross tom1:rim\"\n"
    );
    let plan = Score::parse(&text, "").unwrap().placements().unwrap();
    let ways: Vec<_> = plan.variants[0]
        .slots
        .iter()
        .flatten()
        .map(|s| (s.voice, s.articulation))
        .collect();
    assert_eq!(
        ways,
        [
            (Voice::Tom1, Articulation::Rim),
            (Voice::Tom1, Articulation::Plain),
            (Voice::Ride, Articulation::Bell)
        ]
    );
}

#[test]
fn bars_are_counted_from_the_pickup_and_through_meters() {
    let text = format!(
        "barform = 1\nmeter = \"3/4\"\npickup = 1\n\
         [[section]]\nform = \"A | C A |\"\n\
         [[section]]\nmeter = \"4/4\"\nsubdivision = \"8ths carry\"\nform = \"B B | A B[16ths carry] |\"\n\
         [[section]]\nform = \"(A | )x1 B B | C\"\n{CELLS}"
    );
    // The third section is in 3/4 again; its first bar line asks for one beat too much.
    let error = Score::parse(&text, "").unwrap_err().to_string();
    assert!(error.contains("bar 4 has 1 of 3 beats"), "{error}");
    let text = text.replace("(A | )x1 B B |", "A B B |");
    let plan = Score::parse(&text, "").unwrap().placements().unwrap();
    let starts = [0, 4, 12].map(Beats::whole);
    assert_eq!(plan.section_starts, starts);
    assert_eq!(plan.length, Beats::whole(17));
}

#[test]
fn without_voices_hands_play_the_snare_and_feet_their_pedals() {
    let (score, _) = plan("B");
    let text = score.to_toml();
    assert_eq!(voices(&text, "B"), ["snare", "snare", "snare", "kick"]);
    assert_eq!(one_cell("2", "K H", ". ."), ["kick", "hatfoot"]);
}

#[test]
fn a_dot_goes_on_where_the_hands_were() {
    let got = one_cell(
        "6 6",
        "R L R L R L  R L R L K K",
        "snare . . . . . tom1 . . . kick .",
    );
    assert_eq!(got[..6], ["snare"; 6]);
    assert_eq!(got[6..], ["tom1", "tom1", "tom1", "tom1", "kick", "kick"]);
    // A foot between keeps its pedal, and the hands stay where they were.
    let got = one_cell("6", "R L K R L K", "tom2 . . . . .");
    assert_eq!(got, ["tom2", "tom2", "kick", "tom2", "tom2", "kick"]);
    let got = one_cell("6", "R L K R L K", "tom2 . kick . . .");
    assert_eq!(got, ["tom2", "tom2", "kick", "tom2", "tom2", "kick"]);
    // Each hand where that hand was, if both had their own.
    let got = one_cell("4", "R+L R L R+L", "ride+snare . . .");
    assert_eq!(got, ["ride+snare", "ride", "snare", "ride+snare"]);
    // A foot put elsewhere stays there; rests are passed over.
    let got = one_cell("5", "K - H K R", "cowbell . . . .");
    assert_eq!(got, ["cowbell", "", "hatfoot", "cowbell", "snare"]);
}

#[test]
fn one_voice_is_for_the_hands() {
    assert_eq!(one_cell("1", "R+K", "crash"), ["crash+kick"]);
    assert_eq!(one_cell("1", "K+R", "crash"), ["kick+crash"]);
    assert_eq!(one_cell("1", "R+L+H", "tom1"), ["tom1+tom1+hatfoot"]);
    assert_eq!(one_cell("1", "R+L+K", "ride+snare"), ["ride+snare+kick"]);
    assert_eq!(
        one_cell("1", "R+L+K", "ride+snare+cowbell"),
        ["ride+snare+cowbell"]
    );
    assert_eq!(one_cell("1", "H", "hatfoot:open"), ["hatfoot:open"]);
}

#[test]
fn strokes_carry_level_and_ornaments() {
    let text = "barform = 1\nform = \"A\"\n[cell.A]\ngrid = \"6\"\n\
                sticking = \"R> (L) lR rlrL> (llRz) Lz>\"\n";
    let score = Score::parse(text, "").unwrap();
    let cell = &score.cells_resolved().unwrap()[0];
    let told: Vec<_> = cell
        .slots
        .iter()
        .flatten()
        .map(|s| (s.limb, s.level, s.graces.name(), s.buzz))
        .collect();
    use Level::{Accent, Ghost, Normal};
    use Limb::{LeftHand as L, RightHand as R};
    assert_eq!(
        told,
        [
            (R, Accent, "", false),
            (L, Ghost, "", false),
            (R, Normal, "flam", false),
            (L, Accent, "four-stroke ruff", false),
            (R, Ghost, "drag", true),
            (L, Accent, "", true),
        ]
    );
}

/// A change in A reaches A', but for what A' states itself.
#[test]
fn a_change_in_the_parent_reaches_the_variation() {
    let text = |sticking: &str, grid: &str| {
        format!(
            "barform = 1\nform = \"A A' A''\"\n[cell.\"A''\"]\nlike = \"A'\"\n\
             [cell.\"A'\"]\nlike = \"A\"\nvoices = \"tom1 . . tom2\"\n\
             [cell.A]\ngrid = \"{grid}\"\nsticking = \"{sticking}\"\nvoices = \"snare . . kick\"\n"
        )
    };
    let first = text("R L R L", "4");
    assert_eq!(voices(&first, "A''"), ["tom1", "tom1", "tom1", "tom2"]);
    let changed = text("R - R> L", "4@2");
    let score = Score::parse(&changed, "").unwrap();
    let cell = score.cell(&Letter::new("A''").unwrap()).unwrap();
    assert_eq!(cell.grid.to_string(), "4@2");
    assert_eq!(cell.slots[2][0].level, Level::Accent);
    assert_eq!(voices(&changed, "A''"), ["tom1", "", "tom1", "tom2"]);
}

/// A voice the parent names on what is now a rest still counts for the dots.
#[test]
fn inherited_voices_pass_over_new_rests() {
    let text = "barform = 1\nform = \"A\"\n[cell.A]\ngrid = \"6\"\nsticking = \"R L R L K -\"\n\
                voices = \"snare . tom1 . kick -\"\n[cell.\"A'\"]\nlike = \"A\"\n\
                sticking = \"R L - L - R\"\n";
    assert_eq!(
        voices(text, "A'"),
        ["snare", "snare", "", "tom1", "", "tom1"]
    );
}

proptest! {
    /// Places follow each other without gap, and a refit never changes a
    /// length.
    #[test]
    fn places_follow_each_other(score in common::score()) {
        let plan = score.placements().unwrap();
        let mut end = Beats::ZERO;
        for place in &plan.places {
            prop_assert_eq!(place.start, end);
            end = end.checked_add(place.length).unwrap();
            let played = &plan.variants[place.variant as usize];
            prop_assert_eq!(played.slots.len(), played.grid.slot_count());
            let whole = played.grid.length().unwrap().checked_div(place.rate).unwrap();
            prop_assert_eq!(place.length, whole);
        }
        prop_assert_eq!(plan.length, end);
        prop_assert_eq!(plan.section_starts.len(), score.sections.len());
        prop_assert!(plan.places.is_sorted_by_key(|p| p.section));
    }

    /// Groups are only a short way of writing: written out by hand, the form
    /// plays the same.
    #[test]
    fn a_group_is_its_letters_in_a_row(times in 1_u32..6, inner in "[ABC]{1,5}") {
        let (_, mut grouped) = plan(&format!("C ({inner})x{times} A"));
        let (_, mut flat) = plan(&format!("C {} A", inner.repeat(times as usize)));
        // Where a place is written in the form does not sound.
        for place in grouped.places.iter_mut().chain(&mut flat.places) {
            place.item = 0;
        }
        prop_assert_eq!(grouped, flat);
    }
}
