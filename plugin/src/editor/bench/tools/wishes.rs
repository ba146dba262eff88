//! How a tool is asked: what the user has set.

use barform_app::music::{Hand, Limb, Voice};
use barform_app::score::Score;
use egui::{ComboBox, RichText, Ui};

use super::super::super::palette::Palette;
use super::question::{Tool, rules};

/// All settings of all tools.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wishes {
    /// How the kit stands, by its name in the rules.
    pub setup: String,
    /// How hard variations may be, by its name in the rules.
    pub level: String,
    /// Accents stay.
    pub accents: bool,
    /// The kick foot's strokes stay.
    pub kicks: bool,
    /// Rests stay.
    pub rests: bool,
    /// The sticking line stays.
    pub sticking: bool,
    /// The voices line stays.
    pub voices: bool,
    /// Any that exist, not the nearest.
    pub any: bool,
    /// Which of equally good ones.
    pub seed: u64,
    /// The hand that goes to one voice.
    pub hand: Hand,
    /// That voice; the kit's ride or last one if none is chosen.
    pub voice: Option<Voice>,
}

impl Default for Wishes {
    fn default() -> Self {
        Wishes {
            setup: "right-handed".to_owned(),
            level: "intermediate".to_owned(),
            accents: false,
            kicks: false,
            rests: false,
            sticking: false,
            voices: false,
            any: false,
            seed: 1,
            hand: Hand::Right,
            voice: None,
        }
    }
}

impl Wishes {
    /// The settings of a tool.
    pub fn show(&mut self, ui: &mut Ui, tool: Tool, score: &Score, palette: &Palette) {
        match tool {
            Tool::Sticking | Tool::Tempo => self.setups(ui),
            Tool::Vary => self.variations(ui, palette),
            Tool::Revoice => self.hand_on(ui, score),
            Tool::Rudiments | Tool::Refit | Tool::Carry => {}
        }
    }

    fn setups(&mut self, ui: &mut Ui) {
        ui.horizontal_wrapped(|ui| {
            ui.label("Set-up:");
            let box_ = ComboBox::from_id_salt("set-up")
                .selected_text(&self.setup)
                .show_ui(ui, |ui| {
                    for name in rules().sticking.setups() {
                        ui.selectable_value(&mut self.setup, name.to_owned(), name);
                    }
                });
            let hint = "Where the voices stand and which hand plays the hi-hat";
            box_.response
                .on_hover_text(hint)
                .accessible_name("Set-up of the kit");
        });
    }

    fn variations(&mut self, ui: &mut Ui, palette: &Palette) {
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 5.0;
            let levels = &rules().levels;
            let box_ = ComboBox::from_id_salt("level")
                .selected_text(&self.level)
                .width(110.0)
                .show_ui(ui, |ui| {
                    for level in levels.all() {
                        ui.selectable_value(&mut self.level, level.name.clone(), &level.name);
                    }
                });
            let about = rules().variation.level(&self.level);
            let about = about.map_or("", |level| level.about.as_str());
            box_.response
                .on_hover_text(format!("How hard they may be. {about}"))
                .accessible_name("Level");
            let others = ui.button("More");
            let others = others.on_hover_text("Other cells that are as near, or as likely");
            if others.clicked() {
                self.seed = self.seed.wrapping_add(1);
            }
            ui.checkbox(&mut self.any, "Any")
                .on_hover_text("Any that exist, each as likely as another, not the nearest")
                .accessible_name("Any that exist");
        });
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 4.0;
            ui.label(RichText::new("Keep:").color(palette.dim));
            for (on, name, hint) in [
                (
                    &mut self.accents,
                    "accents",
                    "Accents stay, and no others come",
                ),
                (
                    &mut self.kicks,
                    "kicks",
                    "The kick foot plays where it played",
                ),
                (&mut self.rests, "rests", "The rhythm stays"),
                (&mut self.sticking, "sticking", "Only voices change"),
                (&mut self.voices, "voices", "Only the sticking changes"),
            ] {
                ui.toggle_value(on, name)
                    .on_hover_text(hint)
                    .accessible_name(format!("Keep {name}"));
            }
        });
    }

    fn hand_on(&mut self, ui: &mut Ui, score: &Score) {
        ui.horizontal_wrapped(|ui| {
            ui.spacing_mut().item_spacing.x = 5.0;
            let hand = ComboBox::from_id_salt("hand")
                .selected_text(Limb::from(self.hand).said())
                .width(90.0)
                .show_ui(ui, |ui| {
                    for hand in [Hand::Right, Hand::Left] {
                        ui.selectable_value(&mut self.hand, hand, Limb::from(hand).said());
                    }
                });
            hand.response.accessible_name("Hand to move");
            ui.label("on");
            let voice = self.voice_in(score);
            let box_ = ComboBox::from_id_salt("voice")
                .selected_text(voice.map_or("—", Voice::said))
                .width(90.0)
                .show_ui(ui, |ui| {
                    for voice in &score.kit.order {
                        let name = voice.said();
                        ui.selectable_value(&mut self.voice, Some(*voice), name);
                    }
                });
            box_.response.accessible_name("Voice to move it to");
        });
    }

    /// The voice one hand goes to.
    pub fn voice_in(&self, score: &Score) -> Option<Voice> {
        let order = &score.kit.order;
        let there = |voice: &Voice| order.contains(voice);
        let ride = Some(Voice::Ride).filter(there);
        self.voice
            .filter(there)
            .or(ride)
            .or_else(|| order.last().copied())
    }
}
