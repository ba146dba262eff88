//! Sounds that begin at once.
//!
//! Where a zone says nothing of its volume envelope, delay and attack are -12000
//! timecents (SoundFont 2.04, section 8.1.2): meant as none, and taken by the
//! synthesiser at their word, a millisecond each. A stroke that late is out of
//! its place, so such zones are told what no time is.

use super::riff::Parts;
use super::zones::{SAMPLE_ID, u16_at};

/// Delay and attack of the volume envelope.
const ONSET: [u16; 2] = [33, 34];

/// The shortest time there is, timecents: by convention, none.
const NO_TIME: i16 = i16::MIN;

/// The instruments' zones and generators (`ibag` and `igen`) with onsets added;
/// `None` if they would be too many for their indices. Expects checked indices.
pub(super) fn prompt(parts: &Parts) -> Option<(Vec<u8>, Vec<u8>)> {
    let bags = parts.table(b"ibag").as_chunks::<4>().0;
    let generators = parts.table(b"igen").as_chunks::<4>().0;
    let first_zones: Vec<usize> = parts
        .table(b"inst")
        .as_chunks::<22>()
        .0
        .iter()
        .map(|owner| u16_at(owner, 20))
        .collect();
    let (mut new_bags, mut new_generators) = (Vec::new(), Vec::new());
    let mut global: &[[u8; 4]] = &[];
    for (n, bag) in bags.iter().enumerate() {
        new_bags.extend_from_slice(&u16::try_from(new_generators.len()).ok()?.to_le_bytes());
        new_bags.extend_from_slice(&bag[2..]);
        let Some(next) = bags.get(n + 1) else {
            break;
        };
        let zone = generators.get(u16_at(bag, 0)..u16_at(next, 0))?;
        let sample = zone.split_last().filter(|(last, _)| is(last, SAMPLE_ID));
        if first_zones.contains(&n) {
            global = if sample.is_none() { zone } else { &[] };
        }
        let Some((last, before)) = sample else {
            new_generators.extend_from_slice(zone);
            continue;
        };
        new_generators.extend_from_slice(before);
        for onset in ONSET {
            if !before.iter().chain(global).any(|g| is(g, onset)) {
                let ([a, b], [c, d]) = (onset.to_le_bytes(), NO_TIME.to_le_bytes());
                new_generators.push([a, b, c, d]);
            }
        }
        new_generators.push(*last);
    }
    // The terminal one.
    new_generators.push([0; 4]);
    Some((new_bags, new_generators.concat()))
}

fn is(generator: &[u8; 4], kind: u16) -> bool {
    generator.starts_with(&kind.to_le_bytes())
}
