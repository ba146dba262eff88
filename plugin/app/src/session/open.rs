//! What is open: a score with its steps, its file, the look of its editor, and
//! text that does not play yet.

use std::fmt;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::{CompiledScore, EditorPrefs, Problem, StoredSession, VERSION, check};
use crate::score::edit::{BarLines, Change, Done, Edit, Group, History, Step};
use crate::score::{Score, ScoreError};
use crate::timeline::Timeline;

/// Takes what is to be played from now on.
type Play = Box<dyn Fn(Arc<Timeline>) + Send + Sync>;

/// A session, which any number of threads share. Whatever changes its score is
/// parsed and compiled once, becomes a step that can be undone and is handed over
/// to be played, all under one lock; or it is refused, and all is as before.
pub struct Session {
    inner: Mutex<Inner>,
    play: Play,
    loads: AtomicU64,
}

impl fmt::Debug for Session {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.debug_struct("Session")
            .field("inner", &self.inner)
            .finish_non_exhaustive()
    }
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
    unplayed_text: Option<String>,
    notice: Option<String>,
}

impl Default for Session {
    /// The embedded score, played by nobody.
    fn default() -> Self {
        Session::new(|_| {})
    }
}

impl Session {
    /// A session with the embedded score. `play` takes what is to be played from
    /// now on, the first time at once; it must not come back to the session.
    pub fn new(play: impl Fn(Arc<Timeline>) + Send + Sync + 'static) -> Session {
        let checked = check(crate::DEMO_SCORE, "demo.barform")
            .expect("the embedded score is checked by a test");
        play(checked.timeline.clone());
        Session {
            inner: Mutex::new(Inner {
                history: History::new((*checked.document).clone()),
                checked,
                file: None,
                prefs: None,
                unplayed_text: None,
                notice: None,
            }),
            play: Box::new(play),
            loads: AtomicU64::new(0),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
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
        inner.unplayed_text = None;
        self.take_up(&mut inner, checked);
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
        self.take_up(&mut inner, checked);
        Ok((done, change))
    }

    /// Hands over while the lock is held, which `inner` stands for: threads that change
    /// the score do so in the order in which they changed it.
    fn take_up(&self, inner: &mut Inner, checked: CompiledScore) {
        (self.play)(checked.timeline.clone());
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
        self.take_up(&mut inner, checked);
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
    pub fn unplayed_text(&self) -> Option<String> {
        self.lock().unplayed_text.clone()
    }

    /// Keeps text that is not playing.
    pub fn set_unplayed_text(&self, text: Option<String>) {
        self.lock().unplayed_text = text;
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

    /// The document to store.
    pub fn document(&self) -> StoredSession {
        let inner = self.lock();
        StoredSession {
            version: VERSION,
            score: inner.checked.text().to_owned(),
            file: inner.file.clone(),
            editor: inner.prefs.unwrap_or_default(),
        }
    }

    /// Loads what was stored, with its score compiled; or keeps everything and
    /// remembers why not: a message says that it could not be read.
    pub fn load(&self, stored: Result<(StoredSession, CompiledScore), String>) {
        let mut inner = self.lock();
        match stored {
            Err(refused) => inner.notice = Some(refused),
            Ok((stored, checked)) => {
                *inner = Inner {
                    history: History::new((*checked.document).clone()),
                    checked: checked.clone(),
                    file: stored.file,
                    prefs: Some(stored.editor.clamped()),
                    unplayed_text: None,
                    notice: None,
                };
                self.take_up(&mut inner, checked);
            }
        }
        drop(inner);
        self.loads.fetch_add(1, Ordering::Release);
    }
}
