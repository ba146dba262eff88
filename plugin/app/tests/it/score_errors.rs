//! Every error says where, what was read, what is allowed, and a mend.

use barform_app::score::{Line, Score, Spot};
use common::mistakes::{error, expect, with};

use crate::common;

#[test]
fn a_message_reads_as_place_read_allowed_mend() {
    let (_, error) = with("R L K R L K", "R L K Q L K");
    assert_eq!(error.place.to_string(), "solo.barform:12:19");
    assert_eq!(
        error.to_string(),
        "solo.barform:12:19: 'Q' is no stroke on a sticking line; allowed is R L K H for a stroke, \
         - for a rest; > after for an accent, ( ) around for a ghost note, up to three r l in \
         front for grace notes, z after for a buzz, + between strokes at once"
    );
    assert_eq!(
        error.excerpt(),
        "sticking = \"R L K Q L K\"\n                  ^"
    );
    assert_eq!(error.spot, Spot::Cell(1, Line::Sticking));
}

#[test]
fn names_that_are_near_are_offered() {
    expect(
        "voices = \"snare",
        "voices = \"snair",
        "snair",
        &["did you mean 'snare'?"],
    );
    expect(
        "tom1 .",
        "tom1:rmi .",
        "rmi",
        &["'tom1:rmi'", "known are rim", "'rim'"],
    );
    expect(
        "tom1 .",
        "kick:rim .",
        "rim",
        &["none for this voice", "write kick alone"],
    );
    expect("tom1 .", "click .", "click", &["unknown voice 'click'"]);
    expect(
        "sticking =",
        "stiking =",
        "stiking",
        &["grid sticking voices like", "'sticking'"],
    );
    expect(
        "tempo",
        "temp",
        "temp",
        &["unknown key 'temp' in the score", "'tempo'"],
    );
    expect(
        "barform = 1",
        "barfrom = 1",
        "",
        &["no version", "spell the key 'barform'"],
    );
    expect(
        "C (A)",
        "C[16th] (A)",
        "16th",
        &["unknown subdivision '16th'", "'16ths'"],
    );
    expect(
        "C (A)",
        "C[16ths cary] (A)",
        "cary",
        &["'cary' is no way to fit", "did you mean 'carry'?"],
    );
    expect(
        "C (A)",
        "C[voicing up] (A)",
        "C[voicing up]",
        &["unknown voicing 'up'", "[voicing.up]"],
    );
    expect(
        "C (A)",
        "E (A)",
        "E",
        &["unknown cell 'E'", "known are A B C D", "add [cell.E]"],
    );
    expect(
        "C (A)",
        "C' (A)",
        "C'",
        &["add [cell.\"C'\"] with like = \"C\""],
    );
    expect("C (A)", "c (A)", "c", &["'c' in a form", "did you mean C?"]);
}

#[test]
fn counts_are_told_with_what_to_add() {
    let says = [
        "cell B has 5 slots in its sticking, its grid '6' has 6",
        "add 1 stroke",
    ];
    expect("R L K R L K", "R L K R L", "\"R L K R L\"", &says);
    let says = [
        "cell C has 13 slots in its sticking, its grid '6 6' has 12",
        "remove 1",
    ];
    expect(
        "R L R L R L\"\n[cell.D",
        "R L R L R L R\"\n[cell.D",
        "\"R L R L R L  R L R L R L R\"",
        &says,
    );
    expect(
        "tom1 . .",
        "tom1 .",
        "\"snare . . . . .  tom1 . . . kick\"",
        &["11 slots in its voices"],
    );
}

#[test]
fn slots_that_do_not_go_together_are_told() {
    expect(
        "kick\"",
        "-\"",
        "-",
        &[
            "cell A, slot 12",
            "the voices have a rest",
            "write a voice or '.'",
        ],
    );
    let (_, error) = with("R L K R L K", "R L K R - K\"\nvoices = \". . . . hat .");
    assert_eq!(
        (error.spot, error.part),
        (Spot::Cell(1, Line::Voices), Some(4))
    );
    assert_eq!(error.mend(), Some("write '-' or '.'"));
    expect(
        "kick\"",
        "kick+tom1\"",
        "kick+tom1",
        &["2 voices for 1 stroke;"],
    );
}

#[test]
fn sticking_tokens_are_mended() {
    let mends = [
        ("RL", "put blanks between slots: R L"),
        (">R", "did you mean R>?"),
        ("l(R)", "did you mean (lR)?"),
        ("(R)>", "a ghost note has no accent: write (R) or R>"),
        ("r", "did you mean R?"),
        ("k", "did you mean K?"),
        ("R+", "write a stroke on both sides of +"),
        ("R+R", "R is there already"),
        ("lK", "grace notes and buzz are for hands"),
        ("Kz", "grace notes and buzz are for hands"),
    ];
    for (token, mend) in mends {
        let (_, error) = with("R L K R", &format!("R L K {token}"));
        assert!(
            error.mend().is_some_and(|m| m.contains(mend)),
            "{token}: {error}"
        );
        assert_eq!(
            (error.place.line, error.spot),
            (12, Spot::Cell(1, Line::Sticking))
        );
    }
    for token in ["llllR", "R>>", "Rzz", "X", "(R", "R)", "*"] {
        with("R L K R", &format!("R L K {token}"));
    }
}

#[test]
fn grids_are_mended() {
    expect(
        "grid = \"6\"",
        "grid = \"0\"",
        "0",
        &["'0' is no span of a grid", "1 to 64"],
    );
    expect(
        "grid = \"6\"",
        "grid = \"65\"",
        "65",
        &["split it into several spans"],
    );
    expect("grid = \"6\"", "grid = \"6@0\"", "6@0", &["beats above 0"]);
    expect(
        "grid = \"6\"",
        "grid = \"6@-1\"",
        "6@-1",
        &["beats above 0"],
    );
    expect(
        "grid = \"6\"",
        "grid = \"6@1/0\"",
        "6@1/0",
        &["beats above 0"],
    );
    expect("grid = \"6\"", "grid = \"\"", "", &["'' is no grid"]);
    expect(
        "grid = \"6\"",
        "grid = \"6@300\"",
        "\"6@300\"",
        &["300 beats", "at most 256 beats"],
    );
    expect(
        "grid = \"6\"",
        "grid = 6",
        "6",
        &["of type integer", "text in quotes"],
    );
}

/// The seventh token is found through escapes and over lines.
#[test]
fn places_are_exact_in_every_kind_of_string() {
    let file = |string: &str| {
        format!("barform = 1\nform = \"B\"\n[cell.B]\ngrid = \"8\"\nsticking = {string}\n")
    };
    for (string, line, column) in [
        (r#""R L R L R L X L""#, 5, 25),
        (r#"'R L R L R L X L'"#, 5, 25),
        (r#""R L\tR L R L X L""#, 5, 26),
        (r#""R \u004c R L R L X L""#, 5, 30),
        ("\"\"\"\nR L R L\nR L X L\"\"\"", 7, 5),
        ("\"\"\"R L R L \\\n   R L X L\"\"\"", 6, 8),
        ("'''\r\nR L R L\r\nR L X L'''", 7, 5),
    ] {
        let error = error(&file(string));
        assert_eq!(
            (error.place.line, error.place.column),
            (line, column),
            "{string}"
        );
    }
    // Columns count characters, not bytes.
    let text = "barform = 1\ntitle = \"ä\" # ♩\nform = \"\u{2003}Q\"\n";
    let place = error(text).place;
    assert_eq!((place.line, place.column), (3, 10));
    let place = error("\u{feff}barform = 3\n").place;
    assert_eq!((place.line, place.column), (1, 11));
}

#[test]
fn a_score_built_in_code_is_checked_alike() {
    let mut score = Score::parse(barform_app::DEMO_SCORE, "").unwrap();
    score.tempo = barform_app::music::Beats::whole(500);
    let error = score.check().unwrap_err();
    assert_eq!(error.spot, Spot::Tempo);
    assert_eq!(
        error.to_string(),
        "the tempo is 500; allowed is 20 to 400 beats per minute"
    );
    assert!(error.excerpt().is_empty());
}
