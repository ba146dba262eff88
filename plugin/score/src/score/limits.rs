//! How large a score may be. Each limit is checked before memory is used.

/// Largest score file, in bytes. A thousand cells fit in a tenth of it.
pub const MAX_FILE_BYTES: usize = 1 << 20;

/// Most cells, variations included.
pub const MAX_CELLS: usize = 1_000;

/// Deepest nesting of groups in a form.
pub const MAX_DEPTH: usize = 16;

/// Largest repeat count of one group.
pub const MAX_REPEATS: u32 = 9_999;

/// Most cells a form may play once all repeats are written out: more than two
/// days at one cell a second, and 10,000 bars of sixteen cells.
pub const MAX_PLACEMENTS: u64 = 200_000;

/// Most strokes a form may play once all repeats are written out. A grace note
/// counts as one more, a buzz as [`BUZZ_STROKES`]; rests of a cell count once.
/// The letters on their own have the same room again. Bounds a compiled
/// timeline to some 200 MB.
pub const MAX_STROKES: u64 = 2_000_000;

/// What a buzz counts for: its stroke and the bounces it is played with.
pub const BUZZ_STROKES: u64 = 9;

/// Most slots in one cell or ostinato, on any subdivision it is moved to.
pub const MAX_SLOTS: usize = 1_024;

/// Most strokes at once on one slot: two hands and two feet.
pub const MAX_TOGETHER: usize = 4;

/// Most ostinatos at once.
pub const MAX_OSTINATOS: usize = 8;

/// Most voicings.
pub const MAX_VOICINGS: usize = 100;

/// Most sections.
pub const MAX_SECTIONS: usize = 1_000;

/// Longest title or name, in characters: a line of print.
pub const MAX_NAME_CHARS: usize = 200;

/// Longest cell, in beats, on any subdivision it is moved to.
pub const MAX_CELL_BEATS: i64 = 256;

/// The shortest slot, as played, is one beat by this: 64 slots in a sixteenth.
/// Bounds what a player may have to play in one block.
pub const SLOTS_PER_BEAT: i64 = 1_024;

/// Largest numerator and denominator of a time in a score file, as the reader
/// of [`Beats`](crate::music::Beats) takes them.
pub const MAX_TERM: i64 = 1_000_000;

/// Largest numerator and denominator of a slot's start in a cell. Leaves room
/// for the rates of every level of groups (each may halve) in 63 bits.
pub const MAX_SLOT_TERM: i64 = 1 << 43;
