//! MusicXML read into a score.
