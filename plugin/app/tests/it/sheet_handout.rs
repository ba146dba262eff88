//! The hand-out: what stands on it, and that all of it has its own place.

use crate::sheet_engrave_support;

use barform_app::DEMO_SCORE;
use barform_app::craft::line::Line;
use barform_app::craft::playable::Playable;
use barform_app::score::Score;
use barform_app::sheet::engrave::{Style, engrave};
use barform_app::sheet::handout::{HandoutError, Options, handout};
use barform_app::sheet::notate::{self, written};
use barform_app::sheet::{Bounds, Drawing, Item, Page, Role};
use barform_app::timeline::Timeline;
use proptest::prelude::*;
use sheet_engrave_support::{fold, one_cell, score, styles, words};

fn made(text: &str, options: &Options) -> Drawing {
    let score = Score::parse(text, "test.barform").unwrap_or_else(|e| panic!("{e}\n{text}"));
    let timeline = Timeline::compile(&score).expect("compiles");
    handout(&score, &timeline, options).unwrap_or_else(|e| panic!("{e}\n{text}"))
}

fn sheet_pages(text: &str, options: &Options) -> usize {
    let score = Score::parse(text, "test.barform").expect("sound");
    let timeline = Timeline::compile(&score).expect("compiles");
    let notation = notate::Options {
        fold: options.fold,
        ..notate::Options::default()
    };
    let music = written(&score, &timeline, &notation).expect("written");
    let sheet = engrave(&music, &score.kit, &options.style).expect("drawn");
    sheet.pages.len()
}

/// All words of a page in the order painted.
fn text(page: &Page) -> String {
    let all: Vec<&str> = page.items.iter().filter_map(words).collect();
    all.join(" ")
}

/// A letter that heads a page is set far larger than one over a bar.
fn heads(page: &Page) -> Vec<String> {
    let large = page.items.iter().filter(|item| {
        matches!(item.shape, barform_app::sheet::Shape::Text { .. })
            && matches!(item.role, Role::Letter(_))
            && item.bounds.top < 30.0
    });
    large.filter_map(words).map(str::to_owned).collect()
}

/// What stands where it should: inside the margins; words, rules and systems
/// clear of each other.
fn in_order(drawing: &Drawing, style: &Style, from: usize) -> Result<(), String> {
    let (width, height) = style.page_mm();
    // A hundredth of a millimetre for rounding.
    let inner = Bounds {
        left: style.margins_mm - 0.01,
        top: style.margins_mm - 0.01,
        right: width - style.margins_mm + 0.01,
        bottom: height - style.margins_mm + 0.01,
    };
    for (number, page) in drawing.pages.iter().enumerate() {
        for item in &page.items {
            if !inner.holds(item.bounds) {
                return Err(format!("page {number}: {item:?} is outside"));
            }
        }
        if number < from {
            continue;
        }
        let own = |item: &&Item| matches!(item.role, Role::Words | Role::Folio | Role::Rule);
        let texts: Vec<&Item> = page.items.iter().filter(own).collect();
        for (i, a) in texts.iter().enumerate() {
            for b in &texts[i + 1..] {
                // Rules cross each other in a table.
                let rules = a.role == Role::Rule && b.role == Role::Rule;
                if !rules && a.bounds.overlaps(b.bounds) {
                    return Err(format!("page {number}: {a:?} and {b:?}"));
                }
            }
        }
        let systems = drawing.systems.iter().filter(|s| s.page == number);
        let systems: Vec<Bounds> = systems.map(|s| s.bounds).collect();
        for (i, a) in systems.iter().enumerate() {
            if let Some(b) = texts.iter().find(|b| a.overlaps(b.bounds)) {
                return Err(format!("page {number}: a system and {b:?}"));
            }
            if systems[i + 1..].iter().any(|b| a.overlaps(*b)) {
                return Err(format!("page {number}: two systems"));
            }
        }
        // All that is music stands in a system, but for the letter at the head.
        for item in &page.items {
            let music = !own(&item) && !matches!(item.role, Role::Letter(_));
            let slack = |s: &Bounds| Bounds {
                left: s.left - 0.01,
                top: s.top - 0.01,
                right: s.right + 0.01,
                bottom: s.bottom + 0.01,
            };
            if music && !systems.iter().any(|s| slack(s).holds(item.bounds)) {
                return Err(format!("page {number}: {item:?} is in no system"));
            }
        }
    }
    Ok(())
}

#[test]
fn the_demo_has_its_sheet_and_a_page_for_each_letter() {
    let score = Score::parse(DEMO_SCORE, "demo").expect("sound");
    let options = Options::default();
    let drawing = made(DEMO_SCORE, &options);
    let sheet = sheet_pages(DEMO_SCORE, &options);
    assert_eq!(drawing.pages.len(), sheet + score.cells.len());
    for (page, cell) in drawing.pages[sheet..].iter().zip(&score.cells) {
        let letter = cell.letter.as_str().replace('\'', "′");
        assert!(heads(page).contains(&letter), "{letter}: {:?}", heads(page));
        let text = text(page);
        for wanted in [
            "Start the monitor low",
            "Warm up, raise the tempo in small steps, stop at pain",
            "a teacher or",
            "Rudiments",
            "Top tempo",
            "Date",
            "Tempo reached",
            "Notes",
        ] {
            assert!(text.contains(wanted), "{wanted} on {letter}: {text}");
        }
        if let Some(parent) = &cell.like {
            let named = format!("a variation of {parent}");
            assert!(text.contains(&named), "{text}");
        }
    }
    let numbers: Vec<String> = drawing.pages.iter().map(text).collect();
    for (i, text) in numbers.iter().enumerate() {
        let folio = format!("{} / {}", i + 1, drawing.pages.len());
        assert_eq!(text.matches(" / ").count(), 1, "{text}");
        assert!(text.contains(&folio), "{text}");
    }
}

/// Level by level the tempo that the craft finds for the cell again and again,
/// and its reason.
#[test]
fn top_tempos_are_those_of_the_craft() {
    let score = Score::parse(DEMO_SCORE, "demo").expect("sound");
    let options = Options::default();
    let drawing = made(DEMO_SCORE, &options);
    let sheet = sheet_pages(DEMO_SCORE, &options);
    let rules = &options.rules;
    let setup = rules.sticking.setup("right-handed", &score.kit);
    let setup = setup.expect("a set-up");
    let cells = score.cells_resolved().expect("resolve");
    for (page, cell) in drawing.pages[sheet..].iter().zip(&cells) {
        let line = Line::from_cell(cell).expect("exact");
        let playable = Playable::new(&line.strokes, Some(line.length), &setup, &rules.sticking);
        let text = text(page);
        for level in rules.levels.all() {
            let top = playable.top_tempo(level, &rules.levels).expect("exact");
            let bpm = top.bpm.expect("the demo can be played");
            let wanted = format!("{} {bpm} bpm", level.name);
            assert!(text.contains(&wanted), "{wanted}: {text}");
        }
    }
}

#[test]
fn a_ladder_rises_evenly_from_slow_to_the_tempo_of_the_score() {
    // Quarters by alternate hands at 90: any level plays them.
    let text_of = one_cell("1 1 1 1", "R L R L", "snare . . .");
    let drawing = made(&text_of, &Options::default());
    let last = text(drawing.pages.last().expect("pages"));
    let table = last
        .split("Tempo reached Notes")
        .nth(1)
        .expect("the tempo steps");
    let mut rungs = Vec::new();
    let mut before = "";
    for word in table.split(' ') {
        if word == "bpm" {
            rungs.push(before.parse::<i64>().expect("a tempo"));
        }
        before = word;
    }
    assert_eq!((rungs[0], rungs[rungs.len() - 1]), (45, 90));
    assert!(rungs.len() == 10, "{rungs:?}");
    let list: Vec<String> = rungs.iter().map(i64::to_string).collect();
    assert!(
        last.contains(&format!("Tempo steps: {}.", list.join(", "))),
        "{last}"
    );
    let steps: Vec<i64> = rungs.windows(2).map(|w| w[1] - w[0]).collect();
    assert!(steps.iter().all(|s| (4..=6).contains(s)), "{rungs:?}");
    let (least, most) = (steps.iter().min(), steps.iter().max());
    assert!(
        most.zip(least).is_some_and(|(a, b)| a - b <= 1),
        "{rungs:?}"
    );
}

/// In large print too no name of a column is cut off.
#[test]
fn names_of_columns_are_whole_on_every_usual_paper() {
    for style in styles() {
        if style.paper.width_mm < 200.0 {
            continue;
        }
        let options = Options {
            style,
            ..Options::default()
        };
        let drawing = made(DEMO_SCORE, &options);
        let all: Vec<String> = drawing.pages.iter().map(text).collect();
        assert!(
            all.iter()
                .any(|t| t.contains("Step Date Tempo reached Notes"))
        );
        let sheet = sheet_pages(DEMO_SCORE, &options);
        assert!(all[sheet..].iter().all(|t| !t.contains('…')));
    }
}

#[test]
fn a_goal_is_within_the_levels_asked_for() {
    // Sixteenths at 200 are beyond a beginner.
    let text_of = one_cell(
        "4 4 4 4",
        &"R L ".repeat(8),
        &format!("snare{}", " .".repeat(15)),
    )
    .replace("tempo = 90", "tempo = 200");
    let options = Options {
        levels: vec!["beginner".to_owned()],
        ..Options::default()
    };
    let page = made(&text_of, &options);
    let last = text(page.pages.last().expect("pages"));
    assert!(!last.contains("intermediate"), "{last}");
    let top = last
        .split("beginner ")
        .nth(1)
        .and_then(|t| t.split(' ').next());
    let top = top.expect("a top tempo");
    let goal = format!("Goal: {top} bpm, the highest top tempo above; the score has 200.");
    assert!(last.contains(&goal), "{last}");
    let unknown = Options {
        levels: vec!["wizard".to_owned()],
        ..Options::default()
    };
    let score = Score::parse(&text_of, "test").expect("sound");
    let timeline = Timeline::compile(&score).expect("compiles");
    let error = handout(&score, &timeline, &unknown).expect_err("no such level");
    assert!(matches!(error, HandoutError::Level { .. }));
    assert!(error.to_string().contains("'wizard'; known are beginner,"));
}

#[test]
fn what_it_is_is_said_in_words() {
    let said = |grid: &str, slots: usize| {
        let sticking = "R ".repeat(slots);
        let drawing = made(
            &one_cell(grid, &sticking, &format!("snare{}", " .".repeat(slots - 1))),
            &Options::default(),
        );
        text(drawing.pages.last().expect("pages"))
    };
    // Names of note values: common practice.
    for (grid, slots, wanted) in [
        ("6 6 6", 18, "3 beats: 18 sixteenth-note triplets."),
        ("3@2 3@2", 6, "4 beats: 6 quarter-note triplets."),
        (
            "4 6",
            10,
            "2 beats: 4 sixteenths, then 6 sixteenth-note triplets.",
        ),
        (
            "1@1/2 3@1/2",
            4,
            "1 beat: 1 eighth, then 3 sixteenth-note triplets.",
        ),
        ("5 5", 10, "2 beats: a quintuplet twice."),
        ("1@2 1 1", 3, "4 beats: 1 half note, then 2 quarter notes."),
        ("11", 11, "1 beat: 11 even slots in 1 beat."),
    ] {
        assert!(
            said(grid, slots).contains(wanted),
            "{grid}: {}",
            said(grid, slots)
        );
    }
}

#[test]
fn a_form_with_very_many_letters_has_a_page_for_each() {
    let names: Vec<String> = (0..48)
        .map(|i| {
            format!(
                "{}{}",
                char::from(b'A' + (i % 26) as u8),
                if i < 26 { "" } else { "2" }
            )
        })
        .collect();
    let mut source = format!(
        "barform = 1\ntitle = \"{}\"\ntempo = 92\nmeter = \"4/4\"\nform = \"{}\"\n",
        "A title that goes on and on, and on, ".repeat(5),
        names.join(" ")
    );
    for (i, name) in names.iter().enumerate() {
        let sticking = ["R L R L", "R+K L lR L", "R> (L) R K", "K - K H"][i % 4];
        source += &format!("[cell.{name}]\ngrid = \"4\"\nsticking = \"{sticking}\"\n");
    }
    let options = Options::default();
    let drawing = made(&source, &options);
    let sheet = sheet_pages(&source, &options);
    assert_eq!(drawing.pages.len(), sheet + 48);
    for (page, name) in drawing.pages[sheet..].iter().zip(&names) {
        assert!(heads(page).contains(name), "{name}");
    }
    in_order(&drawing, &options.style, sheet).expect("in order");
}

#[test]
fn a_long_cell_goes_over_several_lines_and_pages() {
    let source = one_cell(
        &"8 ".repeat(40),
        &"R L ".repeat(160),
        &format!(
            "snare{}",
            " tom1 tom2 . snare".repeat(80).trim_end_matches(" snare")
        ),
    );
    let options = Options::default();
    let drawing = made(&source, &options);
    let sheet = sheet_pages(&source, &options);
    let letters = &drawing.pages[sheet..];
    assert!(letters.len() > 1);
    for page in letters {
        assert_eq!(heads(page)[0], "A");
        assert!(text(page).contains("Start the monitor low"));
    }
    assert!(text(&letters[1]).contains("continued"));
    in_order(&drawing, &options.style, sheet).expect("in order");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn nothing_overlaps_and_all_is_inside_the_margins(
        source in score(),
        fold in fold(),
        style in proptest::sample::select(styles()),
    ) {
        let options = Options { style, fold, ..Options::default() };
        let parsed = Score::parse(&source, "test").map_err(|e| TestCaseError::fail(e.to_string()))?;
        let timeline = Timeline::compile(&parsed).map_err(|e| TestCaseError::fail(e.to_string()))?;
        // A rate may bring about what no note value has.
        let Ok(drawing) = handout(&parsed, &timeline, &options) else {
            return Err(TestCaseError::reject("cannot be written"));
        };
        let sheet = sheet_pages(&source, &options);
        prop_assert!(drawing.pages.len() >= sheet + parsed.cells.len());
        in_order(&drawing, &style, sheet).map_err(TestCaseError::fail)?;
    }
}
