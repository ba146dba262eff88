//! What is written is read back the same.

use crate::common;

use barform_app::score::{
    Document, Score, form_text, read_form, read_grid, read_sticking, read_voices, sticking_text,
    voices_text,
};
use proptest::prelude::*;

proptest! {
    #[test]
    fn a_written_score_is_read_back_equal(score in common::score()) {
        let text = score.to_toml();
        let read = Score::parse(&text, "written.barform");
        prop_assert_eq!(read.as_ref(), Ok(&score), "{}", text);
        prop_assert_eq!(read.unwrap().to_toml(), text);
    }

    #[test]
    fn every_line_on_its_own_is_read_back_equal(score in common::score()) {
        for section in &score.sections {
            prop_assert_eq!(&read_form(&form_text(&section.items)).unwrap(), &section.items);
        }
        for o in &score.ostinatos {
            let grid = Some(&o.grid);
            prop_assert_eq!(&read_grid(&o.grid.to_string()).unwrap(), &o.grid);
            prop_assert_eq!(&read_sticking(&sticking_text(&o.sticking, grid)).unwrap(), &o.sticking);
            if let Some(voices) = &o.voices {
                prop_assert_eq!(&read_voices(&voices_text(voices, grid)).unwrap(), voices);
            }
        }
    }

    /// An update from any score to any other says the other.
    #[test]
    fn a_document_says_what_it_was_updated_to(a in common::score(), b in common::score()) {
        let text = format!("# kept\n{}\n# kept too\n", a.to_toml());
        let mut document = Document::parse(&text, "a.barform").unwrap();
        document.update(&b).unwrap();
        prop_assert!(document.text().starts_with("# kept\n"));
        prop_assert!(document.text().ends_with("\n# kept too\n"));
        prop_assert_eq!(document.score(), &b);
        let read = Score::parse(document.text(), "b.barform").unwrap();
        prop_assert_eq!(&read, &b);
    }

    /// Going back and forth leaves a comment on what is in both alone.
    #[test]
    fn an_edit_leaves_comments_elsewhere(a in common::score(), title in "[a-z]{1,9}") {
        let text = format!("# first line\n{}\n# last line\n", a.to_toml());
        let mut document = Document::parse(&text, "a.barform").unwrap();
        let mut b = a.clone();
        b.title = title.clone();
        document.update(&b).unwrap();
        let lost: Vec<_> =
            text.lines().filter(|l| !document.text().lines().any(|m| m == *l)).collect();
        let new: Vec<_> =
            document.text().lines().filter(|l| !text.lines().any(|m| m == *l)).collect();
        prop_assert!(lost.len() <= 1 && lost.iter().all(|l| l.starts_with("title")), "{lost:?}");
        prop_assert!(new.len() <= 1, "{new:?}");
    }
}
