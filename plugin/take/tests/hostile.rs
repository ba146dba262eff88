//! Files that are damaged or mean ill: an error in words, never a panic.

mod support;

use barform_dice::{Dice, seed};
use barform_take::{BeatSource, Options, Reading, TakeError};
use support::make::{Piece, Player, midi};

fn sound() -> Vec<u8> {
    let mut dice = Dice::of(1);
    let piece = Piece::new(&mut dice);
    let player = Player {
        jitter: 0.01,
        slips: 0.0,
        drift: 0.0,
        tempo: 120.0,
        lead: 0.5,
    };
    let (mut played, times) = piece.play(&player, &mut dice);
    played.truncate(60);
    midi(&played, Some(&times), 120.0)
}

#[test]
fn mutated_files_are_read_or_refused_in_words() {
    let sound = sound();
    let first = seed(0);
    for seed in first..first + 1500 {
        let mut dice = Dice::of(seed);
        let mut bytes = sound.clone();
        for _ in 0..1 + dice.below(6) {
            let at = dice.below(bytes.len());
            match dice.below(3) {
                0 => bytes[at] = dice.roll() as u8,
                1 => bytes.truncate(at.max(1)),
                _ => bytes.insert(at, dice.roll() as u8),
            }
        }
        let beats = [BeatSource::Auto, BeatSource::Found][dice.below(2)];
        let options = Options {
            beats,
            ..Options::default()
        };
        match Reading::of(&bytes, &options) {
            Ok(reading) => assert!(!reading.forms.is_empty(), "seed {seed}"),
            Err(error) => assert!(!error.to_string().is_empty(), "seed {seed}"),
        }
    }
}

#[test]
fn what_is_no_take_is_refused() {
    let options = Options::default();
    for bytes in [
        &b""[..],
        b"RIFF",
        b"MThd",
        b"MThd\0\0\0\x06\0\0\0\x01\0\0MTrk\0\0\0\0",
    ] {
        assert!(matches!(
            Reading::of(bytes, &options),
            Err(TakeError::Damaged(_))
        ));
    }
    let empty = midi(&[], None, 120.0);
    assert!(matches!(
        Reading::of(&empty, &options),
        Err(TakeError::Nothing(_))
    ));
    let type_2 = b"MThd\0\0\0\x06\0\x02\0\x01\0\x60MTrk\0\0\0\x04\0\xff\x2f\0";
    assert!(matches!(
        Reading::of(type_2, &options),
        Err(TakeError::Nothing(_))
    ));
}
