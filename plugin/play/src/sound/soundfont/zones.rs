//! Zones: which notes sound, and which stop each other.

use super::FontError;
use super::riff::{Parts, damaged};
use std::ops::Range;

/// Generators of the specification (section 8.1.2) that are read here.
pub(super) const EXCLUSIVE_CLASS: u16 = 57;
const INSTRUMENT: u16 = 41;
const KEY_RANGE: u16 = 43;
const VELOCITY_RANGE: u16 = 44;
pub(super) const SAMPLE_ID: u16 = 53;

/// Most pairs of a preset's and an instrument's zone that one note may have to
/// look through: a kit with sixteen layers and as many keys as there are has a
/// thousandth of it.
const MAX_PAIRS: usize = 1 << 18;

/// Where a sample may lie at most, frames: with its offsets a position still
/// fits 32 bits.
const MAX_POSITION: u32 = 1 << 30;

/// One zone.
#[derive(Debug, Clone)]
struct Zone {
    keys: Range<u8>,
    velocities: Range<u8>,
    class: u16,
    instrument: Option<u16>,
}

/// All presets and instruments as lists of zones.
#[derive(Debug)]
pub(super) struct Zones {
    presets: Vec<((u16, u16), Vec<Zone>)>,
    instruments: Vec<Vec<Zone>>,
}

impl Zones {
    /// Reads them, and refuses indices that go down or out of their tables.
    pub fn read(parts: &Parts) -> Result<Zones, FontError> {
        for header in parts.table(b"shdr").as_chunks::<46>().0 {
            for at in [20, 24, 28, 32] {
                if u32_at(header, at) > MAX_POSITION {
                    return Err(damaged("a sample lies beyond all samples"));
                }
            }
        }
        let layers = |names: [&[u8; 4]; 3], record, index, last| {
            let [owners, bags, generators] = names.map(|name| parts.table(name));
            let bags: Vec<usize> = bags
                .as_chunks::<4>()
                .0
                .iter()
                .map(|b| u16_at(b, 0))
                .collect();
            let owners: Vec<usize> = owners
                .chunks_exact(record)
                .map(|o| u16_at(o, index))
                .collect();
            let zones = pairs(&bags, generators.len() / 4)?;
            let owners = pairs(&owners, bags.len())?;
            let zone = |range: &Range<usize>, from: &Zone| {
                read(&generators[4 * range.start..4 * range.end], from)
            };
            Ok::<_, FontError>(
                owners
                    .into_iter()
                    .map(|owner| {
                        let mut base = Zone::default();
                        let mut all = Vec::new();
                        for (n, range) in zones[owner].iter().enumerate() {
                            let ends = range.end.checked_sub(1).filter(|e| *e >= range.start);
                            let ends_as = ends.map(|e| u16_at(&generators[4 * e..], 0));
                            let read = zone(range, &base);
                            // The first zone, if it plays nothing, is what the
                            // others start from.
                            if n == 0 && ends_as != Some(usize::from(last)) {
                                base = read;
                            } else {
                                all.push(read);
                            }
                        }
                        all
                    })
                    .collect::<Vec<_>>(),
            )
        };
        let instruments = layers([b"inst", b"ibag", b"igen"], 22, 20, SAMPLE_ID)?;
        let presets = layers([b"phdr", b"pbag", b"pgen"], 38, 24, INSTRUMENT)?;
        let names = parts.table(b"phdr").as_chunks::<38>().0.iter();
        let names = names.map(|p| (u16_at(p, 22) as u16, u16_at(p, 20) as u16));
        Ok(Zones {
            presets: names.zip(presets).collect(),
            instruments,
        })
    }

    /// Whether a preset (bank, program) can be played in bounded time.
    pub fn check(&self, preset: (u16, u16)) -> Result<(), FontError> {
        let pairs: usize = self
            .preset(preset)
            .iter()
            .map(|zone| self.instrument(zone).len())
            .sum();
        if pairs > MAX_PAIRS {
            return Err(damaged("a preset has too many zones"));
        }
        Ok(())
    }

    /// The exclusive class of a note, 0 for none; `None` if no zone plays it.
    pub fn class(&self, preset: (u16, u16), key: u8, velocity: u8) -> Option<u16> {
        let plays = |z: &&Zone| z.keys.contains(&key) && z.velocities.contains(&velocity);
        let mut found = None;
        for zone in self.preset(preset).iter().filter(plays) {
            for inner in self.instrument(zone).iter().filter(plays) {
                let class = if inner.class != 0 {
                    inner.class
                } else {
                    zone.class
                };
                if class != 0 {
                    return Some(class);
                }
                found = Some(0);
            }
        }
        found
    }

    fn preset(&self, wanted: (u16, u16)) -> &[Zone] {
        // Of several with one number the last plays, as in the synthesiser.
        let found = self.presets.iter().rev().find(|(name, _)| *name == wanted);
        found.map_or(&[], |(_, zones)| zones)
    }

    fn instrument(&self, zone: &Zone) -> &[Zone] {
        let number = usize::from(zone.instrument.unwrap_or(0));
        self.instruments.get(number).map_or(&[], Vec::as_slice)
    }
}

impl Default for Zone {
    fn default() -> Zone {
        Zone {
            keys: 0..128,
            velocities: 0..128,
            class: 0,
            instrument: None,
        }
    }
}

/// A zone from its generators, over a global one.
fn read(generators: &[u8], from: &Zone) -> Zone {
    let mut zone = from.clone();
    for generator in generators.as_chunks::<4>().0 {
        let [_, _, low, high] = *generator;
        let range = low..high.saturating_add(1);
        let value = u16::from_le_bytes([low, high]);
        match u16_at(generator, 0) as u16 {
            KEY_RANGE => zone.keys = range,
            VELOCITY_RANGE => zone.velocities = range,
            EXCLUSIVE_CLASS => zone.class = value,
            INSTRUMENT => zone.instrument = Some(value),
            _ => {}
        }
    }
    zone
}

/// From the first index of each to ranges: the last record only says where the
/// one before ends, and none may lie outside of `length` records, the terminal
/// one of which is not part of any range.
fn pairs(starts: &[usize], length: usize) -> Result<Vec<Range<usize>>, FontError> {
    if starts.len() < 2 {
        return Err(damaged("a table is empty"));
    }
    let ranges = starts.windows(2).map(|w| w[0]..w[1]);
    if ranges.clone().any(|r| r.start > r.end) || starts.iter().any(|s| *s >= length) {
        return Err(damaged("an index points nowhere"));
    }
    Ok(ranges.collect())
}

pub(super) fn u16_at(bytes: &[u8], at: usize) -> usize {
    let two = bytes.get(at..at + 2).and_then(|b| b.first_chunk::<2>());
    usize::from(two.map_or(0, |b| u16::from_le_bytes(*b)))
}

fn u32_at(bytes: &[u8], at: usize) -> u32 {
    let four = bytes.get(at..at + 4).and_then(|b| b.first_chunk::<4>());
    four.map_or(0, |b| u32::from_le_bytes(*b))
}
