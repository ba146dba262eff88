//! Spelling: exact times become notes, rests, tuplets and beams.
