//! What the contracts promise about cost: compiling, finding a position, and a
//! block of playing that does not feel the length of the form.

use std::hint::black_box;
use std::sync::Arc;

use barform_app::player::{Player, Settings, Transport};
use barform_app::score::Score;
use barform_app::timeline::Timeline;
use criterion::{BatchSize, Criterion, criterion_group, criterion_main};

/// `bars` bars of sixteenth-note triplets, every slot struck, flams and all.
fn dense(bars: usize) -> Score {
    let mut form = String::new();
    let mut left = bars;
    while left > 0 {
        let times = left.min(9_999);
        form.push_str(&format!("(A)x{times} "));
        left -= times;
    }
    let text = format!(
        "barform = 1\ntempo = 120\nform = \"{form}\"\n\
         [cell.A]\ngrid = \"6 6 6 6\"\n\
         sticking = \"lR L R L R L  R L R L K K  R> L R L R L  R L R L K K\"\n\
         [ostinato.hat]\ngrid = \"2\"\nsticking = \"- H\"\n"
    );
    Score::parse(&text, "dense.barform").expect("a sound score")
}

fn compile(c: &mut Criterion) {
    for bars in [10, 100, 1_000, 10_000] {
        let score = dense(bars);
        c.bench_function(&format!("compile/{bars}"), |b| {
            b.iter_with_large_drop(|| Timeline::compile(black_box(&score)));
        });
    }
}

fn find(c: &mut Criterion) {
    for bars in [10, 10_000] {
        let timeline = Timeline::compile(&dense(bars)).expect("compiles");
        let length = timeline.length_beats();
        let mut at = 0.0;
        c.bench_function(&format!("place_at/{bars}"), |b| {
            b.iter(|| {
                at = (at + length * 0.618) % length;
                timeline.place_at(black_box(at))
            });
        });
    }
}

fn play(c: &mut Criterion) {
    for bars in [10, 10_000] {
        let timeline = Arc::new(Timeline::compile(&dense(bars)).expect("compiles"));
        let ready = || {
            let mut player = Player::new();
            player.set_timeline(Some(timeline.clone()));
            player
        };
        let block = 64.0 * 120.0 / (60.0 * 48_000.0);
        c.bench_function(&format!("player_64_frames/{bars}"), |b| {
            b.iter_batched_ref(
                ready,
                |player| {
                    for n in 0..1_000 {
                        let transport = Transport::at(4.0 + f64::from(n) * block, 120.0);
                        let settings = Settings::default();
                        player.process(&transport, &settings, 64, &mut |e| {
                            black_box(e);
                        });
                    }
                },
                BatchSize::LargeInput,
            );
        });
    }
}

criterion_group!(benches, compile, find, play);
criterion_main!(benches);
