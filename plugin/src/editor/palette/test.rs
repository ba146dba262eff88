use super::*;

/// WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text.
const TEXT: f64 = 4.5;
/// WCAG 2.2, success criterion 1.4.11: 3 to 1 for what is no text.
const NON_TEXT: f64 = 3.0;

/// Least distance of two letters' colours in CIE 1976 L*a*b*. One that is just
/// noticeable side by side is 2.3 (Mahy, Van Eycken and Oosterlinck, 1994); six
/// times as much is told apart at a glance and across the window. A seventh
/// colour is the most that keeps it for every kind of colour vision.
const APART: f64 = 15.0;

const THEMES: [Theme; 2] = [Theme::Dark, Theme::Light];

#[test]
fn the_contrast_formula_gives_the_ends_of_the_standard() {
    assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
    assert_eq!(contrast(Color32::RED, Color32::RED), 1.0);
}

#[test]
fn all_text_reads_on_all_its_grounds() {
    for theme in THEMES {
        let p = Palette::of(theme);
        for ground in [p.ground, p.panel, p.raised] {
            for text in [p.ink, p.dim, p.accent, p.error, p.good] {
                let ratio = contrast(text, ground);
                assert!(
                    ratio >= TEXT,
                    "{theme:?}: {text:?} on {ground:?} is {ratio:.2}"
                );
            }
        }
    }
}

#[test]
fn text_reads_where_it_is_chosen_or_selected() {
    for theme in THEMES {
        let p = Palette::of(theme);
        for text in [p.ink, p.accent] {
            let ratio = contrast(text, p.selected());
            assert!(ratio >= TEXT, "{theme:?}: {text:?} is {ratio:.2}");
        }
    }
}

/// What the library's widgets paint themselves, in every state of theirs.
#[test]
fn text_of_widgets_reads_in_every_state() {
    for theme in THEMES {
        let p = Palette::of(theme);
        let visuals = p.visuals(theme);
        let w = &visuals.widgets;
        for state in [
            &w.noninteractive,
            &w.inactive,
            &w.hovered,
            &w.active,
            &w.open,
        ] {
            for ground in [state.bg_fill, state.weak_bg_fill] {
                let ratio = contrast(state.text_color(), ground);
                assert!(ratio >= TEXT, "{theme:?}: {ratio:.2} on {ground:?}");
            }
        }
        let fields = visuals.text_edit_bg_color();
        for ground in [visuals.panel_fill, visuals.window_fill, fields] {
            for text in [
                visuals.text_color(),
                visuals.weak_text_color(),
                visuals.strong_text_color(),
                visuals.hyperlink_color,
                visuals.warn_fg_color,
                visuals.error_fg_color,
            ] {
                let ratio = contrast(text, ground);
                assert!(
                    ratio >= TEXT,
                    "{theme:?}: {text:?} on {ground:?} is {ratio:.2}"
                );
            }
        }
    }
}

#[test]
fn lines_and_frames_stand_out() {
    for theme in THEMES {
        let p = Palette::of(theme);
        for ground in [p.ground, p.panel] {
            for mark in [p.line, p.accent] {
                let ratio = contrast(mark, ground);
                assert!(
                    ratio >= NON_TEXT,
                    "{theme:?}: {mark:?} on {ground:?} is {ratio:.2}"
                );
            }
        }
    }
}

#[test]
fn letters_read_on_their_colours() {
    for colour in OKABE_ITO {
        assert!(contrast(text_on(colour), colour) >= TEXT, "{colour:?}");
    }
}

/// How colours are seen without one of the three kinds of cones, on linear red,
/// green and blue: Machado, Oliveira and Fernandes, "A physiologically-based
/// model for simulation of color vision deficiency" (2009), severity 1.0. Values
/// from memory; that each row adds up to 1 (white stays white) is checked below.
const DEFICIENCIES: [(&str, [[f64; 3]; 3]); 4] = [
    (
        "full colour vision",
        [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
    ),
    (
        "protanopia",
        [
            [0.152_286, 1.052_583, -0.204_868],
            [0.114_503, 0.786_281, 0.099_216],
            [-0.003_882, -0.048_116, 1.051_998],
        ],
    ),
    (
        "deuteranopia",
        [
            [0.367_322, 0.860_646, -0.227_968],
            [0.280_085, 0.672_501, 0.047_413],
            [-0.011_820, 0.042_940, 0.968_881],
        ],
    ),
    (
        "tritanopia",
        [
            [1.255_528, -0.076_749, -0.178_779],
            [-0.078_411, 0.930_809, 0.147_602],
            [0.004_733, 0.691_367, 0.303_900],
        ],
    ),
];

/// Linear red, green and blue (IEC 61966-2-1).
fn linear(colour: Color32) -> [f64; 3] {
    [colour.r(), colour.g(), colour.b()].map(super::linear)
}

fn through(matrix: &[[f64; 3]; 3], from: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row.iter().zip(from).map(|(a, b)| a * b).sum())
}

/// CIE 1976 L*a*b* under D65, from linear sRGB.
fn lab(rgb: [f64; 3]) -> [f64; 3] {
    // IEC 61966-2-1: linear sRGB to XYZ, and its white.
    const XYZ: [[f64; 3]; 3] = [
        [0.412_456_4, 0.357_576_1, 0.180_437_5],
        [0.212_672_9, 0.715_152_2, 0.072_175_0],
        [0.019_333_9, 0.119_192_0, 0.950_304_1],
    ];
    const WHITE: [f64; 3] = [0.950_47, 1.0, 1.088_83];
    let xyz = through(&XYZ, rgb.map(|c| c.clamp(0.0, 1.0)));
    let bent: [f64; 3] = std::array::from_fn(|i| {
        let t = xyz[i] / WHITE[i];
        let knee = 6.0_f64 / 29.0;
        if t > knee.powi(3) {
            t.cbrt()
        } else {
            t / (3.0 * knee * knee) + 4.0 / 29.0
        }
    });
    let [x, y, z] = bent;
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    let squares = a.iter().zip(b).map(|(a, b)| (a - b) * (a - b));
    squares.sum::<f64>().sqrt()
}

#[test]
fn the_way_to_lab_gives_the_ends_of_the_scale() {
    let [l, a, b] = lab([1.0, 1.0, 1.0]);
    assert!((l - 100.0).abs() < 0.01 && a.abs() < 0.02 && b.abs() < 0.02);
    assert!(distance(lab([0.0; 3]), [0.0; 3]) < 1e-9);
    for (name, matrix) in DEFICIENCIES {
        let white = through(&matrix, [1.0; 3]);
        assert!(white.iter().all(|c| (c - 1.0).abs() < 2e-6), "{name}");
    }
}

/// The letter is always printed on its colour as well: colour is never the only
/// sign.
#[test]
fn letters_colours_stay_apart_with_every_colour_vision() {
    for (name, matrix) in DEFICIENCIES {
        let seen = OKABE_ITO.map(|colour| lab(through(&matrix, linear(colour))));
        for (n, a) in seen.iter().enumerate() {
            for (m, b) in seen[..n].iter().enumerate() {
                let apart = distance(*a, *b);
                assert!(
                    apart >= APART,
                    "{name}: colours {m} and {n} are {apart:.1} apart"
                );
            }
        }
    }
}

/// What is said by a colour of the palette differs in lightness too, or in words.
#[test]
fn wrong_and_right_stay_apart_with_every_colour_vision() {
    for theme in THEMES {
        let p = Palette::of(theme);
        for (name, matrix) in DEFICIENCIES {
            let seen = |colour| lab(through(&matrix, linear(colour)));
            let apart = distance(seen(p.error), seen(p.good));
            assert!(apart >= APART, "{theme:?}, {name}: {apart:.1}");
        }
    }
}
