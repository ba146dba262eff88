//! The score text while somebody types it.
//!
//! It is checked on a thread of its own when typing pauses, and played as soon as
//! it is valid. Text that is not valid stays here with its problem; what plays
//! goes on playing.

use std::time::Duration;

use super::{CompiledScore, Problem, Session, check};
use crate::background::Job;
use crate::score::edit::{Group, Merge};

/// Seconds without a keystroke before the text is checked.
const PAUSE_S: f64 = 0.15;

/// Text in the editor and what is known of it.
#[derive(Debug)]
pub struct TypedText {
    /// The text.
    pub text: String,
    /// What is wrong with it, as far as known.
    pub problem: Option<Problem>,
    checker: Job<Result<CompiledScore, Problem>>,
    /// What the checker was given.
    given: String,
    /// When the text last changed, if that change is not checked yet.
    changed_at: Option<f64>,
    /// What undo calls the step; `None` while it is typed.
    label: Option<String>,
    loads: u64,
}

/// How the text stands to what plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It is what plays.
    Plays,
    /// It is being looked at.
    Checking,
    /// It has a problem; what played before plays on.
    Refused,
}

impl TypedText {
    /// The session's text: what plays, or what was being typed when the window
    /// was last closed.
    pub fn new(session: &Session) -> TypedText {
        let mut typed = TypedText {
            text: String::new(),
            problem: None,
            checker: Job::default(),
            given: String::new(),
            changed_at: None,
            label: None,
            loads: session.loads(),
        };
        typed.take_session(session);
        typed
    }

    fn take_session(&mut self, session: &Session) {
        let kept = session.unplayed_text();
        self.changed_at = kept.is_some().then_some(f64::NEG_INFINITY);
        self.text = kept.unwrap_or_else(|| session.checked().text().to_owned());
        self.problem = None;
    }

    /// The text was typed at, `now` in seconds.
    pub fn edited(&mut self, now_s: f64) {
        self.changed_at = Some(now_s);
        self.label = None;
    }

    /// Replaces the text, to be checked at once; undo calls it `label`.
    pub fn replace(&mut self, text: String, label: &str) {
        self.text = text;
        self.changed_at = Some(f64::NEG_INFINITY);
        self.label = Some(label.to_owned());
    }

    /// Shows what plays: it was changed elsewhere, or the text is given up.
    pub fn follow(&mut self, session: &Session) {
        session.checked().text().clone_into(&mut self.text);
        self.changed_at = None;
        self.problem = None;
        session.set_unplayed_text(None);
    }

    /// Checks at once what waits to be checked. Whether the text is then what
    /// plays, so that it may be changed elsewhere.
    pub fn settle(&mut self, session: &Session, now_s: f64) -> bool {
        if self.text == session.checked().text() {
            self.changed_at = None;
            self.problem = None;
            return true;
        }
        self.changed_at = None;
        self.given.clone_from(&self.text);
        let file = session.file().unwrap_or_else(|| "score".to_owned());
        let outcome = check(&self.text, &file);
        self.take(outcome, session, now_s).is_some()
    }

    /// How the text stands.
    pub fn standing(&self) -> Standing {
        if self.changed_at.is_some() || self.checker.is_busy() {
            Standing::Checking
        } else if self.problem.is_some() {
            Standing::Refused
        } else {
            Standing::Plays
        }
    }

    /// Seconds until there is something to do, if there is.
    pub fn due_in(&self, now_s: f64) -> Option<f64> {
        let changed_at = self.changed_at.filter(|_| !self.checker.is_busy())?;
        Some((changed_at + PAUSE_S - now_s).max(0.0))
    }

    /// Moves things on: starts a check when typing pauses, takes its outcome,
    /// notices a session loaded by the host. Returns a score that has just been
    /// accepted and handed to the audio thread.
    pub fn tick(
        &mut self,
        session: &Session,
        now_s: f64,
        wake: impl FnOnce() + Send + 'static,
    ) -> Option<CompiledScore> {
        if self.loads != session.loads() {
            self.loads = session.loads();
            self.take_session(session);
        }
        let accepted = self.take_outcome(session, now_s);
        if self.due_in(now_s) == Some(0.0) {
            self.changed_at = None;
            if self.text == session.checked().text() {
                // Typed back to what plays.
                self.problem = None;
                session.set_unplayed_text(None);
            } else {
                self.given.clone_from(&self.text);
                let file = session.file().unwrap_or_else(|| "score".to_owned());
                let text = self.text.clone();
                // Without a thread it stays unchecked until the next keystroke.
                let _ = self
                    .checker
                    .start("score check", move || check(&text, &file), wake);
            }
        }
        accepted
    }

    fn take_outcome(&mut self, session: &Session, now_s: f64) -> Option<CompiledScore> {
        let outcome = self.checker.poll()?.ok()?;
        if self.given != self.text {
            // Typed on meanwhile; a newer check is due.
            return None;
        }
        self.take(outcome, session, now_s)
    }

    fn take(
        &mut self,
        outcome: Result<CompiledScore, Problem>,
        session: &Session,
        now_s: f64,
    ) -> Option<CompiledScore> {
        match outcome {
            Ok(checked) => {
                self.problem = None;
                let (label, group) = match self.label.take() {
                    Some(label) => (label, None),
                    None => ("Typing".to_owned(), Some(typing(now_s))),
                };
                session.accept(checked.clone(), &label, group.as_ref());
                Some(checked)
            }
            Err(problem) => {
                self.problem = Some(problem);
                session.set_unplayed_text(Some(self.text.clone()));
                None
            }
        }
    }
}

/// Keystrokes without a pause are undone together.
fn typing(now_s: f64) -> Group {
    Group {
        key: "score text".to_owned(),
        at: Duration::from_secs_f64(now_s.max(0.0)),
        merge: Merge::Follow,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lets time pass until nothing is being checked.
    fn settle(typed: &mut TypedText, session: &Session) -> Option<CompiledScore> {
        let mut now = 0.0;
        let mut accepted = None;
        loop {
            accepted = typed.tick(session, now, || ()).or(accepted);
            if typed.standing() != Standing::Checking {
                return accepted;
            }
            now += 1.0;
            std::thread::sleep(std::time::Duration::from_millis(1));
        }
    }

    #[test]
    fn a_valid_edit_plays_and_an_invalid_one_does_not() {
        let session = Session::default();
        let before = session.checked();
        let mut typed = TypedText::new(&session);
        assert_eq!(typed.standing(), Standing::Plays);

        typed.replace(before.text().to_owned() + "\nnonsense", "Test");
        assert!(settle(&mut typed, &session).is_none());
        assert_eq!(typed.standing(), Standing::Refused);
        assert!(typed.problem.is_some());
        assert_eq!(session.checked().text(), before.text());

        let better = before.text().to_owned() + "\n# a remark\n";
        typed.replace(better.clone(), "Test");
        assert!(settle(&mut typed, &session).is_some());
        assert_eq!(typed.standing(), Standing::Plays);
        assert_eq!(session.checked().text(), better);
    }

    #[test]
    fn text_that_does_not_play_is_there_again_when_the_window_opens_again() {
        let session = Session::default();
        let mut typed = TypedText::new(&session);
        typed.replace("barform = ".to_owned(), "Test");
        settle(&mut typed, &session);
        drop(typed);
        let mut again = TypedText::new(&session);
        assert_eq!(again.text, "barform = ");
        settle(&mut again, &session);
        assert_eq!(again.standing(), Standing::Refused);
    }

    #[test]
    fn typing_back_to_what_plays_clears_the_problem() {
        let session = Session::default();
        let text = session.checked().text().to_owned();
        let mut typed = TypedText::new(&session);
        typed.replace("x".to_owned(), "Test");
        settle(&mut typed, &session);
        typed.replace(text, "Test");
        settle(&mut typed, &session);
        assert_eq!(typed.standing(), Standing::Plays);
        assert_eq!(session.unplayed_text(), None);
    }
}
