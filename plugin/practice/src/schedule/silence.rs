//! Which bars fall silent, and how the click fades and sounds.

use super::Silent;
use crate::plan::{Click, ClickSound, Fade, Gap, Gaps, Part};
use barform_score::music::{Articulation, Channel, Key, Kit, Velocity};
use barform_score::timeline::{ClickKind, Note};

impl Gap {
    /// Whether a bar, counted from 0, is silent where every round has `grow`
    /// silent bars more than the one before, until one is left that is heard.
    fn is_silent(self, bar: u32, grow: u8) -> bool {
        let of = u32::from(self.of);
        let most = u32::from(self.silent).max(of - 1);
        let grown = u64::from(self.silent) + u64::from(bar / of) * u64::from(grow);
        let silent = grown.min(u64::from(most)) as u32;
        bar % of >= of - silent
    }
}

/// What is silent in a bar, counted from 0.
pub(super) fn silent(gaps: Option<&Gaps>, bar: u32) -> Silent {
    let Some(gaps) = gaps.filter(|gaps| gaps.bars.is_silent(bar, gaps.grow)) else {
        return Silent::default();
    };
    let has = |part| gaps.silent.contains(&part) || gaps.silent.contains(&Part::All);
    Silent {
        form: has(Part::Form),
        ostinato: has(Part::Ostinato),
        click: has(Part::Click),
    }
}

/// Per cent of the click's level that are left in a bar, counted from 0.
pub(super) fn faded(fade: Option<Fade>, bar: u32) -> u8 {
    let Some(fade) = fade else { return 100 };
    let steps = u64::from(bar / u32::from(fade.bars));
    let lost = (steps * u64::from(fade.percent)).min(100);
    100 - lost as u8
}

/// The note of a click at so many per cent of its level; `None` if it is silent.
pub(super) fn note(click: &Click, kit: &Kit, kind: ClickKind, percent: u8) -> Option<Note> {
    let sound: &ClickSound = match kind {
        ClickKind::Bar => &click.bar,
        ClickKind::Beat => &click.beat,
        ClickKind::Subdivision => &click.between,
    };
    let mut note = match sound.voice() {
        None => kind.note(kit),
        Some((voice, articulation)) => {
            let of_kit = kit.voice(voice);
            let plain = kind.note(kit);
            kit.key(voice, articulation).map(|key| Note {
                key,
                channel: of_kit.channel,
                velocity: plain.map_or(of_kit.curve.normal, |plain| plain.velocity),
                voice,
                articulation,
                limb: None,
            })
        }
    }
    // A kit without a click has one if the plan says on which key.
    .or_else(|| {
        Some(Note {
            key: Key::new(sound.key?)?,
            channel: Channel::PERCUSSION,
            velocity: kit.voice(barform_score::music::Voice::Click).curve.normal,
            voice: barform_score::music::Voice::Click,
            articulation: Articulation::Plain,
            limb: None,
        })
    })?;
    if let Some(key) = sound.key.and_then(Key::new) {
        note.key = key;
    }
    if let Some(channel) = click.channel.and_then(Channel::new) {
        note.channel = channel;
    }
    let level = f64::from(sound.level.unwrap_or(note.velocity.value()));
    let level = (level * f64::from(percent) / 100.0).round();
    note.velocity = Velocity::new(level as u8)?;
    (!click.off).then_some(note)
}
