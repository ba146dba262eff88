//! What is chosen.

use super::*;

#[test]
fn a_click_chooses_a_block_and_puts_its_cell_on_the_bench() {
    let mut window = with_form("A B C C");
    window.harness.get_by_label("Block 1: A, 3 beats");
    window.harness.get_by_label("Block 2: B, 1 beat");
    click_block(&mut window, 3);
    assert_eq!(chosen(&window), run(&[2], 1));
    assert_eq!(bench(&window), "C");
    let node = window.harness.get_by_label("Block 3: C, 2 beats");
    assert_eq!(node.accesskit_node().is_selected(), Some(true));
    shift_click(&mut window, 2);
    assert_eq!(chosen(&window), run(&[1], 2));
    assert_eq!(bench(&window), "B");
    shift_click(&mut window, 4);
    assert_eq!(chosen(&window), run(&[2], 2), "from where it began");
    // Enter opens it on the Bench, as a double click does.
    window.command(Key::Num1);
    click_block(&mut window, 1);
    window.key(Key::Enter);
    let page = window.harness.state().desk().page;
    assert_eq!(page, barform::editor::Page::Bench);
    assert_eq!(bench(&window), "A");
}

#[test]
fn every_pass_of_a_repeat_is_the_same_item_and_a_stretch_takes_whole_groups() {
    let mut window = with_form("B (A B)x2 C C B B");
    click_block(&mut window, 4);
    assert_eq!(chosen(&window), run(&[1, 0], 1));
    let second = window.harness.get_by_label("Block 2: A, 3 beats");
    assert_eq!(second.accesskit_node().is_selected(), Some(true));
    shift_click(&mut window, 6);
    assert_eq!(chosen(&window), run(&[1], 2), "the whole group");
    window.click("Repeat ×2 of 2 blocks");
    assert_eq!(chosen(&window), run(&[1], 1));
}

#[test]
fn arrow_keys_choose_and_with_shift_extend() {
    let mut window = with_form("A B (C C)x2");
    click_block(&mut window, 1);
    window.key(Key::ArrowRight);
    assert_eq!((chosen(&window), &*bench(&window)), (run(&[1], 1), "B"));
    press(&mut window, Modifiers::SHIFT, Key::ArrowLeft);
    assert_eq!(chosen(&window), run(&[0], 2));
    window.key(Key::End);
    assert_eq!(chosen(&window), run(&[2, 1], 1));
    window.key(Key::ArrowUp);
    assert_eq!(chosen(&window), run(&[2], 1), "the group around");
    window.key(Key::ArrowDown);
    assert_eq!(chosen(&window), run(&[2, 0], 1), "the first in it");
    press(&mut window, Modifiers::COMMAND, Key::A);
    assert_eq!(chosen(&window), run(&[2, 0], 2));
    window.key(Key::Home);
    assert_eq!(chosen(&window), run(&[0], 1));
    window.key(Key::Escape);
    assert_eq!(chosen(&window), None);
    window
        .harness
        .get_by_label_contains("Click a block to select it");
}

#[test]
fn a_click_above_the_blocks_plays_from_there_and_a_click_on_a_block_does_not() {
    let mut window = with_form("A B A B A B A B");
    let live = window.params.session.live.clone();
    click_block(&mut window, 3);
    assert_eq!(live.take_locate(), None);
    let block = window.harness.get_by_label_contains("Block 3: ").rect();
    let at = Pos2::new(block.left(), block.top() - 20.0);
    window.harness.hover_at(at);
    window.harness.drag_at(at);
    window.harness.drop_at(at);
    window.settle();
    let beats = live.take_locate().expect("it was asked for");
    assert!((beats - 4.0).abs() < 0.1, "{beats}");
}
