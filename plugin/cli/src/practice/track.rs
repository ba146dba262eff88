//! `barform practice track`: the plan as a track.

use super::options::{OrnamentArgs, PlanArgs};
use crate::args::SoundArgs;
use crate::failure::Failure;
use crate::input::{Source, is_dash};
use crate::midi::{tell_losses, tell_size};
use crate::output::{self, Target};
use crate::progress::Progress;
use crate::text;
use crate::wav::{self, tell};
use barform_app::export::audio::{self, FileKind, Overwrite, Sounds, Written};
use barform_app::practice::schedule::Schedule;
use barform_app::practice::track;
use barform_app::save::is_special;
use std::io::{self, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

/// `barform practice track`
#[derive(Debug, clap::Args)]
#[command(after_help = format!("\
The end of the file's name says what it becomes: .wav, .flac or .mid. A MIDI file
holds the same track with a tempo map and markers.

Examples:
  barform practice track mine.barform --tempo '60 to 100 by 5' --each '2 passes'
  barform practice track mine.barform --play 'join A B' --join-rate 80% -o join.mid
  barform practice track mine.barform --gaps '1 of 4' --grow 1 -o gaps.flac
  barform practice track mine.barform --trade 'barform 4 bars, player 4 bars'
  barform practice track mine.barform --plan week3.plan

{}", super::CARE))]
pub struct TrackArgs {
    /// The score.
    #[command(flatten)]
    pub source: Source,
    /// Where to.
    #[command(flatten)]
    pub target: Target,
    /// Say nothing about the file, and show no progress
    #[arg(short, long)]
    pub quiet: bool,
    /// The plan.
    #[command(flatten)]
    pub plan: PlanArgs,
    /// Ornaments.
    #[command(flatten)]
    pub ornaments: OrnamentArgs,
    /// Folder of the history, which orders joins [default: your data folder]
    #[arg(long, value_name = "FOLDER")]
    pub history: Option<PathBuf>,
    /// Loudness, rate, bits, tail.
    #[command(flatten)]
    pub sound: SoundArgs,
}

/// Writes the track.
pub fn run(args: &TrackArgs) -> Result<(), Failure> {
    let path = match &args.target.output {
        Some(path) => path.clone(),
        None if args.source.is_stdin() => PathBuf::from("-"),
        None => {
            let stem = args.source.beside("");
            let stem = stem.file_stem().unwrap_or_default().to_string_lossy();
            PathBuf::from(format!("{stem}-practice.wav"))
        }
    };
    let to_stdout = is_dash(&path);
    if to_stdout {
        output::refuse_terminal("audio")?;
    }
    output::refuse_existing(&path, args.target.force)?;
    let piece = args.source.read()?;
    let history = super::today::history(args.history.as_deref());
    let schedule = args.plan.schedule(&piece, history.as_ref())?;
    let is_midi = path
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("mid"));
    let mut told = if is_midi {
        midi(args, &schedule, &path)?
    } else {
        sound(args, &schedule, &path)?
    };
    if args.quiet {
        return Ok(());
    }
    told += &course(&schedule);
    if to_stdout {
        let _ = write!(io::stderr(), "{told}");
        Ok(())
    } else {
        output::say(&told)
    }
}

fn midi(args: &TrackArgs, schedule: &Schedule, path: &Path) -> Result<String, Failure> {
    let gate_ms = barform_app::export::Options::default().gate_ms;
    let file = track::midi(schedule, args.ornaments.times(), gate_ms).map_err(Failure::export)?;
    output::write_file(path, &file.bytes, args.target.force)?;
    Ok(tell_size(path, &file.report) + &tell_losses(&file.report))
}

fn sound(args: &TrackArgs, schedule: &Schedule, path: &Path) -> Result<String, Failure> {
    let format = args
        .sound
        .format(FileKind::of(path).unwrap_or(FileKind::Wav));
    let made = track::rendering(
        schedule,
        args.ornaments.times(),
        &Sounds::Kit,
        args.sound.tail,
        args.sound.rate,
    );
    let rendering = made.map_err(Failure::export)?;
    let level = args.sound.level();
    let mut progress = Progress::new("rendering", args.quiet);
    let step = |done: audio::Progress| {
        progress.at(done.share());
        ControlFlow::Continue(())
    };
    let failed = |e| wav::failure(path, e);
    let written: Written = if is_dash(path) || is_special(path) {
        let mut bytes = Vec::new();
        let written = audio::stream_rendering(rendering, format, level, &mut bytes, step);
        let written = written.map_err(failed)?;
        output::write_file(path, &bytes, args.target.force)?;
        written
    } else {
        let overwrite = Overwrite::if_asked(args.target.force);
        let written = audio::write_rendering(rendering, format, level, path, overwrite, step);
        written.map_err(failed)?
    };
    drop(progress);
    Ok(tell::file(path, format, &written))
}

/// What comes when: one line for each passage and tempo.
fn course(schedule: &Schedule) -> String {
    let mut told = String::new();
    let segments = &schedule.segments;
    let mut first = 0;
    while first < segments.len() {
        let head = &segments[first];
        let same = |s: &barform_app::practice::schedule::Segment| {
            s.passage == head.passage && s.step == head.step
        };
        let count = segments[first..].iter().take_while(|s| same(s)).count();
        let stretch = &segments[first..first + count];
        let bars = |counted: bool| {
            let of = stretch
                .iter()
                .filter(|s| s.bar_line && s.source.is_none() == counted);
            of.count()
        };
        let count_in = match bars(true) {
            0 => String::new(),
            n => format!(" after {} of count-in", text::count(n, "bar")),
        };
        told += &format!(
            "{:>8}  {} at {}: {}{count_in}\n",
            clock(head.begins.to_f64()),
            schedule.passages[head.passage].name,
            text::number(head.tempo),
            text::count(bars(false), "bar"),
        );
        first += count;
    }
    told
}

/// `1:23.4`
fn clock(seconds: f64) -> String {
    let tenths = (seconds * 10.0).round() as u64;
    format!("{}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10)
}
