//! One `note` element, as it stands.

use super::brief;
use barform_score::music::{Beats, Hand, Limb};
use barform_sheet::Head;
use roxmltree::Node;

/// What a note element says.
#[derive(Debug, Clone, Default)]
pub(super) struct RawNote {
    /// Beats from the start of the bar.
    pub at: Time,
    /// Length in beats.
    pub length: Time,
    /// Text of its `voice`.
    pub voice: String,
    pub grace: bool,
    pub chord: bool,
    pub cue: bool,
    pub rest: bool,
    /// Written with a pitch.
    pub pitched: bool,
    /// Display step and octave.
    pub place: Option<(char, i8)>,
    pub instrument: Option<String>,
    pub head: Option<Head>,
    /// A head that is none of ours.
    pub unknown_head: Option<String>,
    pub parentheses: bool,
    /// The end of a tie: sounds on.
    pub tied: bool,
    pub accent: bool,
    pub buzz: Option<Tremolo>,
    pub technical: Option<Technical>,
    /// A limb as fingering.
    pub limb: Option<Limb>,
    /// A grace note's hand as fingering.
    pub hand: Option<Hand>,
    /// Numbers of slurs that start and that end here.
    pub slurs_from: Vec<String>,
    pub slurs_to: Vec<String>,
    /// Tuplets that start here, by number, with their notes (0 if not said).
    pub tuplets_from: Vec<(String, u32)>,
    /// Tuplets that end here.
    pub tuplets_to: Vec<String>,
    /// Lyrics but for counts of our own.
    pub lyrics: Vec<String>,
    /// What was not understood.
    pub unknown: Vec<String>,
}

/// [`Beats`] with zero as its default.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Time(pub Beats);

impl Default for Time {
    fn default() -> Self {
        Time(Beats::ZERO)
    }
}

/// How a tremolo is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tremolo {
    /// A buzz.
    Unmeasured,
    /// So many beams.
    Measured(u8),
}

/// Signs that say how a voice is struck.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Technical {
    Open,
    HalfOpen,
    Closed,
    Choke,
}

/// Text of an element, without the space around it.
pub(super) fn text<'a>(node: Node<'a, '_>) -> &'a str {
    node.text().unwrap_or("").trim()
}

fn elements<'a, 'i>(node: Node<'a, 'i>) -> impl Iterator<Item = Node<'a, 'i>> {
    node.children().filter(|n| n.is_element())
}

fn child_text<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    elements(node).find(|n| n.has_tag_name(name)).map(text)
}

impl RawNote {
    /// Reads a note; its time and length are the caller's.
    pub fn read(node: Node) -> RawNote {
        let mut note = RawNote::default();
        for child in elements(node) {
            match child.tag_name().name() {
                "grace" => note.grace = true,
                "chord" => note.chord = true,
                "cue" => note.cue = true,
                "rest" => note.rest = true,
                "unpitched" => note.place = place(child, "display-step", "display-octave"),
                "pitch" => {
                    note.pitched = true;
                    note.place = place(child, "step", "octave");
                }
                "instrument" => note.instrument = child.attribute("id").map(str::to_owned),
                "voice" => text(child).clone_into(&mut note.voice),
                "notehead" => note.notehead(child),
                "tie" => note.tied |= child.attribute("type") == Some("stop"),
                "time-modification" => {}
                "notations" => {
                    for sign in elements(child) {
                        note.notation(sign);
                    }
                }
                "lyric" if child.attribute("name") != Some("count") => {
                    let words = elements(child).filter(|n| n.has_tag_name("text"));
                    note.lyrics.extend(words.map(|n| text(n).to_owned()));
                }
                // Layout, and what the onset and the voice say already.
                "duration" | "type" | "dot" | "stem" | "staff" | "beam" | "accidental"
                | "lyric" | "notehead-text" | "footnote" | "level" => {}
                other => note.unknown.push(format!("'{}'", brief(other))),
            }
        }
        note
    }

    fn notehead(&mut self, node: Node) {
        self.parentheses = node.attribute("parentheses") == Some("yes");
        self.head = match text(node) {
            "normal" => Some(Head::Oval),
            "x" | "cross" => Some(Head::Cross),
            "circle-x" => Some(Head::CircledCross),
            "diamond" => Some(Head::Diamond),
            "triangle" | "inverted triangle" => Some(Head::Triangle),
            other => {
                self.unknown_head = Some(brief(other));
                None
            }
        };
    }

    fn notation(&mut self, sign: Node) {
        let number = || sign.attribute("number").unwrap_or("1").to_owned();
        let kind = sign.attribute("type");
        match (sign.tag_name().name(), kind) {
            ("tuplet", Some("start")) => {
                let actual = elements(sign)
                    .find(|n| n.has_tag_name("tuplet-actual"))
                    .and_then(|n| child_text(n, "tuplet-number"))
                    .and_then(|t| t.parse().ok());
                self.tuplets_from.push((number(), actual.unwrap_or(0)));
            }
            ("tuplet", Some("stop")) => self.tuplets_to.push(number()),
            ("slur", Some("start")) => self.slurs_from.push(number()),
            ("slur", Some("stop")) => self.slurs_to.push(number()),
            ("tied" | "slur", _) => {}
            ("articulations", _) => {
                for sign in elements(sign) {
                    match sign.tag_name().name() {
                        "accent" | "strong-accent" => self.accent = true,
                        other => self
                            .unknown
                            .push(format!("articulation '{}'", brief(other))),
                    }
                }
            }
            ("technical", _) => elements(sign).for_each(|sign| self.technical(sign)),
            ("ornaments", _) => {
                for sign in elements(sign) {
                    match (sign.tag_name().name(), sign.attribute("type")) {
                        ("tremolo", Some("unmeasured")) => self.buzz = Some(Tremolo::Unmeasured),
                        ("tremolo", None | Some("single")) => {
                            let beams = text(sign).parse().unwrap_or(0);
                            self.buzz = Some(Tremolo::Measured(beams));
                        }
                        (other, _) => self.unknown.push(format!("ornament '{}'", brief(other))),
                    }
                }
            }
            (other, _) => self.unknown.push(format!("notation '{}'", brief(other))),
        }
    }

    fn technical(&mut self, sign: Node) {
        match (sign.tag_name().name(), text(sign)) {
            ("fingering", finger) => {
                let mut letters = finger.chars();
                match (letters.next(), letters.next()) {
                    (Some(letter), None) if Limb::from_letter(letter).is_some() => {
                        self.limb = Limb::from_letter(letter);
                        self.hand = self.limb.and_then(Limb::hand);
                    }
                    (Some('r'), None) => self.hand = Some(Hand::Right),
                    (Some('l'), None) => self.hand = Some(Hand::Left),
                    _ => self.unknown.push(format!("fingering '{}'", brief(finger))),
                }
            }
            ("open", _) => self.technical = Some(Technical::Open),
            ("half-muted", _) => self.technical = Some(Technical::HalfOpen),
            ("stopped", _) => self.technical = Some(Technical::Closed),
            ("other-technical", "choke") => self.technical = Some(Technical::Choke),
            (other, _) => self
                .unknown
                .push(format!("technical sign '{}'", brief(other))),
        }
    }
}

fn place(node: Node, step: &str, octave: &str) -> Option<(char, i8)> {
    let step = child_text(node, step)?.chars().next()?;
    Some((step, child_text(node, octave)?.parse().ok()?))
}
