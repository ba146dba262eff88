//! Text fields, long forms, small windows.

use super::*;

#[test]
fn keys_are_the_text_fields_while_one_has_the_focus() {
    let mut window = with_form("A B C C");
    click_block(&mut window, 2);
    window.command(Key::Num3);
    let before = form(&window);
    window.type_at_end("\n# c");
    window.key(Key::Delete);
    window.key(Key::ArrowLeft);
    assert_eq!(form(&window), before);
    assert_eq!(chosen(&window), run(&[1], 1));
    assert!(window.text().ends_with("\n# c"));
}

#[test]
fn of_ten_thousand_bars_only_those_in_view_are_there() {
    let mut window = with_form("(A B |)x9999 C C");
    let blocks = |window: &Window| {
        let all = window.harness.query_all_by_label_contains("Block ");
        all.count()
    };
    assert!((10..=120).contains(&blocks(&window)), "{}", blocks(&window));
    click_block(&mut window, 1);
    window.key(Key::End);
    window.harness.get_by_label("Block 20000: C, 2 beats");
    assert!((10..=120).contains(&blocks(&window)));
    assert!(
        window
            .harness
            .query_by_label("Block 1: A, 3 beats")
            .is_none()
    );
}

#[test]
fn all_of_it_fits_into_the_smallest_window() {
    let mut window = with_form("A B (C C)x2[16ths] A[level 70%, voicing up] B");
    window.harness.set_size(egui::vec2(800.0, 500.0));
    window.settle();
    click_block(&mut window, 1);
    let mut right: f32 = 0.0;
    for label in [
        "Insert…",
        "Duplicate blocks",
        "Delete blocks",
        "Cut blocks",
        "Copy blocks",
        "Paste blocks",
        "Fewer repeats",
        "Repeats",
        "More repeats",
        "Group blocks",
        "Play as…",
        "Prime block",
        "Bar line here",
        "Section…",
    ] {
        let rect = window.harness.get_by_label(label).rect();
        assert!(
            rect.left() >= right - 0.5,
            "{label} overlaps what is before it"
        );
        assert!(rect.right() <= 800.0, "{label} is cut at {}", rect.right());
        right = rect.right();
    }
    let top = window.harness.get_by_label("Form strip").rect().top();
    let bottom = window
        .harness
        .get_by_label_contains("Selected: A")
        .rect()
        .bottom();
    assert!(bottom - top <= 170.0, "{}", bottom - top);
}
