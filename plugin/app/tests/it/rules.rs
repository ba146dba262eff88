//! A user's settings file: one table for each part of the craft.

use barform_app::craft::rules::{RuleError, Rules};
use barform_app::craft::{arrange, carry, counting, playable, refit, revoice, sticking, variation};

fn read(text: &str) -> Result<Rules, RuleError> {
    Rules::from_toml(text, "mine.toml")
}

#[test]
fn an_empty_file_changes_nothing() {
    assert_eq!(read("").unwrap(), Rules::builtin());
    assert_eq!(
        read("# nothing\n[refit]\n[counting]\n").unwrap(),
        Rules::builtin()
    );
}

/// The embedded file of each part, as the table of a settings file, says what
/// is built in.
#[test]
fn every_part_takes_its_own_file_as_a_table() {
    for (name, file) in [
        (
            "sticking",
            include_str!("../../../craft/src/data/sticking.toml"),
        ),
        (
            "refit",
            include_str!("../../../score/src/refit/data/refit.toml"),
        ),
        (
            "levels",
            include_str!("../../../craft/src/data/levels.toml"),
        ),
        (
            "rudiments",
            include_str!("../../../craft/src/data/rudiments.toml"),
        ),
        (
            "arrange",
            include_str!("../../../craft/src/data/arrange.toml"),
        ),
        (
            "revoice",
            include_str!("../../../craft/src/data/revoice.toml"),
        ),
        ("carry", include_str!("../../../craft/src/data/carry.toml")),
        (
            "counting",
            include_str!("../../../score/src/music/counting.toml"),
        ),
        (
            "variation",
            include_str!("../../../craft/src/data/variation.toml"),
        ),
    ] {
        let nested: String = file
            .lines()
            .map(|line| match line.strip_prefix('[') {
                Some(rest) => format!("[{name}.{rest}\n"),
                None => format!("{line}\n"),
            })
            .collect();
        assert_eq!(
            read(&format!("[{name}]\n{nested}")).unwrap(),
            Rules::builtin(),
            "{name}"
        );
    }
}

#[test]
fn only_what_is_stated_changes() {
    let mine = read(
        "[sticking.cost]\nrepeat = 20\n\
         [refit]\njoin.same_hand = 9\n\
         [carry]\nmost_ways = 3\n\
         [levels.level.beginner]\ntravel_cm_per_second = 100\n\
         [rudiments.rudiment.\"own one\"]\nnumber = 41\nfamily = \"diddles\"\ngrid = \"3\"\n\
         sticking = \"R R L\"\nalternates = true\n\
         [arrange.mend]\nmost = 5\n\
         [revoice.instead]\n\"snare:cross\" = [\"cowbell\"]\n\
         [counting]\ndefault = \"takadimi\"\n\
         [variation]\nlevel.advanced = { kick = 4 }\n",
    )
    .unwrap();
    let mut want = Rules::builtin();
    want.sticking = sticking::Rules::from_toml("[cost]\nrepeat = 20").unwrap();
    let whole = include_str!("../../../score/src/refit/data/refit.toml");
    assert!(whole.contains("same_hand = 8"));
    want.refit =
        refit::RefitRules::from_toml(&whole.replace("same_hand = 8", "same_hand = 9")).unwrap();
    want.carry.most_ways = 3;
    let beginner = "[level.beginner]\ntravel_cm_per_second = 100";
    want.levels = playable::Levels::from_toml(beginner).unwrap();
    want.rudiments = mine.rudiments.clone();
    assert_eq!(mine.rudiments.all().len(), 41);
    assert_eq!(mine.rudiments.get("own one").map(|r| r.number), Some(41));
    let whole = include_str!("../../../craft/src/data/arrange.toml");
    assert!(whole.contains("most = 12"));
    want.arrange =
        arrange::ArrangeRules::from_toml(&whole.replace("most = 12", "most = 5")).unwrap();
    let whole = include_str!("../../../craft/src/data/revoice.toml")
        .replace("\nhat = ", "\n\"snare:cross\" = [\"cowbell\"]\nhat = ");
    want.revoice = revoice::RevoiceRules::from_toml(&whole).unwrap();
    assert_ne!(mine.revoice, *revoice::RevoiceRules::builtin());
    want.counting = counting::Counting::from_toml("default = \"takadimi\"").unwrap();
    want.variation = variation::VariationRules::from_toml("[level.advanced]\nkick = 4").unwrap();
    assert_eq!(mine, want);
    assert_ne!(mine.refit, *refit::RefitRules::builtin());
    assert_ne!(mine.carry, *carry::CloseRules::builtin());
}

#[test]
fn errors_name_file_line_column_key_and_what_is_allowed() {
    for (text, place, says) in [
        (
            "[counting]\n\ndefault = \"nobody\"",
            "3:11",
            "counting.default: no tradition 'nobody'",
        ),
        (
            "[refit.join]\nsame_hand = 2000",
            "2:13",
            "refit.join.same_hand: ",
        ),
        (
            "[refit.join]\nsame_hand = 2000",
            "2:13",
            "allowed are 0 to 1000",
        ),
        (
            "[refit.join]\nsame_hand = -1",
            "2:13",
            "refit.join.same_hand: invalid value",
        ),
        (
            "[refit.join]\nsame = 2",
            "2:8",
            "allowed are same_foot both_hands same_hand",
        ),
        (
            "[refit.join]\nsame_hand = \"x\"",
            "2:13",
            "is of type string; allowed is integer",
        ),
        ("[refit]\njoin = 3", "2:8", "refit.join"),
        ("[carry]\nmost_bars = 0", "2:13", "1 to 256"),
        (
            "[carry]\nbeats_for_each_bar = \"17\"",
            "2:22",
            "0 to 16 beats",
        ),
        (
            "[sticking.limits]\nmemory = 1",
            "2:10",
            "sticking.limits.memory: is 1",
        ),
        (
            "[variation.level.advanced]\nkick = 0",
            "2:8",
            "variation.level.advanced.kick: 0",
        ),
        (
            "[variation]\nlevel = { advanced = { speed = 2 } }",
            "2:32",
            "speed",
        ),
        ("[arrange.rank]\nnew = 1001", "2:7", "arrange.rank.new"),
        ("[arrange.rank]\nnew = 1001", "2:7", "0 to 1000"),
        (
            "[revoice.run]\nmost_gap = \"65\"",
            "2:12",
            "revoice.run.most_gap",
        ),
        ("[revoice.instead]\nsnair = []", "2:9", "snair"),
        (
            "[levels.closest_ms]\nhand = 5",
            "2:8",
            "levels.closest_ms.hand: is 5",
        ),
        (
            "[rudiments.rudiment.\"five stroke roll\"]\nnumber = 0",
            "2:10",
            "1 to 9999",
        ),
        ("[tempo]\n", "1:1", "allowed are [sticking]"),
        ("counting = 3", "1:12", "not a table"),
        ("[counting\n", "1:10", "not TOML"),
    ] {
        let error = read(text).unwrap_err();
        assert_eq!(error.file, "mine.toml");
        let error = error.to_string();
        assert!(
            error.starts_with(&format!("mine.toml:{place}: ")),
            "{text:?}: {error}"
        );
        assert!(error.contains(says), "{text:?}: {error}");
    }
}
