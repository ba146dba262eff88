//! Qtractor under a JACK server without a sound card: the CLAP bundle. The transport
//! is JACK's, rolled by `tests/daw/jack_record.py`.
//!
//! It plays in real time: where JACK runs freely, Qtractor plays only what it exports.

use std::path::Path;
use std::process::{Child, Command};
use std::time::Duration;

use anyhow::{Context, Result, bail};

use super::{Played, Plays, RATE, Row, Tools, ended_within, started};
use crate::step;

/// The JACK server's name, so that no other is touched.
const SERVER: &str = "barform";

/// A program that is asked to end when it is dropped.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let id = self.0.id().to_string();
        // Nothing is left to do where it has ended already.
        let _ = Command::new("kill").arg(id).status();
        for _ in 0..50 {
            if !matches!(self.0.try_wait(), Ok(None)) {
                return;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Plays a row in a new session in `folder`.
///
/// # Errors
/// If JACK or Qtractor does not start, or the transport does not roll.
pub fn play(tools: &Tools, row: &Row, folder: &Path) -> Result<Played> {
    let home = folder.join("home");
    std::fs::create_dir_all(&home)?;
    let plugin = folder.join("Barform.clap");
    tools.library("probe.c", &plugin)?;
    let (_, bpm) = row.tempos[0];
    let sample = |beat: f64| (beat * 60.0 / bpm * f64::from(RATE)).round();
    let (from, beats, loops) = match row.plays {
        Plays::From(beat) => (f64::from(beat), 64.0, (0.0, 0.0)),
        Plays::Loop => (0.0, 24.0, (sample(4.0), sample(8.0))),
        _ => (0.0, 64.0, (0.0, 0.0)),
    };
    let session = std::fs::read_to_string(tools.scripts.join("qtractor.qtr"))?
        .replace("@PLUGIN@", &plugin.to_string_lossy())
        .replace("@FOLDER@", &folder.to_string_lossy())
        .replace("@TEMPO@", &bpm.to_string())
        .replace("@LOOP_START@", &loops.0.to_string())
        .replace("@LOOP_END@", &loops.1.to_string());
    let written = folder.join("session.qtr");
    std::fs::write(&written, session)?;

    let with_jack = |program: &Path| {
        let mut command = Command::new(program);
        command
            .current_dir(folder)
            .env("HOME", &home)
            .env("XDG_CONFIG_HOME", home.join(".config"))
            .env("XDG_CACHE_HOME", home.join(".cache"))
            .env("XDG_RUNTIME_DIR", &home)
            .env("JACK_DEFAULT_SERVER", SERVER)
            .env("JACK_NO_START_SERVER", "1")
            .env("JACK_NO_AUDIO_RESERVATION", "1")
            .env("QT_QPA_PLATFORM", "offscreen");
        command
    };
    let mut server = with_jack(Path::new("jackd"));
    // In step with its clients (-S): a late one delays the block, nothing is dropped.
    server.args(["-n", SERVER, "-r", "-S", "-t", "10000", "-d", "dummy"]);
    server.args(["-r", &RATE.to_string(), "-p", &row.block.to_string()]);
    let _server = Running(started(server, &folder.join("jackd.log"))?);
    let mut wait = with_jack(Path::new("jack_wait"));
    step::output(wait.args(["-s", SERVER, "-w", "-t", "30"])).context("JACK did not start")?;

    let mut daw = with_jack(Path::new("qtractor"));
    daw.arg(&written)
        .env("PROBE_PLUGIN", &tools.clap)
        .env("PROBE_LOG", folder.join("probe.log"));
    if !Path::new("/dev/snd/seq").exists() {
        let sequencer = folder.join("no_sequencer.so");
        tools.library("no_sequencer.c", &sequencer)?;
        daw.env("LD_PRELOAD", sequencer);
    }
    let _daw = Running(started(daw, &folder.join("qtractor.log"))?);
    let sound = folder.join("sound.wav");
    let seconds = beats * 60.0 / bpm + 0.5;
    let mut record = with_jack(&tools.python);
    record
        .arg(tools.scripts.join("jack_record.py"))
        .args([sample(from).to_string(), seconds.to_string()])
        .arg(&sound);
    let log = folder.join("record.log");
    let ended = ended_within(Duration::from_secs(900), record, &log)?;
    if !ended.success() {
        bail!("{ended}; see {}", log.display());
    }
    Ok(Played {
        track: None,
        sound: if row.runs_on() {
            vec![sound]
        } else {
            Vec::new()
        },
        real_time: Vec::new(),
    })
}
