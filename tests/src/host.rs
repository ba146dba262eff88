//! A plugin host as the tests see it, the same for CLAP and VST3.
//!
//! A [`Host`] is the main thread's side of one plugin instance, a [`Processor`]
//! its audio thread's side. All positions are quarter-note beats, all parameter
//! values run from 0 to 1.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail};
pub use barform_hosts::told::{Note, SongTime, Transport};

use crate::display::{Display, Window};

/// The plugin formats that are built.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// CLAP.
    Clap,
    /// VST3.
    Vst3,
}

impl Format {
    /// Both.
    pub const ALL: [Format; 2] = [Format::Clap, Format::Vst3];

    /// The bundle under test: `BARFORM_CLAP` or `BARFORM_VST3` if set, else
    /// what the build has left in `target/bundled`.
    ///
    /// # Errors
    /// If there is none.
    pub fn bundle(self) -> Result<PathBuf> {
        let (variable, file) = match self {
            Format::Clap => ("BARFORM_CLAP", "Barform.clap"),
            Format::Vst3 => ("BARFORM_VST3", "Barform.vst3"),
        };
        let path = match std::env::var_os(variable) {
            Some(path) => PathBuf::from(path),
            None => target_dir().join("bundled").join(file),
        };
        if !path.exists() {
            bail!(
                "{} is not there; `cargo xtask test` builds it",
                path.display()
            );
        }
        Ok(path)
    }

    /// A new instance of the plugin, not yet active.
    ///
    /// # Errors
    /// If the bundle is missing or the plugin refuses.
    pub fn load(self) -> Result<Box<dyn Host>> {
        let path = self.bundle()?;
        Ok(match self {
            Format::Clap => Box::new(crate::clap_host::ClapHost::load(&path)?),
            Format::Vst3 => Box::new(crate::vst3_host::Vst3Host::load(&path)?),
        })
    }
}

/// The build's target directory, found from the test program's own place in it.
pub fn target_dir() -> PathBuf {
    let built_in = || {
        let program = std::env::current_exe().ok()?;
        program
            .ancestors()
            .find(|dir| dir.join("CACHEDIR.TAG").exists())
            .map(Path::to_path_buf)
    };
    built_in().unwrap_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../target"))
}

/// A parameter as the host lists it.
#[derive(Debug, Clone, PartialEq)]
pub struct Param {
    /// The format's number for it.
    pub id: u32,
    /// What the user reads.
    pub name: String,
    /// Value at the start, `0 ..= 1`.
    pub default: f64,
    /// Whether a host may record its movement.
    pub automatable: bool,
    /// Whether it is this plugin's bypass.
    pub bypass: bool,
    /// Whether hosts leave it out of their lists.
    pub hidden: bool,
}

/// A change of a parameter in a block.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ParamChange {
    /// Sample in the block, from 0.
    pub frame: u32,
    /// As in [`Param::id`].
    pub id: u32,
    /// New value, `0 ..= 1`.
    pub value: f64,
}

/// What goes into one block.
#[derive(Debug, Clone, Copy)]
pub struct Block<'a> {
    /// Samples.
    pub frames: u32,
    /// `None`: a host that tells nothing about time.
    pub transport: Option<Transport>,
    /// Notes in order of their frame.
    pub notes: &'a [Note],
    /// Parameter changes in order of their frame.
    pub params: &'a [ParamChange],
}

impl Block<'_> {
    /// A block with nothing but time in it.
    pub fn of(frames: u32, transport: Transport) -> Block<'static> {
        Block {
            frames,
            transport: Some(transport),
            notes: &[],
            params: &[],
        }
    }
}

/// What came out of one block.
#[derive(Debug, Clone, Default)]
pub struct Played {
    /// In the order in which the plugin sent them.
    pub notes: Vec<Note>,
    /// Left and right.
    pub audio: [Vec<f32>; 2],
}

/// The audio thread's side of an active instance.
pub trait Processor: Send {
    /// Processes one block; `played` is overwritten.
    ///
    /// # Errors
    /// If the plugin reports one, or sends what its format does not allow.
    fn process(&mut self, block: &Block, played: &mut Played) -> Result<()>;
}

/// The main thread's side of an instance.
pub trait Host {
    /// Which format this is.
    fn format(&self) -> Format;

    /// Says whether what is processed from the next activation on is a render
    /// that need not keep up with real time.
    ///
    /// # Errors
    /// If the plugin refuses.
    fn set_offline(&mut self, offline: bool) -> Result<()>;

    /// Makes the instance ready to process.
    ///
    /// # Errors
    /// If the plugin refuses.
    fn activate(&mut self, sample_rate_hz: f64, max_frames: u32) -> Result<Box<dyn Processor>>;

    /// Back to not being ready.
    ///
    /// # Errors
    /// If the plugin was not active.
    fn deactivate(&mut self, processor: Box<dyn Processor>) -> Result<()>;

    /// What a session stores.
    ///
    /// # Errors
    /// If the plugin reports one.
    fn save(&mut self) -> Result<Vec<u8>>;

    /// Loads what a session stored. The formats differ in how a refusal is
    /// told; whether it was one shows in what is saved and heard afterwards.
    fn load(&mut self, state: &[u8]);

    /// All parameters that a user may see.
    ///
    /// # Errors
    /// If the plugin contradicts itself.
    fn params(&mut self) -> Result<Vec<Param>>;

    /// Value of a parameter, `0 ..= 1`.
    ///
    /// # Errors
    /// If there is none of that number.
    fn param_value(&mut self, id: u32) -> Result<f64>;

    /// Opens the editor in a window of `display`.
    ///
    /// # Errors
    /// If the plugin refuses or has none.
    fn open_editor(&mut self, display: &Display) -> Result<Window>;

    /// Gives the open editor another size in pixels, if it takes it; the window
    /// that it is in follows.
    ///
    /// # Errors
    /// If the plugin refuses.
    fn resize_editor(&mut self, window: &Window, width: u32, height: u32) -> Result<()>;

    /// Closes the editor; its window may be destroyed afterwards.
    fn close_editor(&mut self);

    /// What a host does on its main thread when idle.
    fn pump(&mut self);
}

/// The number of the parameter called `name`.
///
/// # Errors
/// If there is none.
pub fn param_id(host: &mut dyn Host, name: &str) -> Result<u32> {
    let params = host.params()?;
    let param = params.iter().find(|param| param.name == name);
    Ok(param.with_context(|| format!("no parameter '{name}'"))?.id)
}

/// Checks that each note-on has exactly one note-off, which comes before the
/// next note-on of that key, and that none is left sounding at the end. `notes`
/// are on samples of a whole session.
///
/// # Errors
/// The first that is wrong.
pub fn check_ends(notes: &[(i64, Note)]) -> Result<()> {
    let mut sounding: HashMap<(u8, u8), i64> = HashMap::new();
    for (sample, note) in notes {
        let key = (note.channel, note.key);
        if note.on {
            if let Some(since) = sounding.insert(key, *sample) {
                bail!("{note:?} on sample {sample}, but on since {since}");
            }
        } else if sounding.remove(&key).is_none() {
            bail!("{note:?} on sample {sample} ends no note");
        }
    }
    if !sounding.is_empty() {
        bail!("left sounding: {sounding:?}");
    }
    Ok(())
}
