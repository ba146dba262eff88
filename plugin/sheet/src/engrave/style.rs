//! How a sheet is to look: paper, sizes, what is shown.

/// Width and height of a sheet of paper, upright, in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Paper {
    /// Shorter side, as a rule.
    pub width_mm: f32,
    /// Longer side, as a rule.
    pub height_mm: f32,
}

impl Paper {
    /// ISO 216 A4.
    pub const A4: Paper = Paper {
        width_mm: 210.0,
        height_mm: 297.0,
    };
    /// US Letter, 8½ by 11 inches (ANSI/ASME Y14.1).
    pub const LETTER: Paper = Paper {
        width_mm: 215.9,
        height_mm: 279.4,
    };
}

/// How a sheet is to look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Style {
    /// The paper.
    pub paper: Paper,
    /// Turned on its side.
    pub landscape: bool,
    /// White at each edge, in millimetres.
    pub margins_mm: f32,
    /// From the lowest staff line to the highest, in millimetres.
    pub staff_height_mm: f32,
    /// Counts under the staff.
    pub show_counts: bool,
    /// Sticking under the staff.
    pub show_sticking: bool,
    /// Which head is which voice, under the title.
    pub show_key: bool,
    /// Title, subtitle and tempo on the first page.
    pub show_title: bool,
}

impl Style {
    /// Staff height of a usual part, in millimetres (common practice).
    pub const NORMAL_STAFF_MM: f32 = 7.0;
    /// Staff height for large print, half as large again.
    pub const LARGE_STAFF_MM: f32 = 10.5;

    /// The same at large-print size.
    #[must_use]
    pub fn large_print(self) -> Style {
        Style {
            staff_height_mm: Style::LARGE_STAFF_MM,
            ..self
        }
    }

    /// Size of a staff space in millimetres.
    pub fn space_mm(&self) -> f32 {
        self.staff_height_mm / 4.0
    }

    /// Width and height of a page as it lies, in millimetres.
    pub fn page_mm(&self) -> (f32, f32) {
        let Paper {
            width_mm: w,
            height_mm: h,
        } = self.paper;
        if self.landscape { (h, w) } else { (w, h) }
    }

    /// Whether music fits at all.
    ///
    /// # Errors
    /// [`EngraveError::StaffHeight`], [`EngraveError::Paper`].
    pub(super) fn check(&self) -> Result<(), EngraveError> {
        if !(MIN_STAFF_MM..=MAX_STAFF_MM).contains(&self.staff_height_mm) {
            return Err(EngraveError::StaffHeight(self.staff_height_mm));
        }
        let (width, height) = self.page_mm();
        let wide = width - 2.0 * self.margins_mm;
        let high = height - 2.0 * self.margins_mm;
        let space = self.space_mm();
        let fits = wide >= MIN_WIDE * space && high >= MIN_HIGH * space;
        let sound = self.margins_mm >= 0.0 && width <= MAX_PAPER_MM && height <= MAX_PAPER_MM;
        // A NaN fails every comparison, so it ends here too.
        if fits && sound {
            Ok(())
        } else {
            Err(EngraveError::Paper {
                width_mm: width,
                height_mm: height,
                margins_mm: self.margins_mm,
                least_mm: (MIN_WIDE * space, MIN_HIGH * space),
            })
        }
    }
}

impl Default for Style {
    fn default() -> Style {
        Style {
            paper: Paper::A4,
            landscape: false,
            margins_mm: 15.0,
            staff_height_mm: Style::NORMAL_STAFF_MM,
            show_counts: true,
            show_sticking: true,
            show_key: true,
            show_title: true,
        }
    }
}

/// Least staff height in millimetres: smaller cannot be read.
const MIN_STAFF_MM: f32 = 3.0;
/// Greatest staff height in millimetres: a wall chart.
const MAX_STAFF_MM: f32 = 40.0;
/// Least width of the music in staff spaces: a clef, a meter and some notes.
const MIN_WIDE: f32 = 24.0;
/// Least height of the music in staff spaces: a title and one system.
const MIN_HIGH: f32 = 36.0;
/// Greatest side of a page in millimetres.
const MAX_PAPER_MM: f32 = 5_000.0;

/// Why nothing could be drawn.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EngraveError {
    /// Staff too small or too large to read.
    #[error("a staff of {0} mm cannot be printed; allowed: 3 to 40 mm")]
    StaffHeight(f32),
    /// No room between the margins, or a size that no paper has.
    #[error(
        "paper of {width_mm} by {height_mm} mm with margins of {margins_mm} mm does not fit; \
         this staff needs at least {} by {} mm between the margins, and paper is at most 5000 mm",
        least_mm.0, least_mm.1
    )]
    Paper {
        /// Width as it lies.
        width_mm: f32,
        /// Height as it lies.
        height_mm: f32,
        /// Margins.
        margins_mm: f32,
        /// Least width and height between the margins.
        least_mm: (f32, f32),
    },
    /// A beam or a tuplet of what is written names a note that is not there.
    #[error("bar {bar} names note {element}, which is not there")]
    NoSuchElement {
        /// Index of the bar.
        bar: usize,
        /// Index of the note.
        element: usize,
    },
    /// Bars were asked for that do not exist.
    #[error("bars {from} to {to} were asked for; there are {count}")]
    NoSuchBars {
        /// First bar asked for, from 0.
        from: usize,
        /// Bar after the last asked for.
        to: usize,
        /// How many there are.
        count: usize,
    },
}
