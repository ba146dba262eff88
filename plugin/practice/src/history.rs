//! What was practised: a file in the user's data folder, one line of JSON for each
//! session, that any number of programs may add to at once.
//!
//! A line is added in one write to the end of the file, under a lock, so that two
//! programs lose nothing. Lines that cannot be read are set aside in a file of
//! their own, with a message; nothing is ever overwritten, and lines of a newer
//! version stay where they are.

mod due;

pub use due::{Due, today, worst_joins};

use crate::report::Report;
use barform_files::save::{self, Overwrite};
use serde::{Deserialize, Serialize};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use time::OffsetDateTime;
use time::format_description::well_known::Rfc3339;

/// The version of a line that is written.
const VERSION: u32 = 1;

/// Largest history that is read, in bytes: some hundred thousand sessions.
pub const MAX_BYTES: u64 = 64 << 20;

/// How a letter went.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LetterLine {
    /// The letter.
    pub letter: String,
    /// Strokes due.
    pub due: usize,
    /// Strokes missed.
    pub missed: usize,
    /// Mean lateness in milliseconds.
    pub mean_ms: f64,
    /// Spread in milliseconds.
    pub spread_ms: f64,
}

/// One session.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Session {
    /// When it ended (RFC 3339, UTC).
    pub when: String,
    /// The score's title, or its file's name.
    pub score: String,
    /// What was played, in the words of a plan.
    pub play: String,
    /// Slowest and fastest tempo, in beats a minute.
    pub tempo: (f64, f64),
    /// Length in seconds.
    pub seconds: f64,
    /// Strokes due.
    pub due: usize,
    /// Strokes missed.
    pub missed: usize,
    /// Notes that match no stroke.
    pub extra: usize,
    /// Mean lateness in milliseconds.
    pub mean_ms: f64,
    /// Spread in milliseconds.
    pub spread_ms: f64,
    /// Letter by letter.
    #[serde(default)]
    pub letters: Vec<LetterLine>,
}

impl Session {
    /// A session that ended `when`.
    pub fn of(
        report: &Report,
        score: &str,
        play: &str,
        tempo: (f64, f64),
        when: OffsetDateTime,
    ) -> Session {
        // Hundredths of a millisecond are more than enough.
        let short = |ms: f64| (ms * 100.0).round() / 100.0;
        let letters = report.letters.iter().map(|l| LetterLine {
            letter: l.of.clone(),
            due: l.due,
            missed: l.missed,
            mean_ms: short(l.lay.mean_ms),
            spread_ms: short(l.lay.spread_ms),
        });
        Session {
            when: when.format(&Rfc3339).unwrap_or_default(),
            score: score.to_owned(),
            play: play.to_owned(),
            tempo,
            seconds: short(report.seconds),
            due: report.all.due,
            missed: report.all.missed,
            extra: report.extra.len(),
            mean_ms: short(report.all.lay.mean_ms),
            spread_ms: short(report.all.lay.spread_ms),
            letters: letters.collect(),
        }
    }

    /// When it ended, if that can be read.
    pub fn ended(&self) -> Option<OffsetDateTime> {
        OffsetDateTime::parse(&self.when, &Rfc3339).ok()
    }
}

#[derive(Serialize, Deserialize)]
struct Line {
    practice: u32,
    #[serde(flatten)]
    session: Session,
}

/// Lines that could not be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetAside {
    /// How many.
    pub lines: usize,
    /// Where they are now.
    pub path: PathBuf,
}

/// What was read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sessions {
    /// Sessions in the order in which they were added.
    pub sessions: Vec<Session>,
    /// Lines of a newer version, which are passed over.
    pub newer: usize,
    /// Lines that could not be read.
    pub set_aside: Option<SetAside>,
}

/// Why a history cannot be read or written.
#[derive(Debug, thiserror::Error)]
pub enum HistoryError {
    /// Refused by the system.
    #[error("{}: cannot be {what}: {source}", .path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What was tried.
        what: &'static str,
        /// What the system says.
        source: io::Error,
    },
    /// More than [`MAX_BYTES`].
    #[error("{}: more than {MAX_BYTES} bytes; move it away to start a new one", .0.display())]
    TooLarge(PathBuf),
}

/// The history in a folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct History {
    folder: PathBuf,
}

impl History {
    /// The history in a folder, which need not be there yet.
    pub fn at(folder: impl Into<PathBuf>) -> History {
        History {
            folder: folder.into(),
        }
    }

    /// Its file.
    pub fn path(&self) -> PathBuf {
        self.folder.join("practice.jsonl")
    }

    /// Adds a session at the end.
    ///
    /// # Errors
    /// What the system refuses.
    pub fn add(&self, session: &Session) -> Result<(), HistoryError> {
        let path = self.path();
        let failed = io_error(&path, "written");
        fs::create_dir_all(&self.folder).map_err(&failed)?;
        let _lock = self.lock()?;
        let mut file = OpenOptions::new()
            .read(true)
            .append(true)
            .create(true)
            .open(&path)
            .map_err(&failed)?;
        let line = Line {
            practice: VERSION,
            session: session.clone(),
        };
        // Numbers that are no numbers become null, which is read as damage: none
        // is in a report.
        let mut text = serde_json::to_string(&line).unwrap_or_default();
        text.push('\n');
        // What a crash has left of a line stays a line of its own.
        if ends_inside_a_line(&mut file).map_err(&failed)? {
            text.insert(0, '\n');
        }
        file.write_all(text.as_bytes()).map_err(&failed)?;
        file.sync_data().map_err(&failed)
    }

    /// Reads all sessions. Lines that cannot be read are moved to a file beside
    /// it first.
    ///
    /// # Errors
    /// What the system refuses, and [`HistoryError::TooLarge`].
    pub fn read(&self) -> Result<Sessions, HistoryError> {
        let path = self.path();
        if !path.exists() {
            return Ok(Sessions::default());
        }
        let _lock = self.lock()?;
        let failed = io_error(&path, "read");
        let mut bytes = Vec::new();
        let file = File::open(&path).map_err(&failed)?;
        file.take(MAX_BYTES + 1)
            .read_to_end(&mut bytes)
            .map_err(&failed)?;
        if bytes.len() as u64 > MAX_BYTES {
            return Err(HistoryError::TooLarge(path));
        }
        let mut read = Sessions::default();
        let (mut good, mut bad) = (Vec::new(), Vec::new());
        let mut damaged = 0;
        for line in bytes
            .split(|b| *b == b'\n')
            .filter(|l| !l.trim_ascii().is_empty())
        {
            let kept = match understood(line) {
                Understood::Session(session) => {
                    read.sessions.push(*session);
                    &mut good
                }
                Understood::Newer => {
                    read.newer += 1;
                    &mut good
                }
                Understood::Damaged => {
                    damaged += 1;
                    &mut bad
                }
            };
            kept.extend_from_slice(line);
            kept.push(b'\n');
        }
        if damaged > 0 {
            let aside = self.set_aside(&bad, &good)?;
            read.set_aside = Some(SetAside {
                lines: damaged,
                path: aside,
            });
        }
        Ok(read)
    }

    /// Keeps damaged lines in a file of a new name, then the others in the
    /// history's own. Under the lock.
    fn set_aside(&self, bad: &[u8], good: &[u8]) -> Result<PathBuf, HistoryError> {
        let mut number = 1_u32;
        let aside = loop {
            let aside = self.folder.join(format!("practice.damaged-{number}.jsonl"));
            match save::write(&aside, bad, Overwrite::Refuse) {
                Ok(()) => break aside,
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists && number < 10_000 => {
                    number += 1
                }
                Err(e) => return Err(io_error(&aside, "written")(e)),
            }
        };
        let path = self.path();
        save::write(&path, good, Overwrite::Replace).map_err(io_error(&path, "written"))?;
        Ok(aside)
    }

    /// Held until dropped; other programs wait.
    fn lock(&self) -> Result<File, HistoryError> {
        let path = self.folder.join(".practice.lock");
        let open = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&path);
        let file = open.and_then(|file| file.lock().map(|()| file));
        file.map_err(io_error(&path, "locked"))
    }
}

fn io_error(path: &Path, what: &'static str) -> impl Fn(io::Error) -> HistoryError + use<> {
    let path = path.to_owned();
    move |source| HistoryError::Io {
        path: path.clone(),
        what,
        source,
    }
}

fn ends_inside_a_line(file: &mut File) -> io::Result<bool> {
    if file.metadata()?.len() == 0 {
        return Ok(false);
    }
    let mut last = [0];
    file.seek(SeekFrom::End(-1))?;
    file.read_exact(&mut last)?;
    Ok(last != *b"\n")
}

enum Understood {
    Session(Box<Session>),
    Newer,
    Damaged,
}

fn understood(line: &[u8]) -> Understood {
    let Ok(value) = serde_json::from_slice::<serde_json::Value>(line) else {
        return Understood::Damaged;
    };
    match value.get("practice").and_then(serde_json::Value::as_u64) {
        Some(version) if version > u64::from(VERSION) => Understood::Newer,
        Some(_) => match serde_json::from_value::<Line>(value) {
            Ok(line) if line.session.ended().is_some() => {
                Understood::Session(Box::new(line.session))
            }
            _ => Understood::Damaged,
        },
        None => Understood::Damaged,
    }
}
