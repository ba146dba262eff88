//! What the drummer's knowledge costs: ten thousand strokes stuck, searched for
//! rudiments, and held against a level.

use std::hint::black_box;

use barform_app::craft::line::Line;
use barform_app::craft::playable::{Levels, Playable};
use barform_app::craft::rudiments::{Look, Rudiments};
use barform_app::craft::sticking::{Ask, OpenStroke, Passage, Rules, Sticking};
use barform_app::music::{Beats, Cell, Graces, Hand, Kit, Letter, Level, Voice};
use criterion::{Criterion, criterion_group, criterion_main};

/// Sixteenths round the kit with accents, flams and strokes at once, every hand
/// open.
fn passage(strokes: i64) -> Passage {
    let voices = [
        Voice::Snare,
        Voice::Tom1,
        Voice::Hat,
        Voice::Snare,
        Voice::Tom4,
        Voice::Ride,
    ];
    let strokes = (0..strokes)
        .map(|i| OpenStroke {
            // Every 16th stroke falls together with the one before.
            at: Beats::new(if i % 16 == 7 { i - 1 } else { i }, 4),
            voice: voices[(i * 7 % 6) as usize],
            level: if i % 3 == 0 {
                Level::Accent
            } else {
                Level::Normal
            },
            graces: if i % 11 == 0 && i % 16 != 7 && i % 16 != 6 {
                Graces::from_hands(&[Hand::Left]).unwrap_or_default()
            } else {
                Graces::NONE
            },
            buzz: false,
            hand: None,
        })
        .collect();
    Passage {
        strokes,
        looped: None,
    }
}

fn sticking(c: &mut Criterion) {
    let rules = Rules::builtin();
    let setup = rules
        .setup("right-handed", &Kit::general_midi())
        .expect("a built-in set-up");
    let ask = Ask::new(Beats::whole(120), setup);
    let passage = passage(10_000);
    c.bench_function("sticking/10000", |b| {
        b.iter(|| Sticking::best(black_box(&passage), &ask, &rules));
    });
}

/// Paradiddles and rolls, ten thousand strokes.
fn line() -> Line {
    let rudiments = Rudiments::builtin();
    let cells: Vec<Cell> = [
        "single paradiddle",
        "flam accent",
        "double stroke open roll",
    ]
    .iter()
    .filter_map(|name| Some(rudiments.get(name)?.cell(Letter::new("A")?, Hand::Right)))
    .collect();
    let strokes: usize = cells.iter().map(|cell| cell.slots.len()).sum();
    Line::from_cells(cells.iter().cycle().take(10_000 * cells.len() / strokes)).expect("short")
}

fn rudiments(c: &mut Criterion) {
    let (rudiments, line) = (Rudiments::builtin(), line());
    c.bench_function("rudiments/10000", |b| {
        b.iter(|| rudiments.find(black_box(&line), Look::default()));
    });
}

fn playable(c: &mut Criterion) {
    let (levels, rules, line) = (Levels::builtin(), Rules::builtin(), line());
    let setup = rules
        .setup("right-handed", &Kit::general_midi())
        .expect("a built-in set-up");
    let level = levels.get("intermediate").expect("a built-in level");
    c.bench_function("top_tempo/10000", |b| {
        b.iter(|| {
            Playable::new(black_box(&line.strokes), None, &setup, &rules).top_tempo(level, &levels)
        });
    });
}

criterion_group!(benches, sticking, rudiments, playable);
criterion_main!(benches);
