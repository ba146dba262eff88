//! A Standard MIDI File read into a score.
