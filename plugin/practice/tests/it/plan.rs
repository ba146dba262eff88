//! A plan's file: read, refused with its place, and written.

use barform_practice::plan::Plan;

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
}

/// Numbers are exact as they are written.
#[test]
fn decimals_are_exact() {
    let plan = Plan::parse(&format!("{HEAD}tempo = 92.3"), "mine").unwrap();
    let tempo = plan.tempo.tempos(barform_score::music::Beats::ONE).unwrap();
    assert_eq!(tempo, [barform_score::music::Beats::new(923, 10)]);
}
