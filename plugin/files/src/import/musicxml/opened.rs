//! From bytes to a document: unpacked, decoded, and known to be harmless.
//!
//! A packed file is read in memory; names in it are compared, never used as
//! paths. Text is walked once before the tree is built: no entity is declared,
//! nesting and attributes have bounds, so that time and memory of the rest are
//! in proportion to the bytes.

use super::{brief, damaged};
use crate::import::ImportError;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use roxmltree::{Document, ParsingOptions};
use std::borrow::Cow;
use std::io::{Cursor, Read};
use zip::ZipArchive;

/// Largest packed file.
pub const MAX_PACKED_BYTES: usize = 32 << 20;

/// Largest document, unpacked. An hour of drums is a few megabytes.
pub const MAX_XML_BYTES: u64 = 32 << 20;

/// Deepest nesting of elements; the standard itself needs some ten.
pub const MAX_DEPTH: usize = 64;

/// Most attributes of one element; the standard has elements with some 40.
const MAX_ATTRIBUTES: usize = 64;

/// Most declarations of name spaces in a document.
const MAX_NAMESPACES: usize = 64;

/// Most elements, texts and the like of a document.
const MAX_NODES: u32 = 6_000_000;

/// Most entries of a packed file that are looked at.
const MAX_ENTRIES: usize = 1_000;

/// The document's text, unpacked if need be.
pub(super) fn text(bytes: &[u8]) -> Result<Cow<'_, str>, ImportError> {
    if bytes.starts_with(b"PK") {
        let unpacked = unpack(bytes)?;
        return Ok(Cow::Owned(decode(&unpacked)?.into_owned()));
    }
    decode(bytes)
}

fn too_large(what: &str, limit: u64) -> ImportError {
    ImportError::TooLarge {
        what: what.to_owned(),
        limit,
    }
}

fn unpack(bytes: &[u8]) -> Result<Vec<u8>, ImportError> {
    if bytes.len() > MAX_PACKED_BYTES {
        return Err(too_large("the packed file", MAX_PACKED_BYTES as u64));
    }
    let broken = |e: zip::result::ZipError| damaged(format!("as a packed file: {e}"));
    let mut zip = ZipArchive::new(Cursor::new(bytes)).map_err(broken)?;
    if zip.len() > MAX_ENTRIES {
        return Err(too_large("the packed file's list", MAX_ENTRIES as u64));
    }
    let container = entry(&mut zip, "META-INF/container.xml")?;
    let container = decode(&container)?;
    let container = document(&container)?;
    let root = container
        .descendants()
        .filter(|n| n.tag_name().name() == "rootfile")
        // The first one is the score; others are other forms of it.
        .find_map(|n| n.attribute("full-path"));
    let Some(root) = root else {
        return Err(damaged("its container names no document"));
    };
    entry(&mut zip, root)
}

/// The content of an entry of exactly that name.
fn entry(zip: &mut ZipArchive<Cursor<&[u8]>>, name: &str) -> Result<Vec<u8>, ImportError> {
    let file = zip
        .by_name(name)
        .map_err(|e| damaged(format!("no '{}' in the packed file: {e}", brief(name))))?;
    // What the file says of its size is not believed.
    let mut content = Vec::new();
    file.take(MAX_XML_BYTES + 1)
        .read_to_end(&mut content)
        .map_err(|e| damaged(format!("'{}' does not unpack: {e}", brief(name))))?;
    if content.len() as u64 > MAX_XML_BYTES {
        return Err(too_large(&format!("'{}'", brief(name)), MAX_XML_BYTES));
    }
    Ok(content)
}

/// UTF-8, or UTF-16 with its byte-order mark (W3C, *XML 1.0*, 4.3.3: the two
/// that every reader must know).
fn decode(bytes: &[u8]) -> Result<Cow<'_, str>, ImportError> {
    if bytes.len() as u64 > MAX_XML_BYTES {
        return Err(too_large("the document", MAX_XML_BYTES));
    }
    let wide = |unit: fn([u8; 2]) -> u16| -> Result<Cow<'_, str>, ImportError> {
        let (pairs, odd) = bytes[2..].as_chunks::<2>();
        if !odd.is_empty() {
            return Err(damaged("half a character at the end of UTF-16 text"));
        }
        let units = pairs.iter().map(|pair| unit(*pair));
        let text: Result<String, _> = char::decode_utf16(units).collect();
        text.map(Cow::Owned)
            .map_err(|e| damaged(format!("not UTF-16: {e}")))
    };
    match bytes {
        [0xfe, 0xff, ..] => wide(u16::from_be_bytes),
        [0xff, 0xfe, ..] => wide(u16::from_le_bytes),
        _ => {
            let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
            let text = std::str::from_utf8(bytes);
            text.map(Cow::Borrowed)
                .map_err(|e| damaged(format!("neither UTF-8 nor UTF-16: {e}")))
        }
    }
}

/// The tree of a text that passes the guard.
pub(super) fn document(text: &str) -> Result<Document<'_>, ImportError> {
    guard(text)?;
    let options = ParsingOptions {
        // A document type that only names the standard's file is usual; the
        // guard has refused any that declares something. Nothing is fetched.
        allow_dtd: true,
        nodes_limit: MAX_NODES,
        entity_resolver: None,
    };
    Document::parse_with_options(text, options).map_err(|e| damaged(brief_error(&e)))
}

fn brief_error(error: &impl ToString) -> String {
    error.to_string().chars().take(200).collect()
}

/// Walks the text once; what passes is no burden to the tree.
fn guard(text: &str) -> Result<(), ImportError> {
    let mut reader = Reader::from_str(text);
    reader.config_mut().check_end_names = false;
    let mut depth = 0_usize;
    let mut namespaces = 0;
    loop {
        match reader.read_event() {
            Ok(Event::Start(start)) => {
                attributes(&start, &mut namespaces)?;
                depth += 1;
                if depth > MAX_DEPTH {
                    return Err(damaged(format!(
                        "elements are nested more than {MAX_DEPTH} deep"
                    )));
                }
            }
            Ok(Event::Empty(start)) => attributes(&start, &mut namespaces)?,
            Ok(Event::End(_)) => depth = depth.saturating_sub(1),
            Ok(Event::DocType(kind)) => {
                if kind.contains('[') {
                    return Err(damaged(
                        "its document type declares something of its own, such as entities; \
                         that is not read",
                    ));
                }
            }
            Ok(Event::Eof) => return Ok(()),
            Ok(_) => {}
            Err(e) => {
                let at = reader.error_position();
                return Err(damaged(format!("{} at byte {at}", brief_error(&e))));
            }
        }
    }
}

fn attributes(start: &BytesStart, namespaces: &mut usize) -> Result<(), ImportError> {
    let tag: &str = start.as_ref();
    let bytes = tag.as_bytes();
    if bytes.iter().filter(|b| **b == b'=').count() > MAX_ATTRIBUTES {
        return Err(damaged(format!(
            "an element has more than {MAX_ATTRIBUTES} attributes"
        )));
    }
    *namespaces += bytes.windows(5).filter(|w| *w == b"xmlns").count();
    if *namespaces > MAX_NAMESPACES {
        return Err(damaged(format!(
            "more than {MAX_NAMESPACES} name spaces are declared"
        )));
    }
    Ok(())
}
