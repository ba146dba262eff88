//! The built plugin in two general-purpose DAWs, without a screen or a sound card:
//! the VST3 bundle in Ardour, the CLAP bundle in Qtractor under JACK.
//!
//! What the DAWs play and what is compared lies in `tests/daw`. A small library
//! stands between DAW and plugin and writes down the host's positions and the
//! plugin's notes (`probe.c`); `compare.py` works out from the positions which notes
//! of the reference file there must be.

mod ardour;
mod qtractor;

use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use serde_json::{Value, json};

use crate::{bundle, setup, step};

/// Samples a second in every run.
const RATE: u32 = 48_000;

/// Debian packages, and what each is for.
const PACKAGES: [(&str, &str); 6] = [
    ("ardour", "the DAW that plays the VST3 bundle"),
    ("qtractor", "the DAW that plays the CLAP bundle"),
    ("jackd2", "stands for Qtractor's sound card"),
    ("gcc", "compiles what stands between DAW and plugin"),
    ("libc6-dev", "compiles what stands between DAW and plugin"),
    ("libasound2-dev", "stands for Qtractor's MIDI ports"),
];
const ELSEWHERE: &str = "`cargo xtask daw` plays in the DAWs of Debian 12";

const PYTHON: [&str; 4] = [
    "JACK-Client==0.5.7",
    "mido==1.3.3",
    "numpy==2.2.6",
    "soundfile==0.14.0",
];

/// What the DAW's transport does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Plays {
    /// The form once, from its start.
    Straight,
    /// The form once, from this beat of the session, where it has come round.
    From(u32),
    /// Beats 4 to 8, round and round.
    Loop,
    /// Jumps while rolling.
    Locate,
    /// The form once, in real time, and exported.
    Export,
}

/// One run of a DAW, and one row of the table.
struct Row {
    daw: &'static str,
    /// From which beat of the session on, and beats a minute.
    tempos: Vec<(f64, f64)>,
    /// Samples.
    block: u32,
    plays: Plays,
}

impl Row {
    /// The row's name, word by word: the DAW, tempos, block, what it plays.
    fn words(&self) -> Vec<String> {
        let mut words = vec![self.daw.to_owned()];
        words.extend(self.tempos.iter().map(|(_, tempo)| tempo.to_string()));
        words.push(self.block.to_string());
        match self.plays {
            Plays::Straight if self.tempos.len() > 1 => words.push("tempo".to_owned()),
            Plays::Straight => {}
            Plays::From(beat) => words.extend(["from".to_owned(), beat.to_string()]),
            Plays::Loop => words.push("loop".to_owned()),
            Plays::Locate => words.push("locate".to_owned()),
            Plays::Export => words.push("export".to_owned()),
        }
        words
    }

    /// Whether time runs on at one tempo.
    fn runs_on(&self) -> bool {
        self.tempos.len() == 1 && !matches!(self.plays, Plays::Loop | Plays::Locate)
    }
}

/// All rows, in the order they are played.
fn rows() -> Vec<Row> {
    let mut rows = Vec::new();
    let mut add = |daw, tempos: &[(f64, f64)], block, plays| {
        rows.push(Row {
            daw,
            tempos: tempos.to_vec(),
            block,
            plays,
        });
    };
    for block in [64, 256, 1024] {
        // At 93.75 a block of 256 samples is a whole number of Ardour's ticks.
        for bpm in [47.0, 63.5, 92.0, 93.75, 100.0, 120.0, 171.0, 233.0] {
            add("ardour", &[(0.0, bpm)], block, Plays::Straight);
        }
        for bpm in [92.0, 120.0] {
            add("ardour", &[(0.0, bpm)], block, Plays::Loop);
            add("ardour", &[(0.0, bpm)], block, Plays::Locate);
        }
        let changes = [(0.0, 92.0), (24.0, 120.0), (40.0, 75.0)];
        add("ardour", &changes, block, Plays::Straight);
        add("ardour", &[(0.0, 92.0)], block, Plays::Export);
    }
    for block in [256, 1024] {
        for bpm in [92.0, 100.0, 120.0] {
            for plays in [Plays::Straight, Plays::From(2_560), Plays::Loop] {
                add("qtractor", &[(0.0, bpm)], block, plays);
            }
        }
    }
    rows
}

/// What the runs share.
struct Tools {
    /// `tests/daw`.
    scripts: PathBuf,
    /// `target/daw`, where everything is left.
    folder: PathBuf,
    /// Python with the libraries.
    python: PathBuf,
    /// The command, which writes the references.
    barform: PathBuf,
    vst3: PathBuf,
    clap: PathBuf,
}

/// What a DAW has left.
struct Played {
    /// A MIDI file that it recorded.
    track: Option<PathBuf>,
    /// What it recorded or exported, one file a channel or one for all; none where
    /// what rings on from before a jump would be compared.
    sound: Vec<PathBuf>,
    /// What it recorded in real time, where `sound` was exported.
    real_time: Vec<PathBuf>,
}

/// Milliseconds for time, decibels for level; the sound's start in samples.
const HEAD: &str = "
                                 host  the plugin's notes                                     the DAW's track         its sound
DAW, bpm, block                   off  expect  sent  missing  extra  hanging  start  length  missing  extra  start   start  level";

/// A row's figures, and whether it is right.
fn shown(found: &Value) -> (String, bool) {
    let figure = |part: &str, name: &str, digits: usize| match found[part][name].as_f64() {
        Some(figure) => format!("{figure:.digits$}"),
        None => "-".to_owned(),
    };
    let mut line = String::new();
    let columns = [
        ("host", "off_ms", 3, 7),
        ("plugin", "expected", 0, 8),
        ("plugin", "played", 0, 6),
        ("plugin", "missing", 0, 9),
        ("plugin", "extra", 0, 7),
        ("plugin", "hanging", 0, 9),
        ("plugin", "start_ms", 3, 7),
        ("plugin", "length_ms", 2, 8),
        ("track", "missing", 0, 9),
        ("track", "extra", 0, 7),
        ("track", "start_ms", 2, 7),
        ("sound", "start", 0, 8),
        ("sound", "level_db", 2, 7),
    ];
    for (part, name, digits, width) in columns {
        line += &format!("{:>width$}", figure(part, name, digits));
    }
    (line, found["wrong"].as_array().is_some_and(Vec::is_empty))
}

/// Plays the rows that have every word of `filter` and prints a table.
///
/// # Errors
/// If something is missing, a DAW does not play, or a row is wrong.
pub fn run(filter: &[&str]) -> Result<()> {
    let chosen: Vec<Row> = rows()
        .into_iter()
        .filter(|row| {
            let words = row.words();
            filter.iter().all(|word| words.iter().any(|w| w == word))
        })
        .collect();
    if chosen.is_empty() {
        bail!("no row has all of these words: {}", filter.join(" "));
    }
    setup::packages(&PACKAGES, ELSEWHERE)?;
    let tools = Tools::find()?;
    step::heading(&format!(
        "{} rows; what they leave lies in target/daw",
        chosen.len()
    ));
    println!("{HEAD}");
    let mut wrong = 0;
    for row in &chosen {
        let name = row.words().join("-");
        let folder = tools.folder.join(&name);
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder)?;
        let found = tools
            .play(row, &folder)
            .and_then(|played| tools.compare(row, &folder, &played));
        let (line, right) = match found {
            Ok(found) => shown(&found),
            Err(error) => (format!("{error:#}"), false),
        };
        wrong += usize::from(!right);
        let verdict = if right { "right" } else { "WRONG" };
        println!("{:<30}{line}  {verdict}", row.words().join(" "));
    }
    if wrong > 0 {
        bail!(
            "{wrong} of {} rows are wrong; row.json in a row's folder says more",
            chosen.len()
        );
    }
    Ok(())
}

impl Tools {
    fn find() -> Result<Tools> {
        let target = bundle::target_dir()?;
        let folder = target.join("daw");
        std::fs::create_dir_all(&folder)?;
        // Those of another build are of no use.
        let _ = std::fs::remove_dir_all(folder.join("references"));
        setup::venv(
            &folder.join("venv"),
            &PYTHON,
            "import jack, mido, soundfile",
        )?;
        let exe = |variable: &str, name: &str| match std::env::var_os(variable) {
            Some(path) => PathBuf::from(path),
            None => target.join("bundled").join(name),
        };
        let tools = Tools {
            scripts: std::env::current_dir()?.join("tests/daw"),
            python: folder.join("venv/bin/python"),
            folder,
            barform: exe("BARFORM_CLI", "barform"),
            vst3: exe("BARFORM_VST3", "Barform.vst3"),
            clap: exe("BARFORM_CLAP", "Barform.clap"),
        };
        let built = [&tools.barform, &tools.vst3, &tools.clap];
        if !built.iter().all(|path| path.exists()) {
            bundle::for_use()?;
        }
        Ok(tools)
    }

    fn play(&self, row: &Row, folder: &Path) -> Result<Played> {
        match row.daw {
            "ardour" => ardour::play(self, row, folder),
            _ => qtractor::play(self, row, folder),
        }
    }

    /// Compiles a file of `tests/daw` to a library.
    fn library(&self, source: &str, to: &Path) -> Result<()> {
        let mut compiler = Command::new("cc");
        compiler.args(["-shared", "-fPIC", "-O1", "-o"]).arg(to);
        step::run(compiler.arg(self.scripts.join(source)).arg("-ldl"))
    }

    /// The form at this tempo as the command writes it, made once: a MIDI file, and a
    /// WAV file for each voice, which together are the sound without a limiter.
    fn references(&self, bpm: f64) -> Result<(PathBuf, Vec<PathBuf>)> {
        let folder = self.folder.join("references");
        let midi = folder.join(format!("{bpm}.mid"));
        let stems = folder.join(bpm.to_string());
        let tempo = bpm.to_string();
        if !midi.exists() {
            std::fs::create_dir_all(&folder)?;
            let written = |args: &[&str], to: &Path| {
                let mut command = Command::new(&self.barform);
                command
                    .args(args)
                    .arg(to)
                    .args(["--demo", "--tempo", &tempo]);
                step::output(&mut command)
            };
            written(&["wav", "--bits", "32", "--stems"], &stems)?;
            written(&["midi", "--output"], &midi)?;
        }
        let stems = stems.read_dir()?.filter_map(|file| Some(file.ok()?.path()));
        Ok((midi, stems.collect()))
    }

    fn compare(&self, row: &Row, folder: &Path, played: &Played) -> Result<Value> {
        let mut tempos = Vec::new();
        for &(beat, bpm) in &row.tempos {
            let (midi, stems) = self.references(bpm)?;
            tempos.push(json!([beat, bpm, midi, stems]));
        }
        // So often the transport must at least have started or jumped.
        let parts = match row.plays {
            Plays::Loop => 4,
            Plays::Locate => 3,
            Plays::Straight | Plays::From(_) | Plays::Export => 1,
        };
        let run = json!({
            "rate": RATE,
            "parts": parts,
            "tempos": tempos,
            "log": folder.join("probe.log"),
            "track": played.track,
            "sound": played.sound,
            "real_time": played.real_time,
        });
        let described = folder.join("run.json");
        std::fs::write(&described, run.to_string())?;
        let mut script = Command::new(&self.python);
        script.arg(self.scripts.join("compare.py")).arg(&described);
        let found = step::output(&mut script)?;
        std::fs::write(folder.join("row.json"), &found)?;
        Ok(serde_json::from_str(&found)?)
    }
}

/// Starts a program that writes into `log`.
fn started(mut command: Command, log: &Path) -> Result<Child> {
    let file = std::fs::File::create(log)?;
    command
        .stdin(Stdio::null())
        .stdout(file.try_clone()?)
        .stderr(file)
        .spawn()
        .with_context(|| format!("cannot run {}", command.get_program().display()))
}

/// Runs a program to its end, or ends it when the time is over.
fn ended_within(time: Duration, command: Command, log: &Path) -> Result<ExitStatus> {
    let mut child = started(command, log)?;
    let start = Instant::now();
    while start.elapsed() < time {
        if let Some(status) = child.try_wait()? {
            return Ok(status);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    child.kill()?;
    child.wait()?;
    bail!("not done after {} s; see {}", time.as_secs(), log.display())
}
