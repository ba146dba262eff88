//! A plan's file, read and written.

use super::{Plan, PlanError};
use barform_score::music::{Beats, Span};
use barform_score::score::{MAX_FILE_BYTES, nearest_word};
use serde::{Deserialize, Serialize};
use toml_edit::Document;

/// Shortest time between two clicks, in beats.
const SHORTEST_CLICK: (i64, i64) = (1, 64);

#[derive(Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
struct File {
    barform: i64,
    #[serde(default)]
    practice: Plan,
}

impl Plan {
    /// Reads a plan's file; `file_name` is for messages only.
    ///
    /// # Errors
    /// The first thing that is wrong, with its place.
    pub fn parse(text: &str, file_name: &str) -> Result<Plan, PlanError> {
        let at = |byte, problem| PlanError::at(text, file_name, byte, problem);
        if text.len() > MAX_FILE_BYTES {
            let bytes = text.len();
            return Err(at(
                0,
                format!("a plan of {bytes} bytes; at most {MAX_FILE_BYTES} are read"),
            ));
        }
        let start = |span: Option<std::ops::Range<usize>>| span.map_or(0, |s| s.start);
        let one_line = |m: &str| m.split_whitespace().collect::<Vec<_>>().join(" ");
        let toml = Document::parse(text).map_err(|e| {
            at(
                start(e.span()),
                format!("not TOML: {}", one_line(e.message())),
            )
        })?;
        match toml.get("barform").map(toml_edit::Item::as_integer) {
            Some(Some(1)) => {}
            None => {
                let problem = "the plan has no version; write barform = 1 at the top";
                return Err(at(0, problem.to_owned()));
            }
            Some(_) => {
                let place = start(toml.get("barform").and_then(toml_edit::Item::span));
                let problem = "a plan of another version; this Barform reads barform = 1";
                return Err(at(place, problem.to_owned()));
            }
        }
        let file: File = toml_edit::de::from_str(text)
            .map_err(|e| at(start(e.span()), told(&one_line(e.message()))))?;
        let plan = file.practice;
        plan.check().map_err(|(path, problem)| {
            let place = place_of(toml.as_table(), &path);
            at(place, problem)
        })?;
        Ok(plan)
    }

    /// The plan as a file that [`Plan::parse`] reads back.
    pub fn to_toml(&self) -> String {
        let file = File {
            barform: 1,
            practice: self.clone(),
        };
        // A plan has no value that TOML cannot hold.
        toml_edit::ser::to_string_pretty(&file).unwrap_or_default()
    }

    /// Numbers out of their range, by the path of their keys.
    pub fn check(&self) -> Result<(), (Vec<&'static str>, String)> {
        let within = |path: &[&'static str], what: &str, read: u64, least: u64, most: u64| {
            if (least..=most).contains(&read) {
                return Ok(());
            }
            let problem = format!("{what} is {read}; allowed is {least} to {most}");
            Err(([&["practice"], path].concat(), problem))
        };
        let n = |byte: u8| u64::from(byte);
        within(
            &["count-in", "bars"],
            "a count-in",
            n(self.count_in.bars),
            0,
            16,
        )?;
        for (name, sound) in [
            ("bar", self.click.bar),
            ("beat", self.click.beat),
            ("between", self.click.between),
        ] {
            for (key, value) in [("level", sound.level), ("key", sound.key)] {
                within(&["click", name, key], key, n(value.unwrap_or(0)), 0, 127)?;
            }
        }
        let fine = [
            (["click", "on"], &self.click.on),
            (["count-in", "last"], &self.count_in.last),
        ];
        for (path, subdivision) in fine {
            let spans = subdivision.iter().flat_map(|s| s.0.0.spans());
            let short = |span: &Span| {
                span.slot_length()
                    .is_ok_and(|l| l >= Beats::new(SHORTEST_CLICK.0, SHORTEST_CLICK.1))
            };
            if !spans.into_iter().all(short) {
                let problem = "clicks less than a 64th of a beat apart".to_owned();
                return Err(([&["practice"], &path[..]].concat(), problem));
            }
        }
        let channel = n(self.click.channel.unwrap_or(1));
        within(&["click", "channel"], "a channel", channel, 1, 16)?;
        if let Some(layers) = &self.layers {
            within(&["layers", "every"], "every", layers.every.into(), 1, 9_999)?;
            within(
                &["layers", "order"],
                "the number of layers",
                layers.order.len() as u64,
                1,
                50,
            )?;
        }
        if !self.join.beats.0.is_positive() {
            let problem = "the beats of a join are not above zero".to_owned();
            return Err((vec!["practice", "join", "beats"], problem));
        }
        let drawn = &self.drawn;
        within(&["drawn", "bars"], "bars", n(drawn.bars), 1, 64)?;
        within(&["drawn", "forms"], "forms", drawn.forms.into(), 1, 999)?;
        within(
            &["drawn", "in-a-row"],
            "in-a-row",
            n(drawn.in_a_row),
            1,
            255,
        )
    }
}

/// Where the value of a path stands, or the part of the path that is there.
fn place_of(top: &toml_edit::Table, path: &[&str]) -> usize {
    let mut table: &dyn toml_edit::TableLike = top;
    let mut place = 0;
    for key in path {
        let Some((name, item)) = table.get_key_value(key) else {
            break;
        };
        let span = item.as_value().and_then(toml_edit::Value::span);
        place = span.or(name.span()).map_or(place, |s| s.start);
        match item.as_table_like() {
            Some(inner) => table = inner,
            None => break,
        }
    }
    place
}

/// What the reader says of an unknown key, in the words of a score's errors.
fn told(message: &str) -> String {
    let ticked: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    match (message.strip_prefix("unknown field "), &ticked[..]) {
        (Some(_), [read, known @ ..]) => {
            let mend = nearest_word(read, known.iter().copied());
            let mend = mend.map_or(String::new(), |m| format!("; did you mean '{m}'?"));
            format!(
                "unknown key '{read}'; allowed are {}{mend}",
                known.join(" ")
            )
        }
        _ => message.to_owned(),
    }
}
