//! What a printed part costs: a form spelt as notes and laid out on pages.

use std::hint::black_box;

use barform_app::score::Score;
use barform_app::sheet::engrave::{Style, engrave};
use barform_app::sheet::notate::{Options, written};
use barform_app::timeline::Timeline;
use criterion::{Criterion, criterion_group, criterion_main};

/// `bars` bars of 4/4 that are not all alike: sixteenth-note triplets,
/// sixteenths, a cell of three beats that goes across the bar line, flams,
/// accents, feet.
fn part(bars: usize) -> Score {
    // One turn is five bars: A and B one each, four times C three.
    let turns = bars.div_ceil(5);
    let text = format!(
        "barform = 1\ntempo = 120\nform = \"(A B C C C C)x{turns}\"\n\
         [cell.A]\ngrid = \"6 6 6 6\"\n\
         sticking = \"lR L R L R L  R L R L K K  R> L R L R L  R L R L K K\"\n\
         [cell.B]\ngrid = \"4 4 4 4\"\n\
         sticking = \"R> L (R) L  R L K K  R+K L R L  lR - R L\"\n\
         [cell.C]\ngrid = \"4 6 2\"\n\
         sticking = \"R L R L  R L K R L K  R> L>\"\n\
         [ostinato.hat]\ngrid = \"2\"\nsticking = \"- H\"\n"
    );
    Score::parse(&text, "part.barform").expect("a sound score")
}

fn sheet(c: &mut Criterion) {
    let mut group = c.benchmark_group("sheet");
    group.sample_size(10);
    for bars in [10, 100, 1_000, 10_000] {
        let score = part(bars);
        let timeline = Timeline::compile(&score).expect("compiles");
        group.bench_function(bars.to_string(), |b| {
            b.iter_with_large_drop(|| {
                let music = written(black_box(&score), &timeline, &Options::default());
                let music = music.expect("can be written");
                engrave(&music, &score.kit, &Style::default()).expect("fits the paper")
            });
        });
    }
    group.finish();
}

criterion_group!(benches, sheet);
criterion_main!(benches);
