//! What a machine needs besides Rust: system packages, Python libraries.
//!
//! Nothing is done where all is there already. On Debian and its relatives the
//! missing packages are installed; elsewhere a line says what is needed.

use std::path::Path;
use std::process::Command;

use anyhow::{Context, Result, bail};

use crate::step;

/// Debian packages, and what each is for.
const PACKAGES: [(&str, &str); 13] = [
    ("gcc", "links every Rust program"),
    ("libc6-dev", "links every Rust program"),
    ("pkg-config", "finds the ALSA library"),
    (
        "libasound2-dev",
        "audio and MIDI devices of the window without a host",
    ),
    (
        "libjack-jackd2-dev",
        "the JACK backend of the window without a host",
    ),
    ("xvfb", "a screen for the editor in tests and demo"),
    ("libgl1", "the editor draws with OpenGL"),
    ("libgl1-mesa-dri", "OpenGL without a graphics card"),
    ("libx11-xcb1", "the editor's window"),
    ("libxcursor1", "the editor's window"),
    ("libxkbcommon-x11-0", "the editor's keyboard"),
    ("libegl1", "the editor draws with OpenGL"),
    ("poppler-utils", "reads the printed sheets in tests"),
];

/// Wanted only where Python cannot make a virtual environment as it is.
const VENV_PACKAGE: &str = "python3-venv";

/// For other systems.
const ELSEWHERE: &str = "other systems need: a C linker, pkg-config, ALSA's and JACK's headers, Xvfb, Mesa's \
     software OpenGL, libX11, libX11-xcb, libXcursor, Python 3 with venv";

/// The reference libraries that MIDI files and MusicXML are read with.
/// `setuptools` is what `pretty_midi` finds its own data with; from 81 on it no
/// longer can. `musicxml` carries the W3C's schema, which `lxml` validates with.
const PYTHON: [&str; 8] = [
    "lxml==6.1.3",
    "mido==1.3.3",
    "music21==10.5.1",
    "musicxml==1.6.3",
    "numpy==2.2.6",
    "pretty_midi==0.2.11",
    "setuptools==80.9.0",
    "verovio==6.4.1",
];

/// Installs what is missing for everything but [`crate::daw`].
///
/// # Errors
/// If something is missing and cannot be installed; the message says what to
/// do.
pub fn system() -> Result<()> {
    packages(&PACKAGES, ELSEWHERE)
}

/// Installs those of the Debian packages that are missing; each comes with what
/// it is for. `elsewhere` says what other systems need.
///
/// # Errors
/// As [`system`].
pub fn packages(wanted: &[(&str, &str)], elsewhere: &str) -> Result<()> {
    step::heading("Set-up");
    if !Path::new("/usr/bin/dpkg-query").exists() {
        println!("not a Debian system: nothing is installed; {elsewhere}");
        return Ok(());
    }
    let mut missing: Vec<&str> = wanted
        .iter()
        .map(|(name, _)| *name)
        .filter(|name| !installed(name))
        .collect();
    if !makes_venv() {
        missing.push(VENV_PACKAGE);
    }
    if missing.is_empty() {
        println!("system packages: all there");
        return Ok(());
    }
    for (name, purpose) in wanted {
        if missing.contains(name) {
            println!("missing: {name} ({purpose})");
        }
    }
    install(&missing)
}

fn installed(package: &str) -> bool {
    let mut query = Command::new("dpkg-query");
    // Names of libraries that have been renamed for 64-bit time are provided
    // by the renamed ones.
    let renamed = format!("{package}t64");
    query.args(["-W", "-f", "${Status}\n", package, &renamed]);
    query.output().is_ok_and(|output| {
        String::from_utf8_lossy(&output.stdout)
            .lines()
            .any(|line| line == "install ok installed")
    })
}

fn makes_venv() -> bool {
    step::succeeds(Command::new("python3").args(["-c", "import venv, ensurepip"]))
}

fn install(packages: &[&str]) -> Result<()> {
    let root = step::output(Command::new("id").arg("-u"))?.trim() == "0";
    let by_hand = format!(
        "sudo apt-get update && sudo apt-get install --no-install-recommends -y {}",
        packages.join(" ")
    );
    let apt = |args: &[&str]| {
        let mut command = if root {
            Command::new("apt-get")
        } else {
            // Asks for the password where there is someone to ask.
            let mut sudo = Command::new("sudo");
            sudo.arg("apt-get");
            sudo
        };
        command.args(args).env("DEBIAN_FRONTEND", "noninteractive");
        step::run(&mut command)
    };
    let mut args = vec!["install", "--no-install-recommends", "-y"];
    args.extend(packages);
    apt(&["update", "-q"])
        .and_then(|()| apt(&args))
        .with_context(|| format!("please run\n\n    {by_hand}\n"))
}

/// Makes `target/venv` with the reference libraries, where it is missing or of
/// other versions.
///
/// # Errors
/// If Python or the network is not there.
pub fn python() -> Result<()> {
    venv(
        Path::new("target/venv"),
        &PYTHON,
        "import lxml, mido, music21, musicxml, pretty_midi, verovio",
    )
}

/// Makes a virtual environment with these libraries, where it is missing, of
/// other versions, or `imports` does not run in it.
///
/// # Errors
/// If Python or the network is not there.
pub fn venv(folder: &Path, libraries: &[&str], imports: &str) -> Result<()> {
    let stamp = folder.join("barform-requirements.txt");
    let wanted = libraries.join("\n");
    let python = folder.join("bin/python");
    let works = || step::succeeds(Command::new(&python).args(["-c", imports]));
    if std::fs::read_to_string(&stamp).is_ok_and(|made| made == wanted) && works() {
        println!("Python libraries: all there");
        return Ok(());
    }
    println!("Python libraries: {}", libraries.join(" "));
    step::run(
        Command::new("python3")
            .args(["-m", "venv", "--clear"])
            .arg(folder),
    )
    .context("Python 3 with venv is needed")?;
    step::run(
        Command::new(&python)
            .args([
                "-m",
                "pip",
                "install",
                "--quiet",
                "--disable-pip-version-check",
            ])
            .args(libraries),
    )?;
    std::fs::write(&stamp, wanted)?;
    Ok(())
}

/// Checks that the toolchain has what the style and lint steps run.
///
/// # Errors
/// If a part is missing; the message says how to get it.
pub fn toolchain() -> Result<()> {
    for (part, subcommand) in [("rustfmt", "fmt"), ("clippy", "clippy")] {
        if !step::succeeds(&mut step::cargo([subcommand, "--version"])) {
            bail!("{part} is missing; please run\n\n    rustup component add {part}\n");
        }
    }
    Ok(())
}
