//! `barform take`: what somebody played becomes a lettered form.

use crate::failure::Failure;
use crate::input::is_dash;
use crate::output::{self, Target};
use crate::progress::Progress;
use barform_app::music::{Kit, Meter};
use barform_app::take::keys::Layout;
use barform_app::take::{BeatSource, Edit, Form, Kind, Options, Reading, TakeError, picture};
use barform_app::words::{count, number};
use clap::ValueEnum;
use serde_json::{Value, json};
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// `barform take`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
A take is a MIDI file of what somebody played on pads. Its beats come from the
file's tempo, or are found where it states none; then each beat gets the
subdivision that explains its strokes best, and what repeats gets a letter.
`barform import` is for files that lie exactly on a grid.

Examples:
  barform take solo.mid                         solo.barform, and what was found
  barform take solo.mid --beats found           the file's tempo is not the player's
  barform take solo.mid --tempo 96 --meter 3/4
  barform take solo.mid --cut 9 --join 11       beat 9 begins a cell, beat 11 none
  barform take solo.mid --form 2 -o -           the second proposal, to look at
  barform take solo.mid --picture solo.svg      the strokes over the form")]
pub struct TakeArgs {
    /// The MIDI file; - reads standard input
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
    /// List nothing
    #[arg(short, long)]
    pub quiet: bool,
    /// Tell what was found as JSON instead of text
    #[arg(long)]
    pub json: bool,
    /// Write this proposal, 1 being the shortest to tell
    #[arg(long, value_name = "N", default_value_t = 1)]
    #[arg(value_parser = clap::value_parser!(u8).range(1..=20))]
    pub form: u8,
    /// Where the beats come from [default: the file's tempo if it states one]
    #[arg(long, value_name = "SOURCE")]
    pub beats: Option<Beats>,
    /// Whether it was played by hand or programmed [default: found out]
    #[arg(long, value_name = "HOW")]
    pub by: Option<By>,
    /// Beats a minute, 20 to 400
    #[arg(long, value_name = "BPM", value_parser = bpm)]
    pub tempo: Option<f64>,
    /// Moment of the first beat of a bar, in seconds
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    pub first_beat: Option<f64>,
    /// Meter [default: the file's, else 4/4]
    #[arg(long, value_name = "METER", value_parser = meter)]
    pub meter: Option<Meter>,
    /// A cell begins on this beat of the form; may be given several times
    #[arg(long, value_name = "BEAT", value_parser = clap::value_parser!(u32).range(2..))]
    pub cut: Vec<u32>,
    /// No cell begins on this beat
    #[arg(long, value_name = "BEAT", value_parser = clap::value_parser!(u32).range(2..))]
    pub join: Vec<u32>,
    /// Read keys as the kit of this score does
    #[arg(long, value_name = "SCORE")]
    pub kit: Option<PathBuf>,
    /// Draw the strokes over the form into this SVG file
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
}

/// Where beats come from.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Beats {
    /// The file's tempo: it was played to a click
    Click,
    /// The strokes themselves
    Found,
}

/// Who made the notes.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum By {
    /// A player
    Hand,
    /// A program, on its ticks
    Program,
}

fn bpm(text: &str) -> Result<f64, String> {
    let bpm = text
        .parse::<f64>()
        .ok()
        .filter(|bpm| (20.0..=400.0).contains(bpm));
    bpm.ok_or_else(|| "a tempo is 20 to 400 beats a minute".to_owned())
}

fn seconds(text: &str) -> Result<f64, String> {
    let seconds = text
        .parse::<f64>()
        .ok()
        .filter(|s| (0.0..=86_400.0).contains(s));
    seconds.ok_or_else(|| "a moment is a number of seconds from the file's start".to_owned())
}

fn meter(text: &str) -> Result<Meter, String> {
    text.parse()
        .map_err(|()| "a meter is written 4/4, 7/8 or 12/8".to_owned())
}

/// Reads the take, writes the score.
pub fn run(args: &TakeArgs) -> Result<(), Failure> {
    let path = match &args.target.output {
        Some(path) => path.clone(),
        None if is_dash(&args.file) => PathBuf::from("-"),
        None => {
            let name = args.file.file_name().unwrap_or_default();
            PathBuf::from(name).with_extension("barform")
        }
    };
    for path in [Some(&path), args.picture.as_ref()].into_iter().flatten() {
        output::refuse_existing(path, args.target.force)?;
    }
    let kit = match &args.kit {
        Some(path) => crate::input::read(path)?.score().kit.clone(),
        None => Kit::general_midi(),
    };
    let bytes = bytes(&args.file)?;
    let options = Options {
        kind: args.by.map(|by| match by {
            By::Hand => Kind::Played,
            By::Program => Kind::Programmed,
        }),
        beats: match args.beats {
            None => BeatSource::Auto,
            Some(Beats::Click) => BeatSource::Click,
            Some(Beats::Found) => BeatSource::Found,
        },
        tempo: args.tempo,
        first_beat: args.first_beat,
        meter: args.meter,
        kit: kit.clone(),
        proposals: usize::from(args.form).max(5),
    };
    let refused = |error: TakeError| match error {
        TakeError::Option(what) => Failure::Usage(what),
        other => Failure::Score(format!("{}: {other}", args.file.display())),
    };
    let mut progress = Progress::new("reading the take", args.quiet);
    let mut watch = |share: f64| {
        progress.show(share);
        true
    };
    let mut reading = Reading::watched(&bytes, &options, &mut watch).map_err(refused)?;
    let at = |beat: &u32| (*beat - 1) as usize;
    let cuts = args.cut.iter().map(|beat| Edit::Cut(at(beat)));
    let edits: Vec<Edit> = cuts
        .chain(args.join.iter().map(|beat| Edit::Join(at(beat))))
        .collect();
    if !edits.is_empty() {
        reading
            .revise(&edits, options.proposals, &mut watch)
            .map_err(refused)?;
    }
    drop(progress);
    let form = usize::from(args.form) - 1;
    let written = reading.score(form, &kit).map_err(refused)?;
    output::write_file(&path, written.score.to_toml().as_bytes(), args.target.force)?;
    if let Some(picture) = &args.picture {
        let svg = picture::svg(&reading, form);
        output::write_file(picture, svg.as_bytes(), args.target.force)?;
    }
    if args.quiet {
        return Ok(());
    }
    let told = if args.json {
        format!("{:#}\n", as_json(&reading, form))
    } else {
        as_text(&path, &reading, form, &written.told)
    };
    if is_dash(&path) {
        let _ = write!(io::stderr(), "{told}");
        Ok(())
    } else {
        output::say(&told)
    }
}

/// A byte more than is read, so that the reader can say so.
pub(crate) fn bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let most = barform_app::take::recording::MAX_BYTES as u64 + 1;
    let mut bytes = Vec::new();
    let read = if is_dash(path) {
        io::stdin().lock().take(most).read_to_end(&mut bytes)
    } else {
        File::open(path).and_then(|file| file.take(most).read_to_end(&mut bytes))
    };
    read.map_err(|e| Failure::file(path, "read", &e))?;
    Ok(bytes)
}

fn letters(form: &Form) -> String {
    let names = form.letters().into_iter().map(|l| l.as_str().to_owned());
    names.collect::<Vec<_>>().join(" ")
}

fn as_text(path: &Path, reading: &Reading, chosen: usize, told: &[String]) -> String {
    let kind = match reading.kind {
        Kind::Played => "played",
        Kind::Programmed => "programmed",
    };
    let mut out = format!(
        "{}: {} {kind}, {} beats a minute in {}\n",
        path.display(),
        count(reading.strokes.len(), "stroke"),
        number(reading.tempo()),
        reading.meter,
    );
    match reading.source {
        BeatSource::Found => {
            out += &format!(
                "beats found from the strokes: {:.0} % sure of the beat, {:.0} % of the bar line\n",
                100.0 * reading.certainty.beat,
                100.0 * reading.certainty.bar
            );
            let others: Vec<String> = reading
                .certainty
                .others
                .iter()
                .map(|o| format!("{o:.0}"))
                .collect();
            if !others.is_empty() {
                out += &format!("other tempos that fit: {}\n", others.join(", "));
            }
        }
        _ => out += "beats from the tempo in the file\n",
    }
    out += &format!(
        "{:.1} ms late on average, strokes spread by {:.1} ms around their slots\n",
        reading.late_ms, reading.spread_ms
    );
    if reading.keys.layout == Layout::Zones {
        out += "MIDI notes read as those of pads with rims and edges\n";
    }
    for (key, voice) in &reading.keys.learned {
        out += &format!(
            "note {key} is in no key map and was taken as {}\n",
            voice.name()
        );
    }
    for (n, what) in [
        (reading.contacts, "second contact put with its stroke"),
        (reading.other_channels, "note on another channel left out"),
        (reading.counted.len(), "stroke of a count-in left out"),
    ] {
        if n > 0 {
            out += &format!("{n} × {what}\n");
        }
    }
    for lifted in &reading.lifted {
        out += &format!(
            "{} recurs every {}: an ostinato ({} left out)\n",
            lifted.voice.name(),
            count(lifted.cycle as usize, "beat"),
            lifted.missed
        );
    }
    for line in told {
        out += &format!("left out: {line}\n");
    }
    for (i, form) in reading.forms.iter().enumerate() {
        let mark = if i == chosen { '>' } else { ' ' };
        let slips: u32 = form.steps.iter().map(|s| s.slips).sum();
        out += &format!(
            "{mark} {}. {}, {}, {}; {:.0} bits to tell\n",
            i + 1,
            count(form.cells.len(), "letter"),
            count(form.steps.len(), "cell"),
            count(slips as usize, "slip"),
            form.bits
        );
    }
    if let Some(form) = reading.forms.get(chosen) {
        out += &format!("{}\n", letters(form));
        for step in form.steps.iter().filter(|s| s.slips > 0) {
            let letter = &form.cells[step.cell].letter;
            let slips = count(step.slips as usize, "stroke");
            out += &format!(
                "  beat {}: {slips} other than in {letter}\n",
                step.start + 1
            );
        }
    }
    out
}

fn as_json(reading: &Reading, chosen: usize) -> Value {
    let form = |form: &Form| {
        let cell = |c: &barform_app::take::form::FormCell| {
            json!({
                "letter": c.letter.as_str(),
                "like": c.like.map(|l| form.cells[l].letter.as_str()),
                "beats": c.beats.len(),
            })
        };
        let step = |s: &barform_app::take::form::Step| {
            json!({
                "letter": form.cells[s.cell].letter.as_str(),
                "beat": s.start + 1,
                "beats": s.length,
                "slips": s.slips,
            })
        };
        json!({
            "bits": form.bits,
            "cells": form.cells.iter().map(cell).collect::<Vec<_>>(),
            "form": form.steps.iter().map(step).collect::<Vec<_>>(),
        })
    };
    let stroke = |s: &barform_app::take::Placed| {
        json!({
            "seconds": s.stroke.seconds,
            "voice": s.stroke.voice.name(),
            "articulation": s.stroke.articulation.name(),
            "velocity": s.stroke.velocity.value(),
            "beat": s.pulse + 1,
            "slot": format!("{}/{}", s.slot.0, s.slot.1),
            "late_ms": s.click_ms + reading.late_ms,
        })
    };
    json!({
        "played": reading.kind == Kind::Played,
        "beats_found": reading.source == BeatSource::Found,
        "certainty": {"beat": reading.certainty.beat, "bar": reading.certainty.bar},
        "other_tempos": reading.certainty.others,
        "tempo": reading.tempo().to_f64(),
        "meter": reading.meter.to_string(),
        "late_ms": reading.late_ms,
        "spread_ms": reading.spread_ms,
        "chosen": chosen + 1,
        "forms": reading.forms.iter().map(form).collect::<Vec<_>>(),
        "strokes": reading.strokes.iter().map(stroke).collect::<Vec<_>>(),
    })
}
