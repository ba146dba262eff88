//! What a frame of the window costs: each page over a score of a thousand
//! strokes while time runs, drawn by egui and cut into triangles. The graphics
//! driver's part is left out.

use std::hint::black_box;
use std::sync::Arc;

use barform::editor::{App, Page};
use barform::handover::{Clock, Reading};
use barform::params::BarformParams;
use barform::state::{Session, check};
use criterion::{Criterion, criterion_group, criterion_main};

/// Points; a window as large as most will have it.
const SIZE: egui::Vec2 = egui::Vec2::new(1_100.0, 720.0);

/// Beats from one frame to the next: 24 ms at 120 beats a minute.
const STEP_BEATS: f64 = 0.048;

/// Frames before the first that is measured: pictures and fonts are made.
const WARM: usize = 60;

const PAGES: [(&str, Page); 6] = [
    ("stand", Page::Stand),
    ("bench", Page::Bench),
    ("score", Page::Score),
    ("kit", Page::Kit),
    ("shelf", Page::Shelf),
    ("settings", Page::Settings),
];

/// Eight letters of 24 strokes round the kit, 42 of them in a row: 1,008
/// strokes in 42 bars.
fn score() -> String {
    let mut text = String::from("barform = 1\nmeter = \"4/4\"\ntempo = 120\nform = \"");
    for place in 0..42 {
        text.push(char::from(b'A' + (place * 5 % 8) as u8));
        text.push_str(if place % 4 == 3 { " | " } else { " " });
    }
    text.push_str("\"\n");
    let voices = [
        "snare", "tom1", "snare", "tom2", "hat", "tom3", "ride", "snare",
    ];
    for letter in 0..8 {
        let name = char::from(b'A' + letter as u8);
        let sticking = ["R> L lR L R Rz"; 4].join(" ");
        let strokes: Vec<_> = (0..24).map(|n| voices[(n / 3 + letter) % 8]).collect();
        let voices = strokes.join(" ");
        text += &format!(
            "[cell.{name}]\ngrid = \"6 6 6 6\"\nsticking = \"{sticking}\"\nvoices = \"{voices}\"\n"
        );
    }
    text
}

fn frame(c: &mut Criterion) {
    let session = Session::default();
    let checked = check(&score(), "bench").expect("the score of this bench");
    let strokes = checked.timeline.form().main.len();
    assert!(strokes >= 1_000, "only {strokes} strokes");
    let length_beats = checked.timeline.length_beats();
    session.accept(checked, "Bench", None);
    let params = Arc::new(BarformParams::new(Arc::new(session)));
    let mut group = c.benchmark_group("frame");
    for (name, page) in PAGES {
        let mut app = App::with_folders(params.clone(), None);
        app.desk_mut().page = page;
        let ctx = egui::Context::default();
        let mut beats = 0.0;
        let mut time_s = 0.0;
        let mut draw = || {
            beats = (beats + STEP_BEATS) % length_beats;
            time_s += 0.024;
            params.session.live.publish(Reading {
                position_beats: Some(beats),
                tempo_bpm: 120.0,
                rolling: true,
                clock: Clock::Host,
                letter: None,
            });
            let input = egui::RawInput {
                screen_rect: Some(egui::Rect::from_min_size(egui::Pos2::ZERO, SIZE)),
                time: Some(time_s),
                focused: true,
                ..Default::default()
            };
            let mut output = ctx.run_ui(input, |ui| app.show(ui));
            // The graphics driver's.
            output.textures_delta.clear();
            ctx.tessellate(output.shapes, output.pixels_per_point)
        };
        for _ in 0..WARM {
            draw();
        }
        group.bench_function(name, |b| b.iter(|| black_box(draw())));
    }
    group.finish();
}

criterion_group!(benches, frame);
criterion_main!(benches);
