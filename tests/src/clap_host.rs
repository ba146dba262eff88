//! A CLAP host: loads a built bundle as a digital audio workstation does.

mod processor;

use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};

use anyhow::{Context, Result, bail};
use clack_extensions::audio_ports::{AudioPortInfoBuffer, PluginAudioPorts};
use clack_extensions::gui::{
    GuiApiType, GuiConfiguration, GuiSize, HostGui, HostGuiImpl, PluginGui, Window as ClapWindow,
};
use clack_extensions::note_ports::{NotePortInfoBuffer, PluginNotePorts};
use clack_extensions::params::{
    HostParams, HostParamsImplMainThread, HostParamsImplShared, ParamClearFlags, ParamInfoBuffer,
    ParamInfoFlags, ParamRescanFlags, PluginParams,
};
use clack_extensions::render::{PluginRender, RenderMode};
use clack_extensions::state::{HostState, HostStateImpl, PluginState};
use clack_host::prelude::*;
use clack_host::utils::BeatTime;

use crate::display::{Display, Window};
use crate::host::{Format, Host, Param, Processor};
use crate::threads::Threads;
use processor::ClapProcessor;

/// The smallest step in which a CLAP host can report a position, in beats
/// (`CLAP_BEATTIME_FACTOR` of the CLAP headers).
pub const POSITION_STEP_BEATS: f64 = 1.0 / (BeatTime::FACTOR as f64);

/// Callbacks that the plugin may make from any thread.
#[derive(Default)]
struct Shared {
    callback: AtomicBool,
}

impl SharedHandler<'_> for Shared {
    fn request_restart(&self) {}
    fn request_process(&self) {}
    fn request_callback(&self) {
        self.callback.store(true, Ordering::Release);
    }
}

impl HostGuiImpl for Shared {
    fn resize_hints_changed(&self) {}
    fn request_resize(&self, _new_size: GuiSize) -> Result<(), HostError> {
        Err(HostError::Message("this host's windows keep their size"))
    }
    fn request_show(&self) -> Result<(), HostError> {
        Ok(())
    }
    fn request_hide(&self) -> Result<(), HostError> {
        Ok(())
    }
    fn closed(&self, _was_destroyed: bool) {}
}

impl HostParamsImplShared for Shared {
    fn request_flush(&self) {}
}

/// Callbacks that the plugin makes from the main thread.
struct MainThread;

impl MainThreadHandler<'_> for MainThread {}

impl HostStateImpl for MainThread {
    fn mark_dirty(&self) {}
}

impl HostParamsImplMainThread for MainThread {
    fn rescan(&self, _flags: ParamRescanFlags) {}
    fn clear(&self, _param_id: ClapId, _flags: ParamClearFlags) {}
}

struct Handlers;

impl HostHandlers for Handlers {
    type Shared<'a> = Shared;
    type MainThread<'a> = MainThread;
    type AudioProcessor<'a> = ();

    fn declare_extensions(builder: &mut HostExtensions<Self>, _shared: &Shared) {
        builder
            .register::<HostGui>()
            .register::<HostParams>()
            .register::<HostState>();
    }
}

/// The main thread's side.
pub struct ClapHost {
    instance: PluginInstance<Handlers>,
    gui_open: bool,
    /// Those that there were before the editor.
    threads: Threads,
    /// Lives longer than the instance.
    _entry: PluginEntry,
}

impl ClapHost {
    /// Loads the only plugin of a bundle.
    ///
    /// # Errors
    /// If the bundle cannot be loaded or holds something else.
    pub fn load(bundle: &Path) -> Result<ClapHost> {
        // SAFETY: the library is ours, built by this workspace; its
        // initialisers do nothing but set up the Rust runtime.
        let entry = unsafe { PluginEntry::load(bundle) }
            .with_context(|| format!("cannot load {}", bundle.display()))?;
        let factory = entry.get_plugin_factory().context("no plugin factory")?;
        if factory.plugin_count() != 1 {
            bail!("{} plugins instead of one", factory.plugin_count());
        }
        let id = factory
            .plugin_descriptor(0)
            .and_then(|descriptor| descriptor.id())
            .context("the plugin has no id")?
            .to_owned();
        let info = HostInfo::new("Barform tests", "Barform", "", env!("CARGO_PKG_VERSION"))?;
        let instance = PluginInstance::<Handlers>::new(
            |_| Shared::default(),
            |_| MainThread,
            &entry,
            &id,
            &info,
        )?;
        Ok(ClapHost {
            instance,
            gui_open: false,
            threads: Threads::default(),
            _entry: entry,
        })
    }

    fn extension<E>(&self) -> Result<E>
    where
        E: clack_host::extensions::Extension<
                ExtensionSide = clack_host::extensions::PluginExtensionSide,
            >,
    {
        self.instance
            .plugin_shared_handle()
            .get_extension()
            .with_context(|| format!("the plugin lacks {:?}", E::IDENTIFIERS))
    }

    /// Checks the ports that the processor relies on.
    fn check_ports(&mut self) -> Result<()> {
        let audio: PluginAudioPorts = self.extension()?;
        let notes: PluginNotePorts = self.extension()?;
        let plugin = self.instance.plugin_handle();
        let mut buffer = AudioPortInfoBuffer::new();
        let port = audio
            .get(&plugin, 0, false, &mut buffer)
            .context("no audio output")?;
        if port.channel_count != 2 || audio.count(&plugin, false) != 1 {
            bail!("the audio output is not one stereo port");
        }
        let mut buffer = NotePortInfoBuffer::new();
        for is_input in [true, false] {
            notes
                .get(&plugin, 0, is_input, &mut buffer)
                .with_context(|| format!("no note port (input: {is_input})"))?;
        }
        Ok(())
    }
}

impl Host for ClapHost {
    fn format(&self) -> Format {
        Format::Clap
    }

    fn set_offline(&mut self, offline: bool) -> Result<()> {
        let render: PluginRender = self.extension()?;
        let mode = if offline {
            RenderMode::Offline
        } else {
            RenderMode::Realtime
        };
        Ok(render.set(&self.instance.plugin_handle(), mode)?)
    }

    fn activate(&mut self, sample_rate_hz: f64, max_frames: u32) -> Result<Box<dyn Processor>> {
        self.check_ports()?;
        let config = PluginAudioConfiguration {
            sample_rate: sample_rate_hz,
            min_frames_count: 1,
            max_frames_count: max_frames,
        };
        let stopped = self.instance.activate(|_, _| (), config)?;
        let params: PluginParams = self.extension()?;
        let plugin = self.instance.plugin_handle();
        let mut ranges = Vec::new();
        let mut buffer = ParamInfoBuffer::new();
        for index in 0..params.count(&plugin) {
            let info = params
                .get_info(&plugin, index, &mut buffer)
                .context("a parameter without information")?;
            ranges.push((info.id.get(), info.min_value, info.max_value));
        }
        let processor = ClapProcessor::new(stopped.into(), ranges, sample_rate_hz);
        Ok(Box::new(processor))
    }

    fn deactivate(&mut self, processor: Box<dyn Processor>) -> Result<()> {
        drop(processor);
        Ok(self.instance.try_deactivate()?)
    }

    fn save(&mut self) -> Result<Vec<u8>> {
        let state: PluginState = self.extension()?;
        let mut bytes = Vec::new();
        state.save(&self.instance.plugin_handle(), &mut bytes)?;
        Ok(bytes)
    }

    fn load(&mut self, mut bytes: &[u8]) {
        if let Ok(state) = self.extension::<PluginState>() {
            // A refusal shows in what is saved and heard afterwards.
            let _ = state.load(&self.instance.plugin_handle(), &mut bytes);
        }
        self.pump();
    }

    fn params(&mut self) -> Result<Vec<Param>> {
        let params: PluginParams = self.extension()?;
        let plugin = self.instance.plugin_handle();
        let mut buffer = ParamInfoBuffer::new();
        let mut list = Vec::new();
        for index in 0..params.count(&plugin) {
            let info = params
                .get_info(&plugin, index, &mut buffer)
                .with_context(|| format!("parameter {index} has no information"))?;
            let span = info.max_value - info.min_value;
            list.push(Param {
                id: info.id.get(),
                name: String::from_utf8(info.name.to_vec())?,
                default: (info.default_value - info.min_value) / span,
                automatable: info.flags.contains(ParamInfoFlags::IS_AUTOMATABLE),
                bypass: info.flags.contains(ParamInfoFlags::IS_BYPASS),
                hidden: info.flags.contains(ParamInfoFlags::IS_HIDDEN),
            });
        }
        Ok(list)
    }

    fn param_value(&mut self, id: u32) -> Result<f64> {
        let params: PluginParams = self.extension()?;
        let plugin = self.instance.plugin_handle();
        let mut buffer = ParamInfoBuffer::new();
        for index in 0..params.count(&plugin) {
            let info = params
                .get_info(&plugin, index, &mut buffer)
                .context("a parameter without information")?;
            if info.id.get() == id {
                let (id, min, max) = (info.id, info.min_value, info.max_value);
                let value = params.get_value(&plugin, id).context("no value")?;
                return Ok((value - min) / (max - min));
            }
        }
        bail!("no parameter {id}")
    }

    fn open_editor(&mut self, display: &Display) -> Result<Window> {
        let gui: PluginGui = self.extension()?;
        let plugin = self.instance.plugin_handle();
        let config = GuiConfiguration {
            api_type: GuiApiType::X11,
            is_floating: false,
        };
        if !gui.is_api_supported(&plugin, config) {
            bail!("the editor cannot be put into an X11 window");
        }
        self.threads = Threads::now();
        gui.create(&plugin, config)?;
        self.gui_open = true;
        let size = gui.get_size(&plugin).context("the editor has no size")?;
        let window = display.window(size.width, size.height)?;
        let handle = ClapWindow::from_x11_handle(window.id().into());
        // SAFETY: the window lives until `Window` is dropped, after the editor
        // has been closed.
        unsafe { gui.set_parent(&plugin, handle) }?;
        gui.show(&plugin)?;
        Ok(window)
    }

    fn resize_editor(&mut self, window: &Window, width: u32, height: u32) -> Result<()> {
        let gui: PluginGui = self.extension()?;
        let plugin = self.instance.plugin_handle();
        if !gui.can_resize(&plugin) {
            bail!("the editor keeps its size");
        }
        let size = GuiSize { width, height };
        let size = gui.adjust_size(&plugin, size).unwrap_or(size);
        window.resize(size.width, size.height)?;
        Ok(gui.set_size(&plugin, size)?)
    }

    fn close_editor(&mut self) {
        if std::mem::take(&mut self.gui_open)
            && let Ok(gui) = self.extension::<PluginGui>()
        {
            let threads = Threads::now();
            gui.destroy(&self.instance.plugin_handle());
            threads.wait_for_end(&self.threads);
        }
    }

    fn pump(&mut self) {
        let asked = self
            .instance
            .access_shared_handler(|shared| shared.callback.swap(false, Ordering::AcqRel));
        if asked {
            self.instance.call_on_main_thread_callback();
        }
    }
}

impl Drop for ClapHost {
    fn drop(&mut self) {
        self.close_editor();
    }
}
