//! The session that host, window and audio thread share: its text, its steps and
//! what plays are always of the same score.

use std::sync::{Arc, Barrier};
use std::time::Duration;

use barform::state::{EditorPrefs, Session, Stored, StoredSession, VERSION, check};
use barform_app::score::FormItem;
use barform_app::score::edit::{Group, Merge};
use barform_app::timeline::Timeline;

/// A cell of 64 bars of 4/4, played so many times.
fn long(count: u32) -> String {
    let grid = vec!["1"; 256].join(" ");
    let sticking = vec!["R"; 256].join(" ");
    format!(
        "barform = 1\nmeter = \"4/4\"\ntempo = 90\nform = \"(A)x{count}\"\n\
         [cell.A]\ngrid = \"{grid}\"\nsticking = \"{sticking}\"\n"
    )
}

/// Whether text, steps and sound of a session are of one score.
fn agrees(session: &Session, heard: &Timeline) -> bool {
    let checked = session.checked();
    checked.text() == session.document().score
        && checked.timeline.length == heard.length
        && checked.document.score() == check(checked.text(), "").unwrap().score()
}

/// Sets the number of times that the form's only group is played.
fn repeat(session: &Session, count: u32, group: &Group) -> Result<(), String> {
    let change = session.change("Count", Some(group), |score| {
        for item in &mut score.sections[0].items {
            if let FormItem::Group { times, .. } = item {
                *times = count;
            }
        }
        Ok(())
    });
    change.map(|_| ()).map_err(|problem| problem.to_string())
}

#[test]
fn a_count_typed_past_the_limit_stays_at_what_plays() {
    for merge in [Merge::Follow, Merge::Again] {
        let session = Session::default();
        let receiver = session.take_receiver().unwrap();
        session.accept(check(&long(2), "").unwrap(), "Typing", None);
        let group = |second: u64| Group {
            key: "count".to_owned(),
            at: Duration::from_millis(200 * second),
            merge,
        };
        for (second, count) in [(1, 9), (2, 99)] {
            repeat(&session, count, &group(second)).unwrap();
        }
        // 999 times 64 bars are more than a form may have.
        let refused = repeat(&session, 999, &group(3)).unwrap_err();
        assert!(refused.contains("bars"), "{refused}");
        let heard = receiver.take().unwrap();
        assert!(session.document().score.contains("x99\""), "{merge:?}");
        assert!(agrees(&session, &heard), "{merge:?}");
        assert_eq!(session.steps(), (Some("Count".to_owned()), None));
        // The group goes on from there, and is one step.
        repeat(&session, 98, &group(4)).unwrap();
        assert!(agrees(&session, &receiver.take().unwrap()), "{merge:?}");
        assert!(session.undo().is_some());
        assert_eq!(session.document().score, long(2), "{merge:?}");
        assert!(agrees(&session, &receiver.take().unwrap()), "{merge:?}");
        assert!(session.redo().is_some());
        assert!(session.document().score.contains("x98\""), "{merge:?}");
        assert!(agrees(&session, &receiver.take().unwrap()), "{merge:?}");
    }
}

#[test]
fn a_refused_step_leaves_what_can_be_done_again() {
    let session = Session::default();
    session.accept(check(&long(2), "").unwrap(), "Typing", None);
    let group = Group {
        key: "count".to_owned(),
        at: Duration::ZERO,
        merge: Merge::Follow,
    };
    repeat(&session, 3, &group).unwrap();
    session.undo().unwrap();
    repeat(&session, 999, &group).unwrap_err();
    assert_eq!(session.steps().1.as_deref(), Some("Count"));
    session.redo().unwrap();
    assert_eq!(session.document().score, long(3));
}

/// One cell of so many strokes to the beat.
fn short(strokes: usize) -> String {
    let sticking = vec!["R"; strokes].join(" ");
    format!(
        "barform = 1\nmeter = \"4/4\"\ntempo = 90\nform = \"A\"\n\
         [cell.A]\ngrid = \"{strokes}\"\nsticking = \"{sticking}\"\n"
    )
}

#[test]
fn what_plays_is_what_was_loaded_or_accepted_last() {
    let session = Arc::new(Session::default());
    let receiver = session.take_receiver().unwrap();
    let document = StoredSession {
        version: VERSION,
        score: short(1),
        file: None,
        editor: EditorPrefs::default(),
    };
    let [accepted, other] = [2, 3].map(|strokes| check(&short(strokes), "").unwrap());
    // Three threads start together, again and again.
    let start = Arc::new(Barrier::new(3));
    const ROUNDS: usize = 3_000;
    let mut stale = 0;
    std::thread::scope(|scope| {
        let (from, go) = (session.clone(), start.clone());
        scope.spawn(move || {
            for _ in 0..ROUNDS {
                go.wait();
                from.load(Stored::Document(document.clone()));
                go.wait();
            }
        });
        let (from, go) = (session.clone(), start.clone());
        scope.spawn(move || {
            for _ in 0..ROUNDS {
                go.wait();
                from.accept(accepted.clone(), "Typing", None);
                from.accept(other.clone(), "Typing", None);
                go.wait();
            }
        });
        let mut heard = receiver.take().unwrap();
        for _ in 0..ROUNDS {
            start.wait();
            // Takes some away, as blocks of audio do.
            heard = receiver.take().unwrap_or(heard);
            start.wait();
            heard = receiver.take().unwrap_or(heard);
            stale += usize::from(!Arc::ptr_eq(&heard, &session.checked().timeline));
        }
    });
    assert_eq!(stale, 0, "of {ROUNDS} rounds an older score plays");
}
