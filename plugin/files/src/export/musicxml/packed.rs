//! A document packed as `.mxl` (MusicXML 4.0, *Compressed .mxl files*): a zip
//! file whose first entry names its type, unpacked, and whose container file
//! names the document.

use super::MusicXmlError;
use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

/// The media type of a packed document.
const MIME: &str = "application/vnd.recordare.musicxml";

/// Name of the document in the file.
const NAME: &str = "score.musicxml";

const CONTAINER: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<container>
  <rootfiles>
    <rootfile full-path="score.musicxml" media-type="application/vnd.recordare.musicxml+xml"/>
  </rootfiles>
</container>
"#;

/// Packs a document. No date goes in, so that equal documents give equal files.
pub(super) fn pack(document: &str) -> Result<Vec<u8>, MusicXmlError> {
    let failed = |e: zip::result::ZipError| MusicXmlError::Write(e.to_string());
    let options = SimpleFileOptions::default()
        .last_modified_time(DateTime::default())
        .unix_permissions(0o644);
    let stored = options.compression_method(CompressionMethod::Stored);
    let deflated = options.compression_method(CompressionMethod::Deflated);
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content, how) in [
        ("mimetype", MIME, stored),
        ("META-INF/container.xml", CONTAINER, deflated),
        (NAME, document, deflated),
    ] {
        zip.start_file(name, how).map_err(failed)?;
        zip.write_all(content.as_bytes())?;
    }
    Ok(zip.finish().map_err(failed)?.into_inner())
}
