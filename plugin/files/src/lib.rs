//! MIDI, MusicXML and audio files: written from a score and read into one.

pub mod export;
pub mod import;
pub mod save;
