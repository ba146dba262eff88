//! File names that every system takes, labels, and dates.

use barform_app::shelf::{Label, Stamp, fold, safe_stem};
use proptest::prelude::*;

/// Microsoft, *Naming Files, Paths, and Namespaces* (from memory): device names
/// with any ending, `< > : " / \ | ? *`, control characters, and a blank or a
/// full stop at the end are not allowed.
fn is_safe(stem: &str) -> bool {
    let upper = stem.to_ascii_uppercase();
    let devices = ["CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$"];
    let numbered = (0..10).any(|n| upper == format!("COM{n}") || upper == format!("LPT{n}"));
    !stem.is_empty()
        && !devices.contains(&upper.as_str())
        && !numbered
        && stem.is_ascii()
        && !stem.chars().any(|c| c.is_control() || "<>:\"/\\|?*.".contains(c))
        && stem.trim() == stem
        && !stem.starts_with('-')
        // The shortest limit in use, with room for a number and an ending.
        && stem.len() <= 100
}

#[test]
fn names_become_files_that_can_be_told() {
    for (name, stem) in [
        ("Six round the toms", "Six round the toms"),
        ("Füße & Hände", "Fusse Hande"),
        ("R/L: \"doubles\"?", "R-L-doubles"),
        ("../../etc/passwd", "etc-passwd"),
        ("C:\\Windows", "C-Windows"),
        ("A'", "A"),
        ("con", "con_"),
        ("NUL", "NUL_"),
        ("lpt1", "lpt1_"),
        ("com¹", "com1_"),
        ("console", "console"),
        ("...", "item"),
        ("\u{200b}", "item"),
        ("  trailing. ", "trailing"),
    ] {
        assert_eq!(safe_stem(name), stem, "{name}");
        assert!(is_safe(&safe_stem(name)));
    }
}

#[test]
fn folding_leaves_case_accents_and_gaps_out() {
    for (a, b) in [
        ("Füße", "FUSSE"),
        ("e\u{301}tude", "Étude"),
        ("a \t b", "A B"),
        ("Ёлка", "ёлка"),
    ] {
        assert_eq!(fold(a), fold(b), "{a} {b}");
    }
    assert_ne!(fold("tom1"), fold("tom2"));
}

/// RFC 3339, section 5.8, has the first two as examples; the leap day is common
/// knowledge.
#[test]
fn dates_are_rfc_3339_in_utc() {
    let stamp = |text| Stamp::parse(text).unwrap().to_string();
    assert_eq!(stamp("1985-04-12T23:20:50.52Z"), "1985-04-12T23:20:50Z");
    assert_eq!(stamp("1996-12-19T16:39:57-08:00"), "1996-12-20T00:39:57Z");
    assert_eq!(stamp("2024-02-29T12:00:00z"), "2024-02-29T12:00:00Z");
    for wrong in [
        "",
        "2023-02-29T12:00:00Z",
        "2024-02-29",
        "2024-02-29T25:00:00Z",
        "soon",
    ] {
        assert_eq!(Stamp::parse(wrong), None, "{wrong}");
    }
    // POSIX: seconds since the epoch; a thousand million of them in 2001.
    let epoch = Stamp::from_unix_seconds(0).unwrap();
    assert_eq!(epoch.to_string(), "1970-01-01T00:00:00Z");
    let billion = Stamp::from_unix_seconds(1_000_000_000).unwrap();
    assert_eq!(billion.to_string(), "2001-09-09T01:46:40Z");
    assert_eq!(Stamp::from_unix_seconds(i64::MAX), None);
}

proptest! {
    #[test]
    fn any_name_becomes_a_safe_file(name in "\\PC{0,300}") {
        prop_assert!(is_safe(&safe_stem(&name)), "{:?}", safe_stem(&name));
    }

    #[test]
    fn any_text_at_all_becomes_a_safe_file(name in any::<String>()) {
        prop_assert!(is_safe(&safe_stem(&name)), "{:?}", safe_stem(&name));
    }

    #[test]
    fn a_date_is_read_back_equal(seconds in -62_167_219_200_i64..253_402_300_800) {
        let stamp = Stamp::from_unix_seconds(seconds).unwrap();
        prop_assert_eq!(stamp.unix_seconds(), seconds);
        prop_assert_eq!(Stamp::parse(&stamp.to_string()), Some(stamp));
    }

    #[test]
    fn a_label_is_read_back_equal(
        name in "\\PC{1,200}",
        tags in proptest::collection::vec("\\PC{1,40}", 0..8),
        note in "(\\PC|\n|\t|\"|\\\\|#){0,200}",
        seconds in proptest::option::of(0_i64..4_000_000_000),
        body in "(barform = 1\n)?(\\PC|\n|\r\n){0,60}",
    ) {
        prop_assume!(!name.trim().is_empty() && tags.iter().all(|t| !t.trim().is_empty()));
        prop_assume!(!body.starts_with("#:") && !body.starts_with('\u{feff}'));
        let mut label = Label::named(name).tagged(tags).noted(note);
        label.added = seconds.and_then(Stamp::from_unix_seconds);
        let label = label.tidy().unwrap();
        let text = label.above(&body);
        let (read, rest) = Label::split(&text, "x").unwrap();
        prop_assert_eq!(&read, &label, "{}", text);
        prop_assert_eq!(rest, body.as_str());
        prop_assert_eq!(&read.above(rest), &text);
        // Line ends of another system say the same.
        let (read, _) = Label::split(&text.replace('\n', "\r\n"), "x").unwrap();
        prop_assert_eq!(&read, &label);
    }

    #[test]
    fn any_label_lines_are_read_or_refused(lines in proptest::collection::vec("\\PC{0,40}", 0..6)) {
        let text: String = lines.iter().map(|l| format!("#:{l}\n")).collect();
        match Label::split(&text, "x") {
            Ok((label, rest)) => {
                prop_assert_eq!(rest, "");
                let (again, _) = Label::split(&label.above(""), "x").unwrap();
                prop_assert_eq!(again, label);
            }
            Err(error) => prop_assert!(error.to_string().starts_with("x:"), "{error}"),
        }
    }
}
