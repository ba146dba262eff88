//! The host's note output over one block.
//!
//! Gives one line of notes in order of their sample; at the same sample what
//! came in goes first. Form and audition may strike the same key: the note that
//! sounds then ends before the next one starts, and its own end, when that
//! comes, is left out, so that each note-on gets exactly one note-off. A note's
//! end that the host has no room for is owed and goes out first in the next
//! block.

use std::marker::PhantomData;

use barform_app::player::{Event, EventKind};
use barform_app::timeline::Note;
use nice_plug::context::process::SendEventError;
use nice_plug::midi::{Channel, Key, VoiceID};
use nice_plug::prelude::*;

use super::kit::Kit;
use crate::Barform;

/// Room for the notes that come in during one block: what the framework itself
/// keeps room for. More than that lose their order, not their being.
const THROUGH_CAPACITY: usize = Barform::INPUT_EVENT_CAPACITY;

/// Room for what is played by itself during one block. With more than that the
/// form's notes come after it, out of their order, but none is lost.
const ASIDE_CAPACITY: usize = 2_048;

/// Room for ends of notes that a full host buffer turned away: of all keys that
/// can sound here, and of all that can come in during one block.
const OWED_CAPACITY: usize = 16 * 128 + THROUGH_CAPACITY;

/// Who has a note sounding.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Source {
    /// The form.
    Form,
    /// What is played by itself, and single strokes.
    Aside,
}

/// What waits to go out, and who sounds which key.
pub(super) struct Waiting {
    through: Vec<NoteEvent<()>>,
    /// What is played by itself.
    aside: Vec<Event>,
    owed: Vec<NoteEvent<()>>,
    /// For each channel and key.
    sounding: [[Option<Source>; 128]; 16],
}

impl Waiting {
    /// Nothing; allocates all the room there will be.
    pub fn new() -> Waiting {
        Waiting {
            through: Vec::with_capacity(THROUGH_CAPACITY),
            aside: Vec::with_capacity(ASIDE_CAPACITY),
            owed: Vec::with_capacity(OWED_CAPACITY),
            sounding: [[None; 128]; 16],
        }
    }

    /// Whether nothing waits to go out.
    pub fn is_empty(&self) -> bool {
        self.through.is_empty() && self.owed.is_empty()
    }

    /// Keeps what came in for its place in the block; where there is no room it
    /// goes out at once.
    pub fn pass<P>(&mut self, event: NoteEvent<()>, context: &mut impl ProcessContext<P>)
    where
        P: Plugin<SysExMessage = ()>,
    {
        if self.through.len() < THROUGH_CAPACITY {
            self.through.push(event);
        } else {
            self.send(event, context);
        }
    }

    /// Sends an event; says whether it went out. The end of a note that found no
    /// room is owed: nothing may hang. Anything else is the host's to mend.
    fn send<P>(&mut self, event: NoteEvent<()>, context: &mut impl ProcessContext<P>) -> bool
    where
        P: Plugin<SysExMessage = ()>,
    {
        let Err((event, error)) = context.try_send_event(event) else {
            return true;
        };
        if let (SendEventError::HostBufferFull, Some(end)) = (error, end_at_once(event))
            && self.owed.len() < OWED_CAPACITY
        {
            self.owed.push(end);
        }
        false
    }
}

/// The end of a note at a block's first sample; `None` for any other event.
fn end_at_once(mut event: NoteEvent<()>) -> Option<NoteEvent<()>> {
    match &mut event {
        NoteEvent::NoteOff { timing, .. } | NoteEvent::Choke { timing, .. } => *timing = 0,
        _ => return None,
    }
    Some(event)
}

/// The way out for one block.
pub(super) struct Out<'a, P, C> {
    context: &'a mut C,
    plugin: PhantomData<P>,
    waiting: &'a mut Waiting,
    kit: Kit<'a>,
    /// How much of what came in has gone out, and of what is played by itself.
    sent: (usize, usize),
}

impl<'a, P, C> Out<'a, P, C>
where
    P: Plugin<SysExMessage = ()>,
    C: ProcessContext<P>,
{
    /// Begins a block: what an earlier one owes goes out.
    pub fn new(context: &'a mut C, waiting: &'a mut Waiting, kit: Kit<'a>) -> Self {
        while let Some(event) = waiting.owed.last() {
            if context.try_send_event(*event).is_err() {
                break;
            }
            waiting.owed.pop();
        }
        Out {
            context,
            plugin: PhantomData,
            waiting,
            kit,
            sent: (0, 0),
        }
    }

    /// Takes what is played by itself, in order; all of it before the form's
    /// first.
    pub fn aside(&mut self, event: Event) {
        if self.waiting.aside.len() == ASIDE_CAPACITY {
            self.send_until(event.offset);
            self.waiting.aside.clear();
            self.sent.1 = 0;
        }
        self.waiting.aside.push(event);
    }

    /// Takes what the form plays, in order.
    pub fn form(&mut self, event: Event) {
        self.send_until(event.offset);
        self.send(event, Source::Form);
    }

    /// Ends the block.
    pub fn finish(mut self) {
        self.send_until(u32::MAX);
        self.kit.finish();
        self.waiting.through.clear();
        self.waiting.aside.clear();
    }

    /// All but the form's, up to `offset`, that sample included.
    fn send_until(&mut self, offset: u32) {
        loop {
            let (through, aside) = self.sent;
            let through = self.waiting.through.get(through).copied();
            let aside = self.waiting.aside.get(aside).copied();
            match (through, aside) {
                (Some(event), aside)
                    if event.timing() <= aside.map_or(offset, |a| a.offset.min(offset)) =>
                {
                    self.waiting.send(event, self.context);
                    self.sent.0 += 1;
                }
                (_, Some(event)) if event.offset <= offset => {
                    self.send(event, Source::Aside);
                    self.sent.1 += 1;
                }
                _ => return,
            }
        }
    }

    fn send(&mut self, event: Event, source: Source) {
        let (EventKind::On(note) | EventKind::Off(note)) = event.kind;
        let channel = usize::from(note.channel.index() & 15);
        let key = usize::from(note.key.number() & 127);
        let holder = self.waiting.sounding[channel][key];
        let holds = match event.kind {
            EventKind::On(note) => {
                if holder.is_some_and(|other| other != source) {
                    self.send_off(event.offset, &note);
                }
                self.kit.strike(event.offset as usize, &note);
                let on = NoteEvent::NoteOn {
                    timing: event.offset,
                    voice_id: VoiceID::Wildcard,
                    channel: Channel::Number(note.channel.index()),
                    key: Key::Number(note.key.number()),
                    velocity: note.velocity.to_unit(),
                };
                // A note that did not go out has no end either.
                self.waiting.send(on, self.context).then_some(source)
            }
            EventKind::Off(note) if holder == Some(source) => {
                self.send_off(event.offset, &note);
                None
            }
            // It has ended, the other struck that key, or it never went out.
            EventKind::Off(_) => return,
        };
        self.waiting.sounding[channel][key] = holds;
    }

    fn send_off(&mut self, timing: u32, note: &Note) {
        let off = NoteEvent::NoteOff {
            timing,
            voice_id: VoiceID::Wildcard,
            channel: Channel::Number(note.channel.index()),
            key: Key::Number(note.key.number()),
            velocity: 0.0,
        };
        self.waiting.send(off, self.context);
    }
}
