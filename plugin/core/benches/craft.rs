//! What the drummer's knowledge costs: sticking ten thousand strokes.

use std::hint::black_box;

use barform_core::craft::sticking::{Ask, OpenStroke, Passage, Rules, Sticking};
use barform_core::music::{Beats, Graces, Hand, Kit, Level, Voice};
use criterion::{Criterion, criterion_group, criterion_main};

/// Sixteenths round the kit with accents, flams and strokes at once, every hand
/// open.
fn passage(strokes: i64) -> Passage {
    let voices = [Voice::Snare, Voice::Tom1, Voice::Hat, Voice::Snare, Voice::Tom4, Voice::Ride];
    let strokes = (0..strokes)
        .map(|i| OpenStroke {
            // Every 16th stroke falls together with the one before.
            at: Beats::new(if i % 16 == 7 { i - 1 } else { i }, 4),
            voice: voices[(i * 7 % 6) as usize],
            level: if i % 3 == 0 { Level::Accent } else { Level::Normal },
            graces: if i % 11 == 0 && i % 16 != 7 && i % 16 != 6 {
                Graces::from_hands(&[Hand::Left]).unwrap_or_default()
            } else {
                Graces::NONE
            },
            buzz: false,
            hand: None,
        })
        .collect();
    Passage { strokes, looped: None }
}

fn sticking(c: &mut Criterion) {
    let rules = Rules::builtin();
    let setup = rules.setup("right-handed", &Kit::general_midi()).expect("a built-in set-up");
    let ask = Ask::new(Beats::whole(120), setup);
    let passage = passage(10_000);
    c.bench_function("sticking/10000", |b| {
        b.iter(|| Sticking::best(black_box(&passage), &ask, &rules));
    });
}

criterion_group!(benches, sticking);
criterion_main!(benches);
