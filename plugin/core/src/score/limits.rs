//! How large a score may be. Each limit is checked before memory is used.

/// Largest score file, in bytes. A thousand cells fit in a tenth of it.
pub const MAX_FILE_BYTES: usize = 1 << 20;

/// Most cells, variations included.
pub const MAX_CELLS: usize = 1_000;

/// Deepest nesting of groups in a form.
pub const MAX_DEPTH: usize = 16;

/// Largest repeat count of one group.
pub const MAX_REPEATS: u32 = 9_999;

/// Most cells a form may play once all repeats are written out: more than a
/// day at one cell a second, and 10,000 bars of sixteen cells.
pub const MAX_PLACEMENTS: u64 = 200_000;

/// Most strokes a form may play once all repeats are written out. Bounds a
/// compiled timeline to some 200 MB.
pub const MAX_STROKES: u64 = 2_000_000;

/// Most slots in one cell or ostinato.
pub const MAX_SLOTS: usize = 1_024;

/// Most strokes at once on one slot: two hands and two feet.
pub const MAX_TOGETHER: usize = 4;

/// Most ostinatos at once.
pub const MAX_OSTINATOS: usize = 8;

/// Most sections.
pub const MAX_SECTIONS: usize = 1_000;

/// Longest cell, and longest bar's worth of anything written, in beats.
pub const MAX_CELL_BEATS: i64 = 256;
