//! Which part of a form is visible, and how large.

/// Fewest points per beat: a one-beat cell stays wide enough for its letter.
const LEAST_SCALE: f64 = 11.0;

/// Most points per beat.
const MOST_SCALE: f64 = 240.0;

/// Points per beat a short form is not stretched beyond when it is fitted.
const FIT_SCALE: f64 = 64.0;

/// Scroll and zoom. All horizontal distances are in points from the strip's
/// left edge.
#[derive(Debug, Clone, Default)]
pub struct View {
    width: f32,
    length_beats: f64,
    /// First visible beat.
    start_beats: f64,
    /// Points per beat; 0 until first fitted.
    scale: f64,
    map_drag: bool,
}

impl View {
    /// Takes notice of the strip's width and the form's length. When they change,
    /// a form that was shown whole, or now could be, is fitted; otherwise the
    /// zoom stays.
    pub fn fit_into(&mut self, width: f32, length_beats: f64) {
        let length_beats = length_beats.max(1e-9);
        let changed = width != self.width || length_beats != self.length_beats;
        let first = self.scale <= 0.0;
        let was_whole = first || self.visible_beats() >= self.length_beats;
        self.width = width;
        self.length_beats = length_beats;
        if changed && (was_whole || self.visible_beats() >= length_beats) {
            self.scale = self.fit_scale();
        }
        self.clamp();
    }

    fn fit_scale(&self) -> f64 {
        (f64::from(self.width) / self.length_beats).clamp(LEAST_SCALE, FIT_SCALE)
    }

    fn clamp(&mut self) {
        self.scale = self.scale.clamp(LEAST_SCALE, MOST_SCALE);
        let last = (self.length_beats - self.visible_beats()).max(0.0);
        self.start_beats = self.start_beats.clamp(0.0, last);
    }

    /// Width of the strip in points.
    pub fn width(&self) -> f32 {
        self.width
    }

    /// Length of the form in beats.
    pub fn length_beats(&self) -> f64 {
        self.length_beats
    }

    /// First visible beat.
    pub fn start_beats(&self) -> f64 {
        self.start_beats
    }

    /// Beats that fit into the strip.
    pub fn visible_beats(&self) -> f64 {
        f64::from(self.width) / self.scale
    }

    /// First beat that is not visible any more.
    pub fn end_beats(&self) -> f64 {
        self.start_beats + self.visible_beats()
    }

    /// Points from the left edge at which `beats` lies.
    pub fn x(&self, beats: f64) -> f32 {
        ((beats - self.start_beats) * self.scale) as f32
    }

    /// Beats at so many points from the left edge.
    pub fn beats_at(&self, x: f32) -> f64 {
        self.start_beats + f64::from(x) / self.scale
    }

    /// Scrolls by points; to the right if positive.
    pub fn scroll_points(&mut self, points: f32) {
        self.start_beats += f64::from(points) / self.scale;
        self.clamp();
    }

    /// Zooms by a factor; what lies at `x` stays there.
    pub fn zoom_at(&mut self, x: f32, factor: f32) {
        let beats = self.beats_at(x);
        self.scale *= f64::from(factor);
        self.clamp();
        self.start_beats = beats - f64::from(x) / self.scale;
        self.clamp();
    }

    /// Brings a beat to the middle.
    pub fn centre_on(&mut self, beats: f64) {
        self.start_beats = beats - self.visible_beats() / 2.0;
        self.clamp();
    }

    /// Turns the page when the play position leaves what is visible.
    pub fn follow(&mut self, beats: f64) {
        if beats < self.start_beats || beats >= self.end_beats() {
            self.start_beats = beats - self.visible_beats() * 0.1;
            self.clamp();
        }
    }

    /// Brings a stretch into view that is not in it, with some room around it.
    pub fn reveal(&mut self, from: f64, to: f64) {
        let room = (self.visible_beats() * 0.1).min(4.0);
        if from < self.start_beats {
            self.start_beats = from - room;
        } else if to > self.end_beats() {
            self.start_beats = (to + room - self.visible_beats()).min(from);
        }
        self.clamp();
    }

    /// Whether the map below the strip is being dragged.
    pub fn is_dragging_map(&self) -> bool {
        self.map_drag
    }

    /// Remembers whether the map is being dragged.
    pub fn drag_map(&mut self, dragging: bool) {
        self.map_drag = dragging;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn view(width: f32, length_beats: f64) -> View {
        let mut view = View::default();
        view.fit_into(width, length_beats);
        view
    }

    #[test]
    fn a_three_beat_cell_is_three_times_as_wide_as_a_one_beat_cell() {
        let view = view(1_000.0, 32.0);
        let three = view.x(3.0) - view.x(0.0);
        let one = view.x(4.0) - view.x(3.0);
        assert!((three - 3.0 * one).abs() < 1e-3);
    }

    #[test]
    fn a_form_that_fits_is_shown_whole() {
        let view = view(1_000.0, 40.0);
        assert!(view.start_beats() == 0.0 && view.end_beats() >= 40.0 - 1e-9);
    }

    #[test]
    fn a_form_shown_whole_stays_whole_when_it_grows_and_a_zoomed_one_keeps_its_zoom() {
        let mut view = view(1_000.0, 16.0);
        view.fit_into(1_000.0, 40.0);
        assert!(view.visible_beats() >= 40.0 - 1e-9);
        view.zoom_at(0.0, 2.0);
        let visible = view.visible_beats();
        view.fit_into(1_000.0, 60.0);
        assert_eq!(view.visible_beats(), visible);
        view.fit_into(1_000.0, visible / 2.0);
        assert!(
            view.visible_beats() < visible,
            "a shorter form is not left small"
        );
    }

    #[test]
    fn only_a_screenful_of_ten_thousand_bars_is_visible() {
        let view = view(1_000.0, 40_000.0);
        assert!(view.visible_beats() <= 1_000.0 / LEAST_SCALE + 1e-9);
    }

    #[test]
    fn the_page_turns_when_the_position_leaves_it() {
        let mut view = view(1_000.0, 40_000.0);
        view.follow(20_000.0);
        assert!(view.start_beats() <= 20_000.0 && 20_000.0 < view.end_beats());
        let before = view.start_beats();
        view.follow(20_001.0);
        assert_eq!(view.start_beats(), before, "it does not creep");
    }

    #[test]
    fn what_is_chosen_comes_into_view_and_else_nothing_moves() {
        let mut view = view(1_000.0, 40_000.0);
        view.reveal(10.0, 12.0);
        assert_eq!(view.start_beats(), 0.0);
        view.reveal(500.0, 503.0);
        assert!(view.start_beats() <= 500.0 && 503.0 <= view.end_beats());
        view.reveal(100.0, 4_000.0);
        assert!(view.start_beats() <= 100.0 && 100.0 < view.end_beats());
    }

    proptest! {
        #[test]
        fn what_lies_under_the_pointer_stays_there_when_zooming(
            x in 300.0f32..700.0, factor in 0.5f32..3.0,
        ) {
            let mut view = view(1_000.0, 40_000.0);
            view.centre_on(20_000.0);
            let before = view.beats_at(x);
            view.zoom_at(x, factor);
            prop_assert!((view.beats_at(x) - before).abs() < 1e-6);
        }

        #[test]
        fn the_view_never_leaves_the_form(
            length in 0.25f64..50_000.0, moves in prop::collection::vec(-5_000.0f32..5_000.0, 0..8),
        ) {
            let mut view = view(900.0, length);
            for points in moves {
                view.scroll_points(points);
                prop_assert!(view.start_beats() >= 0.0);
                prop_assert!(view.start_beats() <= (length - view.visible_beats()).max(0.0) + 1e-9);
            }
        }
    }
}
