//! Files opened or saved last, in the panel that opens one.

mod window;

use barform_app::shelf::Recent;
use egui_kittest::kittest::Queryable;
use std::path::{Path, PathBuf};
use window::Window;

/// The list as it is on the disk.
fn recent(window: &Window) -> Vec<PathBuf> {
    let list = Recent::at(window.folder.path().join("recent.toml")).list();
    list.unwrap().into_iter().map(|file| file.path).collect()
}

fn shows(window: &Window, label: &str) -> bool {
    window.harness.query_by_label(label).is_some()
}

fn score(title: &str) -> String {
    format!(
        "barform = 1\ntitle = \"{title}\"\nform = \"A\"\n[cell.A]\ngrid = \"1\"\nsticking = \"R\"\n"
    )
}

fn write(folder: &Path, title: &str) -> PathBuf {
    let path = folder.join(format!("{title}.barform"));
    std::fs::write(&path, score(title)).unwrap();
    path
}

#[test]
fn saved_and_opened_files_are_offered_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open();
    let saved = folder.path().join("saved.barform");
    let name = saved.display().to_string();
    window.params.session.set_file(Some(name));
    window.click("Save");
    window.until("entered", |w| recent(w) == [saved.clone()]);

    let other = write(folder.path(), "other");
    Recent::at(window.folder.path().join("recent.toml"))
        .opened(&other)
        .unwrap();
    window.click("Open…");
    let row = format!("other.barform in {}", folder.path().display());
    window.until("it is offered", |w| shows(w, &row));
    window.click(&row);
    assert_eq!(window.text(), score("other"));
    assert_eq!(
        window.params.session.file(),
        Some(other.display().to_string())
    );
    window.until("first again", |w| {
        recent(w) == [other.clone(), saved.clone()]
    });
}

#[test]
fn files_are_forgotten_one_by_one_all_or_those_that_are_gone() {
    let folder = tempfile::tempdir().unwrap();
    let mut window = Window::open();
    let list = Recent::at(window.folder.path().join("recent.toml"));
    let paths: Vec<PathBuf> = ["one", "two", "three", "four"]
        .iter()
        .map(|title| write(folder.path(), title))
        .collect();
    for path in &paths {
        list.opened(path).unwrap();
    }
    std::fs::remove_file(&paths[3]).unwrap();
    window.click("Open…");
    window.until("gone", |w| shows(w, "1 more is not found now."));
    assert!(!shows(&window, "Forget four.barform"));
    window.click("Forget them");
    window.until("forgotten", |w| recent(w).len() == 3);
    window.click("Forget two.barform");
    window.until("forgotten", |w| {
        recent(w) == [paths[2].clone(), paths[0].clone()]
    });
    window.click("Clear");
    window.until("cleared", |w| recent(w).is_empty());
    assert!(paths[0].exists() && paths[1].exists());
}
