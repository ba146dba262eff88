//! All habits of hosts put together at random, in a real CLAP and a real VST3
//! host.
//!
//! `BARFORM_SESSIONS=500` plays fewer sessions, `BARFORM_SESSION=1234` that one
//! alone.

use std::cell::RefCell;
use std::collections::BTreeMap;

use anyhow::{Context, Result, bail, ensure};
use barform_hosts::habits::Personality;
use barform_hosts::invented::{self, drawn, plain_form, runner};
use barform_hosts::judge::{Fault, Kind};
use barform_tests::daw::stage::Stage;
use barform_tests::host::Format;
use barform_tests::session::form;
use proptest::strategy::Strategy;
use proptest::test_runner::{TestCaseError, TestError};

/// Sessions in all; each format plays half of them.
const SESSIONS: u64 = 20_000;

/// In one of so many sessions, at the most, a stroke may be up to five milliseconds
/// further off than its host excuses: habits put together blur more than each
/// does by itself.
const MOVED: u64 = 75;

/// So many sessions have one sample rate and one form each.
const GROUP: u64 = 500;
const SAME_FORM: u64 = 5;

/// Sample rates in Hz.
const RATES_HZ: [u32; 8] = [
    48_000, 44_100, 8_000, 96_000, 22_050, 192_000, 12_347, 88_200,
];

fn from_environment(name: &str) -> Result<Option<u64>> {
    let Some(value) = std::env::var_os(name) else {
        return Ok(None);
    };
    let value = value.to_string_lossy();
    Ok(Some(
        value.parse().with_context(|| format!("{name}={value}"))?,
    ))
}

/// How often sessions with each habit failed.
#[derive(Default)]
struct Tally(BTreeMap<String, (u32, u32)>);

impl Tally {
    fn add(&mut self, host: &Personality, failed: bool) {
        let all = format!("{host:?}");
        let habits = all
            .trim_start_matches("Personality { ")
            .trim_end_matches(" }");
        for habit in habits.split(", ") {
            let entry = self
                .0
                .entry(habit.replace(char::is_numeric, ""))
                .or_default();
            entry.0 += u32::from(failed);
            entry.1 += 1;
        }
    }
}

fn random_sessions(format: Format) -> Result<()> {
    let half = from_environment("BARFORM_SESSIONS")?.unwrap_or(SESSIONS) / 2;
    let only = from_environment("BARFORM_SESSION")?;
    let numbers = only.map_or(0..half, |number| number..number + 1);
    println!("sessions {numbers:?}; BARFORM_SESSION=NUMBER plays one again");
    let mut stage = Stage::new(format, RATES_HZ[0], &plain_form())?;
    let mut failed: Vec<(u64, Fault)> = Vec::new();
    let mut tally = Tally::default();
    let mut strokes = 0;
    for number in numbers.clone() {
        set_up(&mut stage, number);
        if number.is_multiple_of(SAME_FORM) || only.is_some() {
            stage.set_form(&drawn(&form(), number / SAME_FORM));
        }
        let (host, plan) = drawn(&invented::session(), number);
        let result = stage
            .play(&plan, &host)
            .with_context(|| format!("{host:?}, {plan:?}"))?;
        tally.add(&host, result.is_err());
        match result {
            Ok(count) => strokes += count,
            Err(fault) => failed.push((number, fault)),
        }
    }
    let moved = failed.iter().filter(|(_, f)| f.kind == Kind::Moved).count();
    println!("in {moved} sessions a stroke is further off than its host excuses");
    if only.is_none() {
        failed.retain(|(_, fault)| fault.kind != Kind::Moved);
        ensure!(
            moved as u64 <= half / MOVED,
            "strokes have moved in {moved} of {half} sessions"
        );
    }
    let Some((number, fault)) = failed.first() else {
        // The sessions are not empty ones.
        ensure!(
            only.is_some() || strokes as u64 > 10 * half,
            "only {strokes} strokes"
        );
        return Ok(());
    };
    let mut kinds: BTreeMap<_, Vec<u64>> = BTreeMap::new();
    for (number, fault) in &failed {
        kinds.entry(fault.kind).or_default().push(*number);
    }
    println!(
        "{} of {} failed; failed of all by habit:",
        failed.len(),
        numbers.count()
    );
    for (habit, (failed, all)) in &tally.0 {
        println!("  {failed:5} of {all:5}  {habit}");
    }
    for (kind, numbers) in &kinds {
        let first = &numbers[..numbers.len().min(12)];
        println!("  {:5} {kind:?}, first {first:?}", numbers.len());
    }
    bail!(
        "{format:?}, session {number}: {fault}\n{}",
        reduced(&mut stage, *number)?
    );
}

/// Sample rate and mode of a session.
fn set_up(stage: &mut Stage, number: u64) {
    let group = number / GROUP;
    stage.rate_hz = RATES_HZ[group as usize % RATES_HZ.len()];
    stage.offline = group % 3 == 2;
}

/// A failing session, made as small as can be.
fn reduced(stage: &mut Stage, number: u64) -> Result<String> {
    set_up(stage, number);
    let form = drawn(&form(), number / SAME_FORM);
    for form in [plain_form(), form] {
        stage.set_form(&form);
        let shared = RefCell::new(&mut *stage);
        let mut runner = runner(number);
        let tree = invented::session().new_tree(&mut runner);
        let tree = tree.map_err(|reason| anyhow::anyhow!("{reason}"))?;
        let outcome = runner.run_one(tree, |(host, plan)| {
            let played = shared.borrow_mut().play(&plan, &host);
            let fail = |text: String| TestCaseError::fail(text);
            let judged = played.map_err(|error| fail(error.to_string()))?;
            judged.map_err(|fault| fail(fault.to_string()))?;
            Ok(())
        });
        if let Err(TestError::Fail(reason, case)) = outcome {
            return Ok(format!(
                "made small: {reason}\n{case:#?}\n{} Hz\n{}",
                stage.rate_hz,
                stage.score()
            ));
        }
    }
    Ok("alone it does not fail: what was played before matters".to_owned())
}

#[test]
fn clap_whatever_the_host_s_habits() -> Result<()> {
    random_sessions(Format::Clap)
}

#[test]
fn vst3_whatever_the_host_s_habits() -> Result<()> {
    random_sessions(Format::Vst3)
}
