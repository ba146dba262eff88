//! When nothing changes nothing is drawn; while something plays, all moves.

mod window;

use std::time::Duration;

use barform::editor::Page;
use barform::handover::{Clock, Reading};
use window::Window;

/// How soon the window wants to be drawn again.
fn wants(window: &mut Window) -> Duration {
    window.harness.run_steps(1);
    let viewport = egui::ViewportId::ROOT;
    window.harness.output().viewport_output[&viewport].repaint_delay
}

const PAGES: [Page; 6] = [
    Page::Stand,
    Page::Bench,
    Page::Score,
    Page::Kit,
    Page::Shelf,
    Page::Settings,
];

/// Opens a page and lets its animations end, and what it reads from files come.
/// The window's clock stands afterwards.
fn open(window: &mut Window, page: Page, at_s: f64) {
    window.harness.state_mut().desk_mut().page = page;
    window.settle();
    window.harness.input_mut().time = Some(at_s);
    let mut quiet = 0;
    for _ in 0..2_000 {
        let rests = wants(window) == Duration::MAX;
        quiet = if rests { quiet + 1 } else { 0 };
        if quiet == 20 {
            return;
        }
        std::thread::sleep(Duration::from_millis(1));
    }
    panic!("{page:?} never comes to rest");
}

#[test]
fn a_window_in_which_nothing_happens_asks_for_no_frame() {
    for clock in [Clock::Host, Clock::OwnForWant] {
        let mut window = Window::open();
        let reading = Reading {
            position_beats: Some(1.0),
            tempo_bpm: 120.0,
            rolling: false,
            clock,
            letter: None,
        };
        window.params.session.live.publish(reading);
        for (page, at_s) in PAGES
            .into_iter()
            .zip([100.0, 200.0, 300.0, 400.0, 500.0, 600.0])
        {
            open(&mut window, page, at_s);
            for frame in 0..40 {
                // The audio thread says the same over and over.
                window.params.session.live.publish(reading);
                let wanted = wants(&mut window);
                let causes = window.harness.ctx.repaint_causes();
                assert_eq!(wanted, Duration::MAX, "{page:?}, frame {frame}: {causes:?}");
            }
        }
    }
}

#[test]
fn while_time_runs_or_something_is_heard_by_itself_frames_follow() {
    let most = Duration::from_millis(40);
    let mut window = Window::open();
    let mut reading = Reading {
        position_beats: Some(1.0),
        tempo_bpm: 120.0,
        rolling: true,
        clock: Clock::Host,
        letter: None,
    };
    for page in PAGES {
        window.harness.state_mut().desk_mut().page = page;
        window.settle();
        window.params.session.live.publish(reading);
        assert!(wants(&mut window) <= most, "{page:?}");
    }
    reading.rolling = false;
    window.params.session.live.publish(reading);
    window.harness.run_steps(4);
    assert_eq!(wants(&mut window), Duration::MAX);
    let session = window.params.session.clone();
    let timeline = session.checked().timeline;
    session.audition.play(timeline, 100.0, false);
    assert!(wants(&mut window) <= most);
    session.audition.stop();
    window.harness.run_steps(4);
    assert_eq!(wants(&mut window), Duration::MAX);
}
