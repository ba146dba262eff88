//! Blocks copied, cut and pasted.

use super::*;

fn copied(window: &Window) -> String {
    let commands = &window.harness.output().platform_output.commands;
    let found = commands.iter().find_map(|command| match command {
        OutputCommand::CopyText(text) => Some(text.clone()),
        _ => None,
    });
    found.expect("something was copied")
}

#[test]
fn a_stretch_is_copied_cut_and_pasted_as_text() {
    let mut window = with_form("A B C C");
    click_block(&mut window, 1);
    shift_click(&mut window, 2);
    window.harness.event(Event::Copy);
    window.harness.run_steps(1);
    let text = copied(&window);
    assert!(
        text.contains("form = \"A B\"") && text.contains("[cell.A]"),
        "{text}"
    );
    click_block(&mut window, 4);
    leaves(&mut window, "A B C C A B", |w| {
        w.harness.event(Event::Paste(text.clone()));
        w.settle();
        assert_eq!(chosen(w), run(&[4], 2));
    });
    click_block(&mut window, 1);
    leaves(&mut window, "B C C A B", |w| {
        w.harness.event(Event::Cut);
        w.settle();
    });
    click_block(&mut window, 1);
    leaves(&mut window, "B A C C A B", |w| w.click("Paste blocks"));
    // Into another score: the cells come along, a letter that is taken changes.
    let other = "barform = 1\nmeter = \"4/4\"\nform = \"A\"\n[cell.A]\ngrid = \"4\"\nsticking = \"R L R L\"\n";
    let mut other = Window::with_score(other);
    click_block(&mut other, 1);
    leaves(&mut other, "A C B", |w| {
        w.harness.event(Event::Paste(text.clone()));
        w.settle();
    });
    let before = other.text();
    click_block(&mut other, 1);
    other.harness.event(Event::Paste("no form [".to_owned()));
    other.settle();
    assert_eq!(other.text(), before);
    refusal(&other);
}
