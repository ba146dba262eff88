//! Controls for parameters. Each change goes to the host as a gesture, so that
//! it can be recorded as automation.

use egui::{Response, Slider, SliderClamping, Ui};
use nice_plug::context::gui::GuiContext;
use nice_plug::prelude::{BoolParam, Enum, EnumParam, FloatParam, IntParam, Param, ParamPtr};

/// The way to the host, and the gesture that is under way.
#[derive(Default)]
pub struct Host {
    context: Option<GuiContext>,
    gesture: Option<ParamPtr>,
}

impl Host {
    /// The host of an open window.
    pub fn new(context: GuiContext) -> Host {
        Host {
            context: Some(context),
            gesture: None,
        }
    }

    /// One change, complete in itself.
    pub fn set<P: Param>(&mut self, param: &P, value: P::Plain) {
        if let Some(context) = &self.context {
            let setter = context.param_setter();
            setter.begin_set_parameter(param);
            setter.set_parameter(param, value);
            setter.end_set_parameter(param);
        }
    }

    /// A change by a control: all that happens during one drag is one gesture.
    fn follow<P: Param>(&mut self, param: &P, response: &Response, value: P::Plain) {
        let Some(context) = self.context.clone() else {
            return;
        };
        let setter = context.param_setter();
        let ptr = param.as_ptr();
        if response.changed() && response.dragged() {
            if self.gesture.is_none() {
                setter.begin_set_parameter(param);
                self.gesture = Some(ptr);
            }
            if self.gesture == Some(ptr) {
                setter.set_parameter(param, value);
            }
        } else if response.changed() && self.gesture != Some(ptr) {
            self.set(param, value);
        }
        if self.gesture == Some(ptr) && !response.dragged() {
            setter.end_set_parameter(param);
            self.gesture = None;
        }
    }
}

/// A switch.
pub fn switch(ui: &mut Ui, host: &mut Host, param: &BoolParam, label: &str) -> Response {
    let mut on = param.value();
    let response = ui.checkbox(&mut on, label);
    if response.changed() {
        host.set(param, on);
    }
    response
}

/// A checkbox that is ticked while what `mute` silences is heard.
pub fn unmute(ui: &mut Ui, host: &mut Host, mute: &BoolParam, label: &str) -> Response {
    let mut heard = !mute.value();
    let response = ui.checkbox(&mut heard, label);
    if response.changed() {
        host.set(mute, !heard);
    }
    response
}

/// A slider with its value in the parameter's unit, which can be typed too.
pub fn slider(
    ui: &mut Ui,
    host: &mut Host,
    param: &FloatParam,
    range: std::ops::RangeInclusive<f32>,
    logarithmic: bool,
) -> Response {
    let mut value = param.value();
    let slider = Slider::new(&mut value, range)
        .logarithmic(logarithmic)
        .clamping(SliderClamping::Always)
        .max_decimals(1)
        .suffix(param.unit());
    let response = ui.add(slider);
    host.follow(param, &response, value);
    response.accessible_name(param.name())
}

/// A whole number.
pub fn number(
    ui: &mut Ui,
    host: &mut Host,
    param: &IntParam,
    range: std::ops::RangeInclusive<i32>,
) -> Response {
    let mut value = param.value();
    let text = |v: f64, _: std::ops::RangeInclusive<usize>| {
        param.normalized_value_to_string(param.preview_normalized(v as i32), true)
    };
    let parse = |text: &str| text.split_whitespace().next()?.parse().ok();
    let drag = egui::DragValue::new(&mut value)
        .range(range)
        .speed(0.2)
        .custom_formatter(text)
        .custom_parser(parse);
    let response = ui.add(drag);
    host.follow(param, &response, value);
    response.accessible_name(param.name())
}

/// A choice, all options in view.
pub fn choice<T: Enum + PartialEq + Copy + 'static>(
    ui: &mut Ui,
    host: &mut Host,
    param: &EnumParam<T>,
) -> Response {
    let now = param.value();
    let inner = ui.horizontal(|ui| {
        for (index, name) in T::variants().iter().enumerate() {
            let option = T::from_index(index);
            if ui.radio(now == option, *name).clicked() && now != option {
                host.set(param, option);
            }
        }
    });
    inner.response
}
