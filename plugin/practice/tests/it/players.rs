//! Simulated players: strokes due with all that goes wrong in a lesson, and what
//! was meant by each note.

use barform_dice::Dice;
use barform_practice::align::{Match, Played, align};
use barform_practice::expect::Expected;
use barform_practice::plan::Plan;
use barform_practice::report::{Lay, Report};
use barform_practice::schedule::{Ornaments, Schedule};
use barform_score::music::{Limb, Voice};
use barform_score::score::Score;

/// Sixteenth triplets at 90: six strokes a beat, 111 ms from one to the next, on
/// five drums, with flams, ghost notes, accents, rests and a foot beneath.
const SCORE: &str = r#"
barform = 1
tempo = 90
form = "A B A C | A B D |"

[cell.A]
grid = "6"
sticking = "R> L R (L) R L"
voices = "snare . . . tom1 ."
[cell.B]
grid = "6"
sticking = "lR> (L) K R L K"
voices = "snare . kick tom1 . kick"
[cell.C]
grid = "6"
sticking = "R L R> L rL> -"
voices = "tom1 . tom2 . snare -"
[cell.D]
grid = "3 6"
sticking = "R>+K L - R L R L R+K -"
voices = "crash+kick snare - tom2 . tom1 . snare+kick -"
[ostinato.foot]
grid = "1 1"
sticking = "- H"
"#;

/// What is due in sixteen bars.
pub fn due() -> Vec<Expected> {
    let plan = "barform = 1\n[practice]\neach = \"16 bars\"\n";
    let score = Score::parse(SCORE, "score").unwrap();
    let plan = Plan::parse(plan, "plan").unwrap();
    let schedule = Schedule::new(&plan, &score, &[]).unwrap();
    schedule.expected(Ornaments::default()).unwrap()
}

/// How somebody plays.
#[derive(Debug, Clone, Copy)]
pub struct Habits {
    pub spread_ms: f64,
    /// Shares of all strokes.
    pub missed: f64,
    pub extra: f64,
    pub wrong_drum: f64,
    /// Slower with every second, as a share.
    pub drift: f64,
}

/// A performance, and what was meant by it.
pub struct Performance {
    pub notes: Vec<Played>,
    /// For each note the stroke it was meant to be.
    pub meant: Vec<Option<usize>>,
    /// By limb: lateness in milliseconds of the strokes on their drum, drift left
    /// out.
    pub late_ms: Vec<(Limb, Vec<f64>)>,
}

pub fn perform(due: &[Expected], habits: Habits, seed: u64) -> Performance {
    let mut dice = Dice::of(seed);
    let limbs: Vec<f64> = Limb::ALL.iter().map(|_| 8.0 * dice.normal()).collect();
    let limb_of = |limb: Limb| Limb::ALL.iter().position(|l| *l == limb).unwrap();
    let voices: Vec<Voice> = {
        let mut all: Vec<Voice> = due.iter().map(|e| e.voice).collect();
        all.sort();
        all.dedup();
        all
    };
    let start = due[0].seconds;
    let when = |at: f64| start + (at - start) * (1.0 + habits.drift);
    let mut made: Vec<(Played, Option<usize>)> = Vec::new();
    let mut late_ms: Vec<(Limb, Vec<f64>)> = Limb::ALL.map(|l| (l, Vec::new())).to_vec();
    // When each stroke was played, for its grace notes.
    let mut times: Vec<f64> = Vec::with_capacity(due.len());
    for stroke in due {
        let late = limbs[limb_of(stroke.limb)] + habits.spread_ms * dice.normal();
        times.push(late);
    }
    for (n, stroke) in due.iter().enumerate() {
        if dice.unit() < habits.missed {
            continue;
        }
        let mut voice = stroke.voice;
        if dice.unit() < habits.wrong_drum {
            voice = voices[dice.below(voices.len())];
        }
        let seconds = match stroke.grace_of {
            // 15 to 45 ms ahead of its stroke as played.
            Some(main) => {
                when(due[main].seconds) + times[main] / 1000.0 - 0.015 - 0.03 * dice.unit()
            }
            None => when(stroke.seconds) + times[n] / 1000.0,
        };
        if stroke.grace_of.is_none() && voice == stroke.voice {
            late_ms[limb_of(stroke.limb)].1.push(times[n]);
        }
        let velocity = f64::from(stroke.velocity) + 10.0 * dice.normal();
        let velocity = velocity.round().clamp(1.0, 127.0) as u8;
        let note = Played {
            seconds,
            voice,
            velocity,
        };
        made.push((note, Some(n)));
    }
    let last = due[due.len() - 1].seconds;
    for _ in 0..(habits.extra * due.len() as f64).round() as usize {
        let note = Played {
            seconds: when(start + (last - start) * dice.unit()),
            voice: voices[dice.below(voices.len())],
            velocity: 20 + dice.below(100) as u8,
        };
        made.push((note, None));
    }
    made.sort_by(|a, b| a.0.seconds.total_cmp(&b.0.seconds));
    let (notes, meant) = made.into_iter().unzip();
    Performance {
        notes,
        meant,
        late_ms,
    }
}

/// How well players of one kind were read.
#[derive(Debug, Clone, Copy, Default)]
pub struct Tally {
    pub right: usize,
    pub found: usize,
    pub meant: usize,
    /// Limbs of all players.
    pub limbs: usize,
    /// Squares of how far their means are off, in ms, and their spreads, as shares.
    pub mean_squares: f64,
    pub spread_squares: f64,
    pub drift_squares: f64,
    pub players: usize,
}

impl Tally {
    pub fn f1(&self) -> f64 {
        2.0 * self.right as f64 / (self.found + self.meant) as f64
    }

    pub fn mean_ms(&self) -> f64 {
        (self.mean_squares / self.limbs as f64).sqrt()
    }

    pub fn spread_share(&self) -> f64 {
        (self.spread_squares / self.limbs as f64).sqrt()
    }

    pub fn drift_percent(&self) -> f64 {
        (self.drift_squares / self.players as f64).sqrt()
    }

    pub fn add(&mut self, due: &[Expected], played: &Performance, drift: f64) {
        let alignment = align(due, &played.notes);
        let report = Report::judge(due, &played.notes, &alignment);
        self.players += 1;
        self.found += alignment.matches.len();
        self.meant += played.meant.iter().flatten().count();
        let right = |m: &&Match| played.meant[m.played] == Some(m.expected);
        self.right += alignment.matches.iter().filter(right).count();
        for (limb, late) in &played.late_ms {
            let wanted = Lay::of(late);
            let Some(got) = report.limbs.iter().find(|g| g.of == *limb) else {
                continue;
            };
            self.limbs += 1;
            let mean = got.lay.mean_ms - wanted.mean_ms;
            let spread = got.lay.spread_ms / wanted.spread_ms - 1.0;
            self.mean_squares += mean * mean;
            self.spread_squares += spread * spread;
        }
        let percent = 100.0 * (1.0 / (1.0 + drift) - 1.0);
        self.drift_squares += (report.drift_percent - percent).powi(2);
    }
}

pub const SPREADS: [f64; 5] = [5.0, 10.0, 20.0, 30.0, 40.0];
pub const SHARES: [f64; 3] = [0.0, 0.1, 0.2];
pub const DRIFTS: [f64; 3] = [-0.05, 0.0, 0.05];

/// All players: spread, share missed, share extra, then one tally for each drift.
pub fn all(each: u64) -> Vec<(f64, f64, f64, [Tally; 3])> {
    let due = due();
    let mut seed = 0;
    let mut rows = Vec::new();
    for spread_ms in SPREADS {
        for missed in SHARES {
            for extra in SHARES {
                let mut tallies = [Tally::default(); 3];
                for (tally, drift) in tallies.iter_mut().zip(DRIFTS) {
                    for _ in 0..each {
                        seed += 1;
                        let habits = Habits {
                            spread_ms,
                            missed,
                            extra,
                            wrong_drum: 0.02,
                            drift,
                        };
                        tally.add(&due, &perform(&due, habits, seed), drift);
                    }
                }
                rows.push((spread_ms, missed, extra, tallies));
            }
        }
    }
    rows
}
