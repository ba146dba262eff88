//! `docs/take.md` shows what the command prints.

mod common;

use common::page;

#[test]
fn the_page_shows_what_the_commands_print() {
    let folder = tempfile::tempdir().unwrap();
    assert!(page::check("take.md", folder.path()).len() >= 3);
    // What was written can be read again.
    page::printed(folder.path(), "barform check solo.barform");
}
