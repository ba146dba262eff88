//! Ardour: the VST3 bundle, played by `tests/daw/ardour.lua` in Ardour's own
//! interpreter of scripts.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, SystemTime};

use anyhow::{Context, Result, bail};

use super::{Played, Plays, Row, Tools, ended_within};
use crate::step;

/// Where Debian 12 has Ardour's programs and libraries.
const LIBRARIES: &str = "/usr/lib/ardour7";

/// Uses VST3, and remembers what a scan has found.
const CONFIG: &str =
    r#"<?xml version="1.0"?><Ardour><Config><Option name="use-vst3" value="1"/></Config></Ardour>"#;

/// Plays a row in a new session in `folder`.
///
/// # Errors
/// If Ardour does not play it to its end.
pub fn play(tools: &Tools, row: &Row, folder: &Path) -> Result<Played> {
    let home = folder.join("home");
    let (config, cache) = (home.join(".config"), home.join(".cache"));
    let settings = config.join("ardour7");
    std::fs::create_dir_all(settings.join("export"))?;
    std::fs::create_dir_all(cache.join("ardour7/vst"))?;
    std::fs::write(settings.join("config"), CONFIG)?;
    let preset = "float.preset";
    std::fs::copy(
        tools.scripts.join(preset),
        settings.join("export").join(preset),
    )?;

    let plugin = only(&tools.vst3.join("Contents"), "-linux")?;
    let system = plugin.file_name().context("a folder without a name")?;
    let bundle = home.join(".vst3/Barform.vst3");
    let library = bundle.join("Contents").join(system).join("Barform.so");
    std::fs::create_dir_all(library.parent().context("no folder")?)?;
    tools.library("probe.c", &library)?;
    // What a scan finds counts only if it is younger than the plugin.
    let long_ago = SystemTime::now() - Duration::from_secs(60);
    std::fs::File::open(&library)?.set_modified(long_ago)?;

    let ardour = |program: PathBuf| {
        let mut command = Command::new(program);
        command
            .env("HOME", &home)
            .env("XDG_CONFIG_HOME", &config)
            .env("XDG_CACHE_HOME", &cache)
            .env("LD_LIBRARY_PATH", LIBRARIES)
            .env("ARDOUR_DLL_PATH", LIBRARIES)
            .env("ARDOUR_DATA_PATH", "/usr/share/ardour7")
            .env("ARDOUR_CONFIG_PATH", "/etc/ardour7")
            .env("PROBE_PLUGIN", plugin.join("Barform.so"));
        command
    };
    let programs = Path::new(LIBRARIES);
    let mut scan = ardour(programs.join("ardour-vst3-scanner"));
    step::output(scan.args(["-f", "-v"]).arg(&bundle))?;

    let tempos: Vec<_> = row
        .tempos
        .iter()
        .map(|(at, bpm)| format!("{at}:{bpm}"))
        .collect();
    let session = |folder: &Path, speed: &str, plays: &str| -> Result<()> {
        std::fs::create_dir_all(folder)?;
        let mut session = ardour(programs.join("luasession"));
        session
            .arg(tools.scripts.join("ardour.lua"))
            .arg(folder)
            .args([&tempos.join(","), &row.block.to_string(), speed, plays])
            .env("PROBE_LOG", folder.join("probe.log"));
        let log = folder.join("ardour.log");
        let ended = ended_within(Duration::from_secs(900), session, &log)?;
        if !folder.join("done").exists() {
            bail!("{ended}; see {}", log.display());
        }
        Ok(())
    };
    let plays = match row.plays {
        Plays::Loop => "loop",
        Plays::Locate => "locate",
        Plays::Straight | Plays::From(_) => "straight",
        Plays::Export => {
            let played = folder.join("played");
            session(&played, "Normal Speed", "straight")?;
            session(folder, "10x Speed", "export")?;
            return Ok(Played {
                track: None,
                sound: vec![folder.join("export.wav")],
                real_time: recorded(&played)?,
            });
        }
    };
    session(folder, "10x Speed", plays)?;
    let files = folder.join("session/interchange/session/midifiles");
    Ok(Played {
        track: Some(only(&files, ".mid")?),
        sound: if row.runs_on() {
            recorded(folder)?
        } else {
            Vec::new()
        },
        real_time: Vec::new(),
    })
}

/// The two channels that the session in `folder` has recorded.
fn recorded(folder: &Path) -> Result<Vec<PathBuf>> {
    let files = folder.join("session/interchange/session/audiofiles");
    Ok(vec![only(&files, "L.wav")?, only(&files, "R.wav")?])
}

/// The one file or folder in `folder` whose name ends so.
fn only(folder: &Path, ending: &str) -> Result<PathBuf> {
    let entries = folder
        .read_dir()
        .with_context(|| format!("no {}", folder.display()))?;
    let mut found = entries
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.to_string_lossy().ends_with(ending));
    let first = found.next();
    first.with_context(|| format!("nothing in {} ends with {ending}", folder.display()))
}
