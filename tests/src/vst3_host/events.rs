//! The list of notes of a block.

use std::cell::RefCell;

use anyhow::{Result, anyhow};
use vst3::Class;
use vst3::Steinberg::Vst::{
    Event, Event_::EventTypes_, Event__type0, IEventList, IEventListTrait, NoteOffEvent,
    NoteOnEvent,
};
use vst3::Steinberg::{kInvalidArgument, kResultOk, tresult};

use crate::host::Note;

/// Events in the order in which they were added.
#[derive(Default)]
pub(super) struct EventList(RefCell<Vec<Event>>);

impl EventList {
    pub fn of(notes: &[Note]) -> EventList {
        EventList(RefCell::new(notes.iter().map(event_of).collect()))
    }

    /// The notes among the events.
    pub fn notes(&self) -> Result<Vec<Note>> {
        self.0
            .borrow()
            .iter()
            .filter_map(|event| note_of(event).transpose())
            .collect()
    }
}

fn event_of(note: &Note) -> Event {
    let (channel, pitch) = (note.channel.into(), note.key.into());
    let velocity = note.velocity as f32;
    let (kind, content) = if note.on {
        let note_on = NoteOnEvent {
            channel,
            pitch,
            tuning: 0.0,
            velocity,
            length: 0,
            noteId: -1,
        };
        (EventTypes_::kNoteOnEvent, Event__type0 { noteOn: note_on })
    } else {
        let note_off = NoteOffEvent {
            channel,
            pitch,
            velocity,
            noteId: -1,
            tuning: 0.0,
        };
        (
            EventTypes_::kNoteOffEvent,
            Event__type0 { noteOff: note_off },
        )
    };
    Event {
        busIndex: 0,
        sampleOffset: note.frame as i32,
        ppqPosition: 0.0,
        flags: 0,
        r#type: kind as u16,
        __field0: content,
    }
}

fn note_of(event: &Event) -> Result<Option<Note>> {
    let kind = u32::from(event.r#type);
    let (on, channel, pitch, velocity) = if kind == EventTypes_::kNoteOnEvent {
        // SAFETY: the type says which of the fields is set.
        let note = unsafe { event.__field0.noteOn };
        (true, note.channel, note.pitch, note.velocity)
    } else if kind == EventTypes_::kNoteOffEvent {
        // SAFETY: as above.
        let note = unsafe { event.__field0.noteOff };
        (false, note.channel, note.pitch, note.velocity)
    } else {
        return Ok(None);
    };
    let number = |raw: i16| u8::try_from(raw).map_err(|_| anyhow!("a note with number {raw}"));
    Ok(Some(Note {
        frame: u32::try_from(event.sampleOffset)?,
        on,
        channel: number(channel)?,
        key: number(pitch)?,
        velocity: velocity.into(),
    }))
}

impl Class for EventList {
    type Interfaces = (IEventList,);
}

impl IEventListTrait for EventList {
    unsafe fn getEventCount(&self) -> i32 {
        self.0.borrow().len() as i32
    }

    unsafe fn getEvent(&self, index: i32, event: *mut Event) -> tresult {
        let events = self.0.borrow();
        match usize::try_from(index).ok().and_then(|i| events.get(i)) {
            Some(found) if !event.is_null() => {
                // SAFETY: the caller's place for an event, checked for null.
                unsafe { event.write(*found) };
                kResultOk
            }
            _ => kInvalidArgument,
        }
    }

    unsafe fn addEvent(&self, event: *mut Event) -> tresult {
        if event.is_null() {
            return kInvalidArgument;
        }
        // SAFETY: the caller's event, checked for null.
        self.0.borrow_mut().push(unsafe { event.read() });
        kResultOk
    }
}
