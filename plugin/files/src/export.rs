//! Files made from a compiled score.
//!
//! In: a [`Score`](barform_score::score::Score), its [`Timeline`](barform_score::timeline::Timeline)
//! and options. Out: the bytes of a Standard MIDI File, a MusicXML document of
//! what is [`Written`](barform_sheet::Written), or audio block by block or as WAV
//! and FLAC files, each with a report of what was rounded, merged, cut or made
//! louder. Never here: a decision about the music, a terminal, the audio thread
//! of a host; a file half-written, or replaced unasked.
//!
//! Both kinds of file begin at the same moment ([`lead_in`]), so a MIDI file and
//! an audio file written with the same options line up from their first tick
//! and sample.

pub mod audio;
mod flac;
mod lead;
pub mod midi;
pub mod musicxml;
mod options;
pub mod render;
mod wav;

pub use lead::{count_in, lead_in};
pub use options::{MAX_EMPTY_BARS, MAX_EVENTS, MAX_PASSES, OptionError, Options};
