//! Human takes, where they are at hand; never part of the project.

use barform_take::{BeatSource, Options, Reading};
use std::path::{Path, PathBuf};

/// Where the takes are: `BARFORM_TAKES`, else beside the workspace.
pub fn folder() -> Option<PathBuf> {
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/takes");
    let stated = std::env::var_os("BARFORM_TAKES").map(PathBuf::from);
    stated
        .into_iter()
        .chain([beside])
        .find(|f| f.join("info.csv").is_file())
}

#[derive(Clone, Debug)]
pub struct Human {
    pub path: PathBuf,
    pub drummer: String,
    pub style: String,
    pub bpm: f64,
    pub groove: bool,
    pub seconds: f64,
}

impl Human {
    /// For tuning or for measuring, by drummer: nothing of the measured ones was
    /// looked at while tuning.
    pub fn is_measured(&self) -> bool {
        self.drummer != "drummer1"
    }

    pub fn bars(&self) -> f64 {
        self.seconds * self.bpm / 240.0
    }
}

pub fn takes(folder: &Path) -> Vec<Human> {
    let text = std::fs::read_to_string(folder.join("info.csv")).expect("info.csv");
    let row = |line: &str| {
        let f: Vec<&str> = line.split(',').collect();
        Human {
            path: folder.join(f[7]),
            drummer: f[0].into(),
            style: f[3].into(),
            bpm: f[4].parse().expect("a tempo"),
            groove: f[5] == "beat",
            seconds: f[9].parse().expect("a duration"),
        }
    };
    text.lines().skip(1).map(row).collect()
}

#[derive(Clone, Copy, Debug, Default)]
pub struct Seen {
    pub notes: usize,
    pub kept: usize,
    pub beats: usize,
    pub readable: usize,
    pub strokes: usize,
    pub near: usize,
    pub bars: f64,
    pub letters: usize,
    pub bases: usize,
    pub placements: usize,
    pub slips: usize,
    pub shapes: [usize; 16],
    pub click: usize,
    pub late_ms: f64,
    pub spread_ms: f64,
}

/// The take read to its click.
pub fn to_click(take: &Human) -> (Reading, Seen) {
    let bytes = std::fs::read(&take.path).expect("a take");
    let options = Options {
        beats: BeatSource::Click,
        ..Options::default()
    };
    let reading = Reading::of(&bytes, &options).expect("a reading");
    let notes = barform_take::Recording::read(&bytes)
        .expect("a recording")
        .notes
        .len();
    let mut seen = Seen {
        notes,
        kept: reading
            .strokes
            .iter()
            .map(|s| usize::from(s.stroke.notes))
            .sum::<usize>(),
        late_ms: reading.late_ms,
        spread_ms: reading.spread_ms,
        strokes: reading.strokes.len(),
        ..Seen::default()
    };
    let mut of_pulse = vec![0.0; reading.pulses];
    for (k, content) in reading.contents.iter().enumerate() {
        let shape = &reading.shapes[content.shape];
        of_pulse[k] =
            f64::from(shape.spans[0].0) * shape.spans[0].1.1 as f64 / shape.spans[0].1.0 as f64;
        seen.beats += 1;
        seen.shapes[content.shape] += 1;
        seen.readable += usize::from(shape.is_readable());
    }
    for p in &reading.strokes {
        let k = (p.pulse.max(0) as usize).min(reading.pulses - 1);
        let slot_ms = reading.map.length(k as f64 + 0.5) * 1000.0 / of_pulse[k];
        seen.near += usize::from(p.late_ms.abs() <= (slot_ms / 8.0).max(30.0));
        seen.click += usize::from(p.click_ms.abs() <= (slot_ms / 8.0).max(30.0));
    }
    if let Some(form) = reading.forms.first() {
        seen.bars = reading.pulses as f64 / 4.0;
        seen.letters = form.cells.len();
        seen.bases = form.cells.iter().filter(|c| c.like.is_none()).count();
        seen.placements = form.steps.len();
        seen.slips = form.steps.iter().map(|s| s.slips as usize).sum();
    }
    (reading, seen)
}

#[derive(Clone, Copy, Debug, Default)]
pub struct Beat {
    pub tempo: f64,
    pub f: f64,
    /// F-measure of the best of half, double and shifted beats.
    pub ratio: f64,
}

/// The take read without its click.
pub fn without_click(take: &Human) -> (Reading, Beat) {
    let bytes = std::fs::read(&take.path).expect("a take");
    let options = Options {
        beats: BeatSource::Found,
        ..Options::default()
    };
    let reading = Reading::of(&bytes, &options).expect("a reading");
    let (first, last) = (
        reading.strokes.first().map_or(0.0, |s| s.stroke.seconds),
        reading.strokes.last().map_or(0.0, |s| s.stroke.seconds),
    );
    let even = 60.0 / take.bpm;
    let inside = |t: &f64| *t >= first - 0.1 && *t <= last + 0.1 && *t >= 5.0;
    let truth: Vec<f64> = (0..((last / even) as usize + 2))
        .map(|k| k as f64 * even)
        .filter(inside)
        .collect();
    let from = reading.map.pulse(first).floor() as i64 - 1;
    let to = reading.map.pulse(last).ceil() as i64 + 1;
    let found: Vec<f64> = (from..=to)
        .map(|k| reading.map.seconds(k as f64))
        .filter(inside)
        .collect();
    let length = reading.map.pulse(last) - reading.map.pulse(first);
    let tempo = 60.0 * length / (last - first);
    (
        reading,
        Beat {
            tempo,
            f: f_measure(&truth, &found),
            ratio: tempo / take.bpm,
        },
    )
}

/// As `mir_eval.beat.f_measure` has it: beats within 70 ms, each used once
/// (here by a greedy match in order of time, which is as good for points on a
/// line with one width).
pub fn f_measure(truth: &[f64], found: &[f64]) -> f64 {
    if truth.is_empty() || found.is_empty() {
        return 0.0;
    }
    let (mut i, mut j, mut hits) = (0, 0, 0.0);
    while i < truth.len() && j < found.len() {
        if (truth[i] - found[j]).abs() <= 0.07 {
            hits += 1.0;
            i += 1;
            j += 1;
        } else if truth[i] < found[j] {
            i += 1;
        } else {
            j += 1;
        }
    }
    let (p, r) = (hits / found.len() as f64, hits / truth.len() as f64);
    if p + r > 0.0 {
        2.0 * p * r / (p + r)
    } else {
        0.0
    }
}

/// Does `work` on all takes, on as many threads as there are.
pub fn on_all<T: Send>(takes: &[Human], work: impl Fn(&Human) -> T + Sync) -> Vec<T> {
    let next = std::sync::atomic::AtomicUsize::new(0);
    let out = std::sync::Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    let Some(take) = takes.get(i) else { break };
                    let done = work(take);
                    out.lock().expect("no panic").push((i, done));
                }
            });
        }
    });
    let mut out = out.into_inner().expect("no panic");
    out.sort_by_key(|(i, _)| *i);
    out.into_iter().map(|(_, t)| t).collect()
}
