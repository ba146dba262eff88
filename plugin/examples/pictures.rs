//! Pictures of every page, for whoever wants to look at the window: made without
//! a screen, at three sizes, dark and light.
//!
//! `cargo run -p barform --example pictures -- FOLDER [PART OF A NAME]`

#[path = "../tests/window/mod.rs"]
mod window;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

use barform::editor::Page;
use barform::handover::{Clock, Reading};
use barform::params::BarformParams;
use barform::state::{EditorPrefs, Session, Theme};
use barform_app::music::Letter;
use barform_app::score::Score;
use barform_app::shelf::{Folders, Label, Shelf, ShelfError, pick};
use egui_kittest::kittest::Queryable;
use window::Window;

/// Width and height in points.
const SIZES: [(f32, f32); 3] = [(800.0, 500.0), (1_100.0, 720.0), (1_600.0, 1_000.0)];

/// Where the form stands in the pictures, in beats.
const POSITION_BEATS: f64 = 5.5;

/// What there are pictures of: name, page, and what is clicked or pressed then.
const VIEWS: [(&str, Page, Then); 14] = [
    ("stand", Page::Stand, Then::Nothing),
    ("stand-full", Page::Stand, Then::Press(egui::Key::F11)),
    ("bench", Page::Bench, Then::Nothing),
    ("bench-vary", Page::Bench, Then::Work("Vary")),
    ("bench-refit", Page::Bench, Then::Work("Refit")),
    ("score", Page::Score, Then::Nothing),
    ("kit", Page::Kit, Then::Nothing),
    ("shelf", Page::Shelf, Then::Item("Answer figure")),
    ("shelf-form", Page::Shelf, Then::Item("The whole spot")),
    ("settings", Page::Settings, Then::Nothing),
    ("open", Page::Bench, Then::Click(&["Open…"])),
    ("hand-on", Page::Bench, Then::Click(&["Export…"])),
    (
        "hand-on-sound",
        Page::Bench,
        Then::Click(&["Export…", "WAV", "SoundFont"]),
    ),
    ("keys", Page::Bench, Then::Press(egui::Key::F1)),
];

#[derive(Clone, Copy)]
enum Then {
    Nothing,
    Press(egui::Key),
    Click(&'static [&'static str]),
    /// A tool of the Bench, which takes its time.
    Work(&'static str),
    /// An item of the Shelf.
    Item(&'static str),
}

fn main() -> std::io::Result<()> {
    let mut args = std::env::args().skip(1);
    let folder = PathBuf::from(args.next().unwrap_or_else(|| "target/pictures".to_owned()));
    let wanted = args.next().unwrap_or_default();
    std::fs::create_dir_all(&folder)?;
    let mut jobs = Vec::new();
    for (theme, look) in [(Theme::Dark, "dark"), (Theme::Light, "light")] {
        for (width, height) in SIZES {
            for (view, page, then) in VIEWS {
                let name = format!("{view}-{width}x{height}-{look}.png");
                if name.contains(&wanted) {
                    jobs.push((folder.join(name), theme, (width, height), page, then));
                }
            }
        }
    }
    let next = AtomicUsize::new(0);
    let work = || -> std::io::Result<()> {
        while let Some((file, theme, size, page, then)) = jobs.get(next.fetch_add(1, Relaxed)) {
            picture(file, *theme, *size, *page, *then)?;
        }
        Ok(())
    };
    let workers = std::thread::available_parallelism().map_or(1, |n| n.get());
    let done: Vec<_> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..workers).map(|_| scope.spawn(work)).collect();
        workers.into_iter().map(|worker| worker.join()).collect()
    });
    for result in done {
        result.map_err(|_| std::io::Error::other("a page could not be shown"))??;
    }
    println!("{} pictures in {}", jobs.len(), folder.display());
    Ok(())
}

fn picture(
    file: &Path,
    theme: Theme,
    (width, height): (f32, f32),
    page: Page,
    then: Then,
) -> std::io::Result<()> {
    let params = Arc::new(BarformParams::new(Arc::new(Session::default())));
    params.session.set_prefs(EditorPrefs {
        theme,
        ..EditorPrefs::default()
    });
    // A folder with a score in it, for the panels that list files.
    let files = tempfile::tempdir()?;
    let score = files.path().join("lantern-street.barform");
    std::fs::write(&score, params.session.checked().text())?;
    std::fs::write(files.path().join("second-set.barform"), "")?;
    params.session.set_file(Some(score.display().to_string()));
    let data = tempfile::tempdir()?;
    stock(&Folders::at(data.path()), params.session.checked().score())
        .map_err(std::io::Error::other)?;
    let mut window = Window::within(params.clone(), width, height, data);
    window.harness.state_mut().desk_mut().page = page;
    params.session.live.publish(Reading {
        position_beats: Some(POSITION_BEATS),
        tempo_bpm: 92.0,
        rolling: true,
        clock: Clock::Host,
        letter: None,
    });
    window.settle();
    match then {
        Then::Nothing => {}
        Then::Press(key) => window.key(key),
        Then::Click(labels) => {
            for label in labels {
                window.click(label);
            }
        }
        Then::Work(tool) => {
            let desk = window.harness.state_mut().desk_mut();
            Letter::new("F").into_iter().for_each(|f| desk.to_bench(f));
            window.settle();
            window.click("Tools");
            wait(&mut window);
            window.harness.get_by_label(tool).click_accesskit();
            wait(&mut window);
        }
        Then::Item(name) => {
            window.until("the Shelf", |w| {
                w.harness.query_by_label("4 items").is_some()
            });
            if window.harness.query_all_by_label_contains(name).count() == 0 {
                // Below what a small window shows of the list.
                window.key(egui::Key::End);
            }
            let rows = window.harness.query_all_by_label_contains(name);
            rows.into_iter().for_each(|row| row.click_accesskit());
            // Its cells are read and drawn one after the other.
            for _ in 0..100 {
                std::thread::sleep(std::time::Duration::from_millis(3));
                window.harness.run_steps(1);
            }
        }
    }
    window.picture().write_png(file)
}

/// Until a tool of the Bench has answered.
fn wait(window: &mut Window) {
    window.settle();
    window.until("an answer", |w| {
        let works = w.harness.query_all_by_label("Working it out…");
        works.count() == 0
    });
}

/// Puts a few things on the Shelf.
fn stock(folders: &Folders, score: &Score) -> Result<(), ShelfError> {
    let shelf = Shelf::open(folders.shelf())?;
    let cells = [
        ("A", "Call figure", "sixteenths"),
        ("C", "Answer figure", "mixed"),
        ("F", "Round the toms", "triplets"),
    ];
    for (letter, name, tag) in cells {
        let letters: Vec<Letter> = Letter::new(letter).into_iter().collect();
        shelf.add(Label::named(name).tagged([tag]), &pick(score, &letters)?)?;
    }
    let form = Label::named("The whole spot").tagged(["form"]);
    shelf.add(form.noted("Sixteen bars, feet under it."), score)?;
    Ok(())
}
