//! The session of one instance, and what a host stores of it.
//!
//! What is open is [`barform_app::session::Session`]; here it gets the ends that
//! lead to the audio thread, and the framework's stored field.

use std::ops::Deref;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use barform_app::session::{self, damaged};
pub use barform_app::session::{
    CompiledScore, EditorPrefs, MIN_SIZE, Problem, SCALE_RANGE, StoredSession, Theme, VERSION,
    check, read_document,
};
use nice_plug::params::persist::PersistentField;
use nice_plug::plugin::ParamValue;
use nice_plug::prelude::{ParamPtr, Params, PluginState};
use serde::{Deserialize, Serialize};

use crate::audition::Audition;
use crate::handover::{self, Live, Receiver, RepaintNotifier, Sender};
use crate::params::{BarformParams, choices};

/// Key of the document among the host's stored fields.
const FIELD: &str = "session";

/// The score that [`filter`] let pass last: it is loaded next, and need not be
/// compiled again.
static FILTERED: Mutex<Option<CompiledScore>> = Mutex::new(None);

fn filtered() -> MutexGuard<'static, Option<CompiledScore>> {
    FILTERED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What passes through the framework's stored field.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Stored {
    /// A document; the only form that is ever saved.
    Document(StoredSession),
    /// The message of a refusal, put there by [`filter`].
    Refused {
        /// What to tell the user.
        refused: String,
    },
}

/// The session of one instance, shared by host, editor and audio thread.
#[derive(Debug)]
pub struct Session {
    open: session::Session,
    sender: Arc<Sender>,
    receiver: Mutex<Option<Receiver>>,
    /// What the audio thread tells the editor.
    pub live: Arc<Live>,
    /// Hearing something by itself.
    pub audition: Audition,
    /// Asks the open window for a picture; any thread may.
    pub window: RepaintNotifier,
}

impl Default for Session {
    /// The embedded score.
    fn default() -> Self {
        let (sender, receiver) = handover::pair();
        let sender = Arc::new(sender);
        let player = sender.clone();
        let window = RepaintNotifier::new();
        Session {
            open: session::Session::new(move |timeline| player.send(timeline)),
            sender,
            receiver: Mutex::new(Some(receiver)),
            live: Arc::new(Live::new(window.clone())),
            audition: Audition::new(window.clone()),
            window,
        }
    }
}

impl Deref for Session {
    type Target = session::Session;

    fn deref(&self) -> &session::Session {
        &self.open
    }
}

impl Session {
    /// The audio thread's end of the hand-over, once.
    pub fn take_receiver(&self) -> Option<Receiver> {
        self.receiver
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take()
    }

    /// Frees timelines that the audio thread has let go of.
    pub fn prune(&self) {
        self.sender.prune();
        self.audition.prune();
    }

    /// Loads what a host has stored, or keeps everything and remembers why not.
    pub fn load(&self, stored: Stored) {
        self.open.load(match stored {
            Stored::Document(document) => {
                let known = filtered().take_if(|score| score.text() == document.score);
                let compiled = known.map_or_else(|| document.compiled(), Ok);
                compiled.map(|compiled| (document, compiled))
            }
            Stored::Refused { refused } => Err(refused),
        });
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

/// Looks at stored state before any of it is used. State that cannot be loaded
/// whole is emptied, parameters included, and the reason put in its place.
pub fn filter(state: &mut PluginState) {
    let document = match state.fields.get(FIELD) {
        Some(json) => read_document(json),
        None => Err(damaged("it has no score")),
    };
    let document = document.and_then(|document| {
        let compiled = document.compiled()?;
        check_params(state)?;
        *filtered() = Some(compiled);
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
            return Err(damaged(format_args!(
                "parameter '{id}' has a value it cannot take"
            )));
        }
    }
    Ok(())
}
