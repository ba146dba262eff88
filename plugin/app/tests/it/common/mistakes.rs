//! A whole score file with one mistake put into it.

use barform_app::score::{Score, ScoreError};

/// Four cells that the mistakes stand among.
pub const CELLS: &str = r#"
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

/// What reading the text says.
#[track_caller]
pub fn error(text: &str) -> ScoreError {
    Score::parse(text, "solo.barform").expect_err(text)
}

/// A whole file with `from` replaced, so that the mistake is the only one.
pub fn with(from: &str, to: &str) -> (String, ScoreError) {
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
pub fn expect(from: &str, to: &str, at: &str, says: &[&str]) {
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
