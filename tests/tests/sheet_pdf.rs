//! Sheets as PDF, read by Poppler's `pdfinfo`, `pdftotext`, `pdffonts` and
//! `pdftoppm`.

use std::fs;

use anyhow::{Context, Result};
use barform_app::DEMO_SCORE;
use barform_app::score::Score;
use barform_app::sheet::engrave::{Style, engrave};
use barform_app::sheet::notate::{self, Fold};
use barform_app::sheet::{Anchor, Drawing, Face, Glyph, Item, Page, Point, Role, Shape, ink};
use barform_app::timeline::Timeline;
use barform_tests::poppler::poppler;

/// Points in a millimetre: a point is 1/72 inch.
const POINTS: f64 = 72.0 / 25.4;

fn item(shape: Shape, role: Role) -> Item {
    Item {
        bounds: ink::shape_bounds(&shape),
        shape,
        role,
        source: None,
    }
}

fn words(text: &str, x: f32, y: f32, face: Face, role: Role) -> Item {
    let shape = Shape::Text {
        text: text.to_owned(),
        at: Point { x, y },
        size: 4.0,
        face,
        anchor: Anchor::Start,
    };
    item(shape, role)
}

/// A page with a title, a section, a letter, counts, sticking and a note.
fn page(width: f32, height: f32, section: &str) -> Page {
    let mut items = vec![
        words(
            "Lantern Street, solo spot",
            20.0,
            20.0,
            Face::SerifBold,
            Role::Title,
        ),
        words(section, 20.0, 30.0, Face::SerifBold, Role::Section),
        words("A′", 20.0, 40.0, Face::SerifBold, Role::Letter(0)),
        words("AVATAR To Ånström", 20.0, 75.0, Face::Serif, Role::Words),
    ];
    let slots = ["1", "e", "&", "a"].iter().zip(["R", "L", "K", "lR"]);
    for (slot, (count, sticking)) in (0_u16..).zip(slots) {
        let x = 30.0 + 8.0 * f32::from(slot);
        items.push(words(count, x, 60.0, Face::Sans, Role::Count));
        items.push(words(sticking, x, 66.0, Face::SansBold, Role::Sticking));
    }
    let head = Shape::Glyph {
        glyph: Glyph::HeadFilled,
        at: Point { x: 100.0, y: 50.0 },
        space: 1.75,
    };
    items.push(item(head, Role::Head));
    Page {
        width,
        height,
        items,
    }
}

fn sheet() -> Drawing {
    Drawing {
        title: "Lantern Street, solo spot".to_owned(),
        pages: vec![
            page(210.0, 297.0, "Opening"),
            page(215.9, 279.4, "Trading"),
            page(297.0, 210.0, "太鼓"),
        ],
        ..Drawing::default()
    }
}

fn written(drawing: &Drawing) -> Result<(tempfile::TempDir, std::path::PathBuf)> {
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("sheet.pdf");
    fs::write(&file, ink::pdf(drawing)?)?;
    Ok((folder, file))
}

#[test]
fn pages_have_their_size_and_the_document_its_title() -> Result<()> {
    let (_folder, file) = written(&sheet())?;
    let told = poppler("pdfinfo", &["-f", "1", "-l", "3"], &file, &[])?;
    let value = |name: &str| {
        let line = told.lines().find(|line| line.starts_with(name));
        line.and_then(|line| line.split_once(':'))
            .map(|(_, value)| value.trim().to_owned())
    };
    assert_eq!(
        value("Title:").as_deref(),
        Some("Lantern Street, solo spot")
    );
    assert_eq!(value("Pages:").as_deref(), Some("3"));
    for (page, (width, height)) in [(210.0, 297.0), (215.9, 279.4), (297.0, 210.0)]
        .into_iter()
        .enumerate()
    {
        let size = value(&format!("Page    {} size:", page + 1)).context("a size")?;
        let numbers: Vec<f64> = size.split(' ').filter_map(|n| n.parse().ok()).collect();
        // Poppler prints six digits.
        let close = |found: f64, wanted_mm: f64| (found - wanted_mm * POINTS).abs() < 0.005;
        assert!(
            close(numbers[0], width) && close(numbers[1], height),
            "{size}"
        );
    }
    let described = poppler("pdfinfo", &["-meta"], &file, &[])?;
    // Dublin Core in XMP (ISO 16684-1): the language of the document.
    let language = "<dc:language><rdf:Bag><rdf:li>en</rdf:li></rdf:Bag></dc:language>";
    assert!(described.contains(language), "{described}");
    Ok(())
}

#[test]
fn words_are_found_as_they_are_read() -> Result<()> {
    let (_folder, file) = written(&sheet())?;
    let text = poppler("pdftotext", &["-layout"], &file, &["-"])?;
    let pages: Vec<&str> = text.trim_end_matches('\x0C').split('\x0C').collect();
    assert_eq!(pages.len(), 3);
    for (page, section) in pages.iter().zip(["Opening", "Trading", "Tai"]) {
        for wanted in [
            "Lantern Street, solo spot",
            section,
            "A′",
            "AVATAR To Ånström",
        ] {
            assert!(page.contains(wanted), "{wanted} in {page}");
        }
        let line = |first: &str| {
            let mut lines = page.lines().map(|line| line.split_whitespace());
            lines.find_map(|mut words| {
                (words.next() == Some(first)).then(|| words.collect::<Vec<_>>().join(" "))
            })
        };
        assert_eq!(line("1").as_deref(), Some("e & a"));
        assert_eq!(line("R").as_deref(), Some("L K lR"));
    }
    Ok(())
}

/// Poppler's boxes of words agree with the widths that the layout goes by.
#[test]
fn words_are_as_wide_as_they_are_measured() -> Result<()> {
    let (_folder, file) = written(&sheet())?;
    let boxes = poppler("pdftotext", &["-bbox", "-l", "1"], &file, &["-"])?;
    for (word, face) in [("Opening", Face::SerifBold), ("AVATAR", Face::Serif)] {
        let line = boxes
            .lines()
            .find(|line| line.contains(&format!(">{word}<")));
        let line = line.with_context(|| format!("{word} in {boxes}"))?;
        let edge = |name: &str| -> Option<f64> {
            let (_, rest) = line.split_once(&format!("{name}=\""))?;
            rest.split_once('"')?.0.parse().ok()
        };
        let left = edge("xMin").context("xMin")?;
        let right = edge("xMax").context("xMax")?;
        let wide = f64::from(ink::text_width(word, face, 4.0)) * POINTS;
        assert!((left - 20.0 * POINTS).abs() < 0.02, "{line}");
        assert!((right - left - wide).abs() < 0.05, "{line}: {wide}");
    }
    Ok(())
}

#[test]
fn fonts_are_embedded_as_subsets() -> Result<()> {
    let (_folder, file) = written(&sheet())?;
    let told = poppler("pdffonts", &[], &file, &[])?;
    let fonts: Vec<Vec<&str>> = told
        .lines()
        .skip(2)
        .map(|line| line.split_whitespace().collect())
        .collect();
    assert_eq!(fonts.len(), 4, "{told}");
    for font in &fonts {
        // From the right: object number (two), uni, sub, emb.
        let flags: Vec<&str> = font.iter().rev().skip(2).take(3).copied().collect();
        assert_eq!(flags, ["yes", "yes", "yes"], "{told}");
    }
    // Subsets: three pages take less than any whole face would.
    assert!(fs::metadata(&file)?.len() < 100_000);
    Ok(())
}

/// Poppler's painting of the page has a head where the drawing has one.
#[test]
fn signs_are_painted_in_their_place() -> Result<()> {
    let drawing = sheet();
    let (folder, file) = written(&drawing)?;
    let picture = folder.path().join("page");
    let options = ["-r", "254", "-png", "-singlefile"];
    poppler("pdftoppm", &options, &file, &[&picture.to_string_lossy()])?;
    let reader = std::io::BufReader::new(fs::File::open(picture.with_extension("png"))?);
    let mut reader = png::Decoder::new(reader).read_info()?;
    let mut bytes = vec![0; reader.output_buffer_size().context("a size")?];
    let info = reader.next_frame(&mut bytes)?;
    // Ten dots in a millimetre; Poppler rounds a page up.
    assert!((2100..=2101).contains(&info.width) && (2970..=2971).contains(&info.height));
    let samples = info.color_type.samples();
    let wide = info.width as usize;
    // Nothing but the head is right of 90 mm.
    let (mut left, mut right, mut top, mut bottom) = (usize::MAX, 0, usize::MAX, 0);
    for (dot, colour) in bytes.chunks(samples).enumerate() {
        let (x, y) = (dot % wide, dot / wide);
        if x > 900 && colour[0] < 250 {
            (left, right) = (left.min(x), right.max(x + 1));
            (top, bottom) = (top.min(y), bottom.max(y + 1));
        }
    }
    let head = drawing.pages[0]
        .items
        .iter()
        .find(|item| item.role == Role::Head);
    let head = head.context("a head")?.bounds;
    for (found, stated) in [
        (left, head.left),
        (right, head.right),
        (top, head.top),
        (bottom, head.bottom),
    ] {
        assert!(
            (found as f32 - stated * 10.0).abs() <= 1.0,
            "{found} {stated}"
        );
    }
    Ok(())
}

/// The demo score in every way of folding it: all words of the drawing are in
/// the file, among them title, sections, letters and the counts that the cells
/// have by common practice (sixteenths "1 e & a").
#[test]
fn the_demo_score_is_read_back() -> Result<()> {
    let score = Score::parse(DEMO_SCORE, "demo")?;
    let timeline = Timeline::compile(&score)?;
    for fold in [Fold::Full, Fold::Repeats, Fold::Letters] {
        let options = notate::Options {
            fold,
            ..notate::Options::default()
        };
        let music = notate::written(&score, &timeline, &options)?;
        let drawing = engrave(&music, &score.kit, &Style::default())?;
        let (_folder, file) = written(&drawing)?;
        let told = poppler("pdfinfo", &[], &file, &[])?;
        assert!(told.contains("Lantern Street, solo spot"), "{told}");
        // A4, ISO 216: 210 by 297 mm.
        assert!(told.contains("595.276 x 841.89 pts"), "{told}");
        let text = poppler("pdftotext", &["-raw"], &file, &["-"])?;
        let pages: Vec<&str> = text.trim_end_matches('\x0C').split('\x0C').collect();
        assert_eq!(pages.len(), drawing.pages.len());
        for (page, text) in drawing.pages.iter().zip(&pages) {
            let mut found: Vec<&str> = text.split_whitespace().collect();
            let mut drawn: Vec<&str> = Vec::new();
            for item in &page.items {
                if let Shape::Text { text, .. } = &item.shape {
                    drawn.extend(text.split_whitespace());
                }
            }
            for word in &drawn {
                assert!(text.contains(word), "{word} is not on {fold:?}: {text}");
            }
            // Neighbours may be run together, nothing may be lost or added.
            let letters = |words: &mut Vec<&str>| {
                let mut letters: Vec<char> = words.iter().flat_map(|word| word.chars()).collect();
                letters.sort_unstable();
                letters.into_iter().collect::<String>()
            };
            assert_eq!(letters(&mut found), letters(&mut drawn), "{fold:?}");
        }
        let words: Vec<&str> = text.split_whitespace().collect();
        for wanted in [
            "Street,", "A", "A′", "B", "C", "D", "E", "F", "G", "e", "&", "a",
        ] {
            assert!(
                words.contains(&wanted),
                "{wanted} is not on {fold:?}: {text}"
            );
        }
        if fold != Fold::Letters {
            for section in ["Call", "Answer", "Out"] {
                assert!(words.contains(&section), "{section} is not on {fold:?}");
            }
        }
    }
    Ok(())
}
