//! Drum patterns written by `mido`, a reference library, read into scores.
//!
//! What was written is told by the script itself, as beats, slots and drums;
//! the score is compiled, and every stroke must stand where it was meant.

use std::collections::BTreeMap;
use std::fs;

use anyhow::{Context, Result};
use barform_app::import::midi::{Options, PERCUSSION_NAMES, read_with_report};
use barform_app::music::{Articulation, Beats, Level};
use barform_app::timeline::Timeline;
use barform_tests::command;
use serde_json::Value;

/// Strokes as (beat, position in it, drum, level), in order.
type Strokes = Vec<(i64, String, String, String)>;

fn meant(case: &Value) -> Strokes {
    let text = |v: &Value| v.as_str().unwrap_or_default().to_owned();
    let mut all: Strokes = case["strokes"]
        .as_array()
        .map(Vec::as_slice)
        .unwrap_or_default()
        .iter()
        .map(|s| {
            (
                s[0].as_i64().unwrap_or(-1),
                text(&s[1]),
                text(&s[2]),
                text(&s[3]),
            )
        })
        .collect();
    all.sort();
    all
}

fn read_strokes(timeline: &Timeline) -> Result<(Strokes, BTreeMap<i64, Vec<u8>>)> {
    let (mut all, mut grids) = (Vec::new(), BTreeMap::new());
    for place in &timeline.places {
        let cell = timeline.cell_of(place);
        grids.insert(
            place.start.floor(),
            cell.grid.spans().iter().map(|s| s.slots).collect(),
        );
        for (at, slot) in cell.grid.slot_bounds()?.into_iter().zip(&cell.slots) {
            let at = place.start.checked_add(at)?;
            let beat = at.floor();
            let part = at.checked_sub(Beats::whole(beat))?;
            for stroke in slot {
                assert_eq!(stroke.articulation, Articulation::Plain);
                assert!(stroke.graces.is_empty() && !stroke.buzz);
                let level = match stroke.level {
                    Level::Ghost => "ghost",
                    Level::Normal => "normal",
                    Level::Accent => "accent",
                };
                let drum = stroke.voice.name().to_owned();
                all.push((beat, part.to_string(), drum, level.to_owned()));
            }
        }
    }
    all.sort();
    Ok((all, grids))
}

#[test]
fn patterns_are_read_as_they_were_written() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let told: Value = serde_json::from_str(&command::python("write_drums.py", &[folder.path()])?)?;
    let cases = told["cases"].as_array().context("no cases")?;
    assert!(cases.len() >= 50);
    for case in cases {
        let name = case["name"].as_str().unwrap_or_default();
        let file = case["file"].as_str().context("no file")?;
        let bytes = fs::read(file)?;
        let (imported, report) =
            read_with_report(&bytes, &Options::default()).with_context(|| name.to_owned())?;
        let score = &imported.score;
        assert_eq!(score.tempo.to_string(), case["bpm"].to_string(), "{name}");
        assert_eq!(
            Some(score.meter.to_string().as_str()),
            case["meter"].as_str()
        );
        let (strokes, grids) = read_strokes(&Timeline::compile(score)?)?;
        assert_eq!(strokes, meant(case), "{name}: {}", score.to_toml());
        for (beat, slots) in case["full"].as_object().context("no beats")? {
            let beat: i64 = beat.parse()?;
            let slots = slots.as_u64().and_then(|n| u8::try_from(n).ok());
            assert_eq!(
                grids[&beat],
                [slots.context("no slots")?],
                "{name}, beat {beat}"
            );
        }
        let off_ms = report.largest_error_us as f64 / 1000.0;
        if case["exact"] == Value::Bool(true) {
            assert_eq!(report.largest_error_us, 0, "{name}");
        } else {
            // The file's ticks of 1.25 ms add at most half a tick.
            assert!(
                off_ms > 2.0 && off_ms <= 8.0 + 0.625 + 0.01,
                "{name}: {off_ms} ms"
            );
        }
    }
    // General MIDI Level 1, table 3, as pretty_midi has it.
    let plain = |name: &str| -> String {
        let name = name.to_lowercase();
        name.chars().filter(|c| c.is_alphanumeric()).collect()
    };
    let names = told["names"].as_array().context("no names")?;
    for (ours, theirs) in PERCUSSION_NAMES.iter().zip(names) {
        assert_eq!(plain(ours), plain(theirs.as_str().unwrap_or_default()));
    }
    assert_eq!(names.len(), PERCUSSION_NAMES.len());
    Ok(())
}
