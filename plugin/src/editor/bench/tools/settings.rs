//! What can be set for a tool.

use barform_app::answers::{Tool, ToolSettings, rules};
use barform_app::music::{Hand, Limb, Voice};
use barform_app::score::Score;
use egui::{ComboBox, RichText, Ui};

use super::super::super::palette::Palette;

/// Shows the settings of a tool.
pub fn show(
    settings: &mut ToolSettings,
    ui: &mut Ui,
    tool: Tool,
    score: &Score,
    palette: &Palette,
) {
    match tool {
        Tool::Sticking | Tool::Tempo => setups(settings, ui),
        Tool::Vary => variations(settings, ui, palette),
        Tool::Revoice => hand_on_voice(settings, ui, score),
        _ => {}
    }
}

fn setups(settings: &mut ToolSettings, ui: &mut Ui) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Set-up:");
        let box_ = ComboBox::from_id_salt("set-up")
            .selected_text(&settings.setup)
            .show_ui(ui, |ui| {
                for name in rules().sticking.setups() {
                    ui.selectable_value(&mut settings.setup, name.to_owned(), name);
                }
            });
        let hint = "Where the voices stand and which hand plays the hi-hat";
        box_.response
            .on_hover_text(hint)
            .accessible_name("Set-up of the kit");
    });
}

fn variations(settings: &mut ToolSettings, ui: &mut Ui, palette: &Palette) {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 5.0;
        let levels = &rules().levels;
        let box_ = ComboBox::from_id_salt("level")
            .selected_text(&settings.level)
            .width(110.0)
            .show_ui(ui, |ui| {
                for level in levels.all() {
                    ui.selectable_value(&mut settings.level, level.name.clone(), &level.name);
                }
            });
        let about = rules().variation.level(&settings.level);
        let about = about.map_or("", |level| level.about.as_str());
        box_.response
            .on_hover_text(format!("How hard they may be. {about}"))
            .accessible_name("Level");
        let others = ui.button("More");
        let others = others.on_hover_text("Other cells that are as near, or as likely");
        if others.clicked() {
            settings.seed = settings.seed.wrapping_add(1);
        }
        ui.checkbox(&mut settings.any, "Any")
            .on_hover_text("Any that exist, each as likely as another, not the nearest")
            .accessible_name("Any that exist");
    });
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        ui.label(RichText::new("Keep:").color(palette.dim));
        for (on, name, hint) in [
            (
                &mut settings.accents,
                "accents",
                "Accents stay, and no others come",
            ),
            (
                &mut settings.kicks,
                "kicks",
                "The kick foot plays where it played",
            ),
            (&mut settings.rests, "rests", "The rhythm stays"),
            (&mut settings.sticking, "sticking", "Only voices change"),
            (&mut settings.voices, "voices", "Only the sticking changes"),
        ] {
            ui.toggle_value(on, name)
                .on_hover_text(hint)
                .accessible_name(format!("Keep {name}"));
        }
    });
}

fn hand_on_voice(settings: &mut ToolSettings, ui: &mut Ui, score: &Score) {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 5.0;
        let hand = ComboBox::from_id_salt("hand")
            .selected_text(Limb::from(settings.hand).said())
            .width(90.0)
            .show_ui(ui, |ui| {
                for hand in [Hand::Right, Hand::Left] {
                    ui.selectable_value(&mut settings.hand, hand, Limb::from(hand).said());
                }
            });
        hand.response.accessible_name("Hand to move");
        ui.label("on");
        let voice = settings.voice_in(score);
        let box_ = ComboBox::from_id_salt("voice")
            .selected_text(voice.map_or("—", Voice::said))
            .width(90.0)
            .show_ui(ui, |ui| {
                for voice in &score.kit.order {
                    let name = voice.said();
                    ui.selectable_value(&mut settings.voice, Some(*voice), name);
                }
            });
        box_.response.accessible_name("Voice to move it to");
    });
}
