//! The score that a document of our own carries along.

use super::music::Music;
use crate::export::musicxml::{DIGEST_FIELD, SCORE_FIELD};
use crate::import::{RemarkKind, Remarks};
use barform_score::score::Score;
use roxmltree::Document;

/// The score, if it is there and belongs to the notes of the document.
pub(super) fn score(document: &Document, music: &Music, remarks: &mut Remarks) -> Option<Score> {
    let field = |name: &str| {
        document
            .root_element()
            .children()
            .filter(|n| n.has_tag_name("identification"))
            .flat_map(|n| n.children().filter(|n| n.has_tag_name("miscellaneous")))
            .flat_map(|n| n.children())
            .find(|n| n.attribute("name") == Some(name))
            .and_then(|n| n.text())
    };
    let text = field(SCORE_FIELD)?;
    if field(DIGEST_FIELD) != Some(music.digest().as_str()) {
        remarks.add(
            RemarkKind::NotKept,
            None,
            "the score that goes along is not that of these notes: the notes were read",
        );
        return None;
    }
    match Score::parse(text, "the score in the document") {
        Ok(score) => Some(score),
        Err(error) => {
            let what =
                format!("the score that goes along is damaged ({error}): the notes were read");
            remarks.add(RemarkKind::NotKept, None, what);
            None
        }
    }
}
