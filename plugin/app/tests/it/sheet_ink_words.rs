//! Words: widths, boxes, and what may be written at all.

use barform_app::sheet::{Face, ink};
use proptest::prelude::*;

fn faces() -> [(Face, ttf_parser::Face<'static>); 4] {
    let read = |data| ttf_parser::Face::parse(data, 0).expect("a font of the crate");
    [
        (Face::Serif, read(dejavu::serif_condensed::regular())),
        (Face::SerifBold, read(dejavu::serif_condensed::bold())),
        (Face::Sans, read(dejavu::sans_condensed::regular())),
        (Face::SansBold, read(dejavu::sans_condensed::bold())),
    ]
}

fn advance(face: &ttf_parser::Face<'_>, sign: char) -> f32 {
    let id = face.glyph_index(sign).expect("the face has the sign");
    let units = face.glyph_hor_advance(id).expect("every glyph has one");
    f32::from(units) / f32::from(face.units_per_em())
}

#[test]
fn width_is_the_sum_of_advances() {
    for (name, face) in faces() {
        // Digits and spaces are not kerned.
        for text in ["1", "1 2 3 4", "5/4", "0123456789"] {
            let wanted: f32 = text.chars().map(|sign| advance(&face, sign)).sum();
            let found = ink::text_width(text, name, 3.5);
            assert!((found - wanted * 3.5).abs() < 1e-3, "{name:?} {text}");
        }
        assert_eq!(ink::text_width("", name, 3.5), 0.0);
    }
}

#[test]
fn pairs_are_kerned_as_the_font_says() {
    for (name, face) in faces() {
        let (a, v) = (face.glyph_index('A'), face.glyph_index('V'));
        let (a, v) = (a.expect("A"), v.expect("V"));
        let table = face.tables().kern.expect("the fonts have a kern table");
        let pair = table.subtables.into_iter().next().expect("one part");
        let units = pair.glyphs_kerning(a, v).expect("AV is a kerned pair");
        assert!(units < 0);
        let kerning = f32::from(units) / f32::from(face.units_per_em());
        let wanted = advance(&face, 'A') + kerning + advance(&face, 'V');
        let found = ink::text_width("AV", name, 1.0);
        assert!((found - wanted).abs() < 1e-4, "{name:?}");
    }
}

#[test]
fn the_box_of_a_letter_is_the_one_in_the_font() {
    for (name, face) in faces() {
        for sign in ['A', 'H', 'o', 'g', '7', '′'] {
            let id = face.glyph_index(sign).expect("the face has the sign");
            let font = face.glyph_bounding_box(id).expect("it has ink");
            let em = f32::from(face.units_per_em());
            let found = ink::text_bounds(&sign.to_string(), name, em);
            for (found, wanted) in [
                (found.left, f32::from(font.x_min)),
                (found.right, f32::from(font.x_max)),
                (found.top, -f32::from(font.y_max)),
                (found.bottom, -f32::from(font.y_min)),
            ] {
                // The font rounds its boxes to whole units.
                assert!(
                    (found - wanted).abs() <= 1.0,
                    "{name:?} {sign}: {found} {wanted}"
                );
            }
        }
    }
}

#[test]
fn foreign_signs_become_readable() {
    assert_eq!(
        ink::printable("Ånström A′ A″ ♩ – “x”"),
        "Ånström A′ A″ ♩ – “x”"
    );
    assert_eq!(ink::printable("a\tb\nc\u{7}d\u{200B}e\u{FE0F}"), "a b cde");
    // Spellings in Latin letters, whichever the table chooses.
    for foreign in ["太鼓", "שיר", "طبل", "ड्रम", "북"] {
        let words = ink::printable(foreign);
        assert!(
            words.chars().any(|sign| sign.is_ascii_alphabetic()),
            "{foreign}: {words}"
        );
        assert!(words.is_ascii(), "{foreign}: {words}");
    }
    assert_eq!(ink::printable("\u{E123}"), "?");
}

/// Characters of any kind, the rare planes not left out.
fn text() -> impl Strategy<Value = String> {
    proptest::collection::vec(
        prop_oneof![
            any::<char>(),
            proptest::char::range('\0', '\u{2FF}'),
            proptest::char::range('\u{300}', '\u{30FF}'),
        ],
        0..40,
    )
    .prop_map(|signs| signs.into_iter().collect())
}

proptest! {
    #[test]
    fn what_is_printable_every_face_has(text in text()) {
        let words = ink::printable(&text);
        for (name, face) in faces() {
            for sign in words.chars() {
                let id = face.glyph_index(sign);
                prop_assert!(id.is_some_and(|id| id.0 != 0), "{name:?} lacks {sign:?}");
                prop_assert!(!sign.is_control());
            }
        }
        prop_assert_eq!(ink::printable(&words), words.clone());
    }

    #[test]
    fn unknown_signs_are_measured_as_they_are_printed(text in text()) {
        let words = ink::printable(&text);
        for (name, face) in faces() {
            let every = text.chars().all(|sign| face.glyph_index(sign).is_some_and(|id| id.0 != 0));
            if !every {
                let found = ink::text_width(&text, name, 4.0);
                prop_assert_eq!(found, ink::text_width(&words, name, 4.0));
            }
        }
    }
}
