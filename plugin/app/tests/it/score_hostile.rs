//! Texts that nobody meant to write: reading them never panics, never hangs,
//! never costs much, and every error stands somewhere in the text.

use barform_app::score::{
    MAX_DEPTH, MAX_FILE_BYTES, MAX_PLACEMENTS, Score, ScoreErrorKind as Kind, Spot,
};
use barform_dice::{Dice, seed};

/// Mutated texts per seed score; the seeds together give more than 100,000.
const PER_SEED: usize = 21_000;

/// Everything the format has, in one way or another.
const SEEDS: [&str; 5] = [
    barform_app::DEMO_SCORE,
    r#"
barform = 1
title = "ein Solo – \"fünf\""
tempo = 92.5
meter = "7/8"
pickup = "1/2"
form = "P (A A')x3[8ths carry, rate 2] P"
[cell.P]
grid = "1@1/2"
sticking = "R"
[cell.A]
grid = "4 3@1/2"
sticking = "R L R L R+K L K"
[cell."A'"]
like = "A"
grid = "7@3/2"
"#,
    r#"
barform = 1
form = """
A A | (B A'[16ths carry, rate 1/2])x2 | \
  C[3@2, level 80%, voicing up]"""
[cell.A]
grid = '6 6'
sticking = "R> lL (R) Lz llR> (rL)  R+K L - K H R+L+K+H"
voices = "snare . tom1:rim . . .  ride:bell+kick . - . . crash+snare:cross+kick+hatfoot:open"
[cell."A′"]
like = "A"
voices = ". . . . . .  . . . . . ."
[cell.B]
grid = "1@1/2 3@1/2 4 3@2"
sticking = "R L R L R L R L R L R"
[cell.C]
grid = "1 1"
sticking = "R\u0020L"
[ostinato.foot]
grid = "3@2"
sticking = "K - H"
voices = "kick - ."
[voicing.up]
snare = "tom1"
kick = "kick"
"#,
    r#"
barform = 1
tempo = 120
[[section]]
name = "in"
meter = "3/4"
form = "A A A |"
[[section]]
name = "out"
subdivision = "16ths carry"
rate = 2
level = 150
form = "((A)x2 A)x4"
[cell]
A = { grid = "4", sticking = "R L R L", voices = "hat . hat:half ." }
[kit]
order = "hat snare tom2 ride"
snare = { key = 40, rim = 41, velocity = [10, 20, 30] }
[kit.hat]
half = "none"
channel = 3
[kit.click]
key = 0
bell = 127
"#,
    "barform = 1\nform = \"(((A)x9999)x9999)x9999\"\n[cell.A]\ngrid = \"64\"\nsticking = \"R\"\n",
];

/// Pieces that mean something to one of the readers.
const PIECES: [&str; 36] = [
    "(",
    ")",
    "x9999",
    "|",
    "[",
    "]",
    ",",
    "'",
    "\"",
    "\"\"\"",
    "\\",
    "\n",
    "\r\n",
    "=",
    ".",
    "-",
    "+",
    "@",
    "1/0",
    "99999999999999999999",
    "64@1/1000000",
    "carry",
    "rate 1/2",
    "level",
    "R",
    "lllll",
    "snare:open",
    "like = \"A\"",
    "[cell.A]",
    "[[section]]",
    "\u{feff}",
    "′",
    "🥁",
    "\0",
    "1e400",
    "((((((((((((((((((",
];

fn mutate(text: &str, dice: &mut Dice) -> String {
    let mut bytes = text.as_bytes().to_vec();
    for _ in 0..[1, 1, 1, 2, 4][dice.below(5)] {
        let at = dice.below(bytes.len().max(1)).min(bytes.len());
        match dice.below(8) {
            0 if !bytes.is_empty() => bytes[at] ^= 1 << dice.below(8),
            1 if !bytes.is_empty() => bytes[at] = dice.roll() as u8,
            2 => {
                let end = (at + dice.below(12)).min(bytes.len());
                bytes.drain(at..end);
            }
            3 | 4 => {
                let piece = PIECES[dice.below(PIECES.len())];
                bytes.splice(at..at, piece.bytes());
            }
            5 => {
                let end = (at + dice.below(30)).min(bytes.len());
                let copy = bytes[at..end].to_vec();
                let to = dice.below(bytes.len() + 1);
                bytes.splice(to..to, copy);
            }
            6 => lines(&mut bytes, dice),
            _ => words(&mut bytes, dice),
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

/// Doubles a line, drops one, or swaps two.
fn lines(bytes: &mut Vec<u8>, dice: &mut Dice) {
    let mut lines: Vec<Vec<u8>> = bytes.split(|b| *b == b'\n').map(<[u8]>::to_vec).collect();
    let (a, b) = (dice.below(lines.len()), dice.below(lines.len()));
    match dice.below(3) {
        0 => lines.insert(a, lines[b].clone()),
        1 => drop(lines.remove(a)),
        _ => lines.swap(a, b),
    }
    *bytes = lines.join(&b'\n');
}

/// Swaps two words.
fn words(bytes: &mut Vec<u8>, dice: &mut Dice) {
    let mut words: Vec<Vec<u8>> = bytes.split(|b| *b == b' ').map(<[u8]>::to_vec).collect();
    let (a, b) = (dice.below(words.len()), dice.below(words.len()));
    words.swap(a, b);
    *bytes = words.join(&b' ');
}

#[test]
fn mutated_texts_are_read_or_refused() {
    let mut dice = Dice::of(seed(92));
    let (mut read, mut refused) = (0, 0);
    for text in SEEDS {
        for _ in 0..PER_SEED {
            let text = mutate(text, &mut dice);
            match Score::parse(&text, "m.barform") {
                Ok(score) => {
                    read += 1;
                    // What is read once is sound: it can be played and written.
                    assert!(score.placements().is_ok());
                    if read % 16 == 0 {
                        assert_eq!(Score::parse(&score.to_toml(), "again").as_ref(), Ok(&score));
                    }
                }
                Err(error) => {
                    refused += 1;
                    let lines = text.split('\n').count();
                    let place = &error.place;
                    assert!(
                        place.line >= 1 && place.line as usize <= lines,
                        "{error}\n{text}"
                    );
                    let line = text.split('\n').nth(place.line as usize - 1).unwrap();
                    let columns = line.chars().count() + 1;
                    assert!(
                        place.column >= 1 && place.column as usize <= columns,
                        "{error}"
                    );
                    assert!(error.span.end <= text.len() && error.span.start <= error.span.end);
                    let message = error.to_string();
                    let head = format!("m.barform:{}:{}: ", place.line, place.column);
                    assert!(message.starts_with(&head), "{message}");
                    assert!(message.len() < 1_000, "{message}");
                    assert_eq!(error.excerpt().lines().count(), 2, "{:?}", error.excerpt());
                }
            }
        }
    }
    assert!(
        read + refused > 100_000 && read > 4_000 && refused > 10_000,
        "{read} {refused}"
    );
}

#[test]
fn the_seeds_themselves_are_read() {
    for seed in &SEEDS[..4] {
        let read = Score::parse(seed, "seed.barform");
        assert!(read.is_ok(), "{}", read.unwrap_err());
    }
}

fn kind_of(text: &str) -> Kind {
    *Score::parse(text, "h.barform").unwrap_err().kind
}

fn with_form(form: &str) -> String {
    format!("barform = 1\nform = \"{form}\"\n[cell.A]\ngrid = \"1\"\nsticking = \"R\"\n")
}

#[test]
fn repeats_of_repeats_are_refused_unplayed() {
    let bomb = "(((A)x9999)x9999)x9999";
    let Kind::TooMany { most, .. } = kind_of(&with_form(bomb)) else {
        panic!()
    };
    assert_eq!(most, MAX_PLACEMENTS);
    // Sixteen levels multiply to far more than 64 bits hold.
    let deep = format!("{}A{}", "(".repeat(16), ")x9999".repeat(16));
    assert!(matches!(kind_of(&with_form(&deep)), Kind::TooMany { .. }));
    // Bar lines count as well.
    let lines = format!("(({}A A A A)x9999)x9", "| A A A A ".repeat(10));
    assert!(matches!(kind_of(&with_form(&lines)), Kind::TooMany { .. }));
}

#[test]
fn the_limits_are_where_they_say() {
    let at = with_form(&format!("((A)x1000)x{}", MAX_PLACEMENTS / 1000));
    assert_eq!(
        Score::parse(&at, "")
            .unwrap()
            .placements()
            .unwrap()
            .places
            .len(),
        200_000
    );
    let over = with_form(&format!("((A)x1000)x{} A", MAX_PLACEMENTS / 1000));
    assert!(matches!(kind_of(&over), Kind::TooMany { .. }));

    let nest = |n| with_form(&format!("{}A{}", "(".repeat(n), ")".repeat(n)));
    assert!(Score::parse(&nest(MAX_DEPTH), "").is_ok());
    assert!(matches!(kind_of(&nest(MAX_DEPTH + 1)), Kind::Form { .. }));
    assert!(matches!(kind_of(&nest(100_000)), Kind::Form { .. }));

    let file = with_form("A");
    let room = MAX_FILE_BYTES - file.len() - 1;
    assert!(Score::parse(&format!("{file}#{}", "x".repeat(room)), "").is_ok());
    let big = format!("{file}#{}", "x".repeat(room + 1));
    assert!(matches!(kind_of(&big), Kind::TooLarge { .. }));
}

#[test]
fn strokes_are_counted_with_their_bounces() {
    // 1024 slots of four limbs, two of them buzzes of nine: 20,480 a cell.
    let cell = |times| {
        format!(
            "barform = 1\nform = \"(A)x{times}\"\n[cell.A]\ngrid = \"{}\"\nsticking = \"{}\"\n",
            "64 ".repeat(16),
            "Rz+Lz+K+H ".repeat(1024)
        )
    };
    assert!(Score::parse(&cell(97), "").is_ok());
    assert!(matches!(kind_of(&cell(98)), Kind::TooMany { .. }));
}

#[test]
fn variations_of_long_cells_are_counted() {
    let mut text = cell_of_1024("A");
    for i in 0..99 {
        text += &format!("[cell.\"B{i}\"]\nlike = \"A\"\n");
    }
    assert!(matches!(kind_of(&text), Kind::TooMany { .. }));
}

fn cell_of_1024(form: &str) -> String {
    format!(
        "barform = 1\nform = \"{form}\"\n[cell.A]\ngrid = \"{}\"\nsticking = \"{}\"\n",
        "64 ".repeat(16),
        "Rz+Lz+K+H ".repeat(1024)
    )
}

#[test]
fn a_refit_is_refused_before_its_slots_are_made() {
    let text = "barform = 1\nform = \"A[64@1/16]\"\n\
                [cell.A]\ngrid = \"1@256\"\nsticking = \"R\"\n";
    assert!(matches!(kind_of(text), Kind::Refit { .. }));
    // Carried to slots that long, the cell would last 2,560 beats.
    let text = "barform = 1\nform = \"A[1@256 carry]\"\n\
                [cell.A]\ngrid = \"10\"\nsticking = \"R R R R R R R R R R\"\n";
    assert!(matches!(kind_of(text), Kind::Refit { .. }));
}

#[test]
fn lengths_that_do_not_add_up_are_refused() {
    // Large primes: the common denominator soon leaves 63 bits.
    let primes = [999_983, 999_979, 999_961, 999_959];
    let grid: Vec<String> = primes.iter().map(|p| format!("1@999949/{p}")).collect();
    let text = format!(
        "barform = 1\nform = \"A\"\n[cell.A]\ngrid = \"{}\"\nsticking = \"R R R R\"\n",
        grid.join(" ")
    );
    assert!(matches!(kind_of(&text), Kind::Overflow { .. }));
    // Each cell fits, the form does not.
    let mut text = "barform = 1\nform = \"A B C D\"\n".to_owned();
    for (letter, prime) in ["A", "B", "C", "D"].iter().zip(primes) {
        text += &format!("[cell.{letter}]\ngrid = \"1@999949/{prime}\"\nsticking = \"R\"\n");
    }
    let error = Score::parse(&text, "").unwrap_err();
    assert!(matches!(*error.kind, Kind::Overflow { .. }));
    assert_eq!((error.spot, error.part), (Spot::Form(0), Some(3)));
}

#[test]
fn nested_toml_is_refused() {
    let text = format!("barform = 1\nform = {}", "[".repeat(100_000));
    assert!(matches!(kind_of(&text), Kind::Toml { .. }));
    let text = format!("barform = 1\nform = {}", "{a=".repeat(100_000));
    assert!(matches!(kind_of(&text), Kind::Toml { .. }));
}

#[test]
fn a_long_chain_of_parents_is_followed() {
    let mut text =
        "barform = 1\nform = \"Z99\"\n[cell.A]\ngrid = \"1\"\nsticking = \"R\"\n".to_owned();
    let mut parent = "A".to_owned();
    for letter in 'B'..='Z' {
        for n in 61..100 {
            text += &format!("[cell.{letter}{n}]\nlike = \"{parent}\"\n");
            parent = format!("{letter}{n}");
        }
    }
    let score = Score::parse(&text, "").unwrap();
    assert_eq!(score.cells.len(), 976);
    let last = text.replace(
        "[cell.A]\ngrid = \"1\"\nsticking = \"R\"",
        "[cell.A]\nlike = \"Z99\"",
    );
    assert!(matches!(kind_of(&last), Kind::Cycle { .. }));
}
