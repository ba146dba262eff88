//! Every error says where, what was read, what is allowed, and a mend.

use barform_core::score::{Line, Score, ScoreError, Spot};

const CELLS: &str = r#"
[cell.A]
grid = "6 6"
sticking = "R L R L R L  R L R L K K"
voices = "snare . . . . .  tom1 . . . . kick"
[cell.B]
grid = "6"
sticking = "R L K R L K"
[cell.C]
grid = "6 6"
sticking = "R L R L R L  R L R L R L"
[cell.D]
grid = "4 4 4"
sticking = "R L R L  R L R L  R L R L"
"#;

fn error(text: &str) -> ScoreError {
    Score::parse(text, "solo.barform").expect_err(text)
}

/// A whole file with `from` replaced, so that the mistake is the only one.
fn with(from: &str, to: &str) -> (String, ScoreError) {
    let file =
        format!("barform = 1\ntempo = 92\nmeter = \"4/4\"\nform = \"A B B | C (A)x1 |\"\n{CELLS}");
    assert!(file.contains(from), "{from}");
    assert!(Score::parse(&file, "").is_ok());
    let text = file.replacen(from, to, 1);
    let error = error(&text);
    (text, error)
}

/// The mistake stands under `at`, and the message has all of `says`.
#[track_caller]
fn expect(from: &str, to: &str, at: &str, says: &[&str]) {
    let (text, error) = with(from, to);
    assert_eq!(
        &text[error.span.clone()],
        at,
        "{error}\n{}",
        error.excerpt()
    );
    // The place and the span agree.
    let line = text.split('\n').nth(error.place.line as usize - 1).unwrap();
    let column: String = line.chars().skip(error.place.column as usize - 1).collect();
    assert!(
        at.is_empty() || column.starts_with(at.lines().next().unwrap()),
        "{error}"
    );
    let message = error.to_string();
    for part in says {
        assert!(message.contains(part), "no {part:?} in: {message}");
    }
}

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
        "take away 1",
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
        &["2 voices for 1 strokes"],
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

/// A bar line that does not fall where it stands: which bar, by how much.
#[test]
fn bar_lines_are_checked() {
    expect(
        "B B |",
        "B |",
        "|",
        &[
            "bar 1 has 3 of 4 beats here",
            "1 beat later or 3 beats earlier",
            "add 1 beat before it, for example cell B",
        ],
    );
    expect(
        "B B |",
        "B B B |",
        "|",
        &[
            "bar 2 has 1 of 4 beats",
            "3 beats later or 1 beat earlier",
            "take away 1 beat: the cell B before it",
        ],
    );
    expect(
        "(A)x1 |",
        "(A)x2 |",
        "|",
        &[
            "bar 3 has 2 of 4 beats",
            "add 2 beats before it, for example cell A",
        ],
    );
    expect(
        "A B B |",
        "A[16ths carry] B B |",
        "|",
        &["bar 2 has 1 of 4"],
    );
    expect("A B B |", "A[rate 2] B B |", "|", &["bar 1 has 3 of 4"]);
    expect("A B B |", "A[5] B B | |", "|", &["without a letter"]);
    expect("\nform", "\npickup = 1\nform", "|", &["bar 1 has 3 of 4"]);
    // Every pass of a repeat is checked, not the first alone.
    expect(
        "A B B | C (A)x1 |",
        "A B B | (A B B | B)x2",
        "|",
        &["bar 4 has 1 of 4"],
    );
}

#[test]
fn sections_change_meter_on_bar_lines() {
    let sections = |second: &str| {
        format!(
            "barform = 1\n[[section]]\nname = \"in\"\nform = \"A\"\n[[section]]\nmeter = \"3/4\"\n\
             form = \"{second}\"\n{CELLS}"
        )
    };
    let error = error(&sections("D"));
    assert_eq!((error.place.line, error.place.column), (6, 9), "{error}");
    let message = error.to_string();
    assert!(
        message.contains("section 2 changes to 3/4, but bar 1 has 2 of 4 beats"),
        "{message}"
    );
    let whole = sections("D | D |").replace("form = \"A\"", "form = \"A A |\"");
    Score::parse(&whole, "").unwrap();
}

#[test]
fn forms_are_mended() {
    expect("(A)x1", "(A", "(", &["'(' is never closed", "write )"]);
    expect("(A)x1", "A)", ")", &["')' in a form", "take it away"]);
    expect("(A)x1", "Ax2", "x2", &["a repeat stands after a group"]);
    expect(
        "(A)x1",
        "(A)x0",
        "x0",
        &["'x0' is no repeat", "x1 to x9999"],
    );
    expect("(A)x1", "(A)x10000", "x10000", &["x1 to x9999"]);
    expect("(A)x1", "(A)x", "x", &["is no repeat"]);
    expect("(A)x1", "() A", "()", &["group without a letter"]);
    expect("(A)x1", "A[", "[", &["'[' is never closed"]);
    expect("(A)x1", "A[]", "", &["nothing between brackets"]);
    expect("(A)x1", "A[rate 3]", "3", &["1/2, 1 or 2"]);
    expect(
        "(A)x1",
        "A[level 9%]",
        "A[level 9%]",
        &["9%", "10% to 150%"],
    );
    expect("(A)x1", "A[level loud]", "loud", &["'loud' is no level"]);
    expect("(A)x1", "A[rate 2, rate 2]", "rate", &["a second rate"]);
    expect("(A)x1", "A[16ths, 8ths]", "8ths", &["a second subdivision"]);
    expect("(A)x1", "A[level]", "level", &["'level' with no value"]);
    expect(
        "(A)x1",
        "A123",
        "A123",
        &["'A123' is no letter", "up to two digits"],
    );
    expect(
        "(A)x1",
        "A'''''''''",
        "A'''''''''",
        &["is no letter", "eight primes"],
    );
    expect(
        "(A)x1",
        "A[7@3 8@3/2]",
        "A[7@3 8@3/2]",
        &["does not fit", "carry it"],
    );
    expect(
        "\"A B B | C (A)x1 |\"",
        "\"\"",
        "\"\"",
        &["a form without a letter"],
    );
    expect("\nform", "\n#", "barform", &["the score has no form"]);
    expect(
        "[cell.A]",
        "[[section]]\nform = \"A\"\n[cell.A]",
        "section",
        &["sections beside it"],
    );
}

#[test]
fn variations_lead_somewhere() {
    expect(
        "[cell.B]",
        "[cell.\"B'\"]\n[cell.B]",
        "\"B'\"",
        &["cell B' has no grid", "like = \"B\"?"],
    );
    expect(
        "[cell.B]",
        "[cell.E]\nlike = \"X\"\n[cell.B]",
        "\"X\"",
        &["unknown cell 'X'"],
    );
    let (text, error) = with(
        "[cell.B]",
        "[cell.E]\nlike = \"F\"\n[cell.F]\nlike = \"G\"\n[cell.G]\nlike = \"E\"\n[cell.B]",
    );
    assert_eq!(&text[error.span.clone()], "\"E\"");
    assert!(
        error.to_string().contains("E like F like G like E"),
        "{error}"
    );
    expect(
        "[cell.B]",
        "[cell.E]\nlike = \"E\"\n[cell.B]",
        "\"E\"",
        &["E like E"],
    );
    // The grid changes, the sticking is the parent's: told at the grid.
    expect(
        "[cell.B]",
        "[cell.E]\nlike = \"A\"\ngrid = \"4\"\n[cell.B]",
        "\"4\"",
        &["12 slots in its sticking"],
    );
    expect(
        "[cell.B]",
        "[cell.b]",
        "b",
        &["'b' is no letter", "did you mean B?"],
    );
    expect(
        "[cell.B]",
        "[cell.\"A’\"]\nlike=\"A\"\n[cell.\"A'\"]\nlike=\"A\"\n[cell.B]",
        "\"A'\"",
        &["stated twice"],
    );
}

#[test]
fn heads_are_checked() {
    expect(
        "barform = 1",
        "barform = 2",
        "2",
        &["version 2", "knows version 1", "newer Barform"],
    );
    expect(
        "barform = 1",
        "barform = \"1\"",
        "\"1\"",
        &["of type string"],
    );
    expect(
        "tempo = 92",
        "tempo = 19.5",
        "19.5",
        &["the tempo is 39/2", "20 to 400"],
    );
    expect(
        "tempo = 92",
        "tempo = 1e2",
        "1e2",
        &["'1e2' is no exact number"],
    );
    expect("tempo = 92", "tempo = true", "true", &["of type boolean"]);
    expect("\"4/4\"", "\"4/5\"", "\"4/5\"", &["'4/5' is no meter"]);
    expect(
        "tempo = 92",
        "pickup = 4",
        "4",
        &["the pickup is 4", "a bar of 4/4"],
    );
    expect(
        "tempo = 92",
        "title = \"a\\nb\"",
        "\"a\\nb\"",
        &["one line"],
    );
    expect("tempo = 92", "tempo 92", "", &["not TOML"]);
    expect(
        "tempo = 92",
        "tempo = 92\ntempo = 92",
        "tempo",
        &["not TOML"],
    );
}

#[test]
fn kits_are_checked() {
    let kit = |text: &str| error(&format!("barform = 1\nform = \"A\"\n{CELLS}{text}"));
    for (text, line, column, says) in [
        (
            "[kit]\norder = \"hat snair\"",
            18,
            14,
            "did you mean 'snare'?",
        ),
        ("[kit]\norder = \"hat hat\"", 18, 14, "stated twice"),
        ("[kit]\norder = \"\"", 18, 9, "the kit has no order"),
        (
            "[kit.snare]\nkey = 128",
            18,
            7,
            "key of kit.snare is 128; allowed is 0 to 127",
        ),
        (
            "[kit.snare]\nopen = 1",
            18,
            1,
            "allowed are key rim cross channel velocity",
        ),
        (
            "[kit.snare]\nkey = \"none\"",
            18,
            7,
            "a whole number 0 to 127",
        ),
        ("[kit.snare]\nchannel = 0", 18, 11, "allowed is 1 to 16"),
        (
            "[kit.snare]\nvelocity = [1, 2]",
            18,
            12,
            "[ghost, normal, accent]",
        ),
        ("[kit.snare]\nvelocity = [1, 2, 200]", 18, 19, "1 to 127"),
        ("[kit.snaer]\nkey = 1", 17, 6, "did you mean 'snare'?"),
        (
            "[voicing.up]\nsnare = \"tom9\"",
            18,
            10,
            "unknown voice 'tom9'",
        ),
        (
            "[voicing.\"u p\"]\nsnare = \"tom1\"",
            17,
            10,
            "letters, digits",
        ),
        (
            "[ostinato.x]\ngrid = \"2\"",
            17,
            11,
            "ostinato x has no sticking",
        ),
        (
            "[ostinato.x]\ngrid = \"2\"\nsticking = \"- H H\"",
            19,
            12,
            "3 slots",
        ),
    ] {
        let error = kit(text);
        assert_eq!(
            (error.place.line, error.place.column),
            (line, column),
            "{error}"
        );
        assert!(error.to_string().contains(says), "{error}");
    }
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
    let mut score = Score::parse(barform_core::DEMO_SCORE, "").unwrap();
    score.tempo = barform_core::music::Beats::whole(500);
    let error = score.check().unwrap_err();
    assert_eq!(error.spot, Spot::Tempo);
    assert_eq!(
        error.to_string(),
        "the tempo is 500; allowed is 20 to 400 beats per minute, to a few places"
    );
    assert!(error.excerpt().is_empty());
}
