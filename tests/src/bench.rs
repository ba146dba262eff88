//! An active instance that scores are loaded into, one after the other.

use anyhow::{Context, Result, ensure};

use barform_hosts::form::Sound;

use crate::host::{Block, Format, Host, Note, Played, Processor, Transport};
use crate::stored::Stored;

/// Longest block that a [`Bench`] plays.
pub const MAX_FRAMES: u32 = 8_192;

/// An active instance.
pub struct Bench {
    host: Box<dyn Host>,
    processor: Option<Box<dyn Processor>>,
    empty: Stored,
    played: Played,
}

impl Bench {
    /// An instance at a sample rate, with the embedded kit switched off.
    ///
    /// # Errors
    /// If the bundle is missing or the plugin refuses.
    pub fn new(format: Format, sample_rate_hz: u32) -> Result<Bench> {
        let mut host = format.load()?;
        let empty = Stored::read(format, &host.save()?)?.with_param("sound", false.into());
        let processor = host.activate(sample_rate_hz.into(), MAX_FRAMES)?;
        Ok(Bench {
            host,
            processor: Some(processor),
            empty,
            played: Played::default(),
        })
    }

    /// Makes the instance ready anew.
    ///
    /// # Errors
    /// If the plugin refuses.
    pub fn reactivate(
        &mut self,
        sample_rate_hz: u32,
        max_frames: u32,
        offline: bool,
    ) -> Result<()> {
        if let Some(processor) = self.processor.take() {
            self.host.deactivate(processor)?;
        }
        self.host.set_offline(offline)?;
        self.processor = Some(self.host.activate(sample_rate_hz.into(), max_frames)?);
        Ok(())
    }

    /// The number of the parameter called `name`.
    ///
    /// # Errors
    /// If there is none.
    pub fn param(&mut self, name: &str) -> Result<u32> {
        crate::host::param_id(self.host.as_mut(), name)
    }

    /// Loads a score.
    ///
    /// # Errors
    /// If it is refused.
    pub fn load(&mut self, score: &str) -> Result<()> {
        let state = self.empty.with_score(score).write(self.host.format());
        self.host.load(&state);
        let loaded = Stored::read(self.host.format(), &self.host.save()?)?;
        ensure!(loaded.score()? == score, "the score was refused:\n{score}");
        Ok(())
    }

    /// Plays a session with the score that is loaded; returns all notes on
    /// samples of the whole session.
    ///
    /// # Errors
    /// If the plugin reports one, or sends notes out of order.
    pub fn run<'a>(
        &mut self,
        blocks: impl IntoIterator<Item = Block<'a>>,
    ) -> Result<Vec<(i64, Note)>> {
        let processor = self.processor.as_mut().context("not active")?;
        let mut notes = Vec::new();
        let mut sample = 0;
        for block in blocks {
            processor.process(&block, &mut self.played)?;
            let mut last = 0;
            for note in &self.played.notes {
                ensure!(note.frame >= last, "notes out of order");
                last = note.frame;
                notes.push((sample + i64::from(note.frame), *note));
            }
            sample += i64::from(block.frames);
        }
        Ok(notes)
    }

    /// Loads a score and plays a session; returns all notes on samples of the
    /// whole session.
    ///
    /// # Errors
    /// If the score is refused, the plugin reports an error, or sends notes out
    /// of order.
    pub fn play(&mut self, score: &str, blocks: &[(u32, Transport)]) -> Result<Vec<(i64, Note)>> {
        self.load(score)?;
        self.run(
            blocks
                .iter()
                .map(|(frames, transport)| Block::of(*frames, *transport)),
        )
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        if let Some(processor) = self.processor.take() {
            // A refusal to be deactivated would fail the next test that is.
            let _ = self.host.deactivate(processor);
        }
    }
}

/// The note-ons among notes.
pub fn note_ons(notes: &[(i64, Note)]) -> Vec<(i64, Sound)> {
    notes
        .iter()
        .filter(|(_, note)| note.on)
        .map(|(sample, note)| (*sample, note.sound()))
        .collect()
}
