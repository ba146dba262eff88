//! Files of other programs, read into a score.
//!
//! In: the bytes of a Standard MIDI File or a MusicXML document, and options.
//! Out: a checked [`Score`](crate::score::Score) and a list of what was not
//! understood or could not be kept. Never here: a file system, a guess that is
//! not reported, a panic on any input.
