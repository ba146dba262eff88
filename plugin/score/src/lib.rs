//! Cells, forms and their exact time.
//!
//! A score file is read into a [`score::Score`], whose cells and strokes are the
//! types of [`music`], and compiled to a [`timeline::Timeline`] that a player can
//! search. All time is exact until the timeline stores it as `f64`.
//!
//! ```
//! use barform_score::{score::Score, timeline::Timeline};
//!
//! let score = Score::parse(barform_score::DEMO_SCORE, "demo.barform").unwrap();
//! let timeline = Timeline::compile(&score).unwrap();
//! assert!(timeline.length > barform_score::music::Beats::ZERO);
//! ```

pub mod music;
pub mod refit;
pub mod score;
pub mod timeline;

/// The embedded default score: a solo spot for a school big band, invented for
/// this project.
pub const DEMO_SCORE: &str = include_str!("../demo/lantern-street.barform");
