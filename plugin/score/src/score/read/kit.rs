//! Reads `[kit]`: the order round the kit, keys, channels, velocities.

use super::super::error::{Mend, ScoreErrorKind as Kind, Spot, brief};
use super::source::{FileFault, words};
use super::{Read, Reader, TableRef, did_you_mean, list};
use crate::music::{Articulation, Channel, Key, Kit, Velocity, VelocityCurve, Voice};
use std::ops::Range;
use toml_edit::Item;

/// What silences an articulation's own key, so that the plain one plays.
pub(in crate::score) const NO_KEY: &str = "none";

impl Reader<'_> {
    pub(super) fn kit(&mut self, item: &Item, head: Range<usize>, kit: &mut Kit) -> Read<()> {
        let Some(table) = item.as_table_like() else {
            let kind = Kind::WrongType {
                key: "'kit'".into(),
                read: format!("of type {}", item.type_name()),
                allowed: "a table [kit] with tables [kit.VOICE]".into(),
            };
            return Err(FileFault::new(head, kind));
        };
        let within = TableRef {
            table,
            name: "the kit",
        };
        let names: Vec<&str> = ["order"]
            .into_iter()
            .chain(every_voice().map(Voice::name))
            .collect();
        for (name, item) in table.iter() {
            if name == "order" {
                kit.order = self.order(within)?;
                continue;
            }
            let voice =
                Voice::from_name(name).ok_or_else(|| self.unknown_key(within, name, &names))?;
            let span = self.key_span(within, name);
            self.spans
                .0
                .insert(Spot::KitVoice(voice), (span, Vec::new()));
            let label = format!("kit.{name}");
            let Some(table) = item.as_table_like() else {
                return Err(self.wrong_type(within, name, item, "a table such as [kit.snare]"));
            };
            self.kit_voice(
                TableRef {
                    table,
                    name: &label,
                },
                voice,
                kit,
            )?;
        }
        Ok(())
    }

    fn order(&mut self, within: TableRef) -> Read<Vec<Voice>> {
        let Some(text) = self.string(within, "order", Spot::KitOrder)? else {
            return Ok(Vec::new());
        };
        let mut order = Vec::new();
        let mut parts = Vec::new();
        for (range, word) in words(text.text) {
            let span = text.span_of(range);
            let Some(voice) = Voice::from_name(word).filter(|v| *v != Voice::Click) else {
                let names = || Voice::ALL.into_iter().map(Voice::name);
                let kind = Kind::Unknown {
                    what: "voice",
                    read: brief(word),
                    known: list(names()),
                    mend: did_you_mean(word, names()),
                };
                return Err(FileFault::new(span, kind));
            };
            if order.contains(&voice) {
                let kind = Kind::Twice {
                    what: "place in the kit's order",
                    name: word.into(),
                };
                return Err(FileFault::new(span, kind));
            }
            order.push(voice);
            parts.push(span);
        }
        self.spans
            .0
            .insert(Spot::KitOrder, (text.span.clone(), parts));
        Ok(order)
    }

    fn kit_voice(&self, within: TableRef, voice: Voice, kit: &mut Kit) -> Read<()> {
        let ways = voice.articulations();
        let known: Vec<&str> = ["key"]
            .into_iter()
            .chain(ways.iter().map(|a| a.name()).filter(|n| !n.is_empty()))
            .chain(["channel", "velocity"])
            .collect();
        self.known_keys(within, &known)?;
        for way in ways {
            let plain = *way == Articulation::Plain;
            let name = if plain { "key" } else { way.name() };
            let Some(item) = within.table.get(name) else {
                continue;
            };
            let slot = &mut kit.voice_mut(voice).keys[way.index()];
            if !plain && item.as_str() == Some(NO_KEY) {
                *slot = None;
                continue;
            }
            *slot = Some(self.midi(within, name, item, "0 to 127", Key::new)?);
        }
        if let Some(item) = within.table.get("channel") {
            kit.voice_mut(voice).channel =
                self.midi(within, "channel", item, "1 to 16", Channel::new)?;
        }
        if let Some(item) = within.table.get("velocity") {
            kit.voice_mut(voice).curve = self.velocity(within, item)?;
        }
        Ok(())
    }

    /// A whole number in a MIDI range.
    fn midi<T>(
        &self,
        within: TableRef,
        name: &str,
        item: &Item,
        range: &str,
        make: impl Fn(u8) -> Option<T>,
    ) -> Read<T> {
        let Some(number) = item.as_integer() else {
            let or = if name == "key" || name == "channel" {
                ""
            } else {
                ", or \"none\""
            };
            let allowed = format!("a whole number {range}{or}");
            return Err(self.wrong_type(within, name, item, &allowed));
        };
        u8::try_from(number).ok().and_then(make).ok_or_else(|| {
            let kind = Kind::OutOfRange {
                what: format!("{name} of {}", within.name),
                read: number.to_string(),
                allowed: range.to_owned(),
            };
            FileFault::new(self.item_span(within, name, item), kind)
        })
    }

    fn velocity(&self, within: TableRef, item: &Item) -> Read<VelocityCurve> {
        let allowed = "three whole numbers 1 to 127: [ghost, normal, accent]";
        let wrong = || self.wrong_type(within, "velocity", item, allowed);
        let array = item.as_array().ok_or_else(wrong)?;
        let mut three = Vec::with_capacity(3);
        for value in array.iter().take(4) {
            let number = value.as_integer().ok_or_else(wrong)?;
            let velocity = u8::try_from(number)
                .ok()
                .and_then(Velocity::new)
                .ok_or_else(|| {
                    let kind = Kind::OutOfRange {
                        what: format!("velocity of {}", within.name),
                        read: number.to_string(),
                        allowed: "1 to 127".into(),
                    };
                    FileFault::new(value.span().unwrap_or_default(), kind)
                })?;
            three.push(velocity);
        }
        let [ghost, normal, accent] = three[..] else {
            let kind = Kind::Unreadable {
                what: "velocity curve",
                read: format!("{} numbers", array.len()),
                allowed: allowed.into(),
                mend: Mend::default(),
            };
            return Err(FileFault::new(
                self.item_span(within, "velocity", item),
                kind,
            ));
        };
        Ok(VelocityCurve {
            ghost,
            normal,
            accent,
        })
    }
}

/// Every voice of a kit, the click last.
pub(in crate::score) fn every_voice() -> impl Iterator<Item = Voice> {
    Voice::ALL.into_iter().chain([Voice::Click])
}
