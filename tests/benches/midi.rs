//! Writing a Standard MIDI File: Barform against `mido`, which writes the same
//! notes from a list it was given.

use std::hint::black_box;
use std::time::Duration;

use barform_app::export::{Options, midi};
use barform_app::score::Score;
use barform_app::timeline::Timeline;
use barform_tests::command::python;
use criterion::{Criterion, criterion_group, criterion_main};

/// Bars of 24 strokes.
const BARS: usize = 1_000;

fn write(c: &mut Criterion) {
    let text = format!(
        "barform = 1\ntempo = 120\nform = \"(A)x{BARS}\"\n\
         [cell.A]\ngrid = \"6 6 6 6\"\n\
         sticking = \"R L R L R L  R L R L K K  R> L R L R L  R L R L K K\"\n"
    );
    let score = Score::parse(&text, "dense.barform").expect("a sound score");
    let timeline = Timeline::compile(&score).expect("compiles");
    let options = Options::default();
    c.bench_function("midi/barform", |b| {
        b.iter(|| midi::write(black_box(&score), black_box(&timeline), &options));
    });

    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("notes.mid");
    let bytes = midi::write(&score, &timeline, &options)
        .expect("writes")
        .bytes;
    std::fs::write(&file, bytes).expect("a file");
    let mut group = c.benchmark_group("midi");
    group.sample_size(10);
    group.bench_function("mido", |b| {
        b.iter_custom(|turns| {
            let turns = turns.to_string();
            let seconds = python("write_midi.py", &[&file, turns.as_ref()]).expect("mido");
            Duration::from_secs_f64(seconds.trim().parse().expect("seconds"))
        });
    });
    group.finish();
}

criterion_group!(benches, write);
criterion_main!(benches);
