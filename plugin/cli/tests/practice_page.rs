//! `docs/practice.md` shows what the commands print, and names every option and
//! every key of a plan.

mod common;

use common::page::{self, printed};

#[test]
fn the_page_shows_what_the_commands_print() {
    let folder = tempfile::tempdir().unwrap();
    let commands = page::check("practice.md", folder.path());
    for verb in ["track", "review", "today", "latency", "plan"] {
        let start = format!("barform practice {verb}");
        let shows = |command: &String| command.starts_with(&start);
        assert!(commands.iter().any(shows), "{verb} is not shown");
    }
    // A plan that is printed can be read.
    let plan = printed(
        folder.path(),
        "barform practice plan --gaps '1 of 4' --fade '20% every bar'",
    );
    std::fs::write(folder.path().join("mine.plan"), &plan).unwrap();
    assert_eq!(
        printed(folder.path(), "barform practice plan --plan mine.plan"),
        plan
    );
}

#[test]
fn the_page_names_every_option_and_every_key_of_a_plan() {
    let folder = tempfile::tempdir().unwrap();
    let page = page::read("practice.md");
    for verb in ["track", "review", "today", "latency", "plan"] {
        let help = printed(folder.path(), &format!("barform practice {verb} --help"));
        let options = help
            .lines()
            .filter_map(|line| line.trim_start().split("--").nth(1));
        let letter = |c: char| c.is_ascii_lowercase() || c == '-';
        let starts = options.map(|o| o.split(|c| !letter(c)).next().unwrap());
        let mut count = 0;
        for option in starts.filter(|o| !o.is_empty() && *o != "help") {
            assert!(
                page.contains(&format!("`--{option}`")),
                "--{option} of {verb}"
            );
            count += 1;
        }
        assert!(count >= 3, "{verb}");
    }
    let all = "barform practice plan --play drawn --count-last 8ths --click 8ths --fade '5% every bar' \
               --gaps '1 of 4' --trade 'barform 1 bar, echo' --player A --layers R";
    let plan = printed(folder.path(), all);
    let mut table = String::new();
    let mut keys = 0;
    for line in plan.lines() {
        if let Some(head) = line.strip_prefix("[practice") {
            table = head
                .trim_end_matches(']')
                .trim_start_matches('.')
                .to_owned();
        } else if let Some((key, _)) = line.split_once(" = ").filter(|(k, _)| *k != "barform") {
            let path = match table.as_str() {
                "" => key.to_owned(),
                table => format!("{table}.{key}"),
            };
            assert!(page.contains(&format!("`{path}`")), "{path}");
            keys += 1;
        }
    }
    assert!(keys >= 20, "{plan}");
}
