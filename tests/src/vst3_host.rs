//! A VST3 host: loads a built bundle as a digital audio workstation does.
//!
//! In: a bundle. Out: an instance behind [`Host`]. The objects that the plugin
//! calls back are in the files beside this one: the event list, parameter
//! changes, streams, and the frame of its window.

mod changes;
mod events;
mod frame;
mod processor;
mod stream;

use std::collections::HashMap;
use std::ffi::c_void;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use anyhow::{Context, Result, bail};
use vst3::Steinberg::Vst::{
    BusDirections_, IAudioProcessor, IAudioProcessorTrait, IComponent, IComponentHandler,
    IComponentTrait, IEditController, IEditControllerTrait, IHostApplication, MediaTypes_,
    ParameterInfo, ParameterInfo_::ParameterFlags_, ProcessModes, ProcessModes_, ProcessSetup,
    SymbolicSampleSizes_, ViewType,
};
use vst3::Steinberg::{
    FUnknown, IBStream, IPlugFrame, IPlugView, IPlugViewTrait, IPluginBaseTrait, IPluginFactory,
    IPluginFactoryTrait, PClassInfo, ViewRect, kPlatformTypeX11EmbedWindowID, kResultOk, tresult,
};
use vst3::{ComPtr, ComWrapper, Interface};

use crate::display::{Display, Window};
use crate::host::{Format, Host, Param, Processor};
use crate::threads::Threads;
use frame::{Application, ComponentHandler, Frame};
use processor::Vst3Processor;
use stream::Stream;

/// What most calls return.
fn ok(result: tresult, what: &str) -> Result<()> {
    if result == kResultOk {
        Ok(())
    } else {
        bail!("{what}: the plugin returns {result}")
    }
}

/// The main thread's side.
pub struct Vst3Host {
    component: ComPtr<IComponent>,
    controller: ComPtr<IEditController>,
    view: Option<ComPtr<IPlugView>>,
    /// Those that there were before the editor.
    threads: Threads,
    frame: ComWrapper<Frame>,
    mode: ProcessModes,
    // The plugin may call these for as long as it lives.
    _application: ComWrapper<Application>,
    _handler: ComWrapper<ComponentHandler>,
}

/// The factories of all bundles loaded so far. They stay loaded: the plugin's
/// threads may outlive an instance by a moment.
static FACTORIES: Mutex<Option<HashMap<PathBuf, ComPtr<IPluginFactory>>>> = Mutex::new(None);

fn factory(bundle: &Path) -> Result<ComPtr<IPluginFactory>> {
    let mut factories = FACTORIES.lock().unwrap_or_else(PoisonError::into_inner);
    let factories = factories.get_or_insert_default();
    if let Some(factory) = factories.get(bundle) {
        return Ok(factory.clone());
    }
    // Folders of the VST3 bundle format on Linux.
    let name = bundle.file_stem().context("a bundle without a name")?;
    let folder = format!("{}-linux", std::env::consts::ARCH);
    let file = bundle
        .join("Contents")
        .join(folder)
        .join(name)
        .with_extension("so");
    // SAFETY: the library is ours, built by this workspace; its initialisers
    // do nothing but set up the Rust runtime.
    let library = unsafe { libloading::os::unix::Library::new(&file) }
        .with_context(|| format!("cannot load {}", file.display()))?;
    // SAFETY: the signatures are those of the VST3 SDK for Linux.
    let (enter, get) = unsafe {
        (
            *library.get::<unsafe extern "C" fn(*mut c_void) -> bool>(b"ModuleEntry\0")?,
            *library
                .get::<unsafe extern "system" fn() -> *mut IPluginFactory>(b"GetPluginFactory\0")?,
        )
    };
    let handle = library.into_raw();
    // SAFETY: called once for each library, before anything else, with its own
    // handle; the library is never unloaded.
    if !unsafe { enter(handle) } {
        bail!("{} refuses to start", file.display());
    }
    // SAFETY: the function returns a factory that the caller owns.
    let factory = unsafe { ComPtr::from_raw(get()) }.context("no factory")?;
    factories.insert(bundle.to_path_buf(), factory.clone());
    Ok(factory)
}

impl Vst3Host {
    /// Loads the only plugin of a bundle.
    ///
    /// # Errors
    /// If the bundle cannot be loaded or holds something else.
    pub fn load(bundle: &Path) -> Result<Vst3Host> {
        let factory = factory(bundle)?;
        // SAFETY: the factory is alive.
        let classes = unsafe { factory.countClasses() };
        if classes != 1 {
            bail!("{classes} classes instead of one");
        }
        let mut info = PClassInfo {
            cid: [0; 16],
            cardinality: 0,
            category: [0; 32],
            name: [0; 64],
        };
        // SAFETY: `info` is large enough and initialised.
        ok(unsafe { factory.getClassInfo(0, &mut info) }, "class")?;
        let mut object = std::ptr::null_mut();
        // SAFETY: both ids are sixteen bytes, and `object` receives a pointer
        // to the interface that was asked for, owned by us.
        let component = unsafe {
            let iid = IComponent::IID.as_ptr().cast();
            ok(
                factory.createInstance(info.cid.as_ptr(), iid, &mut object),
                "create",
            )?;
            ComPtr::from_raw(object.cast::<IComponent>()).context("no component")?
        };
        let application = ComWrapper::new(Application);
        let handler = ComWrapper::new(ComponentHandler);
        let context = application
            .as_com_ref::<IHostApplication>()
            .context("no host application")?;
        // SAFETY: the application lives as long as the instance.
        let initialised = unsafe { component.initialize(context.as_ptr().cast::<FUnknown>()) };
        ok(initialised, "initialise")?;
        let controller = component
            .cast::<IEditController>()
            .context("component and controller are not one object")?;
        let as_handler = handler
            .as_com_ref::<IComponentHandler>()
            .context("no handler")?;
        // SAFETY: the handler lives as long as the instance.
        let handled = unsafe { controller.setComponentHandler(as_handler.as_ptr()) };
        ok(handled, "handler")?;
        Ok(Vst3Host {
            component,
            controller,
            view: None,
            threads: Threads::default(),
            frame: ComWrapper::new(Frame::default()),
            mode: ProcessModes_::kRealtime,
            _application: application,
            _handler: handler,
        })
    }

    fn audio(&self) -> Result<ComPtr<IAudioProcessor>> {
        self.component.cast().context("no audio processor")
    }
}

/// Text of a fixed length in UTF-16.
fn text(units: &[u16]) -> String {
    let end = units.iter().position(|u| *u == 0).unwrap_or(units.len());
    String::from_utf16_lossy(&units[..end])
}

impl Host for Vst3Host {
    fn format(&self) -> Format {
        Format::Vst3
    }

    fn set_offline(&mut self, offline: bool) -> Result<()> {
        self.mode = if offline {
            ProcessModes_::kOffline
        } else {
            ProcessModes_::kRealtime
        };
        Ok(())
    }

    fn activate(&mut self, sample_rate_hz: f64, max_frames: u32) -> Result<Box<dyn Processor>> {
        let audio = self.audio()?;
        let mut setup = ProcessSetup {
            processMode: self.mode as i32,
            symbolicSampleSize: SymbolicSampleSizes_::kSample32 as i32,
            maxSamplesPerBlock: i32::try_from(max_frames)?,
            sampleRate: sample_rate_hz,
        };
        let (sound, notes) = (MediaTypes_::kAudio as i32, MediaTypes_::kEvent as i32);
        let (input, output) = (
            BusDirections_::kInput as i32,
            BusDirections_::kOutput as i32,
        );
        // SAFETY: the calls come in the order that VST3 asks for, from the
        // main thread, and `setup` outlives its call.
        unsafe {
            ok(audio.setupProcessing(&mut setup), "set up")?;
            for (kind, direction) in [(sound, output), (notes, input), (notes, output)] {
                if self.component.getBusCount(kind, direction) != 1 {
                    bail!("not one bus of kind {kind} in direction {direction}");
                }
                ok(
                    self.component.activateBus(kind, direction, 0, 1),
                    "activate bus",
                )?;
            }
            ok(self.component.setActive(1), "activate")?;
            ok(audio.setProcessing(1), "start processing")?;
        }
        Ok(Box::new(Vst3Processor::new(
            audio,
            sample_rate_hz,
            self.mode,
        )))
    }

    fn deactivate(&mut self, processor: Box<dyn Processor>) -> Result<()> {
        drop(processor);
        // SAFETY: nothing processes any more.
        unsafe {
            ok(self.audio()?.setProcessing(0), "stop processing")?;
            ok(self.component.setActive(0), "deactivate")
        }
    }

    fn save(&mut self) -> Result<Vec<u8>> {
        let stream = ComWrapper::new(Stream::default());
        let as_stream = stream.as_com_ref::<IBStream>().context("no stream")?;
        // SAFETY: the stream outlives the call.
        let saved = unsafe { self.component.getState(as_stream.as_ptr()) };
        ok(saved, "save")?;
        Ok(stream.bytes())
    }

    fn load(&mut self, state: &[u8]) {
        let stream = ComWrapper::new(Stream::new(state));
        if let Some(as_stream) = stream.as_com_ref::<IBStream>() {
            // A refusal shows in what is saved and heard afterwards.
            // SAFETY: the stream outlives the call.
            let _ = unsafe { self.component.setState(as_stream.as_ptr()) };
        }
        self.pump();
    }

    fn params(&mut self) -> Result<Vec<Param>> {
        // SAFETY: the controller is alive, and `info` is plain numbers, for
        // which all zeros is a value.
        unsafe {
            let mut params = Vec::new();
            for index in 0..self.controller.getParameterCount() {
                let mut info: ParameterInfo = std::mem::zeroed();
                ok(
                    self.controller.getParameterInfo(index, &mut info),
                    "parameter",
                )?;
                let flag = |flag: i32| info.flags & flag != 0;
                params.push(Param {
                    id: info.id,
                    name: text(&info.title),
                    default: info.defaultNormalizedValue,
                    automatable: flag(ParameterFlags_::kCanAutomate),
                    bypass: flag(ParameterFlags_::kIsBypass),
                    hidden: flag(ParameterFlags_::kIsHidden),
                });
            }
            Ok(params)
        }
    }

    fn param_value(&mut self, id: u32) -> Result<f64> {
        if !self.params()?.iter().any(|param| param.id == id) {
            bail!("no parameter {id}");
        }
        // SAFETY: the controller is alive.
        Ok(unsafe { self.controller.getParamNormalized(id) })
    }

    fn open_editor(&mut self, display: &Display) -> Result<Window> {
        self.threads = Threads::now();
        let mut rect = ViewRect {
            left: 0,
            top: 0,
            right: 0,
            bottom: 0,
        };
        // SAFETY: the calls come in the order that VST3 asks for, from the
        // main thread; frame and window outlive the view's attachment.
        unsafe {
            let view = ComPtr::from_raw(self.controller.createView(ViewType::kEditor))
                .context("no editor")?;
            ok(
                view.isPlatformTypeSupported(kPlatformTypeX11EmbedWindowID),
                "X11",
            )?;
            let frame = self.frame.as_com_ref::<IPlugFrame>().context("no frame")?;
            ok(view.setFrame(frame.as_ptr()), "frame")?;
            ok(view.getSize(&mut rect), "size")?;
            let width = u32::try_from(rect.right - rect.left)?;
            let height = u32::try_from(rect.bottom - rect.top)?;
            let window = display.window(width, height)?;
            let parent = std::ptr::without_provenance_mut(window.id() as usize);
            ok(
                view.attached(parent, kPlatformTypeX11EmbedWindowID),
                "attach",
            )?;
            self.view = Some(view);
            Ok(window)
        }
    }

    fn resize_editor(&mut self, window: &Window, width: u32, height: u32) -> Result<()> {
        let view = self.view.as_ref().context("no open editor")?;
        let mut rect = ViewRect {
            left: 0,
            top: 0,
            right: i32::try_from(width)?,
            bottom: i32::try_from(height)?,
        };
        // SAFETY: the view is attached; the calls come from the main thread.
        unsafe {
            ok(view.canResize(), "a size of the host's choice")?;
            ok(view.checkSizeConstraint(&mut rect), "size constraint")?;
            window.resize(u32::try_from(rect.right)?, u32::try_from(rect.bottom)?)?;
            ok(view.onSize(&mut rect), "size")
        }
    }

    fn close_editor(&mut self) {
        if let Some(view) = self.view.take() {
            let threads = Threads::now();
            // A view that is removed already needs no removing.
            // SAFETY: the view was attached.
            unsafe {
                let _ = view.removed();
                let _ = view.setFrame(std::ptr::null_mut());
            }
            drop(view);
            threads.wait_for_end(&self.threads);
        }
    }

    fn pump(&mut self) {
        self.frame.run();
    }
}

impl Drop for Vst3Host {
    fn drop(&mut self) {
        self.close_editor();
        // SAFETY: the last call to the instance.
        unsafe {
            let _ = self.controller.setComponentHandler(std::ptr::null_mut());
            let _ = self.component.terminate();
        }
    }
}
