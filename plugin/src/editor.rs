//! The editor window.
//!
//! The window is made anew each time the host opens it, at the size the session
//! remembers; text that does not play yet is kept in between. Reading and
//! compiling happen on a thread of their own.

mod app;
mod bench;
mod cell;
mod desk;
mod engraved;
mod export;
mod files;
mod fonts;
mod host_keys;
mod keys;
mod kit;
mod pages;
mod palette;
mod settings;
mod shelf;
mod shown;
mod signs;
mod stand;
mod strip;
mod text;
mod transport;
mod widgets;

use std::error::Error;
use std::sync::Arc;

use barform_app::shelf::Folders;
use nice_plug::context::gui::GuiContext;
use nice_plug::editor::dpi::{LogicalSize, NativeSize, Size};
use nice_plug::editor::{Editor, HostMethods, ParentWindowHandle, ResizeHint, SpawnedEditor};
use nice_plug_egui::baseview::WindowSize;
use nice_plug_egui::{
    EguiEditor, EguiEditorHandle, EguiEditorState, EguiNiceSettings, Frame, NiceEguiApp, baseview,
    create_egui_editor,
};

pub use app::App;
pub use desk::{Chosen, Desk, Spot};
pub use host_keys::Stroke;
pub use pages::Page;

use crate::params::BarformParams;
use crate::state::{EditorPrefs, MIN_SIZE};
use barform_app::preferences::Preferences;

/// The window as the host sees it.
pub struct BarformEditor {
    params: Arc<BarformParams>,
}

impl BarformEditor {
    /// A window for one instance; a new one looks as the user likes it.
    pub fn new(params: Arc<BarformParams>) -> BarformEditor {
        let folders = Folders::of_user().ok();
        let prefs = Preferences::of(folders.as_ref());
        params.session.begin_with(prefs.start());
        BarformEditor { params }
    }

    /// The library's editor, at the size and zoom the session remembers; in a
    /// host's window or on its own.
    fn window(&self, in_host: bool) -> Option<EguiEditor<Window>> {
        let prefs = self.params.session.prefs();
        let size = LogicalSize::new(prefs.width as f32, prefs.height as f32);
        let state = EguiEditorState::from_size(
            Size::Logical(size.cast()),
            prefs.zoom_percent as f32 / 100.0,
        );
        let settings = EguiNiceSettings::new()
            .with_tile("Barform")
            .with_resize_hint(resize_hint(prefs));
        let window = Window {
            app: App::new(self.params.clone()),
            params: self.params.clone(),
            in_host,
            #[cfg(target_os = "linux")]
            parent: None,
        };
        create_egui_editor(state, self.params.session.window.clone(), settings, window)
    }
}

/// A larger scale asks for no larger window: the screen may have no room for it.
fn resize_hint(prefs: EditorPrefs) -> ResizeHint {
    let scale = prefs.zoom_percent.min(100) as f32 / 100.0;
    let least = LogicalSize::new(MIN_SIZE.0 as f32 * scale, MIN_SIZE.1 as f32 * scale);
    ResizeHint::resizable().with_min_logical_size(least)
}

impl Editor for BarformEditor {
    type Handle = EguiEditorHandle;

    fn spawn(
        &self,
        parent: Option<ParentWindowHandle>,
        wait_for_parent: bool,
        fallback_scale_factor: Option<f64>,
        gui_context: GuiContext,
        host: Option<HostMethods>,
    ) -> Result<SpawnedEditor<EguiEditorHandle>, Box<dyn Error>> {
        // In CLAP the host's window is told of later.
        let in_host = parent.is_some() || wait_for_parent;
        let window = self.window(in_host);
        let window = window.ok_or("the window library refused")?;
        window.spawn(
            parent,
            wait_for_parent,
            fallback_scale_factor,
            gui_context,
            host,
        )
    }

    fn size(&self) -> NativeSize<u32> {
        let prefs = self.params.session.prefs();
        let zoom = |points: u32| points * prefs.zoom_percent / 100;
        NativeSize::from_size(
            Size::Logical(LogicalSize::new(
                f64::from(zoom(prefs.width)),
                f64::from(zoom(prefs.height)),
            )),
            1.0,
        )
    }

    fn resize_hint(&self) -> ResizeHint {
        resize_hint(self.params.session.prefs())
    }
}

/// One open window.
struct Window {
    app: App,
    params: Arc<BarformParams>,
    /// In a host's window.
    in_host: bool,
    /// The way to that window, once it was asked for.
    #[cfg(target_os = "linux")]
    parent: Option<host_keys::x11::Parent>,
}

impl Window {
    fn remember(&self, change: impl FnOnce(&mut EditorPrefs)) {
        let mut prefs = self.params.session.prefs();
        change(&mut prefs);
        self.params.session.set_prefs(prefs);
    }
}

impl Window {
    /// Keys to the host, where the library does not.
    #[cfg(target_os = "linux")]
    fn hand_back(&mut self, keys: &[Stroke], frame: &Frame) {
        if self.parent.is_none() {
            self.parent = host_keys::x11::Parent::of(frame.baseview_window());
        }
        if let Some(parent) = &mut self.parent
            && parent.send(keys).is_err()
        {
            self.parent = None;
        }
    }

    /// Keys to the host: the library does what can be done.
    #[cfg(not(target_os = "linux"))]
    fn hand_back(&mut self, _keys: &[Stroke], _frame: &Frame) {}
}

impl Drop for Window {
    /// What is heard by itself ends with the window that asked for it.
    fn drop(&mut self) {
        self.params.session.audition.stop();
        self.params.session.audition.listen(false);
    }
}

impl NiceEguiApp for Window {
    fn build(
        &mut self,
        _egui_ctx: egui::Context,
        gui_context: GuiContext,
        _frame: &mut Frame,
    ) -> Result<(), baseview::HandlerError> {
        self.app.connect(gui_context);
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut Frame) {
        self.app.show(ui);
        frame.set_key_capture(self.app.key_capture(ui));
        let left = self.app.keys_for_host();
        if self.in_host && !left.is_empty() {
            self.hand_back(&left, frame);
        }
    }

    fn resized(&mut self, new_size: WindowSize) {
        self.remember(|prefs| {
            prefs.width = new_size.logical.width as u32;
            prefs.height = new_size.logical.height as u32;
        });
    }

    fn zoom_factor_changed(&mut self, zoom_factor: f32) {
        self.remember(|prefs| prefs.zoom_percent = (zoom_factor * 100.0).round() as u32);
    }
}
