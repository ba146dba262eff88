//! The embedded kit over one block.

use barform_app::sound::Mixer;
use barform_app::timeline::Note;
use nice_plug::prelude::*;

/// Audio is rendered up to each stroke, so that it takes effect on its sample.
pub(super) struct Kit<'a> {
    mixer: Option<&'a mut Mixer>,
    left: &'a mut [f32],
    right: &'a mut [f32],
    done: usize,
    strikes: bool,
}

impl<'a> Kit<'a> {
    /// Begins a block; without `strikes` only what rings is heard.
    pub fn new(mixer: Option<&'a mut Mixer>, buffer: &'a mut Buffer, strikes: bool) -> Kit<'a> {
        // What rings when the sound is switched off rings out.
        let mixer = mixer.filter(|mixer| strikes || mixer.is_sounding());
        match (mixer, buffer.as_slice()) {
            (Some(mixer), [left, right, ..]) => Kit {
                mixer: Some(mixer),
                left,
                right,
                done: 0,
                strikes,
            },
            // The framework hands out the host's buffers as they are, with
            // whatever was in them.
            (_, channels) => {
                for channel in channels {
                    channel.fill(0.0);
                }
                Kit {
                    mixer: None,
                    left: &mut [],
                    right: &mut [],
                    done: 0,
                    strikes: false,
                }
            }
        }
    }

    /// A stroke at `frame` of the block, in order of time.
    pub fn strike(&mut self, frame: usize, note: &Note) {
        if self.strikes {
            self.render_until(frame);
            if let Some(mixer) = &mut self.mixer {
                mixer.trigger(note.voice, note.articulation, note.velocity);
            }
        }
    }

    /// Ends the block.
    pub fn finish(&mut self) {
        self.render_until(self.left.len());
    }

    fn render_until(&mut self, frame: usize) {
        if let Some(mixer) = &mut self.mixer
            && frame > self.done
        {
            mixer.render(
                &mut self.left[self.done..frame],
                &mut self.right[self.done..frame],
            );
            self.done = frame;
        }
    }
}
