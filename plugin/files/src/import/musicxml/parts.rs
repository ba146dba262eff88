//! Which part is read, and where its measures are.

use super::note::text;
use super::{Options, brief, damaged};
use crate::import::{ImportError, RemarkKind, Remarks};
use roxmltree::Node;

/// Elements right below a node.
pub(super) fn elements<'a, 'i>(node: Node<'a, 'i>) -> impl Iterator<Item = Node<'a, 'i>> {
    node.children().filter(|n| n.is_element())
}

/// The first element of a name right below a node.
pub(super) fn child<'a, 'i>(node: Node<'a, 'i>, name: &str) -> Option<Node<'a, 'i>> {
    elements(node).find(|n| n.has_tag_name(name))
}

/// The title of the work or the movement.
pub(super) fn title(root: Node) -> String {
    let work = child(root, "work").and_then(|w| child(w, "work-title"));
    let title = work
        .filter(|t| !text(*t).is_empty())
        .or_else(|| child(root, "movement-title"));
    // Our own titles come back as they are, with the space around them.
    title.and_then(|t| t.text()).unwrap_or("").to_owned()
}

/// The program that wrote the document.
pub(super) fn software(root: Node) -> Option<String> {
    let encoding = child(child(root, "identification")?, "encoding")?;
    child(encoding, "software").map(|s| text(s).to_owned())
}

/// The `score-part` to read.
pub(super) fn choose<'a, 'i>(
    root: Node<'a, 'i>,
    by_time: bool,
    options: &Options,
    remarks: &mut Remarks,
) -> Result<Node<'a, 'i>, ImportError> {
    let list = child(root, "part-list").ok_or_else(|| damaged("it has no list of parts"))?;
    let parts: Vec<Node> = elements(list)
        .filter(|n| n.has_tag_name("score-part"))
        .collect();
    if let Some(wanted) = options.part {
        let range = format!("part {wanted}; the file has {}, from 0", parts.len());
        return parts.get(wanted).copied().ok_or(ImportError::Option(range));
    }
    let drums: Vec<Node> = parts
        .iter()
        .copied()
        .filter(|p| {
            let measures = measures(root, by_time, p.attribute("id").unwrap_or(""));
            measures
                .iter()
                .any(|(_, m)| clef(*m) || elements(*m).any(|n| child(n, "unpitched").is_some()))
        })
        .collect();
    let Some(first) = drums.first() else {
        let what = "no part of the file is for percussion";
        return Err(ImportError::Nothing(what.to_owned()));
    };
    for other in &drums[1..] {
        let name = child(*other, "part-name").map_or("", text);
        let what = format!("a second percussion part, '{}', was not read", brief(name));
        remarks.add(RemarkKind::NotKept, None, what);
    }
    let rest = parts.len() - drums.len();
    if rest > 0 {
        let what = format!("{rest} parts that are not for percussion were not read");
        remarks.add(RemarkKind::NotKept, None, what);
    }
    Ok(*first)
}

/// Whether a measure has a percussion clef.
pub(super) fn clef(measure: Node) -> bool {
    elements(measure)
        .filter(|n| n.has_tag_name("attributes"))
        .flat_map(elements)
        .filter(|n| n.has_tag_name("clef"))
        .filter_map(|n| child(n, "sign"))
        .any(|sign| text(sign) == "percussion")
}

/// A part's measures: the element with the attributes, and the one with the
/// content.
pub(super) fn measures<'a, 'i>(
    root: Node<'a, 'i>,
    by_time: bool,
    id: &str,
) -> Vec<(Node<'a, 'i>, Node<'a, 'i>)> {
    let (outer, inner) = if by_time {
        ("measure", "part")
    } else {
        ("part", "measure")
    };
    let mut all = Vec::new();
    for o in elements(root).filter(|n| n.has_tag_name(outer)) {
        for i in elements(o).filter(|n| n.has_tag_name(inner)) {
            let (part, measure) = if by_time { (i, o) } else { (o, i) };
            if part.attribute("id") == Some(id) {
                all.push((measure, i));
            }
        }
    }
    all
}
