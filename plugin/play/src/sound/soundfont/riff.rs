//! The chunks of a SoundFont file: found, measured, put in plain order.

use super::FontError;

/// Frames of silence after the last sample: the specification asks for 46
/// (section 6.1), many files have none.
const PADDING_FRAMES: usize = 46;

/// The nine chunks of the parameter list in the order of the specification
/// (section 4), with the bytes of a record and the most records an index of
/// 16 bits can reach, the terminal one included.
const TABLES: [(&[u8; 4], usize); 9] = [
    (b"phdr", 38),
    (b"pbag", 4),
    (b"pmod", 10),
    (b"pgen", 4),
    (b"inst", 22),
    (b"ibag", 4),
    (b"imod", 10),
    (b"igen", 4),
    (b"shdr", 46),
];

/// Most records of one table.
const MAX_RECORDS: usize = 65_537;

/// What matters of a file.
pub(super) struct Parts<'a> {
    /// 16-bit samples, little-endian.
    pub samples: &'a [u8],
    tables: [&'a [u8]; 9],
}

impl<'a> Parts<'a> {
    /// Finds the parts. Every length is checked against the bytes there are.
    pub fn find(bytes: &'a [u8]) -> Result<Parts<'a>, FontError> {
        let Some((head, body)) = bytes.split_at_checked(12) else {
            return Err(damaged("it is too short"));
        };
        if !head.starts_with(b"RIFF") || !head.ends_with(b"sfbk") {
            return Err(damaged("it does not begin as one (RIFF, sfbk)"));
        }
        let (mut samples, mut tables) = (None, [None; 9]);
        for (id, list) in Chunks(body) {
            let list = list?;
            let (b"LIST", Some((kind, rest))) = (id, list.split_at_checked(4)) else {
                continue;
            };
            for (id, chunk) in Chunks(rest) {
                match kind {
                    b"sdta" if id == b"smpl" => samples = Some(chunk?),
                    b"pdta" => {
                        if let Some(n) = TABLES.iter().position(|(name, _)| *name == id) {
                            tables[n] = Some(chunk?);
                        }
                    }
                    _ => drop(chunk?),
                }
            }
        }
        let samples = samples.ok_or_else(|| damaged("it has no samples (smpl)"))?;
        if samples.len() % 2 != 0 {
            return Err(damaged("half a sample is missing"));
        }
        let mut found: [&[u8]; 9] = [&[]; 9];
        for ((table, (name, record)), slot) in tables.iter().zip(TABLES).zip(&mut found) {
            let name = String::from_utf8_lossy(name);
            let table = table.ok_or_else(|| damaged(&format!("it has no {name} table")))?;
            if table.is_empty() || table.len() % record != 0 {
                return Err(damaged(&format!("its {name} table has an odd length")));
            }
            if table.len() / record > MAX_RECORDS {
                return Err(damaged(&format!("its {name} table is too long")));
            }
            *slot = table;
        }
        Ok(Parts {
            samples,
            tables: found,
        })
    }

    /// A table by its name: `pbag`, `shdr` and so on; empty for another name.
    pub fn table(&self, name: &[u8; 4]) -> &'a [u8] {
        let n = TABLES.iter().position(|(known, _)| *known == name);
        n.map_or(&[], |n| self.tables[n])
    }

    /// The file in its plainest form, but for the samples: what goes before
    /// them and what goes after. Sounds begin at once, see `attack`. Exclusive classes are taken out: the player
    /// sees to them (a synthesiser that reuses the voice of a class silences
    /// one channel of every stereo hi-hat).
    pub fn plain(&self) -> (Vec<u8>, Vec<u8>) {
        let padding = 2 * PADDING_FRAMES;
        let wave = self.samples.len() + padding;
        let mut lists = Vec::new();
        let prompt = super::attack::prompt(self);
        for ((name, _), table) in TABLES.iter().zip(self.tables) {
            let table = match (*name, &prompt) {
                (b"ibag", Some((zones, _))) => zones,
                (b"igen", Some((_, generators))) => generators,
                _ => table,
            };
            lists.extend_from_slice(*name);
            lists.extend_from_slice(&length(table.len()));
            if name.ends_with(b"gen") {
                for record in table.as_chunks::<4>().0 {
                    let class = super::zones::EXCLUSIVE_CLASS.to_le_bytes();
                    let kept = !record.starts_with(&class);
                    let value = if kept { [record[2], record[3]] } else { [0, 0] };
                    lists.extend_from_slice(&record[..2]);
                    lists.extend_from_slice(&value);
                }
            } else {
                lists.extend_from_slice(table);
            }
        }
        let mut head = Vec::new();
        head.extend_from_slice(b"RIFF");
        head.extend_from_slice(&length(4 + 12 + 20 + wave + 12 + lists.len()));
        head.extend_from_slice(b"sfbkLIST");
        head.extend_from_slice(&length(4));
        head.extend_from_slice(b"INFOLIST");
        head.extend_from_slice(&length(12 + wave));
        head.extend_from_slice(b"sdtasmpl");
        head.extend_from_slice(&length(wave));
        let mut tail = vec![0; padding];
        tail.extend_from_slice(b"LIST");
        tail.extend_from_slice(&length(4 + lists.len()));
        tail.extend_from_slice(b"pdta");
        tail.append(&mut lists);
        (head, tail)
    }
}

/// A length as RIFF writes it; the limits of the module keep it in range.
fn length(bytes: usize) -> [u8; 4] {
    u32::try_from(bytes).unwrap_or(u32::MAX).to_le_bytes()
}

/// Identifiers and contents of chunks that follow each other.
struct Chunks<'a>(&'a [u8]);

impl<'a> Iterator for Chunks<'a> {
    type Item = (&'a [u8; 4], Result<&'a [u8], FontError>);

    fn next(&mut self) -> Option<Self::Item> {
        // A byte or two of filling at the end does no harm.
        let (id, rest) = self.0.split_first_chunk::<4>()?;
        let (size, rest) = rest.split_first_chunk::<4>()?;
        let size = u32::from_le_bytes(*size) as usize;
        let Some((chunk, rest)) = rest.split_at_checked(size) else {
            self.0 = &[];
            return Some((id, Err(damaged("it is cut short"))));
        };
        // Chunks begin on even bytes.
        self.0 = rest.get(size % 2..).unwrap_or(&[]);
        Some((id, Ok(chunk)))
    }
}

pub(super) fn damaged(what: &str) -> FontError {
    FontError::Damaged(what.to_owned())
}
