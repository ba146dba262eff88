//! Damaged session blobs by the ten thousand: refused whole or sound, never a
//! panic, and what was loaded stays. (Mutated score texts have a test of their
//! own beside the reader.)

use barform::Barform;
use barform_dice::{Dice, seed};
use nice_plug::prelude::{Plugin, PluginState};

/// As the first version stored it, and as a fresh session is stored.
const VERSION_1: &str = include_str!("data/state-v1.json");

const CASES: u64 = 30_000;

/// Words that mean something in such a document.
const WORDS: [&[u8]; 12] = [
    b"\"version\"",
    b"\\\"version\\\":2",
    b"null",
    b"-1",
    b"1e999",
    b"{}",
    b"[]",
    b"\\u0000",
    b"\"session\"",
    b"x9999)",
    b"\"",
    b"\\\\n",
];

fn damage(blob: &mut Vec<u8>, dice: &mut Dice) {
    for _ in 0..=dice.below(3) {
        if blob.is_empty() {
            return;
        }
        let at = dice.below(blob.len());
        let upto = (at + 1 + dice.below(40)).min(blob.len());
        match dice.below(7) {
            0 => blob[at] ^= 1 << dice.below(8),
            1 => blob[at] = dice.below(256) as u8,
            2 => drop(blob.drain(at..upto)),
            3 => blob.truncate(at),
            4 => {
                let piece = blob[at..upto].to_vec();
                let to = dice.below(blob.len());
                blob.splice(to..to, piece);
            }
            5 => {
                let word = WORDS[dice.below(WORDS.len())];
                blob.splice(at..at, word.iter().copied());
            }
            _ => {
                let word = WORDS[dice.below(WORDS.len())];
                blob.splice(at..upto, word.iter().copied());
            }
        }
    }
}

#[test]
fn damaged_blobs_are_refused_whole_or_sound() {
    let plugin = Barform::default();
    let params = plugin.params();
    let fresh = PluginState {
        version: String::new(),
        params: Default::default(),
        fields: params.serialize_fields(),
    };
    let seeds = [
        VERSION_1.as_bytes().to_vec(),
        serde_json::to_vec(&fresh).unwrap(),
    ];
    let mut dice = Dice::of(seed(2026));
    let (mut refused, mut taken) = (0u64, 0u64);
    for case in 0..CASES {
        let mut blob = seeds[case as usize % seeds.len()].clone();
        damage(&mut blob, &mut dice);
        // What is no document at all the framework itself turns away.
        let Ok(mut state) = serde_json::from_slice::<PluginState>(&blob) else {
            refused += 1;
            continue;
        };
        let before = params.serialize_fields();
        Barform::filter_state(&mut state);
        params.deserialize_fields(&state.fields);
        let after = params.serialize_fields();
        if plugin.session().notice().is_some() {
            refused += 1;
            assert_eq!(after, before, "what was loaded stays");
            assert!(state.params.is_empty(), "no parameter is let through");
        } else {
            taken += 1;
        }
    }
    // Both happen, or the damage is not what it should be.
    assert!(refused > CASES / 2, "{refused} refused");
    assert!(taken > CASES / 100, "{taken} taken");
    // Whatever was taken last is a sound session: it loads again.
    let saved = params.serialize_fields();
    params.deserialize_fields(&saved);
    assert_eq!(params.serialize_fields(), saved);
}
