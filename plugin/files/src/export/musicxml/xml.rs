//! Elements in order, on the XML library's writer.

use super::MusicXmlError;
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

/// A document under construction, indented by two spaces.
pub(super) struct Xml {
    writer: Writer<Vec<u8>>,
}

/// Attributes of an element.
pub(super) type Attributes<'a> = [(&'a str, &'a str)];

/// Whether a character may stand in XML 1.0 (W3C, *XML 1.0*, production 2). A
/// carriage return may, but does not come back from a reader.
pub(super) fn allowed(c: char) -> bool {
    matches!(c, '\t' | '\n' | ' '..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..)
}

impl Xml {
    /// A document with its declaration and document type.
    pub fn new() -> Result<Xml, MusicXmlError> {
        let mut writer = Writer::new_with_indent(Vec::new(), b' ', 2);
        writer.write_event(Event::Decl(BytesDecl::new(
            "1.0",
            Some("UTF-8"),
            Some("no"),
        )))?;
        let kind = "score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
                    \"http://www.musicxml.org/dtds/partwise.dtd\"";
        writer.write_event(Event::DocType(BytesText::from_escaped(kind)))?;
        Ok(Xml { writer })
    }

    /// `<name …>`.
    pub fn open(&mut self, name: &str, attributes: &Attributes) -> Result<(), MusicXmlError> {
        let start = start(name, attributes);
        Ok(self.writer.write_event(Event::Start(start))?)
    }

    /// `</name>`.
    pub fn close(&mut self, name: &str) -> Result<(), MusicXmlError> {
        Ok(self.writer.write_event(Event::End(BytesEnd::new(name)))?)
    }

    /// `<name …/>`.
    pub fn empty(&mut self, name: &str, attributes: &Attributes) -> Result<(), MusicXmlError> {
        let start = start(name, attributes);
        Ok(self.writer.write_event(Event::Empty(start))?)
    }

    /// `<name …>text</name>`; what XML cannot hold is left out of the text.
    pub fn text(
        &mut self,
        name: &str,
        attributes: &Attributes,
        text: &str,
    ) -> Result<(), MusicXmlError> {
        let text: String = text.chars().filter(|c| allowed(*c)).collect();
        self.writer
            .write_event(Event::Start(start(name, attributes)))?;
        self.writer
            .write_event(Event::Text(BytesText::new(&text)))?;
        self.close(name)
    }

    /// `<name>number</name>`.
    pub fn number(&mut self, name: &str, number: i64) -> Result<(), MusicXmlError> {
        self.text(name, &[], &number.to_string())
    }

    /// The whole document.
    pub fn finish(self) -> Result<String, MusicXmlError> {
        let mut bytes = self.writer.into_inner();
        bytes.push(b'\n');
        String::from_utf8(bytes).map_err(|e| MusicXmlError::Write(e.to_string()))
    }
}

fn start<'a>(name: &'a str, attributes: &Attributes<'a>) -> BytesStart<'a> {
    let mut start = BytesStart::new(name);
    for attribute in attributes {
        start.push_attribute(*attribute);
    }
    start
}
