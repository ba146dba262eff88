//! Plays a timeline to the sample.
//!
//! In, per block: an `Arc` of a [`Timeline`](barform_score::timeline::Timeline) (handed
//! over beforehand), a [`Transport`] snapshot, [`Settings`], a block length.
//! Out: note-ons and note-offs with sample offsets, in order, to a closure.
//! Contract: a stroke at exact time t sounds on the sample nearest to t, ties
//! up, however the host cuts its blocks; each note-on gets exactly one
//! note-off; what sounds depends on the position alone. Never here: an
//! allocation, a lock, a system call, anything that grows with the length of
//! the form.

mod clock;
mod engine;
mod event;
mod habits;
mod line;
mod live;
mod sounding;
mod stream;

pub use clock::OwnClock;
pub use engine::{BOUNCE_FADE, MAX_STRUCK, Player};
pub use event::{Event, EventKind, Loop, Mute, Settings, Transport};
pub use live::Quantise;
