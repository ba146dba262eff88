//! What a session stores, looked into from outside.
//!
//! CLAP state is the document's length as eight bytes, little end first, and
//! the document; VST3 state is the document alone.

use anyhow::{Context, Result, bail};
use serde_json::Value;

use crate::host::Format;

/// A stored session.
#[derive(Debug, Clone, PartialEq)]
pub struct Stored {
    /// The framework's document: version, parameters, fields.
    pub outer: Value,
    /// The field that is the product's own document.
    pub session: Value,
}

/// Key of the product's document among the stored fields.
const FIELD: &str = "session";

impl Stored {
    /// Takes stored state apart.
    ///
    /// # Errors
    /// If it is not such state.
    pub fn read(format: Format, state: &[u8]) -> Result<Stored> {
        let json = match format {
            Format::Vst3 => state,
            Format::Clap => {
                let (length, json) = state.split_first_chunk::<8>().context("too short")?;
                if u64::from_le_bytes(*length) != json.len() as u64 {
                    bail!("the length in front is wrong");
                }
                json
            }
        };
        let outer: Value = serde_json::from_slice(json)?;
        let session = outer["fields"][FIELD].as_str().context("no document")?;
        let session = serde_json::from_str(session)?;
        Ok(Stored { outer, session })
    }

    /// Puts it together again.
    pub fn write(&self, format: Format) -> Vec<u8> {
        let mut outer = self.outer.clone();
        outer["fields"][FIELD] = Value::String(self.session.to_string());
        frame(format, outer.to_string().as_bytes())
    }

    /// The text of the score.
    ///
    /// # Errors
    /// If there is none.
    pub fn score(&self) -> Result<&str> {
        self.session["score"].as_str().context("no score")
    }

    /// The same session with another score.
    pub fn with_score(&self, text: &str) -> Stored {
        let mut new = self.clone();
        new.session["score"] = text.into();
        new
    }

    /// The same session with a parameter at another value, by its stored id.
    pub fn with_param(&self, id: &str, value: Value) -> Stored {
        let mut new = self.clone();
        let tag = match &value {
            Value::Bool(_) => "bool",
            Value::String(_) => "string",
            Value::Number(n) if n.is_f64() => "f32",
            _ => "i32",
        };
        new.outer["params"][id] = serde_json::json!({ tag: value });
        new
    }
}

/// A document as the format stores it.
pub fn frame(format: Format, json: &[u8]) -> Vec<u8> {
    let mut state = Vec::new();
    if format == Format::Clap {
        state.extend((json.len() as u64).to_le_bytes());
    }
    state.extend(json);
    state
}
