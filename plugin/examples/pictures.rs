//! Pictures of every page, for whoever wants to look at the window: made without
//! a screen, at three sizes, dark and light.
//!
//! `cargo run -p barform --example pictures -- FOLDER [PART OF A NAME]`

#[path = "../tests/window/mod.rs"]
mod window;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use barform::editor::Page;
use barform::handover::{Clock, Reading};
use barform::params::BarformParams;
use barform::state::{EditorPrefs, Session, Theme};
use window::Window;

/// Width and height in points.
const SIZES: [(f32, f32); 3] = [(900.0, 560.0), (1_100.0, 720.0), (1_600.0, 1_000.0)];

/// Where the form stands in the pictures, in beats.
const POSITION_BEATS: f64 = 5.5;

/// What there are pictures of: name, page, and what is clicked or pressed then.
const VIEWS: [(&str, Page, Then); 11] = [
    ("stand", Page::Stand, Then::Nothing),
    ("stand-full", Page::Stand, Then::Press(egui::Key::F11)),
    ("bench", Page::Bench, Then::Nothing),
    ("score", Page::Score, Then::Nothing),
    ("kit", Page::Kit, Then::Nothing),
    ("shelf", Page::Shelf, Then::Nothing),
    ("settings", Page::Settings, Then::Nothing),
    ("open", Page::Bench, Then::Click(&["Open…"])),
    ("hand-on", Page::Bench, Then::Click(&["Hand on…"])),
    (
        "hand-on-sound",
        Page::Bench,
        Then::Click(&["Hand on…", "WAV", "SoundFont"]),
    ),
    ("keys", Page::Bench, Then::Press(egui::Key::F1)),
];

#[derive(Clone, Copy)]
enum Then {
    Nothing,
    Press(egui::Key),
    Click(&'static [&'static str]),
}

fn main() -> std::io::Result<()> {
    let mut args = std::env::args().skip(1);
    let folder = PathBuf::from(
        args.next()
            .unwrap_or_else(|| "target/demo/window".to_owned()),
    );
    let wanted = args.next().unwrap_or_default();
    std::fs::create_dir_all(&folder)?;
    let mut made = 0;
    for (theme, look) in [(Theme::Dark, "dark"), (Theme::Light, "light")] {
        for (width, height) in SIZES {
            let size = format!("{width}x{height}-{look}");
            for (view, page, then) in VIEWS {
                let name = format!("{view}-{size}.png");
                if name.contains(&wanted) {
                    picture(&folder.join(name), theme, (width, height), page, then)?;
                    made += 1;
                }
            }
        }
    }
    println!("{made} pictures in {}", folder.display());
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
    let mut window = Window::sized(params.clone(), width, height);
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
    }
    window.picture().write_png(file)
}
