//! What is open: a score with its steps and its file, parsed and compiled once
//! for each change; files read and written; what a host stores.

mod alone;
mod compiled;
mod files;
mod import;
mod open;
mod problem;
mod stored;
mod typed_text;
mod written_form;

pub use alone::{alone, alone_timeline};
pub use compiled::{CompiledScore, check};
pub use files::{
    ENDING, OPENS, SaveError, SavedFile, TextError, has_comments, has_ending, list, read_text,
};
pub use import::{CellLength, ImportOptions, import, import_bytes, import_file, remark_head};
pub use open::Session;
pub use problem::Problem;
pub use stored::{
    EditorPrefs, MIN_SIZE, SCALE_RANGE, StoredSession, Theme, VERSION, damaged, read_document,
};
pub use typed_text::{Standing, TypedText};
pub use written_form::{ItemKind, Repeat, WrittenForm, WrittenItem, overrides_text};
