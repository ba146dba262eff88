//! Every check there is, the quick ones first; the test runner's own summary is
//! the last line.

use anyhow::Result;

use crate::{bundle, licences, setup, step};

/// Runs all checks.
///
/// # Errors
/// At the first that fails.
pub fn run() -> Result<()> {
    setup::system()?;
    setup::python()?;
    setup::toolchain()?;

    step::heading("Style");
    step::run(&mut step::cargo(["fmt", "--all", "--check"]))?;

    step::heading("Licences");
    licences::check()?;

    step::heading("Lints");
    step::run(&mut step::cargo([
        "clippy",
        "--quiet",
        "--workspace",
        "--all-targets",
        "--features",
        "barform/assert_process_allocs",
        "--",
        "-D",
        "warnings",
    ]))?;

    step::heading("Documentation");
    step::run(
        step::cargo(["doc", "--quiet", "--workspace", "--no-deps"])
            .args(["--document-private-items"])
            .env("RUSTDOCFLAGS", "-D warnings"),
    )?;

    bundle::checked()?;

    step::heading("Examples in the documentation");
    step::run(
        step::cargo(["test", "--quiet", "--workspace", "--doc"]).args(&bundle::CHECKED[4..]),
    )?;

    step::heading("Tests");
    // What the plugin logs, the refusals that tests provoke above all, goes
    // into a file.
    let log = bundle::target_dir()?.join("test.log");
    step::run(
        step::cargo(["test", "--no-fail-fast"])
            .args(bundle::CHECKED)
            .env("NICE_LOG", log),
    )
}
