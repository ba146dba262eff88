//! A plan's file: read, refused with its place, and written.

use barform_craft::rules::Rules;
use barform_practice::plan::{Plan, Play, Steps};
use barform_practice::schedule::{Schedule, ScheduleError};
use barform_score::music::Beats;
use barform_score::score::Score;
use proptest::prelude::*;

const HEAD: &str = "barform = 1\n[practice]\n";

#[test]
fn what_is_written_is_read_back() {
    let text = r#"
barform = 1

[practice]
play = "join A B'"
tempo = "50% to 100% by 2.5% of 132.5"
each = "8 bars"
then = "hold 3"

[practice.count-in]
bars = 2
last = "16ths"
every-step = true

[practice.click]
on = "8th-triplets"
bar = { level = 120, sound = "cowbell", key = 56 }
between = { level = 20 }
channel = 9
fade = "20% every 4 bars"

[practice.gaps]
bars = "1 of 4"
grow = 1
silent = ["click", "ostinato"]

[practice.trading]
turns = "barform 2 bars, echo, player 1 pass"
player = ["B'"]

[practice.layers]
order = ["feet", "ostinato", "R", "snare", "all"]
every = 2

[practice.join]
beats = "3/2"
rate = "80%"

[practice.drawn]
letters = ["A", "B"]
contain = ["B"]
end = "A"
seed = 12
"#;
    let plan = Plan::parse(text, "mine.plan").unwrap();
    let again = Plan::parse(&plan.to_toml(), "again").unwrap();
    assert_eq!(plan, again, "{}", plan.to_toml());
    let empty = Plan::parse("barform = 1", "empty").unwrap();
    assert_eq!(empty, Plan::default());
    assert_eq!(Plan::parse(&empty.to_toml(), "empty").unwrap(), empty);
}

/// File, line, column and a part of the message.
fn refused(text: &str, place: &str, part: &str) {
    let error = Plan::parse(text, "mine.plan").unwrap_err();
    let said = error.to_string();
    assert!(said.starts_with(&format!("mine.plan:{place}: ")), "{said}");
    assert!(said.contains(part), "{said}");
    let line = usize::try_from(error.line).unwrap();
    let shown = error.excerpt.lines().next().unwrap();
    assert_eq!(text.lines().nth(line - 1).unwrap_or_default(), shown);
}

#[test]
fn what_is_wrong_is_told_with_its_place() {
    refused("[practice]\n", "1:1", "write barform = 1");
    refused("barform = 2\n", "1:11", "barform = 1");
    refused("barform = 1\n[practice\n", "2:10", "not TOML");
    refused(
        "barform = 1\n[practise]\n",
        "2:2",
        "did you mean 'practice'?",
    );
    let with = |lines: &str| format!("{HEAD}{lines}\n");
    refused(&with("tempoo = 60"), "3:1", "unknown key 'tempoo'");
    refused(&with("tempoo = 60"), "3:1", "did you mean 'tempo'?");
    refused(&with("tempo = \"60 up 70\""), "3:9", "60 to 120 by 5");
    refused(&with("tempo = true"), "3:9", "words in quotes, or a number");
    refused(&with("play = \"letter a\""), "3:8", "letter A");
    refused(&with("each = \"4\""), "3:8", "2 passes or 8 bars");
    refused(&with("then = \"hold 0\""), "3:8", "hold 4");
    refused(
        &with("count-in = { bar = 2 }"),
        "3:14",
        "did you mean 'bars'?",
    );
    refused(
        &with("count-in = { bars = 17 }"),
        "3:21",
        "allowed is 0 to 16",
    );
    refused(
        &with("click = { bar = { level = 128 } }"),
        "3:27",
        "0 to 127",
    );
    refused(&with("click = { on = \"8th\" }"), "3:16", "8ths");
    refused(
        &with("click = { bar = { sound = \"drum\" } }"),
        "3:27",
        "cowbell",
    );
    refused(
        &with("click = { fade = \"20% every 0 bars\" }"),
        "3:18",
        "20% every 4 bars",
    );
    refused(&with("[practice.gaps]\nbars = \"5 of 4\""), "4:8", "1 of 4");
    refused(
        &with("[practice.gaps]\nbars = \"1 of 4\"\nsilent = [\"clack\"]"),
        "5:11",
        "click",
    );
    refused(&with("[practice.gaps]\ngrow = 1"), "3:1", "bars");
    refused(
        &with("[practice.trading]\nturns = \"echo\""),
        "4:9",
        "barform 2 bars, echo",
    );
    refused(
        &with("[practice.layers]\norder = [\"arms\"]"),
        "4:10",
        "hands",
    );
    refused(&with("[practice.layers]\norder = []"), "4:9", "1 to 50");
    refused(&with("[practice.join]\nbeats = 0"), "4:9", "above zero");
    refused(&with("[practice.join]\nrate = \"0%\""), "4:8", "80%");
    refused(&with("[practice.drawn]\nbars = 0"), "4:8", "1 to 64");
    refused(
        &with("click = { on = \"64@1/2\" }"),
        "3:16",
        "64th of a beat",
    );
}

/// Numbers are exact as they are written.
#[test]
fn decimals_are_exact() {
    let plan = Plan::parse(&format!("{HEAD}tempo = 92.3"), "mine").unwrap();
    let tempo = plan.tempo.tempos(Beats::ONE).unwrap();
    assert_eq!(tempo, [Beats::new(923, 10)]);
}

/// A plan that asks for too much is refused, not worked out.
#[test]
fn what_is_too_long_is_refused() {
    let score = Score::parse(crate::schedule::FOUR, "score").unwrap();
    let new = |lines: &str| {
        let plan = Plan::parse(&format!("{HEAD}{lines}"), "plan").unwrap();
        Schedule::new(&plan, &score, &[])
    };
    let long = new("tempo = \"20 to 400 by 1\"\neach = \"9999 passes\"\n");
    assert!(matches!(long, Err(ScheduleError::TooLong)));
    let dense = new("each = \"9999 bars\"\nclick = { on = \"64\" }\n");
    assert!(matches!(dense, Err(ScheduleError::TooLong)));
    assert!(matches!(new("tempo = 401"), Err(ScheduleError::Steps(_))));
    assert!(matches!(
        new("tempo = \"10%\""),
        Err(ScheduleError::Steps(_))
    ));
    assert!(matches!(
        new("tempo = \"20 to 400 by 0.1\""),
        Err(ScheduleError::Steps(_))
    ));
}

#[test]
fn steps_are_proposed_for_a_level() {
    let score = Score::parse(barform_score::DEMO_SCORE, "demo").unwrap();
    let rules = Rules::builtin();
    let mut goals = Vec::new();
    for level in rules.levels.all() {
        let play = Play::default();
        let steps = Steps::proposed(&score, &play, level, &rules.levels, &rules.sticking).unwrap();
        let tempos = steps.tempos(score.tempo).unwrap();
        let (first, last) = (tempos[0], tempos[tempos.len() - 1]);
        assert!(first <= last && last <= score.tempo, "{steps}");
        assert!(
            first.to_f64() >= 0.5 * last.to_f64() || first == Beats::whole(20),
            "{steps}"
        );
        goals.push(last);
    }
    // Who can do more goes as far or further.
    assert!(goals.is_sorted(), "{goals:?}");
}

proptest! {
    /// Whatever is put into a plan's text, it is read or refused.
    #[test]
    fn damaged_plans_are_refused_or_read(
        cuts in proptest::collection::vec((0_usize..600, 0_usize..40, "[ -~\n]{0,12}"), 1..4),
    ) {
        let mut text = Plan::default().to_toml()
            + "[practice.gaps]\nbars = \"1 of 4\"\n[practice.trading]\nturns = \"barform 2 bars, echo\"\n\
               [practice.layers]\norder = [\"R\"]\n";
        for (at, length, put) in cuts {
            let at = at.min(text.len());
            let end = (at + length).min(text.len());
            text.replace_range(at..end, &put);
        }
        if let Ok(plan) = Plan::parse(&text, "plan") {
            prop_assert_eq!(Plan::parse(&plan.to_toml(), "again"), Ok(plan.clone()));
            let score = Score::parse(crate::schedule::FOUR, "score").unwrap();
            // Worked out or refused.
            let _ = Schedule::new(&plan, &score, &[]);
        }
    }
}
