//! SVG, PNG and PDF of small drawings built by hand: ink stands where the
//! drawing says, and nowhere else.

use barform_app::sheet::ink::{self, InkError};
use barform_app::sheet::{
    Anchor, Bounds, Drawing, Face, Item, Page, Path, PathStep, Point, Role, Shape,
};
use resvg::tiny_skia::Pixmap;
use resvg::usvg;

/// Ten dots in a millimetre.
const DOTS_PER_INCH: f32 = 254.0;
const DOTS_PER_MM: f32 = 10.0;
const WIDTH: f32 = 60.0;
const HEIGHT: f32 = 40.0;

fn at(x: f32, y: f32) -> Point {
    Point { x, y }
}

fn item(shape: Shape) -> Item {
    Item {
        bounds: ink::shape_bounds(&shape),
        shape,
        role: Role::Words,
        source: None,
    }
}

fn text(text: &str, face: Face, anchor: Anchor) -> Shape {
    Shape::Text {
        text: text.to_owned(),
        at: at(30.0, 20.0),
        size: 5.0,
        face,
        anchor,
    }
}

fn drawing(shapes: impl IntoIterator<Item = Shape>) -> Drawing {
    Drawing {
        title: "Test & <sheet>".to_owned(),
        pages: vec![Page {
            width: WIDTH,
            height: HEIGHT,
            items: shapes.into_iter().map(item).collect(),
        }],
        ..Drawing::default()
    }
}

fn shapes() -> Vec<Shape> {
    let slur = Path(vec![
        PathStep::Move(at(10.0, 10.0)),
        PathStep::Curve(at(14.0, 2.0), at(22.0, 2.0), at(26.0, 10.0)),
    ]);
    let boxed = Path(vec![
        PathStep::Move(at(10.0, 10.0)),
        PathStep::Line(at(30.0, 10.0)),
        PathStep::Line(at(30.0, 20.0)),
        PathStep::Line(at(10.0, 20.0)),
        PathStep::Close,
    ]);
    let mut shapes = vec![
        Shape::Line {
            from: at(5.0, 5.0),
            to: at(50.0, 5.0),
            width: 0.3,
        },
        Shape::Line {
            from: at(12.0, 30.0),
            to: at(31.0, 9.0),
            width: 1.7,
        },
        Shape::Fill(boxed.clone()),
        Shape::Fill(slur.clone()),
        Shape::Stroke {
            path: boxed,
            width: 0.8,
        },
        Shape::Stroke {
            path: slur,
            width: 0.6,
        },
        text("Lantern Street", Face::SerifBold, Anchor::Middle),
        text("a & b <1>", Face::Serif, Anchor::End),
        text("1 e & a", Face::Sans, Anchor::Start),
        text("R L \u{E123} 太鼓", Face::SansBold, Anchor::Middle),
    ];
    shapes.extend(ink::all().map(|glyph| Shape::Glyph {
        glyph,
        at: at(25.0, 20.0),
        space: 2.0,
    }));
    shapes
}

/// The box of what is not white, in millimetres, and the size in dots.
fn inked(png: &[u8]) -> (Option<Bounds>, (u32, u32)) {
    let picture = Pixmap::decode_png(png).expect("a picture");
    let mut found: Option<Bounds> = None;
    for (dot, colour) in (0_u32..).zip(picture.pixels()) {
        if colour.red() < 250 {
            let (x, y) = (dot % picture.width(), dot / picture.width());
            let (x, y) = (x as f32 / DOTS_PER_MM, y as f32 / DOTS_PER_MM);
            let here = Bounds {
                left: x,
                top: y,
                right: x + 1.0 / DOTS_PER_MM,
                bottom: y + 1.0 / DOTS_PER_MM,
            };
            found = Some(found.map_or(here, |b| b.with(here)));
        }
    }
    (found, (picture.width(), picture.height()))
}

#[test]
fn ink_stands_where_the_item_says() {
    for shape in shapes() {
        let drawing = drawing([shape.clone()]);
        let stated = drawing.pages[0].items[0].bounds;
        let png = ink::png(&drawing, 0, DOTS_PER_INCH).expect("a picture");
        let (found, size) = inked(&png);
        assert_eq!(size, (600, 400));
        let found = found.unwrap_or_else(|| panic!("{shape:?} leaves no ink"));
        let page = Bounds {
            right: WIDTH,
            bottom: HEIGHT,
            ..Bounds::default()
        };
        assert!(page.holds(stated), "{shape:?}");
        for (found, stated) in [
            (found.left, stated.left),
            (found.top, stated.top),
            (found.right, stated.right),
            (found.bottom, stated.bottom),
        ] {
            let dots = (found - stated).abs() * DOTS_PER_MM;
            assert!(dots <= 1.0, "{shape:?}: {found} where {stated} is stated");
        }
    }
}

#[test]
fn an_empty_page_has_no_ink() {
    let png = ink::png(&drawing([]), 0, DOTS_PER_INCH).expect("a picture");
    assert_eq!(inked(&png).0, None);
}

#[test]
fn shapes_without_a_number_are_left_out() {
    let broken = [
        Shape::Line {
            from: at(f32::NAN, 1.0),
            to: at(2.0, 2.0),
            width: 1.0,
        },
        Shape::Fill(Path(vec![PathStep::Line(at(f32::INFINITY, 0.0))])),
        Shape::Stroke {
            path: Path::default(),
            width: 0.3,
        },
    ];
    let drawing = drawing(broken);
    let png = ink::png(&drawing, 0, DOTS_PER_INCH).expect("a picture");
    assert_eq!(inked(&png).0, None);
    assert!(ink::pdf(&drawing).is_ok());
}

#[test]
fn svg_is_xml_with_its_size_in_millimetres_and_its_words() {
    let svg = ink::svg(&drawing(shapes()), 0);
    let document = roxmltree::Document::parse(&svg).expect("well-formed XML");
    let root = document.root_element();
    assert_eq!(
        root.tag_name().namespace(),
        Some("http://www.w3.org/2000/svg")
    );
    assert_eq!(root.attribute("width"), Some("60mm"));
    assert_eq!(root.attribute("height"), Some("40mm"));
    assert_eq!(root.attribute("viewBox"), Some("0 0 60 40"));
    let words: Vec<&str> = document
        .descendants()
        .filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "title")))
        .filter_map(|node| node.text())
        .collect();
    assert_eq!(words[0], "Test & <sheet>");
    for wanted in ["Lantern Street", "a & b <1>", "1 e & a"] {
        assert!(words.contains(&wanted), "{wanted} in {words:?}");
    }
    // Needs no font.
    assert!(
        !document
            .descendants()
            .any(|node| node.tag_name().name() == "text")
    );
    // Every use has its outline, every outline its use.
    let mut ids: Vec<&str> = document
        .descendants()
        .filter(|node| node.tag_name().name() == "path")
        .filter_map(|node| node.attribute("id"))
        .collect();
    let mut uses: Vec<&str> = document
        .descendants()
        .filter_map(|node| node.attribute(("http://www.w3.org/1999/xlink", "href")))
        .filter_map(|name| name.strip_prefix('#'))
        .collect();
    ids.sort_unstable();
    uses.sort_unstable();
    uses.dedup();
    assert_eq!(ids, uses);
    let tree = usvg::Tree::from_str(&svg, &usvg::Options::default()).expect("valid SVG");
    // CSS: 96 dots an inch.
    assert!((tree.size().width() - WIDTH / 25.4 * 96.0).abs() < 1e-3);
}

#[test]
fn a_page_that_is_not_there() {
    let drawing = drawing([]);
    assert!(roxmltree::Document::parse(&ink::svg(&drawing, 5)).is_ok());
    assert_eq!(
        ink::png(&drawing, 5, 100.0),
        Err(InkError::NoPage { page: 6, pages: 1 })
    );
    assert_eq!(
        ink::pdf(&Drawing::default()),
        Err(InkError::NoPage { page: 1, pages: 0 })
    );
}

#[test]
fn sizes_are_limited() {
    let mut drawing = drawing([]);
    for resolution in [0.0, -300.0, f32::NAN, f32::INFINITY] {
        let error = ink::png(&drawing, 0, resolution);
        assert!(matches!(error, Err(InkError::Resolution(_))));
    }
    for resolution in [1e5, 1e30] {
        let error = ink::png(&drawing, 0, resolution);
        assert!(
            matches!(error, Err(InkError::TooManyDots { .. })),
            "{resolution}"
        );
    }
    for size in [0.0, -1.0, f32::NAN, f32::INFINITY, 1e6] {
        drawing.pages[0].width = size;
        let error = ink::pdf(&drawing);
        assert!(
            matches!(error, Err(InkError::PageSize { page: 1, .. })),
            "{size}"
        );
        assert!(ink::png(&drawing, 0, 300.0).is_err(), "{size}");
    }
}

#[test]
fn a_picture_says_its_resolution() {
    let png = ink::png(&drawing([]), 0, DOTS_PER_INCH).expect("a picture");
    // PNG specification, third edition, 11.3.4.3: dots per metre, twice, then
    // the unit. Signature, header (25 bytes), then length and name.
    assert_eq!(&png[37..41], b"pHYs");
    assert_eq!(&png[41..50], &[0, 0, 0x27, 0x10, 0, 0, 0x27, 0x10, 1]);
}

#[test]
fn the_same_drawing_gives_the_same_bytes() {
    let (one, two) = (drawing(shapes()), drawing(shapes()));
    assert_eq!(ink::svg(&one, 0), ink::svg(&two, 0));
    assert_eq!(ink::png(&one, 0, 90.0), ink::png(&two, 0, 90.0));
    assert_eq!(ink::pdf(&one), ink::pdf(&two));
}

#[test]
fn progress_is_told_page_by_page() {
    let mut sheet = drawing(shapes());
    sheet.pages = vec![sheet.pages[0].clone(); 3];
    let mut told = Vec::new();
    let pdf = ink::pdf_with_progress(&sheet, |done, all| told.push((done, all)));
    assert!(pdf.expect("a PDF").starts_with(b"%PDF-"));
    assert_eq!(told, [(1, 3), (2, 3), (3, 3)]);
}

#[test]
fn files_grow_with_the_pages_no_faster() {
    let page = drawing(shapes()).pages.remove(0);
    let pages = |count: usize| Drawing {
        pages: vec![page.clone(); count],
        ..Drawing::default()
    };
    let size = |count| ink::pdf(&pages(count)).expect("a PDF").len();
    let (few, many) = (size(20), size(2000));
    assert!(many <= few * 100, "{few} and {many} bytes");
}

#[test]
fn very_long_words_are_set_in_one_line() {
    let long = "hemidemisemiquaver ".repeat(2000);
    let drawing = drawing([text(&long, Face::Serif, Anchor::Start)]);
    let box_ = drawing.pages[0].items[0].bounds;
    let width = ink::text_width(&long, Face::Serif, 5.0);
    assert!((box_.right - 30.0 - width).abs() < 5.0);
    assert!(ink::svg(&drawing, 0).contains(long.trim()));
    assert!(ink::pdf(&drawing).is_ok());
}

#[test]
fn a_mask_holds_the_ink_of_the_picture() {
    let drawing = drawing(shapes());
    let mask = ink::mask(&drawing, 0, 5.0).unwrap();
    let page = &drawing.pages[0];
    assert_eq!(mask.width, (page.width * 5.0).round() as u32);
    assert_eq!(mask.ink.len() as u32, mask.width * mask.height);
    let picture = Pixmap::decode_png(&ink::png(&drawing, 0, 5.0 * 25.4).unwrap()).unwrap();
    assert_eq!(
        (picture.width(), picture.height()),
        (mask.width, mask.height)
    );
    // Black ink on white: what is missing from white is the ink.
    for (dot, ink) in picture.pixels().iter().zip(&mask.ink) {
        assert!((255 - i32::from(dot.red()) - i32::from(*ink)).abs() <= 2);
    }
}
