//! The Bench's tools: what is proposed, and the score after one click.

mod window;

use barform_app::music::{Cell, Hand, Letter, Limb, Subdivision, Voice};
use barform_app::score::Score;
use barform_app::score::edit::Owner;
use egui_kittest::kittest::{By, Queryable};
use window::Window;

const SCORE: &str = r#"barform = 1
title = "Bench"
tempo = 90
meter = "4/4"
form = "A B | A B |"

[cell.A]
grid = "4 4"
sticking = "R> R L R  L> L R L"

[cell.B]
grid = "4 4"
sticking = "R> L R L  R L K -"
voices = "tom1 . tom2 .  snare . . -"

[voicing.high]
snare = "tom1"
tom1 = "ride:bell"
"#;

fn letter(text: &str) -> Letter {
    Letter::new(text).unwrap()
}

/// The window on the Bench with a cell chosen and a tool open.
fn open(score: &str, cell: &str, tool: &str) -> Window {
    let mut window = Window::with_score(score);
    window.harness.state_mut().desk_mut().to_bench(letter(cell));
    window.settle();
    window.click("Tools");
    wait(&mut window);
    // The names may still be finding their places.
    window.harness.get_by_label(tool).click_accesskit();
    wait(&mut window);
    window
}

/// Until the thread has answered.
fn wait(window: &mut Window) {
    window.settle();
    while window.harness.query_by_label("Working it out…").is_some() {
        std::thread::sleep(std::time::Duration::from_millis(2));
        window.harness.run_steps(2);
    }
}

/// Clicks what may lie below the edge of the panel.
fn click(window: &mut Window, label: &str) {
    window.harness.get_by_label(label).click_accesskit();
    wait(window);
}

fn cell(window: &Window, name: &str) -> Cell {
    let checked = window.params.session.checked();
    checked.score().cell(&letter(name)).unwrap()
}

fn hands(cell: &Cell) -> String {
    let strokes = cell.slots.iter().flatten();
    strokes.map(|s| s.limb.letter()).collect()
}

fn score(window: &Window) -> Score {
    window.params.session.checked().score().clone()
}

#[test]
fn a_sticking_is_chosen_and_only_the_hands_change() {
    let mut window = open(SCORE, "A", "Sticking");
    let before = cell(&window, "A");
    assert_eq!(hands(&before), "RRLRLLRL");
    window.harness.get_by_label_contains("As written it costs");
    let names = window.harness.get_all_by_label_contains("Use: ");
    assert!(names.count() >= 3, "several ways are offered");
    // Whatever the rules find cheapest: the strokes are the same.
    window
        .harness
        .get_by_label_contains("Use: At the least cost")
        .click();
    wait(&mut window);
    let after = cell(&window, "A");
    assert_ne!(hands(&after), hands(&before));
    let heard = |cell: &Cell| -> Vec<_> {
        let strokes = cell.slots.iter().flatten();
        strokes.map(|s| (s.voice, s.level)).collect()
    };
    assert_eq!(heard(&after), heard(&before));
    window.command(egui::Key::Z);
    assert_eq!(cell(&window, "A"), before);
}

#[test]
fn the_reasons_of_a_sticking_are_told_slot_by_slot() {
    let mut window = open(SCORE, "A", "Sticking");
    assert!(window.harness.query_by_label_contains("slot 1: ").is_none());
    click(&mut window, "Why: Hands exchanged");
    // The left hand then begins, and the rules have the right hand lead.
    window
        .harness
        .get_by_label_contains("starts on the non-lead hand");
}

#[test]
fn rudiments_are_found_by_name_and_their_place_is_shown() {
    // R R L R and its mirror image: a single paradiddle turned to begin with the
    // double is one of the Percussive Arts Society's only from its third stroke;
    // this one is in place.
    let text = SCORE.replace("R> R L R  L> L R L", "R> L R R  L> R L L");
    let window = open(&text, "A", "Rudiments");
    window.harness.get_by_label("single paradiddle");
    window
        .harness
        .get_by_label_contains("single paradiddle, right hand leads");
    window.harness.get_by_label_contains(": cell A, slots 1–8");
}

#[test]
fn showing_a_rudiment_chooses_its_first_slot() {
    let text = SCORE.replace("R> R L R  L> L R L", "- - R L  R R L R");
    let text = text.replace(
        "[cell.B]",
        "[cell.C]\ngrid = \"4 4 4\"\nsticking = \"- - - - R L R R L R L L\"\n\n[cell.B]",
    );
    let mut window = open(&text, "C", "Rudiments");
    click(&mut window, "Show: single paradiddle");
    assert_eq!(window.harness.state().desk().chosen.slot, 4);
}

#[test]
fn a_variation_is_kept_under_the_next_prime_as_one_step() {
    let mut window = open(SCORE, "A", "Vary");
    let before = score(&window);
    let text = window.text();
    click(&mut window, "Keep: Variation 1");
    let after = score(&window);
    assert_eq!(after.cells.len(), before.cells.len() + 1);
    let kept = after
        .cells
        .iter()
        .find(|c| c.letter == letter("A'"))
        .unwrap();
    assert_eq!(kept.like, Some(letter("A")));
    // It states what differs and nothing else.
    assert_eq!(kept.grid, None);
    assert_ne!(cell(&window, "A'").slots, cell(&window, "A").slots);
    assert_eq!(before.cell(&letter("A")), after.cell(&letter("A")));
    assert_eq!(before.sections, after.sections);
    window.command(egui::Key::Z);
    assert_eq!(window.text(), text);
}

#[test]
fn what_is_to_stay_stays() {
    let mut window = open(SCORE, "B", "Vary");
    for what in ["Keep accents", "Keep kicks", "Keep rests", "Keep sticking"] {
        click(&mut window, what);
    }
    let before = cell(&window, "B");
    click(&mut window, "Use: Variation 1");
    let after = cell(&window, "B");
    let sticking = |cell: &Cell| -> Vec<_> {
        let slot = |slot: &Vec<barform_app::music::Stroke>| -> Vec<_> {
            slot.iter().map(|s| (s.limb, s.level)).collect()
        };
        cell.slots.iter().map(slot).collect()
    };
    assert_eq!(sticking(&after), sticking(&before));
    assert_ne!(after, before);
}

#[test]
fn every_stroke_a_slot_later_goes_over_the_end() {
    let mut window = open(SCORE, "B", "Vary");
    let before = cell(&window, "B");
    click(&mut window, "Use: Every stroke one slot later");
    let after = cell(&window, "B");
    assert_eq!(after.slots[1..], before.slots[..7]);
    assert_eq!(after.slots[0], before.slots[7]);
}

#[test]
fn one_hand_goes_to_another_voice() {
    let mut window = open(SCORE, "A", "Re-voice");
    click(&mut window, "Use: The right hand on ride");
    for stroke in cell(&window, "A").slots.iter().flatten() {
        let on = match stroke.limb.hand() {
            Some(Hand::Right) => Voice::Ride,
            _ => Voice::Snare,
        };
        assert_eq!(stroke.voice, on);
    }
}

#[test]
fn a_drum_on_round_the_kit_leaves_feet_and_hands() {
    let mut window = open(SCORE, "B", "Re-voice");
    let before = cell(&window, "B");
    click(&mut window, "Use: Next drum round the kit");
    let after = cell(&window, "B");
    assert_eq!(hands(&after), hands(&before));
    let voices: Vec<Voice> = after.slots.iter().flatten().map(|s| s.voice).collect();
    // The kit's order round it: snare, tom 1 to tom 4.
    use Voice::*;
    assert_eq!(voices, [Tom2, Tom2, Tom3, Tom3, Tom1, Tom1, Kick]);
}

#[test]
fn a_named_voicing_is_put_into_the_cell() {
    let mut window = open(SCORE, "B", "Re-voice");
    click(&mut window, "Use: Voicing high");
    let after = cell(&window, "B");
    assert_eq!(after.slots[0][0].voice, Voice::Ride);
    assert_eq!(after.slots[4][0].voice, Voice::Tom1);
    assert_eq!(after.slots[6][0].limb, Limb::KickFoot);
}

#[test]
fn a_proposal_stands_on_a_staff_and_says_its_strokes() {
    let pictures = |window: &Window| {
        let named = By::new().role(egui::Role::Image).label_contains("R>");
        window.harness.query_all(named).count()
    };
    let window = open(SCORE, "A", "Refit");
    let proposals = window.harness.get_all_by_label_contains("Refit: ").count();
    assert_eq!(pictures(&window), proposals, "each has a picture");
    // Sixteen beats find no room on a staff of the panel's width.
    let text = SCORE
        .replace(
            "4 4\"\nsticking = \"R> R L R  L> L R L\"",
            &format!(
                "{}\"\nsticking = \"{}\"",
                "4 ".repeat(16).trim(),
                "R> R L R ".repeat(16).trim()
            ),
        )
        .replace("A B | A B |", "A B");
    let window = open(&text, "A", "Refit");
    assert!(
        window
            .harness
            .query_all_by_label_contains("Refit: ")
            .count()
            > 0
    );
    assert!(window.harness.query_all_by_label_contains("R> ").count() > 0);
    assert_eq!(pictures(&window), 0, "text in its place");
}

#[test]
fn refitting_keeps_the_length_and_carrying_the_strokes() {
    let mut window = open(SCORE, "A", "Refit");
    let before = cell(&window, "A");
    click(&mut window, "Why: On 16th-triplets");
    window.harness.get_by_label_contains("slot 1 from 1: ");
    click(&mut window, "Refit: On 16th-triplets");
    let refit = cell(&window, "A");
    assert_eq!(refit.grid.length(), before.grid.length());
    assert_eq!(refit.slots.len(), 12);
    window.command(egui::Key::Z);
    click(&mut window, "Carry");
    click(&mut window, "Carry: Carried to 16th-triplets");
    let carried = cell(&window, "A");
    assert_eq!(carried.slots, before.slots);
    let length = carried.grid.length().unwrap();
    assert_eq!(length, barform_app::music::Beats::new(4, 3));
    assert_eq!(Subdivision(carried.grid).name(), None);
}

#[test]
fn top_tempos_come_with_what_limits_them_and_with_care() {
    let window = open(SCORE, "A", "Top tempo");
    for level in [
        "beginner: ",
        "intermediate: ",
        "advanced: ",
        "professional: ",
    ] {
        let told = window.harness.get_all_by_label_contains(level);
        assert!(told.count() > 0, "{level}");
    }
    window.harness.get_by_label_contains("stop at pain");
    window.harness.get_by_label_contains("physician");
}

#[test]
fn a_proposal_is_heard_and_silenced() {
    let mut window = open(SCORE, "A", "Vary");
    let session = window.params.session.clone();
    click(&mut window, "Hear: Variation 2");
    assert!(session.audition.is_playing());
    click(&mut window, "Stop: Variation 2");
    assert!(!session.audition.is_playing());
    click(&mut window, "Hear: Variation 2");
    let text = window.text();
    click(&mut window, "Use: Variation 2");
    assert!(!session.audition.is_playing());
    assert_ne!(window.text(), text);
}

#[test]
fn an_ostinato_is_worked_on_like_a_cell_but_has_no_primes() {
    let text = format!("{SCORE}\n[ostinato.foot]\ngrid = \"2 2\"\nsticking = \"K K H -\"\n");
    let mut window = open(&text, "A", "Vary");
    let owner = Owner::Ostinato("foot".to_owned());
    window.harness.state_mut().desk_mut().chosen.owner = Some(owner);
    wait(&mut window);
    assert!(window.harness.query_by_label_contains("Keep: ").is_none());
    click(&mut window, "Use: Every stroke one slot later");
    let slots = score(&window).ostinatos[0].slots();
    assert!(slots[0].is_empty());
    let feet: Vec<Limb> = slots.iter().flatten().map(|s| s.limb).collect();
    assert_eq!(feet, [Limb::KickFoot, Limb::KickFoot, Limb::HatFoot]);
}

#[test]
fn a_cell_of_rests_says_what_to_do_first() {
    let text = SCORE.replace("R> R L R  L> L R L", "- - - -  - - - -");
    let window = open(&text, "A", "Top tempo");
    window
        .harness
        .get_by_label_contains("Put some strokes in first");
}
