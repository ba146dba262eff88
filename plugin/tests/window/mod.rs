//! The window, worked by its accessibility tree as a user would.

// Each test file uses a part of it.
#![allow(dead_code)]

pub mod picture;

use std::sync::Arc;

use barform::editor::App;
use barform::params::BarformParams;
use barform::state::Session;
use barform_app::shelf::Folders;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use nice_plug::context::PluginApi;
use nice_plug::context::gui::{GuiContext, GuiContextInner};
use nice_plug::prelude::{ParamPtr, PluginState};
use picture::{Picture, Textures};
use tempfile::TempDir;

/// A host that does what it is told.
pub struct Obedient;

impl GuiContextInner for Obedient {
    fn plugin_api(&self) -> PluginApi {
        PluginApi::Clap
    }
    unsafe fn raw_begin_set_parameter(&self, _: ParamPtr) {}
    unsafe fn raw_set_parameter_normalized(&self, param: ParamPtr, normalized: f32) {
        // SAFETY: the tests keep the parameters alive as long as the window.
        unsafe { param._internal_set_normalized_value(normalized) };
    }
    unsafe fn raw_end_set_parameter(&self, _: ParamPtr) {}
    fn get_state(&self) -> PluginState {
        unreachable!("the window never asks for it")
    }
    fn set_state(&self, _: PluginState) {
        unreachable!("the window never asks for it")
    }
    fn request_restart(&self) {}
}

/// Points that the driver leaves empty on each side of what it drives.
pub const FRAME: f32 = 8.0;

/// An open window.
pub struct Window {
    /// Its instance.
    pub params: Arc<BarformParams>,
    /// What works it.
    pub harness: Harness<'static, App>,
    /// Its data folder.
    pub folder: TempDir,
    textures: Textures,
}

impl Window {
    /// Over the embedded score, with a data folder of its own.
    pub fn open() -> Window {
        Window::over(Arc::new(BarformParams::new(Arc::new(Session::default()))))
    }

    /// Over an instance.
    pub fn over(params: Arc<BarformParams>) -> Window {
        Window::sized(params, 1_100.0, 720.0)
    }

    /// Over an instance, of a size in points.
    pub fn sized(params: Arc<BarformParams>, width: f32, height: f32) -> Window {
        Window::within(params, width, height, tempfile::tempdir().unwrap())
    }

    /// Over an instance, of a size in points, with a data folder that is there.
    pub fn within(params: Arc<BarformParams>, width: f32, height: f32, folder: TempDir) -> Window {
        let folders = Folders::at(folder.path());
        let mut app = App::with_folders(params.clone(), Some(folders));
        app.connect(GuiContext::new(Arc::new(Obedient)));
        let textures = Textures::default();
        let harness = Harness::builder()
            .with_size(egui::vec2(width + 2.0 * FRAME, height + 2.0 * FRAME))
            .renderer(textures.keeper())
            .build_ui_state(|ui, app: &mut App| app.show(ui), app);
        let mut window = Window {
            params,
            harness,
            folder,
            textures,
        };
        window.settle();
        window
    }

    /// Frames until nothing is being checked any more.
    pub fn settle(&mut self) {
        self.harness.run_steps(4);
        while self.harness.state().is_checking() {
            std::thread::sleep(std::time::Duration::from_millis(2));
            self.harness.run_steps(2);
        }
        self.harness.run_steps(2);
    }

    /// What the window shows, the driver's frame left away.
    pub fn picture(&self) -> Picture {
        let (ctx, output) = (&self.harness.ctx, self.harness.output());
        let margin = (FRAME * ctx.pixels_per_point()) as usize;
        self.textures.paint(ctx, output).within(margin)
    }

    /// Frames until something holds that a thread brings about.
    pub fn until(&mut self, what: &str, holds: impl Fn(&Window) -> bool) {
        for _ in 0..2_000 {
            if holds(self) {
                self.settle();
                return;
            }
            std::thread::sleep(std::time::Duration::from_millis(2));
            self.harness.run_steps(1);
        }
        panic!("it never came to pass: {what}");
    }

    /// Clicks what has this label.
    pub fn click(&mut self, label: &str) {
        self.harness.get_by_label(label).click();
        self.settle();
    }

    /// Types at the end of the score text, on the page of the score.
    pub fn type_at_end(&mut self, text: &str) {
        self.command(egui::Key::Num3);
        self.harness.get_by_label("Score text").focus();
        self.harness.run_steps(2);
        let end = egui::Modifiers::COMMAND;
        self.harness.key_press_modifiers(end, egui::Key::End);
        self.harness.run_steps(1);
        self.harness.get_by_label("Score text").type_text(text);
        self.settle();
    }

    /// Over a score.
    pub fn with_score(text: &str) -> Window {
        let session = Session::default();
        let checked = barform::state::check(text, "test.barform").unwrap();
        session.accept(checked, "Test", None);
        Window::over(Arc::new(BarformParams::new(Arc::new(session))))
    }

    /// The score text that plays.
    pub fn text(&self) -> String {
        self.params.session.checked().text().to_owned()
    }

    /// Presses a key with Ctrl (on a Mac, Cmd).
    pub fn command(&mut self, key: egui::Key) {
        self.harness
            .key_press_modifiers(egui::Modifiers::COMMAND, key);
        self.settle();
    }

    /// Presses a key.
    pub fn key(&mut self, key: egui::Key) {
        self.harness.key_press(key);
        self.settle();
    }
}
