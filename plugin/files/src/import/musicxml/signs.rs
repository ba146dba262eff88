//! What stands above the staff and at bar lines: marks, tempo, repeats.

use super::brief;
use super::music::{MarkAt, MarkKind};
use super::note::text;
use super::part::{Gathered, Walk, decimal};
use super::parts::{child, elements};
use crate::export::musicxml::TYPES;
use crate::import::{ImportError, RemarkKind};
use barform_score::music::Beats;
use roxmltree::Node;

impl Walk<'_> {
    /// A direction: letters, names, tempo.
    pub(super) fn direction(&mut self, node: Node, g: &mut Gathered) -> Result<(), ImportError> {
        let mut at = g.at;
        if let Some(offset) = child(node, "offset") {
            let offset = decimal(text(offset)).unwrap_or(Beats::ZERO);
            at = at.checked_add(offset.checked_div(Beats::whole(self.divisions))?)?;
        }
        let at = at.max(Beats::ZERO);
        for sign in elements(node)
            .filter(|n| n.has_tag_name("direction-type"))
            .flat_map(elements)
        {
            let words = || brief_name(sign.text().unwrap_or(""));
            match sign.tag_name().name() {
                "rehearsal" => g.bar.marks.push(MarkAt {
                    at,
                    kind: MarkKind::Rehearsal,
                    text: words(),
                }),
                "words" if sign.attribute("font-weight") == Some("bold") => {
                    g.bar.marks.push(MarkAt {
                        at,
                        kind: MarkKind::Words,
                        text: words(),
                    });
                }
                // In our own documents what is special about a place, which its
                // strokes show.
                "words" if sign.attribute("font-style") == Some("italic") => {}
                "words" => {
                    let what = format!("the words '{}' were passed over", brief(&words()));
                    self.say(RemarkKind::NotUnderstood, what);
                }
                "metronome" => self.metronome(sign),
                "dynamics" | "wedge" => {
                    self.say(RemarkKind::NotKept, "dynamics are not kept");
                }
                other => {
                    let what = format!("'{}' was passed over", brief(other));
                    self.say(RemarkKind::NotUnderstood, what);
                }
            }
        }
        if let Some(sound) = child(node, "sound") {
            self.sound(sound);
        }
        Ok(())
    }

    /// Quarter notes a minute of a metronome mark such as ♩. = 60.
    fn metronome(&mut self, node: Node) {
        let unit = child(node, "beat-unit").map(text);
        let halvings = unit.and_then(|u| TYPES.iter().position(|t| *t == u));
        let dots = elements(node)
            .filter(|n| n.has_tag_name("beat-unit-dot"))
            .count();
        let minute = child(node, "per-minute").and_then(|n| decimal(text(n)));
        let tempo = halvings.zip(minute).and_then(|(halvings, minute)| {
            let unit = Beats::new(4, 1 << halvings);
            let dotted = [unit, unit.checked_mul(Beats::new(3, 2)).ok()?];
            dotted.get(dots)?.checked_mul(minute).ok()
        });
        match tempo {
            Some(tempo) => self.tempo(tempo),
            None => self.say(
                RemarkKind::NotUnderstood,
                "a metronome mark was passed over",
            ),
        }
    }

    /// What a direction or a bar sounds like: its tempo.
    pub(super) fn sound(&mut self, node: Node) {
        if let Some(tempo) = node.attribute("tempo").and_then(decimal) {
            self.tempo(tempo);
        }
        for jump in ["dacapo", "dalsegno", "tocoda", "fine", "coda", "segno"] {
            if node.attribute(jump).is_some() {
                let what = format!("'{jump}' was not followed: bars are played as they stand");
                self.say(RemarkKind::NotKept, what);
            }
        }
    }

    fn tempo(&mut self, tempo: Beats) {
        match self.tempo {
            None => self.tempo = Some(tempo),
            Some(known) if known == tempo => {}
            Some(_) => self.say(RemarkKind::NotKept, "a change of tempo is not kept"),
        }
    }

    /// A bar line: repeats and endings.
    pub(super) fn barline(&mut self, node: Node, g: &mut Gathered) {
        for sign in elements(node) {
            match (sign.tag_name().name(), sign.attribute("direction")) {
                ("repeat", Some("forward")) => g.bar.repeat_from = true,
                ("repeat", Some("backward")) => {
                    let times = sign.attribute("times").and_then(|t| t.parse().ok());
                    let most = barform_score::score::MAX_REPEATS;
                    g.bar.repeat_to = Some(times.unwrap_or(2).clamp(1, most));
                }
                ("ending", _) => match sign.attribute("type") {
                    Some("start") => {
                        let numbers = sign.attribute("number").unwrap_or("");
                        let passes = numbers.split([',', ' ']).filter_map(|n| n.parse().ok());
                        self.passes = passes.take(64).collect();
                    }
                    _ => g.ending_stops = true,
                },
                ("fermata" | "coda" | "segno" | "wavy-line", _) => {
                    let what = format!("'{}' was passed over", sign.tag_name().name());
                    self.say(RemarkKind::NotUnderstood, what);
                }
                _ => {}
            }
        }
    }
}

/// Text of a mark as a name may be: one line, not too long.
fn brief_name(text: &str) -> String {
    let plain = |c: char| if c.is_control() { ' ' } else { c };
    let line = text.chars().take(barform_score::score::MAX_NAME_CHARS);
    line.map(plain).collect()
}
