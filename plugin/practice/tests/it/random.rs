//! Invented scores and plans, as plain descriptions and as the text of their
//! files; and the exact schedule worked out from the descriptions alone.

mod oracle;

pub use oracle::{Note, Worked, worked};

use num_bigint::BigInt;
use num_rational::BigRational;
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;

pub type Q = BigRational;

pub fn q(n: i64, d: i64) -> Q {
    Q::new(BigInt::from(n), BigInt::from(d))
}

/// A slot: limb, level (0 ghost, 1 normal, 2 accent), grace notes.
pub type Slot = Option<(char, u8, u8)>;

#[derive(Debug, Clone)]
pub struct Cell {
    pub length: (i64, i64),
    pub slots: Vec<Slot>,
}

#[derive(Debug, Clone)]
pub struct Music {
    pub meter: (i64, i64),
    pub pickup: i64,
    pub cells: Vec<Cell>,
    pub form: Vec<usize>,
    /// Cycle in beats, and whether each of its slots is played.
    pub ostinato: Option<(i64, Vec<bool>)>,
}

#[derive(Debug, Clone)]
pub enum Play {
    Form,
    Letter(usize),
    Bars(u32, u32),
    Join(usize, (i64, i64), i64),
}

#[derive(Debug, Clone)]
pub struct Asked {
    pub play: Play,
    pub tempos: Vec<(i64, i64)>,
    pub down: bool,
    pub bars: Option<u16>,
    pub passes: u16,
    pub count_in: u8,
    pub count_last: Option<u8>,
    pub every_step: bool,
    pub click_on: Option<u8>,
    pub click_off: bool,
    pub fade: Option<(u8, u16)>,
    pub gaps: Option<(u8, u8, u8, Vec<&'static str>)>,
    /// Whose turn (true: the player's), and bars or passes.
    pub turns: Vec<(bool, u16)>,
    pub turns_in_passes: bool,
    pub player_letter: Option<usize>,
    pub layers: Vec<&'static str>,
    pub every: u16,
}

pub fn letter(n: usize) -> char {
    char::from(b'A' + n as u8)
}

impl Music {
    pub fn text(&self) -> String {
        let form: Vec<String> = self.form.iter().map(|n| letter(*n).to_string()).collect();
        let mut text = format!(
            "barform = 1\ntempo = 97\nmeter = \"{}/{}\"\npickup = {}\nform = \"{}\"\n",
            self.meter.0,
            self.meter.1,
            self.pickup,
            form.join(" ")
        );
        for (n, cell) in self.cells.iter().enumerate() {
            let slots: Vec<String> = cell.slots.iter().map(slot_text).collect();
            text += &format!(
                "[cell.{}]\ngrid = \"{}@{}/{}\"\nsticking = \"{}\"\n",
                letter(n),
                cell.slots.len(),
                cell.length.0,
                cell.length.1,
                slots.join(" ")
            );
        }
        if let Some((cycle, slots)) = &self.ostinato {
            let played = |p: &bool| if *p { "H" } else { "-" };
            let slots: Vec<&str> = slots.iter().map(played).collect();
            text += &format!(
                "[ostinato.foot]\ngrid = \"{}@{cycle}\"\nsticking = \"{}\"\n",
                slots.len(),
                slots.join(" ")
            );
        }
        text
    }

    pub fn length(&self) -> Q {
        let of = |n: &usize| q(self.cells[*n].length.0, self.cells[*n].length.1);
        self.form.iter().map(of).sum()
    }

    pub fn bar(&self) -> Q {
        q(self.meter.0 * 4, self.meter.1)
    }
}

fn slot_text(slot: &Slot) -> String {
    let Some((limb, level, graces)) = slot else {
        return "-".to_owned();
    };
    let other = if *limb == 'R' { "l" } else { "r" };
    let stroke = format!("{}{limb}", other.repeat(usize::from(*graces)));
    match level {
        0 => format!("({stroke})"),
        1 => stroke,
        _ => format!("{stroke}>"),
    }
}

impl Asked {
    pub fn text(&self, music: &Music) -> String {
        let mut text = "barform = 1\n[practice]\n".to_owned();
        let play = match &self.play {
            Play::Form => "form".to_owned(),
            Play::Letter(n) => format!("letter {}", letter(*n)),
            Play::Bars(from, to) => format!("bars {from} to {to}"),
            Play::Join(at, ..) => {
                let next = music.form[(at + 1) % music.form.len()];
                format!("join {} {}", letter(music.form[*at]), letter(next))
            }
        };
        text += &format!("play = \"{play}\"\n");
        // Decimals with two places, as they are written.
        let tempo = |(n, d): &(i64, i64)| format!("{}", *n as f64 / *d as f64);
        let tempos: Vec<String> = self.tempos.iter().map(tempo).collect();
        text += &format!("tempo = \"{}\"\n", tempos.join(" "));
        text += &match self.bars {
            Some(bars) => format!("each = \"{bars} bars\"\n"),
            None => format!("each = \"{} passes\"\n", self.passes),
        };
        if self.down {
            text += "then = \"down\"\n";
        }
        let last = self.count_last.map(|n| format!("last = \"{n}\"\n"));
        text += &format!(
            "[practice.count-in]\nbars = {}\nevery-step = {}\n{}",
            self.count_in,
            self.every_step,
            last.unwrap_or_default()
        );
        text += &format!("[practice.click]\noff = {}\n", self.click_off);
        if let Some(on) = self.click_on {
            text += &format!("on = \"{on}\"\n");
        }
        if let Some((percent, bars)) = self.fade {
            text += &format!("fade = \"{percent}% every {bars} bars\"\n");
        }
        if let Some((silent, of, grow, what)) = &self.gaps {
            text += &format!(
                "[practice.gaps]\nbars = \"{silent} of {of}\"\ngrow = {grow}\nsilent = {what:?}\n"
            );
        }
        if !self.turns.is_empty() || self.player_letter.is_some() {
            text += "[practice.trading]\n";
        }
        if !self.turns.is_empty() {
            let unit = if self.turns_in_passes {
                "passes"
            } else {
                "bars"
            };
            let who = |p: bool| if p { "player" } else { "barform" };
            let turn = |(p, n): &(bool, u16)| format!("{} {n} {unit}", who(*p));
            let turns: Vec<String> = self.turns.iter().map(turn).collect();
            text += &format!("turns = \"{}\"\n", turns.join(", "));
        }
        if let Some(n) = self.player_letter {
            text += &format!("player = [\"{}\"]\n", letter(n));
        }
        if !self.layers.is_empty() {
            let (layers, every) = (&self.layers, self.every);
            text += &format!("[practice.layers]\norder = {layers:?}\nevery = {every}\n");
        }
        text += &match &self.play {
            Play::Join(_, (n, d), rate) => {
                format!("[practice.join]\nbeats = \"{n}/{d}\"\nrate = \"{rate}%\"\n")
            }
            _ => String::new(),
        };
        text
    }
}

fn cell() -> impl Strategy<Value = Cell> {
    let lengths = select(vec![(1, 1), (1, 1), (2, 1), (1, 2), (3, 2), (3, 1)]);
    let stroke = (select(vec!['R', 'L', 'K']), 0_u8..3, 0_u8..12).prop_map(|(limb, level, g)| {
        let graces = if limb == 'K' { 0 } else { g.saturating_sub(9) };
        (limb, level, graces)
    });
    let slot = option::weighted(0.8, stroke);
    (lengths, vec(slot, 1..8)).prop_map(|(length, slots)| Cell { length, slots })
}

pub fn music() -> impl Strategy<Value = Music> {
    let meters = select(vec![
        (4, 4),
        (4, 4),
        (3, 4),
        (5, 4),
        (7, 8),
        (6, 8),
        (12, 8),
    ]);
    let ostinato = (1_i64..4, vec(any::<bool>(), 1..5));
    (meters, vec(cell(), 1..4), 0_i64..2, option::of(ostinato))
        .prop_flat_map(|(meter, cells, pickup, ostinato)| {
            let form = vec(0..cells.len(), 2..9);
            (Just((meter, cells, pickup, ostinato)), form)
        })
        .prop_map(|((meter, cells, pickup, ostinato), form)| {
            let mut music = Music {
                meter,
                pickup,
                cells,
                form,
                ostinato,
            };
            if music.length() <= q(pickup, 1) {
                music.pickup = 0;
            }
            music
        })
}

fn play(music: &Music) -> BoxedStrategy<Play> {
    let bars: Q = (music.length() - q(music.pickup, 1)) / music.bar();
    let bars = bars.ceil().to_integer();
    let bars = u32::try_from(bars).unwrap();
    let stretch = (1..=bars, 1..=bars).prop_map(|(a, b)| Play::Bars(a.min(b), a.max(b)));
    let cut = select(vec![(1, 1), (1, 2), (2, 1), (3, 4)]);
    let join = (0..music.form.len(), cut, select(vec![100_i64, 80, 75]));
    prop_oneof![
        3 => Just(Play::Form),
        1 => (0..music.cells.len()).prop_map(Play::Letter),
        1 => stretch,
        1 => join.prop_map(|(at, beats, rate)| Play::Join(at, beats, rate)),
    ]
    .boxed()
}

pub fn asked(music: &Music) -> impl Strategy<Value = Asked> + use<> {
    let tempo = prop_oneof![
        (40_i64..200).prop_map(|n| (n, 1)),
        (4_000_i64..20_000).prop_map(|n| (n, 100)),
    ];
    let stays = (
        vec(tempo, 1..5),
        any::<bool>(),
        option::of(1_u16..6),
        1_u16..4,
    );
    let count = (
        0_u8..3,
        option::weighted(0.3, 2_u8..6),
        proptest::bool::weighted(0.2),
    );
    let fade = option::weighted(0.3, (1_u8..60, 1_u16..4));
    let click = (
        option::weighted(0.4, 1_u8..6),
        proptest::bool::weighted(0.1),
        fade,
    );
    let what = select(vec![
        vec!["click"],
        vec!["ostinato"],
        vec!["form"],
        vec!["click", "ostinato"],
        vec!["all"],
    ]);
    let gaps = option::weighted(0.4, (0_u8..4, 1_u8..5, 0_u8..2, what));
    let turns = vec((any::<bool>(), 1_u16..4), 0..4);
    let trading = (
        option::weighted(0.4, turns).prop_map(Option::unwrap_or_default),
        any::<bool>(),
        option::weighted(0.2, 0..music.cells.len()),
    );
    let layers = vec(
        select(vec![
            "hands", "feet", "ostinato", "accents", "R", "kick", "all",
        ]),
        1..4,
    );
    let layers = option::weighted(0.3, layers).prop_map(Option::unwrap_or_default);
    (
        play(music),
        stays,
        count,
        click,
        gaps,
        trading,
        (layers, 1_u16..3),
    )
        .prop_map(
            |(play, stays, count, click, gaps, trading, (layers, every))| Asked {
                play,
                tempos: stays.0,
                down: stays.1,
                bars: stays.2,
                passes: stays.3,
                count_in: count.0,
                count_last: count.1,
                every_step: count.2,
                click_on: click.0,
                click_off: click.1,
                fade: click.2,
                gaps: gaps.map(|(n, of, grow, what)| (n.min(of), of, grow, what)),
                turns: trading.0,
                turns_in_passes: trading.1,
                player_letter: trading.2,
                layers,
                every,
            },
        )
}

/// A score and a plan over it.
pub fn case() -> impl Strategy<Value = (Music, Asked)> {
    music().prop_flat_map(|music| {
        let asked = asked(&music);
        (Just(music), asked)
    })
}
