//! The score text: line numbers, the problem at its line, where it stands.

use egui::text::{CCursor, CCursorRange, LayoutJob, TextFormat};
use egui::{Align2, Color32, FontId, Id, Panel, Rect, RichText, ScrollArea, TextEdit, Ui, pos2};

use super::desk::Desk;
use super::keys::PROBLEM;
use super::palette::Palette;
use super::stand;
use crate::handover::Reading;
use barform_app::session::{Standing, TypedText};

const FONT_SIZE: f32 = 14.0;

/// Height of the two lines above the text, in points.
const STANDING_HEIGHT: f32 = 46.0;

/// Points under the strip from which on the Score page shows the cell, too.
const LEAST_WITH_CELL: f32 = 400.0;

/// The Score page: the cell that plays, above the text.
pub fn page(ui: &mut Ui, desk: &mut Desk, palette: &Palette, reading: &Reading) {
    let height = ui.available_height();
    // In a low window the text has all the room: it is what this page is for.
    if height >= LEAST_WITH_CELL {
        Panel::top("cell")
            .resizable(true)
            .default_size((height * 0.4).max(180.0))
            .size_range(180.0..=(height - 200.0).max(181.0))
            .show(ui, |ui| stand::small(ui, desk, palette, reading));
    }
    egui::CentralPanel::default().show(ui, |ui| {
        if show(ui, &mut desk.typed, palette) {
            desk.typed.edited(ui.input(|i| i.time));
        }
    });
}

/// Shows the text and what is wrong with it. Returns whether it was edited.
pub fn show(ui: &mut Ui, typed: &mut TypedText, palette: &Palette) -> bool {
    let id = Id::unique("score text");
    let mut jump = ui.input_mut(|i| PROBLEM.iter().any(|keys| i.consume_shortcut(keys)));
    // Room for two lines in any case, so that the text does not jump.
    ui.horizontal_top(|ui| {
        ui.set_min_height(STANDING_HEIGHT);
        ui.add_space(4.0);
        jump |= standing(ui, typed, palette);
    });
    if jump {
        go_to_problem(ui, id, typed);
    }
    ui.add_space(2.0);
    let mut edited = false;
    egui::Frame::new()
        .fill(palette.panel)
        .inner_margin(4)
        .show(ui, |ui| {
            let height = ui.available_height();
            ScrollArea::both()
                .auto_shrink(false)
                .max_height(height)
                .show(ui, |ui| {
                    edited = text_with_numbers(ui, id, typed, palette, jump);
                });
        });
    edited
}

/// One line, two with a mend: whether the text plays, or what is wrong.
/// Returns whether to go there.
fn standing(ui: &mut Ui, typed: &TypedText, palette: &Palette) -> bool {
    let Some(problem) = typed.problem.as_ref() else {
        match typed.standing() {
            Standing::Checking => ui.label(RichText::new("Checking …").color(palette.dim)),
            _ => ui
                .label(RichText::new("No errors.").color(palette.good))
                .on_hover_text(
                    "The text is checked as you type. As long as it is valid it plays at once; \
                 otherwise the last valid one plays on.",
                ),
        };
        return false;
    };
    let mut jump = false;
    ui.vertical(|ui| {
        ui.horizontal_wrapped(|ui| {
            if problem.line > 0 {
                let place = format!("Line {}, column {}", problem.line, problem.column);
                jump = ui
                    .button(RichText::new(place).color(palette.error))
                    .on_hover_text("Go there (F8 or Ctrl+J)")
                    .clicked();
            }
            ui.label(RichText::new(&problem.message).color(palette.error));
        });
        let mend = problem.mend.as_deref().map(sentence).unwrap_or_default();
        let rest = "The last valid score plays on.";
        ui.label(RichText::new(format!("{mend}{rest}")).color(palette.ink));
    });
    jump
}

/// A mend as a sentence of its own, with the blank after it.
fn sentence(mend: &str) -> String {
    let mut letters = mend.chars();
    let first = letters
        .next()
        .map(|c| c.to_uppercase().to_string())
        .unwrap_or_default();
    let stop = if mend.ends_with(['?', '.', '!']) {
        ""
    } else {
        "."
    };
    format!("{first}{}{stop} ", letters.as_str())
}

fn go_to_problem(ui: &Ui, id: Id, typed: &TypedText) {
    let Some(problem) = &typed.problem else {
        return;
    };
    let start = typed
        .text
        .char_indices()
        .take_while(|(b, _)| *b < problem.span.start)
        .count();
    let end = typed
        .text
        .char_indices()
        .take_while(|(b, _)| *b < problem.span.end)
        .count();
    let mut state = TextEdit::load_state(ui.ctx(), id).unwrap_or_default();
    let range = CCursorRange::two(CCursor::new(start), CCursor::new(end.max(start)));
    state.cursor.set_char_range(Some(range));
    TextEdit::store_state(ui.ctx(), id, state);
    ui.memory_mut(|m| m.request_focus(id));
}

fn text_with_numbers(
    ui: &mut Ui,
    id: Id,
    typed: &mut TypedText,
    palette: &Palette,
    jump: bool,
) -> bool {
    let lines = typed.text.bytes().filter(|b| *b == b'\n').count() + 1;
    let digits = lines.to_string().len().max(2) as f32;
    let gutter = digits * FONT_SIZE * 0.62 + 26.0;
    let wrong_line = typed
        .problem
        .as_ref()
        .map(|p| p.line)
        .filter(|line| *line > 0);
    let output = ui
        .horizontal_top(|ui| {
            ui.add_space(gutter);
            // Drawn behind the text, once its place is known.
            let behind = ui.painter().add(egui::Shape::Noop);
            let mut layouter = |ui: &Ui, text: &dyn egui::TextBuffer, _wrap: f32| {
                ui.fonts_mut(|f| f.layout_job(colour(text.as_str(), palette)))
            };
            let output = TextEdit::multiline(&mut typed.text)
                .id(id)
                .font(egui::TextStyle::Monospace)
                .desired_width(ui.available_width().max(200.0))
                .desired_rows(8)
                .frame(egui::Frame::NONE)
                .layouter(&mut layouter)
                .show(ui);
            (output, behind)
        })
        .inner;
    let (output, behind) = output;
    output
        .response
        .response
        .clone()
        .accessible_name("Score text");
    let clip = ui.clip_rect();
    let painter = ui.painter();
    let mut line = 1;
    for row in &output.galley.rows {
        let rect = row.rect().translate(output.galley_pos.to_vec2());
        if rect.bottom() >= clip.top() && rect.top() <= clip.bottom() {
            let wrong = wrong_line == Some(line);
            if wrong {
                let band = Rect::from_x_y_ranges(clip.x_range(), rect.y_range());
                let tint = palette.error.gamma_multiply(0.18);
                painter.set(behind, egui::Shape::rect_filled(band, 0.0, tint));
            }
            number(
                painter,
                pos2(output.galley_pos.x - 12.0, rect.center().y),
                line,
                wrong,
                palette,
            );
        }
        line += usize::from(row.ends_with_newline);
    }
    if jump && let Some(range) = output.cursor_range {
        let cursor = output.galley.pos_from_cursor(range.primary);
        let target = cursor.translate(output.galley_pos.to_vec2()).expand(60.0);
        ui.scroll_to_rect(target, None);
    }
    output.response.response.changed()
}

/// A line number; a wrong line has a disc with an exclamation mark as well.
fn number(painter: &egui::Painter, right: egui::Pos2, line: usize, wrong: bool, palette: &Palette) {
    let colour = if wrong { palette.error } else { palette.dim };
    let font = FontId::monospace(FONT_SIZE * 0.86);
    let drawn = painter.text(right, Align2::RIGHT_CENTER, line.to_string(), font, colour);
    if wrong {
        let disc = pos2(drawn.left() - 9.0, right.y);
        painter.circle_filled(disc, 6.5, palette.error);
        let mark = super::palette::text_on(palette.error);
        painter.text(
            disc,
            Align2::CENTER_CENTER,
            "!",
            FontId::proportional(11.0),
            mark,
        );
    }
    let rule = right.x + 6.0;
    painter.vline(
        rule,
        drawn.y_range().expand(3.0),
        egui::Stroke::new(1.0, palette.line),
    );
}

/// Comments in second rank, table heads and strings in colour.
fn colour(text: &str, palette: &Palette) -> LayoutJob {
    let format = |colour: Color32| TextFormat {
        font_id: FontId::monospace(FONT_SIZE),
        color: colour,
        ..TextFormat::default()
    };
    let mut job = LayoutJob::default();
    for line in text.split_inclusive('\n') {
        if line.trim_start().starts_with('[') {
            let (code, comment) = line.split_at(comment_start(line));
            job.append(code, 0.0, format(palette.accent));
            job.append(comment, 0.0, format(palette.dim));
            continue;
        }
        let (code, comment) = line.split_at(comment_start(line));
        let mut rest = code;
        let mut quoted = false;
        while let Some(at) = rest.find('"') {
            let end = at + usize::from(quoted);
            let (part, after) = rest.split_at(end);
            job.append(
                part,
                0.0,
                format(if quoted { palette.good } else { palette.ink }),
            );
            if quoted {
                rest = after;
            } else {
                // The opening quote belongs to the string.
                job.append("\"", 0.0, format(palette.good));
                rest = &after[1..];
            }
            quoted = !quoted;
        }
        job.append(
            rest,
            0.0,
            format(if quoted { palette.good } else { palette.ink }),
        );
        job.append(comment, 0.0, format(palette.dim));
    }
    job.wrap.max_width = f32::INFINITY;
    // The layout of an empty text still needs a font for the cursor's height.
    if job.sections.is_empty() {
        job.append("", 0.0, format(palette.ink));
    }
    job
}

/// Byte at which a comment begins, else the line's length.
fn comment_start(line: &str) -> usize {
    let mut quoted = false;
    for (at, c) in line.char_indices() {
        match c {
            '"' => quoted = !quoted,
            '#' if !quoted => return at,
            _ => {}
        }
    }
    line.len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::Theme;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn colouring_changes_no_character(text in "(?s).{0,200}") {
            let job = colour(&text, Palette::of(Theme::Dark));
            prop_assert_eq!(job.text, text);
        }
    }

    #[test]
    fn a_mend_becomes_a_sentence() {
        assert_eq!(sentence("did you mean 'A'?"), "Did you mean 'A'? ");
        assert_eq!(sentence("add one slot"), "Add one slot. ");
    }

    #[test]
    fn a_hash_in_a_string_starts_no_comment() {
        assert_eq!(comment_start("title = \"a # b\" # c"), 16);
        assert_eq!(comment_start("grid = \"6\""), 10);
    }
}
