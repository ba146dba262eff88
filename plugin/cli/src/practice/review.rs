//! `barform practice review` and `latency`: a take compared with what was due.

use super::options::{OrnamentArgs, PlanArgs};
use crate::failure::Failure;
use crate::input::{self, ScoreFile, is_dash};
use crate::output;
use barform_app::answers::{self, TakeStart};
use barform_app::music::{Level, Voice};
use barform_app::practice::align::Played;
use barform_app::practice::expect::Expected;
use barform_app::practice::history::Session;
use barform_app::practice::report::{Group, Report};
use barform_app::words::count;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use time::OffsetDateTime;

/// A take and where its time begins.
#[derive(Debug, clap::Args)]
pub struct TakeArgs {
    /// What was played: a MIDI file that starts with the track; - reads standard
    /// input
    #[arg(value_name = "TAKE")]
    pub take: PathBuf,
    /// The file begins with the first stroke, not where the track begins
    #[arg(long)]
    pub from_first_stroke: bool,
    /// Milliseconds by which the whole take is late: see `barform practice latency`
    #[arg(
        long,
        value_name = "MS",
        default_value_t = 0.0,
        allow_hyphen_values = true
    )]
    #[arg(value_parser = latency_ms)]
    pub latency: f64,
}

fn latency_ms(text: &str) -> Result<f64, String> {
    super::options::within(text, -500.0, 500.0)
}

/// `barform practice review`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
The take is compared with what the plan leaves to the player: the turns and letters
that are the player's, or the whole form and its ostinatos if there are none. Strokes
due more than a second after the last one played do not count.

Examples:
  barform practice review mine.barform take.mid
  barform practice review mine.barform take.mid --plan week3.plan --latency 8.5
  barform practice review mine.barform take.mid --json
  barform practice review mine.barform take.mid --keep    add it to the history")]
pub struct ReviewArgs {
    /// The score; - reads standard input
    #[arg(value_name = "SCORE")]
    pub score: PathBuf,
    /// The take.
    #[command(flatten)]
    pub take: TakeArgs,
    /// Print JSON, stroke by stroke
    #[arg(long)]
    pub json: bool,
    /// Add the session to the history
    #[arg(long)]
    pub keep: bool,
    /// Folder of the history [default: your data folder]
    #[arg(long, value_name = "FOLDER")]
    pub history: Option<PathBuf>,
    /// The plan.
    #[command(flatten)]
    pub plan: PlanArgs,
    /// Ornaments.
    #[command(flatten)]
    pub ornaments: OrnamentArgs,
}

/// `barform practice latency`
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Play one stroke on every click of the plan. Sixteen strokes that scatter by 10 ms
give the latency to within ±5 ms (95 %); more strokes, or more even ones, narrow it.
Give the result to `barform practice review --latency`.")]
pub struct LatencyArgs {
    /// The score; - reads standard input
    #[arg(value_name = "SCORE")]
    pub score: PathBuf,
    /// What was played on the click: a MIDI file that starts with the track
    #[arg(value_name = "TAKE")]
    pub take: PathBuf,
    /// The plan.
    #[command(flatten)]
    pub plan: PlanArgs,
}

/// The notes of a MIDI file.
fn played(path: &Path, file: &ScoreFile) -> Result<Vec<Played>, Failure> {
    let bytes = crate::take::bytes(path)?;
    answers::played(&bytes, &file.score().kit)
        .map_err(|e| Failure::Score(format!("{}: {e}", path.display())))
}

/// Says how a take was played.
pub fn run(args: &ReviewArgs) -> Result<(), Failure> {
    if is_dash(&args.score) && is_dash(&args.take.take) {
        return Err(Failure::Usage(
            "only one of the two can come from standard input".into(),
        ));
    }
    let file = input::read(&args.score)?;
    let history = super::today::history(args.history.as_deref());
    let schedule = args.plan.schedule(&file, history.as_ref())?;
    let start = TakeStart {
        first_stroke: args.take.from_first_stroke,
        latency_ms: args.take.latency,
    };
    let played = played(&args.take.take, &file)?;
    let review = answers::review(&schedule, args.ornaments.times(), played, start)?;
    let report = &review.report;
    if args.keep {
        let history = super::today::needed(history)?;
        let tempos = schedule.segments.iter().map(|s| s.tempo.to_f64());
        let range = tempos.fold((f64::MAX, 0.0_f64), |(a, b), t| (a.min(t), b.max(t)));
        let plan = args.plan.plan()?;
        let (title, play) = (super::today::title(&file), plan.play.to_string());
        let session = Session::of(report, &title, &play, range, OffsetDateTime::now_utc());
        history
            .add(&session)
            .map_err(|e| Failure::File(e.to_string()))?;
    }
    if args.json {
        output::say(&format!(
            "{:#}\n",
            as_json(report, &review.due, &review.played)
        ))
    } else {
        output::say(&as_text(report))
    }
}

fn signed(ms: f64) -> String {
    format!("{ms:+.1}")
}

fn rows<T>(told: &mut String, head: &str, groups: &[Group<T>], name: impl Fn(&T) -> String) {
    *told += &format!("{head:<14} strokes  missed  wrong drum    late   spread\n");
    for group in groups {
        *told += &format!(
            "{:<14} {:>7} {:>7} {:>11} {:>7} {:>8}\n",
            name(&group.of),
            group.due,
            group.missed,
            group.wrong_drum,
            signed(group.lay.mean_ms),
            format!("{:.1}", group.lay.spread_ms),
        );
    }
}

fn as_text(report: &Report) -> String {
    let all = &report.all;
    let mut told = format!(
        "{} due, {} missed, {} on the wrong drum, {} extra\n",
        count(all.due, "stroke"),
        all.missed,
        all.wrong_drum,
        report.extra.len(),
    );
    let mean_ms = all.lay.mean_ms;
    told += &format!(
        "{:.1} ms {} on average, spread {:.1} ms; tempo {:+.2} %\n",
        mean_ms.abs(),
        if mean_ms < 0.0 { "early" } else { "late" },
        all.lay.spread_ms,
        report.drift_percent,
    );
    for (levels, what) in [(report.accents, "accents"), (report.ghosts, "ghost notes")] {
        if levels.due > 0 {
            told += &format!(
                "{} of {} {what} as written\n",
                levels.due - levels.off,
                levels.due
            );
        }
    }
    told.push('\n');
    rows(&mut told, "limb", &report.limbs, |l| l.letter().to_string());
    rows(&mut told, "letter", &report.letters, String::clone);
    rows(&mut told, "in the beat", &report.places, |p| number_of(*p));
    told += &format!("\n{}\n", report.next.sentence);
    told
}

fn number_of(place: barform_app::music::Beats) -> String {
    if place.is_zero() {
        "on it".to_owned()
    } else {
        place.to_string()
    }
}

fn level(level: Level) -> &'static str {
    match level {
        Level::Ghost => "ghost",
        Level::Normal => "normal",
        Level::Accent => "accent",
    }
}

fn as_json(report: &Report, due: &[Expected], notes: &[Played]) -> Value {
    fn group<T>(group: &Group<T>, of: String) -> Value {
        json!({
            "of": of,
            "due": group.due,
            "missed": group.missed,
            "wrong_drum": group.wrong_drum,
            "played": group.lay.strokes,
            "late_ms": group.lay.mean_ms,
            "spread_ms": group.lay.spread_ms,
        })
    }
    fn groups<T>(all: &[Group<T>], name: impl Fn(&T) -> String) -> Vec<Value> {
        all.iter().map(|g| group(g, name(&g.of))).collect()
    }
    let stroke = |e: &Expected| {
        json!({
            "seconds": e.seconds,
            "voice": e.voice.name(),
            "limb": e.limb.letter().to_string(),
            "level": level(e.level),
            "grace": e.grace_of.is_some(),
            "letter": e.letter,
            "place": e.place.to_string(),
        })
    };
    let judged = report.judged.iter().map(|j| {
        json!({
            "due": stroke(&due[j.expected]),
            "late_ms": j.late_ms,
            "wrong_drum": j.wrong_drum.map(Voice::name),
            "level": level(j.level),
        })
    });
    let extra = report
        .extra
        .iter()
        .map(|p| json!({ "seconds": notes[*p].seconds, "voice": notes[*p].voice.name() }));
    let of_limb = |l: &barform_app::music::Limb| l.letter().to_string();
    json!({
        "all": group(&report.all, String::new()),
        "limbs": groups(&report.limbs, of_limb),
        "letters": groups(&report.letters, String::clone),
        "places": groups(&report.places, ToString::to_string),
        "drift_percent": report.drift_percent,
        "seconds": report.seconds,
        "accents": { "due": report.accents.due, "off": report.accents.off },
        "ghosts": { "due": report.ghosts.due, "off": report.ghosts.off },
        "strokes": judged.collect::<Vec<_>>(),
        "missed": report.missed.iter().map(|e| stroke(&due[*e])).collect::<Vec<_>>(),
        "extra": extra.collect::<Vec<_>>(),
        "next": report.next.sentence,
    })
}

/// Says how late everything arrives.
pub fn latency(args: &LatencyArgs) -> Result<(), Failure> {
    let file = input::read(&args.score)?;
    let schedule = args.plan.schedule(&file, None)?;
    let found = answers::click_latency(&schedule, &played(&args.take, &file)?)?;
    let more = match found.needed.saturating_sub(found.strokes) {
        0 => String::new(),
        n => format!("; {n} more strokes would narrow it to 1 ms"),
    };
    output::say(&format!(
        "latency {} ms, ±{:.1} ms at 95 %: {} that scatter by {:.1} ms{more}\n",
        signed(found.ms),
        found.within_ms,
        count(found.strokes, "stroke"),
        found.spread_ms,
    ))
}
