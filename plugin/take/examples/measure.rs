//! Tables of how well takes are read: `cargo run -p barform-take --example measure`.

#[path = "../tests/support/mod.rs"]
mod support;

use barform_dice::Dice;
use barform_take::{Options, Reading};
use support::judge::{Verdict, judge};
use support::make::{Piece, Player, midi};

fn main() {
    let mut args = std::env::args().skip(1);
    let what = args.next().unwrap_or_else(|| "all".into());
    let first: u64 = args.next().and_then(|a| a.parse().ok()).unwrap_or(1000);
    let count: u64 = args.next().and_then(|a| a.parse().ok()).unwrap_or(100);
    if what == "all" || what == "made" {
        made(first, count);
    }
    if what == "rates" {
        rates();
    }
    if what == "show" {
        show(first, count as f64 / 1000.0);
    }
    if what == "human" || what == "all" {
        human(first == 1000 || what == "all");
    }
    if what == "beats" || what == "all" {
        beats(first == 1000 || what == "all");
    }
}

fn made(first: u64, count: u64) {
    println!("jitter  slips  beats   ARI    ARI base  cuts   exact  of 3   misses (seeds)");
    for (jitter, slips) in [
        (0.003, 0.0),
        (0.01, 0.0),
        (0.01, 0.01),
        (0.01, 0.03),
        (0.02, 0.0),
        (0.02, 0.01),
        (0.025, 0.01),
    ] {
        let mut sum = Verdict::default();
        let (mut a, mut b, mut cuts, mut exact, mut three) = (0.0, 0.0, 0, 0, 0);
        let mut misses = Vec::new();
        for seed in first..first + count {
            let mut dice = Dice::of(seed);
            let piece = Piece::new(&mut dice);
            let player = Player {
                jitter,
                slips,
                drift: 0.03,
                tempo: 120.0,
                lead: 2.0,
            };
            let (played, times) = piece.play(&player, &mut dice);
            let bytes = midi(&played, Some(&times), 120.0);
            let reading = Reading::of(&bytes, &Options::default()).expect("a take");
            let v = judge(&piece, &played, &reading, times[0]);
            sum.beats += v.beats;
            sum.beats_right += v.beats_right;
            a += v.ari;
            b += v.ari_base;
            cuts += usize::from(v.cuts_right);
            exact += usize::from(v.exact);
            three += usize::from(v.exact_of_three);
            if !v.exact {
                misses.push(seed);
            }
        }
        let n = count as f64;
        println!(
            "{:4.0} ms  {:3.0} %  {:.4}  {:.4}  {:.4}   {:4.1} %  {:4.1} %  {:4.1} %  {:?}",
            jitter * 1000.0,
            slips * 100.0,
            sum.beats_right as f64 / sum.beats as f64,
            a / n,
            b / n,
            100.0 * cuts as f64 / n,
            100.0 * exact as f64 / n,
            100.0 * three as f64 / n,
            &misses[..misses.len().min(12)],
        );
    }
}

fn human(measured: bool) {
    let Some(folder) = support::human::folder() else {
        println!("no human takes at hand");
        return;
    };
    let mut takes = support::human::takes(&folder);
    takes.retain(|t| t.is_measured() == measured);
    let seen = support::human::on_all(&takes, |t| support::human::to_click(t).1);
    let sum = |f: &dyn Fn(&support::human::Seen) -> f64| seen.iter().map(f).sum::<f64>();
    println!(
        "{} takes, {} of them measured ones",
        takes.len(),
        if measured { "all" } else { "none" }
    );
    println!(
        "notes kept            {:.5}",
        sum(&|s| s.kept as f64) / sum(&|s| s.notes as f64)
    );
    println!(
        "beats on readable     {:.4}",
        sum(&|s| s.readable as f64) / sum(&|s| s.beats as f64)
    );
    println!(
        "strokes near slots    {:.4}",
        sum(&|s| s.near as f64) / sum(&|s| s.strokes as f64)
    );
    let grooves: Vec<_> = takes
        .iter()
        .zip(&seen)
        .filter(|(t, _)| t.groove)
        .map(|(_, s)| *s)
        .collect();
    let of = |f: &dyn Fn(&support::human::Seen) -> f64| grooves.iter().map(f).sum::<f64>();
    println!(
        "{} grooves, {:.0} bars: {:.3} letters a bar ({:.3} without primes), {:.3} cells a bar, each letter {:.2} times ({:.2}), {:.3} slips a bar",
        grooves.len(),
        of(&|s| s.bars),
        of(&|s| s.letters as f64) / of(&|s| s.bars),
        of(&|s| s.bases as f64) / of(&|s| s.bars),
        of(&|s| s.placements as f64) / of(&|s| s.bars),
        of(&|s| s.placements as f64) / of(&|s| s.letters as f64),
        of(&|s| s.placements as f64) / of(&|s| s.bases as f64),
        of(&|s| s.slips as f64) / of(&|s| s.bars),
    );
    let mut of_shape = [0_usize; 16];
    seen.iter().for_each(|s| {
        s.shapes
            .iter()
            .enumerate()
            .for_each(|(i, n)| of_shape[i] += n)
    });
    println!("beats by shape {of_shape:?}");
    let late: Vec<f64> = seen.iter().map(|s| s.spread_ms).collect();
    println!(
        "spread {:.1}, near the click {:.4}",
        late.iter().sum::<f64>() / late.len() as f64,
        sum(&|s| s.click as f64) / sum(&|s| s.strokes as f64)
    );
    let mut worst: Vec<_> = takes.iter().zip(&seen).collect();
    worst.sort_by_key(|(_, s)| std::cmp::Reverse(s.beats - s.readable + (s.strokes - s.near)));
    for (t, s) in worst.iter().take(8) {
        println!(
            "  {} {} {:.0}: {}/{} readable, {}/{} near, late {:.1}, spread {:.1}",
            t.path.file_name().unwrap_or_default().display(),
            t.style,
            t.bpm,
            s.readable,
            s.beats,
            s.near,
            s.strokes,
            s.late_ms,
            s.spread_ms
        );
    }
}

fn beats(measured: bool) {
    let Some(folder) = support::human::folder() else {
        return;
    };
    let mut takes = support::human::takes(&folder);
    takes.retain(|t| t.is_measured() == measured && t.bars() > 8.0);
    let found = support::human::on_all(&takes, |t| {
        let (reading, beat) = support::human::without_click(t);
        (beat, reading.certainty, reading.map.seconds(0.0))
    });
    let ratios = [1.0, 0.5, 2.0, 1.5, 2.0 / 3.0];
    let within = |b: &support::human::Beat| ratios.iter().any(|r| (b.ratio / r - 1.0).abs() < 0.01);
    let ok = found.iter().filter(|f| within(&f.0)).count();
    let right = found
        .iter()
        .filter(|f| (f.0.ratio - 1.0).abs() < 0.01)
        .count();
    let f: f64 = found.iter().map(|f| f.0.f).sum::<f64>() / found.len() as f64;
    println!(
        "{} takes over 8 bars: tempo {:.3} (own {:.3}), beats F {:.3}",
        takes.len(),
        ok as f64 / takes.len() as f64,
        right as f64 / takes.len() as f64,
        f
    );
    for (t, (b, c, zero)) in takes.iter().zip(&found).filter(|(_, f)| f.0.f < 0.9) {
        let phase = (zero * t.bpm / 60.0).rem_euclid(4.0);
        println!(
            "  {} {:.0}: ratio {:.3} F {:.2} phase {:.2} sure {:.2} {:?}",
            t.path.file_name().unwrap_or_default().display(),
            t.bpm,
            b.ratio,
            b.f,
            phase,
            c.beat,
            c.others
                .iter()
                .map(|o| (o / t.bpm * 100.0).round() / 100.0)
                .collect::<Vec<_>>()
        );
    }
    let bars = takes.iter().zip(&found).filter(|(t, f)| {
        let phase = (f.2 * t.bpm / 60.0).rem_euclid(4.0);
        !(0.3..=3.7).contains(&phase)
    });
    println!(
        "bar line with that of time 0: {:.3}",
        bars.count() as f64 / takes.len() as f64
    );
}

fn show(seed: u64, jitter: f64) {
    let mut dice = Dice::of(seed);
    let piece = Piece::new(&mut dice);
    let player = Player {
        jitter,
        slips: 0.0,
        drift: 0.03,
        tempo: 120.0,
        lead: 2.0,
    };
    let (played, times) = piece.play(&player, &mut dice);
    let bytes = midi(&played, Some(&times), 120.0);
    let reading = Reading::of(&bytes, &Options::default()).expect("a take");
    for (i, c) in piece.cells.iter().enumerate() {
        let strokes: Vec<String> = c
            .notes
            .iter()
            .map(|n| format!("{}/{}:{}", n.at.0, n.at.1, n.key))
            .collect();
        println!(
            "{i} like {:?} beats {} {}",
            c.like,
            c.beats,
            strokes.join(" ")
        );
    }
    println!(
        "truth {:?}",
        piece
            .form
            .iter()
            .map(|c| format!("{c}({})", piece.cells[*c].beats))
            .collect::<Vec<_>>()
            .join(" ")
    );
    println!(
        "shift {}, pulses {} of {}",
        reading.map.pulse(times[0]),
        reading.pulses,
        piece.beats()
    );
    for form in reading.forms.iter().take(3) {
        println!(
            "{:.1} bits: {}",
            form.bits,
            form.steps
                .iter()
                .map(|s| format!(
                    "{}({}){}",
                    form.cells[s.cell].letter,
                    s.length,
                    "!".repeat(s.slips as usize)
                ))
                .collect::<Vec<_>>()
                .join(" ")
        );
    }
    let v = judge(&piece, &played, &reading, times[0]);
    println!("{v:?}");
}

/// Strokes per place of the bar, by group of drums: what `beat::meter` goes by.
fn rates() {
    use barform_take::beat::{CLASSES, GROUPS, class, group};
    let Some(folder) = support::human::folder() else {
        return;
    };
    let mut takes = support::human::takes(&folder);
    takes.retain(|t| !t.is_measured() && t.groove && t.path.to_string_lossy().contains("4-4"));
    let all = support::human::on_all(&takes, |t| {
        let mut counts = [[0.0; CLASSES]; GROUPS];
        let reading = support::human::to_click(t).0;
        // Every take counts alike, from time 0 as the bar line.
        let by = reading.map.pulse(0.0).round() as i64;
        let bars = reading.pulses as f64 / 4.0;
        for p in &reading.strokes {
            counts[group(&p.stroke)][class(p.pulse - by, p.slot, 4)] += 1.0 / bars;
        }
        counts
    });
    let places = [1.0, 1.0, 2.0, 4.0, 8.0, 8.0, 24.0];
    for g in 0..GROUPS {
        let row: Vec<String> = (0..CLASSES)
            .map(|c| {
                format!(
                    "{:.3}",
                    all.iter().map(|a| a[g][c]).sum::<f64>() / all.len() as f64 / places[c]
                )
            })
            .collect();
        println!("    [{}],", row.join(", "));
    }
}
