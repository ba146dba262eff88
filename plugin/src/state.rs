//! What a host stores with a session: the score, its file, the look of the
//! editor.
//!
//! In: the stored document from the host, score text from the editor. Out: the
//! document to store, and a compiled timeline for the audio thread whenever the
//! score changes. The document is versioned; [`read_document`] is the one place
//! that knows old versions. A damaged or newer one is refused whole, with a
//! message for the editor, and what was loaded before stays.
//! Never here: a parameter's value, a window, the audio thread.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use barform_app::score::edit::{BarLines, Change, Done, Edit, Group, History, Step};
use barform_app::score::{Score, ScoreError};
pub use barform_app::session::{CompiledScore, Problem, check};
use nice_plug::params::persist::PersistentField;
use nice_plug::plugin::ParamValue;
use nice_plug::prelude::{ParamPtr, Params, PluginState};
use serde::{Deserialize, Serialize};

use crate::audition::Audition;
use crate::handover::{self, Live, Receiver, RepaintNotifier, Sender};
use crate::params::{BarformParams, choices};

/// Version of the document written today.
pub const VERSION: u64 = 1;

/// Key of the document among the host's stored fields.
const FIELD: &str = "session";

/// What a host stores: version 1, the only one so far.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Document {
    /// Always [`VERSION`].
    pub version: u64,
    /// The score as text, comments and all.
    pub score: String,
    /// The score file last opened or saved, if any.
    pub file: Option<String>,
    /// The look of the editor.
    pub editor: EditorPrefs,
}

/// The look of the editor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EditorPrefs {
    /// Dark or light.
    pub theme: Theme,
    /// Width in points, before zoom.
    pub width: u32,
    /// Height in points, before zoom.
    pub height: u32,
    /// Scale in percent, in [`SCALE_RANGE`].
    pub zoom_percent: u32,
}

/// Dark or light.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Theme {
    /// Light on dark, for a stage or a control room.
    Dark,
    /// Dark on light, for a classroom.
    Light,
}

/// Smallest editor in points: hosts cut off what does not fit their own window.
/// Where there is less room than its pages need, it is scrolled.
pub const MIN_SIZE: (u32, u32) = (480, 320);
/// Largest editor in points; more than any screen sold today.
const MAX_SIZE: (u32, u32) = (7_680, 4_320);
/// Smallest and largest scale in percent. Sessions of the first version may say
/// 50 to 300; they load, brought into the range.
pub const SCALE_RANGE: (u32, u32) = (
    *barform_app::shelf::SCALE_PERCENT.start() as u32,
    *barform_app::shelf::SCALE_PERCENT.end() as u32,
);

impl Default for EditorPrefs {
    fn default() -> Self {
        EditorPrefs {
            theme: Theme::Dark,
            width: 1_100,
            height: 720,
            zoom_percent: 100,
        }
    }
}

impl EditorPrefs {
    fn clamped(self) -> Self {
        EditorPrefs {
            theme: self.theme,
            width: self.width.clamp(MIN_SIZE.0, MAX_SIZE.0),
            height: self.height.clamp(MIN_SIZE.1, MAX_SIZE.1),
            zoom_percent: self.zoom_percent.clamp(SCALE_RANGE.0, SCALE_RANGE.1),
        }
    }
}

/// What passes through the framework's stored field.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Stored {
    /// A document; the only form that is ever saved.
    Document(Document),
    /// The message of a refusal, put there by [`filter`].
    Refused {
        /// What to tell the user.
        refused: String,
    },
}

/// The session of one instance, shared by host, editor and audio hand-over.
#[derive(Debug)]
pub struct Session {
    inner: Mutex<Inner>,
    sender: Sender,
    receiver: Mutex<Option<Receiver>>,
    /// What the audio thread tells the editor.
    pub live: Arc<Live>,
    /// Hearing something by itself.
    pub audition: Audition,
    /// Asks the open window for a picture; any thread may.
    pub window: RepaintNotifier,
    loads: AtomicU64,
}

#[derive(Debug)]
struct Inner {
    /// What plays.
    checked: CompiledScore,
    /// All that it was before; its state is always what plays.
    history: History,
    file: Option<String>,
    /// `None` until a stored session or the user says.
    prefs: Option<EditorPrefs>,
    draft: Option<String>,
    notice: Option<String>,
}

impl Default for Session {
    /// The embedded score.
    fn default() -> Self {
        let (sender, receiver) = handover::pair();
        let checked = check(barform_app::DEMO_SCORE, "demo.barform")
            .expect("the embedded score is checked by a test");
        sender.send(checked.timeline.clone());
        let window = RepaintNotifier::new();
        Session {
            inner: Mutex::new(Inner {
                history: History::new((*checked.document).clone()),
                checked,
                file: None,
                prefs: None,
                draft: None,
                notice: None,
            }),
            sender,
            receiver: Mutex::new(Some(receiver)),
            live: Arc::new(Live::new(window.clone())),
            audition: Audition::new(window.clone()),
            window,
            loads: AtomicU64::new(0),
        }
    }
}

impl Session {
    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The audio thread's end of the hand-over, once.
    pub fn take_receiver(&self) -> Option<Receiver> {
        self.receiver
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take()
    }

    /// The score that plays.
    pub fn checked(&self) -> CompiledScore {
        self.lock().checked.clone()
    }

    /// Plays a checked score from the next block on; a step that can be undone.
    /// Returns what changed.
    pub fn accept(&self, checked: CompiledScore, label: &str, group: Option<&Group>) -> Change {
        let document = (*checked.document).clone();
        let mut inner = self.lock();
        let change = inner.history.take(document, label, group);
        inner.draft = None;
        self.play(&mut inner, checked);
        change
    }

    /// Edits what plays. A bar-line check that the edit breaks gives way and is
    /// named in what is returned.
    ///
    /// # Errors
    /// Why it cannot be done; everything is then as before.
    pub fn edit(&self, edit: &Edit, group: Option<&Group>) -> Result<Done, Problem> {
        let (done, _) = self.step(|history| history.plan_edit(edit, BarLines::Loosen, group))?;
        Ok(done)
    }

    /// Changes what plays in a way that no [`Edit`] knows.
    ///
    /// # Errors
    /// What `change` says, or what a score's check has against its result.
    pub fn change(
        &self,
        label: &str,
        group: Option<&Group>,
        change: impl FnOnce(&mut Score) -> Result<(), ScoreError>,
    ) -> Result<Change, Problem> {
        let ((), change) = self.step(|history| Ok((history.plan(label, group, change)?, ())))?;
        Ok(change)
    }

    /// Makes a step only once it is known to play: one that is refused, perhaps
    /// in the middle of a group, leaves text, steps and sound as they are.
    fn step<T>(
        &self,
        plan: impl FnOnce(&History) -> Result<(Step, T), ScoreError>,
    ) -> Result<(T, Change), Problem> {
        let mut inner = self.lock();
        let (step, done) = plan(&inner.history)?;
        let checked = CompiledScore::of(step.document().clone())?;
        let change = inner.history.make(step);
        self.play(&mut inner, checked);
        Ok((done, change))
    }

    /// Sends while the lock is held, which `inner` stands for: threads that change
    /// the score send in the order in which they changed it.
    fn play(&self, inner: &mut Inner, checked: CompiledScore) {
        self.sender.send(checked.timeline.clone());
        inner.checked = checked;
    }

    /// Takes the last step back; `None` if there is none.
    pub fn undo(&self) -> Option<Change> {
        self.travel(History::undo)
    }

    /// Makes the step again that was taken back last; `None` if there is none.
    pub fn redo(&self) -> Option<Change> {
        self.travel(History::redo)
    }

    fn travel(&self, go: impl FnOnce(&mut History) -> Option<Change>) -> Option<Change> {
        let mut inner = self.lock();
        let change = go(&mut inner.history)?;
        // It played before, so it compiles.
        let checked = CompiledScore::of(inner.history.document().clone()).ok()?;
        self.play(&mut inner, checked);
        Some(change)
    }

    /// Ends a group of edits: the next one is a step of its own.
    pub fn seal(&self) {
        self.lock().history.seal();
    }

    /// Labels of the steps that undo takes back and redo makes again.
    pub fn steps(&self) -> (Option<String>, Option<String>) {
        let inner = self.lock();
        let label = |label: Option<&str>| label.map(str::to_owned);
        (
            label(inner.history.undo_label()),
            label(inner.history.redo_label()),
        )
    }

    /// The score file last opened or saved.
    pub fn file(&self) -> Option<String> {
        self.lock().file.clone()
    }

    /// Remembers the score file.
    pub fn set_file(&self, file: Option<String>) {
        self.lock().file = file;
    }

    /// The look of the editor.
    pub fn prefs(&self) -> EditorPrefs {
        self.lock().prefs.unwrap_or_default()
    }

    /// Remembers the look of the editor.
    pub fn set_prefs(&self, prefs: EditorPrefs) {
        self.lock().prefs = Some(prefs.clamped());
    }

    /// What the editor of a new session looks like. One that was loaded or has
    /// been changed keeps its own look.
    pub fn begin_with(&self, prefs: EditorPrefs) {
        self.lock().prefs.get_or_insert(prefs.clamped());
    }

    /// Text in the editor that is not playing, kept while the window is closed.
    pub fn draft(&self) -> Option<String> {
        self.lock().draft.clone()
    }

    /// Keeps text that is not playing.
    pub fn set_draft(&self, draft: Option<String>) {
        self.lock().draft = draft;
    }

    /// A message that waits to be read: why stored state was refused.
    pub fn notice(&self) -> Option<String> {
        self.lock().notice.clone()
    }

    /// The message has been read.
    pub fn dismiss_notice(&self) {
        self.lock().notice = None;
    }

    /// Grows whenever the host loads a session, so that the editor looks anew.
    pub fn loads(&self) -> u64 {
        self.loads.load(Ordering::Acquire)
    }

    /// Frees timelines that the audio thread has let go of.
    pub fn prune(&self) {
        self.sender.prune();
        self.audition.prune();
    }

    /// The document to store.
    pub fn document(&self) -> Document {
        let inner = self.lock();
        Document {
            version: VERSION,
            score: inner.checked.text().to_owned(),
            file: inner.file.clone(),
            editor: inner.prefs.unwrap_or_default(),
        }
    }

    /// Loads a document, or keeps everything and remembers why not.
    pub fn load(&self, stored: Stored) {
        let refused = match stored {
            Stored::Refused { refused } => Some(refused),
            Stored::Document(document) => match check_document(&document) {
                Err(refused) => Some(refused),
                Ok(checked) => {
                    let history = History::new((*checked.document).clone());
                    let mut inner = self.lock();
                    *inner = Inner {
                        history,
                        checked: checked.clone(),
                        file: document.file,
                        prefs: Some(document.editor.clamped()),
                        draft: None,
                        notice: None,
                    };
                    self.play(&mut inner, checked);
                    None
                }
            },
        };
        if refused.is_some() {
            self.lock().notice = refused;
        }
        self.loads.fetch_add(1, Ordering::Release);
        self.window.request_repaint();
    }
}

impl PersistentField<'_, Stored> for Arc<Session> {
    fn set(&self, new_value: Stored) {
        self.load(new_value);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Stored) -> R,
    {
        f(&Stored::Document(self.document()))
    }
}

/// Reads a stored document of any version up to [`VERSION`].
///
/// # Errors
/// A message for the user.
pub fn read_document(json: &str) -> Result<Document, String> {
    let damaged = |what: String| format!("The stored session is damaged ({what}). {KEPT}");
    let value: serde_json::Value =
        serde_json::from_str(json).map_err(|error| damaged(error.to_string()))?;
    let version = value.get("version").and_then(serde_json::Value::as_u64);
    match version {
        None => Err(damaged("it states no version".to_owned())),
        Some(1) => serde_json::from_value(value).map_err(|error| damaged(error.to_string())),
        Some(newer) if newer > VERSION => Err(format!(
            "The stored session is of version {newer}; this Barform reads up to version \
             {VERSION}. {KEPT} Install a newer Barform to load it."
        )),
        Some(other) => Err(damaged(format!("there is no version {other}"))),
    }
}

/// End of every refusal.
const KEPT: &str = "Nothing was loaded and what was there before still plays.";

fn check_document(document: &Document) -> Result<CompiledScore, String> {
    check(&document.score, "session").map_err(|problem| {
        format!(
            "The stored session is damaged (score, line {}: {}). {KEPT}",
            problem.line, problem.message
        )
    })
}

/// Looks at stored state before any of it is used. State that cannot be loaded
/// whole is emptied, parameters included, and the reason put in its place.
pub fn filter(state: &mut PluginState) {
    let document = match state.fields.get(FIELD) {
        Some(json) => read_document(json),
        None => Err(format!(
            "The stored session is damaged (it has no score). {KEPT}"
        )),
    };
    let document = document.and_then(|document| {
        check_document(&document)?;
        check_params(state)?;
        Ok(document)
    });
    let stored = match document {
        Ok(document) => Stored::Document(document),
        Err(refused) => {
            state.params.clear();
            state.fields.clear();
            Stored::Refused { refused }
        }
    };
    if let Ok(json) = serde_json::to_string(&stored) {
        state.fields.insert(FIELD.to_owned(), json);
    }
}

/// Whether each stored value is of its parameter's kind.
fn check_params(state: &PluginState) -> Result<(), String> {
    let params = BarformParams::new(Arc::default());
    for (id, ptr, _) in params.param_map() {
        let fits = match (ptr, state.params.get(&id)) {
            (_, None) => true,
            (ParamPtr::FloatParam(_), Some(ParamValue::F32(value))) => value.is_finite(),
            (ParamPtr::IntParam(_), Some(ParamValue::I32(_)))
            | (ParamPtr::BoolParam(_), Some(ParamValue::Bool(_)))
            | (ParamPtr::EnumParam(_), Some(ParamValue::I32(_))) => true,
            (ParamPtr::EnumParam(_), Some(ParamValue::String(value))) => {
                choices(&id).is_some_and(|ids| ids.contains(&value.as_str()))
            }
            _ => false,
        };
        if !fits {
            return Err(format!(
                "The stored session is damaged (parameter '{id}' has a value it cannot take). \
                 {KEPT}"
            ));
        }
    }
    Ok(())
}
