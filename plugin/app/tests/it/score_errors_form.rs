//! What errors say about forms, variations, heads and kits.

use barform_app::score::Score;
use common::mistakes::{CELLS, error, expect, with};

use crate::common;

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
            "remove 1 beat: the cell B before it",
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
    expect("(A)x1", "A)", ")", &["')' in a form", "remove it"]);
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
    expect(
        "tempo = 92",
        "tempo 92",
        "",
        &["this cannot be read: a name without '=' and a value"],
    );
    expect(
        "tempo = 92",
        "tempo = 92\ntempo = 92",
        "tempo",
        &["this cannot be read"],
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
