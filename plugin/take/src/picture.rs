//! A picture of a take over its form, as SVG: cells as boxes with letters, strokes
//! where they were played, drum by drum.

use crate::reading::Reading;
use barform_score::music::Voice;
use std::fmt::Write as _;

/// Pixels of a pulse, of a row, and of the names at the left.
const PULSE: f64 = 72.0;
const ROW: f64 = 16.0;
const LEFT: f64 = 64.0;

/// Pulses in a line.
const LINE: usize = 16;

/// The picture of one of the forms; empty if there is none.
pub fn svg(reading: &Reading, form: usize) -> String {
    let Some(form) = reading.forms.get(form) else {
        return String::new();
    };
    let mut voices: Vec<Voice> = reading.strokes.iter().map(|s| s.stroke.voice).collect();
    voices.sort_unstable();
    voices.dedup();
    voices.reverse();
    let lines = reading.pulses.div_ceil(LINE);
    let tall = ROW * (voices.len() as f64 + 2.5);
    let (width, height) = (LEFT + PULSE * LINE as f64 + 8.0, tall * lines as f64 + 8.0);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
         font-family=\"DejaVu Sans, sans-serif\" font-size=\"11\">\n\
         <title>A take over its form</title>\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n"
    );
    let x = |pulse: f64, line: usize| LEFT + (pulse - (line * LINE) as f64) * PULSE;
    let y = |line: usize| 4.0 + tall * line as f64;
    for step in &form.steps {
        for line in step.start / LINE..=(step.start + step.length - 1) / LINE {
            let from = step.start.max(line * LINE);
            let to = (step.start + step.length).min((line + 1) * LINE);
            let (left, wide) = (x(from as f64, line), (to - from) as f64 * PULSE);
            let shade = ["#eef2f6", "#f7f3e8"][step.cell % 2];
            let _ = writeln!(
                out,
                "<rect x=\"{left:.1}\" y=\"{:.1}\" width=\"{wide:.1}\" height=\"{:.1}\" \
                 fill=\"{shade}\" stroke=\"#667\"/>",
                y(line),
                tall - ROW
            );
            if from == step.start {
                let letter = &form.cells[step.cell].letter;
                let _ = writeln!(
                    out,
                    "<text x=\"{:.1}\" y=\"{:.1}\" font-weight=\"bold\">{letter}</text>",
                    left + 4.0,
                    y(line) + 12.0
                );
            }
        }
    }
    for line in 0..lines {
        for (row, voice) in voices.iter().enumerate() {
            let at = y(line) + ROW * (row as f64 + 1.8);
            let _ = writeln!(out, "<text x=\"4\" y=\"{at:.1}\">{}</text>", voice.name());
        }
    }
    for placed in &reading.strokes {
        let pulse = reading
            .map
            .pulse(placed.stroke.seconds - reading.late_ms / 1000.0)
            .max(0.0);
        let line = (pulse as usize / LINE).min(lines.saturating_sub(1));
        let row = voices
            .iter()
            .position(|v| *v == placed.stroke.voice)
            .unwrap_or(0);
        let top = y(line) + ROW * (row as f64 + 1.0);
        let loud = 0.35 + 0.65 * f64::from(placed.stroke.velocity.to_unit());
        let slot = placed.slot.0 as f64 / placed.slot.1 as f64 + placed.pulse as f64;
        let _ = writeln!(
            out,
            "<line x1=\"{0:.1}\" x2=\"{0:.1}\" y1=\"{1:.1}\" y2=\"{2:.1}\" stroke=\"#9ab\"/>\
             <circle cx=\"{3:.1}\" cy=\"{4:.1}\" r=\"{5:.1}\" fill=\"#234\"/>",
            x(slot, line),
            top + 2.0,
            top + ROW - 2.0,
            x(pulse, line),
            top + ROW / 2.0,
            4.5 * loud
        );
    }
    out.push_str("</svg>\n");
    out
}
