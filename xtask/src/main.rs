//! The project's own commands: `cargo xtask demo | test | bundle | pictures | bench | mutants | daw`.
//!
//! In: a clean checkout and a Rust toolchain. Out: whatever the command says it
//! leaves, and an exit status that is zero only if all went well. Each command
//! sets up what it needs, and does nothing where it is there already.
//! Never here: a test or a check of the product itself; those are in the crates.

mod bench;
mod bundle;
mod daw;
mod demo;
mod licences;
mod mutants;
mod pictures;
mod setup;
mod step;
mod test;

use std::process::ExitCode;

use anyhow::{Result, bail};

const HELP: &str = "\
cargo xtask demo     build the plugin, play the demo form in a host without a
                     screen, and leave what came of it in target/demo
cargo xtask test     every check there is: style, lints, docs, licences, tests
cargo xtask bundle   build the plugin, the window without a host and the command
                     for use, into target/bundled
cargo xtask pictures draw every page of the window into target/pictures
cargo xtask bench    measure, and print one table; `bench FILTER` for some rows
cargo xtask mutants  change a sample of the code, one place at a time, and show
                     what the tests let through; `mutants play 7` for one of
                     score, play, files, sheet, take, practice and another
                     sample. It takes an hour or more
cargo xtask daw      play the bundles in two DAWs of Debian 12, without a screen:
                     VST3 in Ardour, CLAP in Qtractor; print one table. It takes
                     about half an hour; `daw ardour 92 loop` for the rows that
                     have all of these words. BARFORM_VST3, BARFORM_CLAP and
                     BARFORM_CLI name others than those in target/bundled";

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    match run(&args) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("\nxtask: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn run(args: &[String]) -> Result<()> {
    nice_plug_xtask::chdir_workspace_root()?;
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    match args[..] {
        ["demo"] => demo::run(),
        ["test"] => test::run(),
        ["bundle"] => bundle::for_use(),
        ["pictures"] => pictures::run(),
        ["bench"] => bench::run(""),
        ["bench", filter] => bench::run(filter),
        ["mutants", ref args @ ..] => mutants::run(args),
        ["daw", ref filter @ ..] => daw::run(filter),
        [] | ["help" | "--help" | "-h"] => {
            println!("{HELP}");
            Ok(())
        }
        _ => bail!("unknown: '{}'\n\n{HELP}", args.join(" ")),
    }
}
