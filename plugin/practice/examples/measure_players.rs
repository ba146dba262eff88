//! How well playing along is read, on 2,025 simulated players: the share of notes
//! whose stroke was found (F1), how far means and spreads by limb are off, and
//! the drift.

#[allow(dead_code)]
#[path = "../tests/it/players.rs"]
mod players;

use players::Tally;

fn main() {
    println!(
        "| spread ms | missed % | extra % | F1, drift -5 % | F1, none | F1, +5 % | mean off ms, no drift | mean off ms, drift | spread off % | drift off % |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|");
    for (spread, missed, extra, [down, none, up]) in players::all(15) {
        let both = |of: fn(&Tally) -> f64| of(&down).hypot(of(&up)) / 2.0_f64.sqrt();
        println!(
            "| {spread:.0} | {:.0} | {:.0} | {:.4} | {:.4} | {:.4} | {:.2} | {:.2} | {:.1} | {:.3} |",
            100.0 * missed,
            100.0 * extra,
            down.f1(),
            none.f1(),
            up.f1(),
            none.mean_ms(),
            both(Tally::mean_ms),
            100.0 * none.spread_share(),
            both(Tally::drift_percent),
        );
    }
}
