//! The shelf as a user meets it: a folder of files.

use crate::common;
use crate::shelf_support;

use barform_app::music::{Beats, Letter, Voice};
use barform_app::score::{Score, read_grid};
use barform_app::shelf::{Folders, ItemId, Label, Order, Query, Shelf, ShelfError, Stamp};
use proptest::prelude::*;
use std::ffi::OsStr;
use std::fs;
use std::path::Path;

use shelf_support::*;

#[test]
fn what_is_put_on_the_shelf_lies_there_and_is_a_score_file() {
    let (_folder, shelf) = shelf();
    assert!(names(&shelf, &Query::default()).is_empty());
    assert!(!shelf.dir().exists(), "looking makes no folder");

    let before = Stamp::now();
    let note = "Slowly at first.\n\n\"Loud\" later: ♩ = 92 \\ # no comment";
    let id = shelf
        .add(
            label("Six round the toms", &["toms", "Füße"], note),
            &score(SIX),
        )
        .unwrap();
    assert_eq!(id.to_string(), "Six round the toms.barform");
    let item = shelf.item(&id).unwrap();
    assert_eq!(item.name, "Six round the toms");
    assert_eq!(item.tags, ["toms", "Füße"]);
    assert_eq!(item.note, note);
    assert!(item.added >= before && item.added <= Stamp::now());
    assert_eq!(item.used, None);
    assert_eq!(item.length, Beats::whole(2));
    assert!(!item.has_form);
    assert_eq!(
        item.cells[0].voices,
        [Voice::Kick, Voice::Tom1, Voice::Tom2]
    );
    assert_eq!(shelf.load(&id).unwrap(), score(SIX));
    assert_eq!(
        shelf.cells(&id).unwrap(),
        score(SIX).cells_resolved().unwrap()
    );

    // The file opens without the shelf.
    let text = fs::read_to_string(shelf.dir().join(id.as_os_str())).unwrap();
    assert_eq!(Score::parse(&text, "anywhere").unwrap(), score(SIX));
    let form = shelf.add(label("Form", &[], ""), &score(FORM)).unwrap();
    assert!(shelf.item(&form).unwrap().has_form);
}

#[test]
fn comments_of_a_text_stay_and_its_old_label_goes() {
    let (_folder, shelf) = shelf();
    let text = format!("#: name = \"old\"\n# by hand\n{SIX}# end\n");
    let id = shelf.add_text(label("new", &[], ""), &text).unwrap();
    let kept = shelf.text(&id).unwrap();
    assert!(kept.ends_with(&format!("\n# by hand\n{SIX}# end\n")));
    assert!(!kept.contains("old"));
    shelf.retag(&id, &["a".into()]).unwrap();
    assert!(
        shelf
            .text(&id)
            .unwrap()
            .ends_with(&format!("\n# by hand\n{SIX}# end\n"))
    );
}

#[test]
fn items_of_one_name_are_all_kept() {
    let (_folder, shelf) = shelf();
    let files: Vec<String> = ["Fill", "fill", "FILL!", "Fill"]
        .into_iter()
        .map(|name| {
            shelf
                .add(label(name, &[], ""), &score(SIX))
                .unwrap()
                .to_string()
        })
        .collect();
    let expected = [
        "Fill.barform",
        "fill 2.barform",
        "FILL 3.barform",
        "Fill 4.barform",
    ];
    assert_eq!(files, expected);
    assert_eq!(names(&shelf, &Query::default()).len(), 4);
}

#[test]
fn an_item_is_renamed_with_its_file_and_only_its_own_lines_change() {
    let (_folder, shelf) = shelf();
    let id = shelf.add(label("One", &["x"], "n"), &score(SIX)).unwrap();
    shelf.add(label("Two", &[], ""), &score(FORM)).unwrap();
    shelf.mark_used(&id).unwrap();
    let used = shelf.item(&id).unwrap().used;
    assert!(used.is_some());

    let two = shelf.rename(&id, "Two").unwrap();
    assert_eq!(two.to_string(), "Two 2.barform");
    let item = shelf.item(&two).unwrap();
    assert_eq!((item.name.as_str(), item.used), ("Two", used));
    assert_eq!((item.tags, item.note.as_str()), (vec!["x".to_owned()], "n"));
    assert!(matches!(shelf.load(&id), Err(ShelfError::NotThere { .. })));
    // To the name it has: nothing moves.
    assert_eq!(shelf.rename(&two, "Two").unwrap(), two);
    // Only the case differs.
    assert_eq!(
        shelf.rename(&two, "TWO").unwrap().to_string(),
        "TWO 2.barform"
    );
    assert_eq!(shelf.list(&Query::default()).unwrap().items.len(), 2);
}

#[test]
fn notes_and_scores_are_changed_in_place() {
    let (_folder, shelf) = shelf();
    let id = shelf.add(label("One", &["x"], ""), &score(SIX)).unwrap();
    let added = shelf.item(&id).unwrap().added;
    shelf.annotate(&id, "left hand leads").unwrap();
    shelf.replace(&id, &score(FORM)).unwrap();
    let item = shelf.item(&id).unwrap();
    assert_eq!((item.note.as_str(), item.added), ("left hand leads", added));
    assert_eq!(item.tags, ["x"]);
    assert_eq!(shelf.load(&id).unwrap(), score(FORM));
}

#[test]
fn what_is_removed_can_be_put_back() {
    let (_folder, shelf) = shelf();
    let id = shelf.add(label("One", &["x"], ""), &score(SIX)).unwrap();
    shelf.mark_used(&id).unwrap();
    let gone = shelf.remove(&id).unwrap();
    assert!(names(&shelf, &Query::default()).is_empty());
    let removed = shelf.removed(&Query::default()).unwrap();
    assert_eq!(removed.items[0].id, gone);
    assert!(matches!(
        shelf.remove(&id),
        Err(ShelfError::NotThere { .. })
    ));

    // Meanwhile another has taken the name; and it is not the one that was used.
    let other = shelf.add(label("One", &[], ""), &score(FORM)).unwrap();
    assert_eq!(shelf.item(&other).unwrap().used, None);
    let again = shelf.remove(&other).unwrap();
    assert_eq!(again.to_string(), "One 2.barform");
    let back = shelf.restore(&gone).unwrap();
    assert_eq!(back, id);
    assert_eq!(shelf.load(&back).unwrap(), score(SIX));
    assert_eq!(shelf.restore(&again).unwrap().to_string(), "One 2.barform");
    assert!(shelf.removed(&Query::default()).unwrap().items.is_empty());
}

#[test]
fn search_knows_names_tags_notes_and_letters() {
    let (_folder, shelf) = shelf();
    shelf
        .add(label("Tom-Wirbel über Füße", &["Übung"], ""), &score(SIX))
        .unwrap();
    shelf
        .add(
            label("Call and answer", &["warm-up", "form"], "with brushes"),
            &score(FORM),
        )
        .unwrap();
    let found = |text: &str| names(&shelf, &words(text));
    let (tom, call) = (vec!["Tom-Wirbel über Füße"], vec!["Call and answer"]);
    assert_eq!(found("FUSSE"), tom);
    assert_eq!(found("u\u{308}ber"), tom);
    assert_eq!(found("ubung wirbel"), tom);
    assert_eq!(found("ubung answer"), Vec::<&str>::new());
    assert_eq!(found("brush"), call);
    assert_eq!(found("warm"), call);
    assert_eq!(found("B"), call);
    assert_eq!(found("A").len(), 2);
    assert_eq!(found("B'"), Vec::<&str>::new());
    assert_eq!(found("  ").len(), 2);
    let tagged = |tag: &str| {
        names(
            &shelf,
            &Query {
                tags: vec![tag.into()],
                ..Query::default()
            },
        )
    };
    assert_eq!(tagged("ubung"), tom);
    assert_eq!(tagged("warm"), Vec::<&str>::new());
}

#[test]
fn filters_ask_for_one_cell_that_meets_them_all() {
    let (_folder, shelf) = shelf();
    shelf.add(label("six", &[], ""), &score(SIX)).unwrap();
    shelf.add(label("form", &[], ""), &score(FORM)).unwrap();
    let beats = |from, to| Some(Beats::whole(from)..=Beats::whole(to));
    let grid = |text| Some(read_grid(text).unwrap());
    let found = |query: Query| names(&shelf, &query);
    let all = Query::default;
    assert_eq!(
        found(Query {
            beats: beats(2, 2),
            ..all()
        }),
        ["six"]
    );
    // A has one beat, B three, the whole form eight.
    assert_eq!(
        found(Query {
            beats: beats(1, 1),
            ..all()
        }),
        ["form"]
    );
    assert_eq!(
        found(Query {
            beats: beats(8, 8),
            ..all()
        }),
        ["form"]
    );
    assert_eq!(
        found(Query {
            beats: beats(4, 7),
            ..all()
        }),
        Vec::<&str>::new()
    );
    assert_eq!(
        found(Query {
            grid: grid("6"),
            ..all()
        }),
        ["six"]
    );
    assert_eq!(
        found(Query {
            grid: grid("6 6"),
            ..all()
        }),
        ["six"]
    );
    assert_eq!(
        found(Query {
            grid: grid("4"),
            ..all()
        }),
        ["form"]
    );
    assert_eq!(
        found(Query {
            grid: grid("4"),
            beats: beats(3, 3),
            ..all()
        }),
        Vec::<&str>::new()
    );
    let plays = |voices: &[Voice]| {
        found(Query {
            voices: voices.to_vec(),
            ..all()
        })
    };
    assert_eq!(plays(&[Voice::Kick]), ["form", "six"]);
    assert_eq!(plays(&[Voice::Kick, Voice::Tom2]), ["six"]);
    // Snare and crash are in different cells: the form as a whole plays both.
    assert_eq!(plays(&[Voice::Snare, Voice::Crash]), ["form"]);
    assert_eq!(plays(&[Voice::Cowbell]), Vec::<&str>::new());
}

#[test]
fn items_are_sorted_by_name_date_and_use() {
    let (_folder, shelf) = shelf();
    for (name, added) in [
        ("take 10", "2026-01-01T00:00:00Z"),
        ("Take 2", "2026-03-04T12:00:00+02:00"),
        ("étude", "2026-03-04T11:00:00Z"),
    ] {
        put(
            &shelf,
            &format!("{}.barform", added.replace(':', "")),
            format!("#: name = \"{name}\"\n#: added = {added}\n{SIX}"),
        );
    }
    let by = |order| {
        names(
            &shelf,
            &Query {
                order,
                ..Query::default()
            },
        )
    };
    assert_eq!(by(Order::Name), ["étude", "Take 2", "take 10"]);
    assert_eq!(by(Order::Added), ["étude", "Take 2", "take 10"]);
    let used = shelf.dir().join("used");
    fs::create_dir_all(&used).unwrap();
    let listing = shelf.list(&Query::default()).unwrap();
    let file = |name: &str| {
        let id = &listing.items.iter().find(|i| i.name == name).unwrap().id;
        used.join(format!("{id}.used"))
    };
    fs::write(file("take 10"), "2026-05-01T00:00:00Z\n").unwrap();
    fs::write(file("Take 2"), "2026-04-01T00:00:00Z\n").unwrap();
    fs::write(file("étude"), "last week").unwrap();
    assert_eq!(by(Order::Used), ["take 10", "Take 2", "étude"]);
}

#[test]
fn what_cannot_be_kept_is_refused_with_what_can() {
    let (_folder, shelf) = shelf();
    let refused = |label: Label| shelf.add(label, &score(SIX)).unwrap_err().to_string();
    assert!(refused(label("  ", &[], "")).contains("1 to 200 characters"));
    assert!(refused(label("a\nb", &[], "")).contains("one line"));
    assert!(refused(label(&"x".repeat(201), &[], "")).contains("200"));
    assert!(refused(label("a", &[""], "")).contains("the tag"));
    assert!(refused(label("a", &[], &"x".repeat(4_001))).contains("4000"));
    assert!(refused(label("a", &[], "a\u{0}b")).contains("control"));
    let many: Vec<String> = (0..33).map(|i| i.to_string()).collect();
    let many: Vec<&str> = many.iter().map(String::as_str).collect();
    assert!(refused(label("a", &many, "")).contains("at most 32"));
    let mut broken = score(SIX);
    broken.cells.clear();
    assert!(matches!(
        shelf.add(label("a", &[], ""), &broken),
        Err(ShelfError::Score(_))
    ));
    assert!(!shelf.dir().exists());
}

#[test]
fn two_windows_at_once_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("shelf");
    let shared = Shelf::open(&dir).unwrap();
    let id = shared.add(label("shared", &[], ""), &score(SIX)).unwrap();
    const ROUNDS: usize = 40;
    std::thread::scope(|scope| {
        for window in 0..2 {
            let (dir, id) = (&dir, &id);
            scope.spawn(move || {
                let shelf = Shelf::open(dir).unwrap();
                let mut mine = String::new();
                for round in 0..ROUNDS {
                    shelf
                        .add(label("same name", &[], ""), &score(FORM))
                        .unwrap();
                    // Each changes its own part of one item and finds it again.
                    let item = shelf.item(id).unwrap();
                    if window == 0 {
                        assert_eq!(item.tags.concat(), mine);
                        mine = round.to_string();
                        shelf.retag(id, std::slice::from_ref(&mine)).unwrap();
                    } else {
                        assert_eq!(item.note, mine);
                        mine = round.to_string();
                        shelf.annotate(id, &mine).unwrap();
                    }
                }
            });
        }
    });
    let listing = shared.list(&Query::default()).unwrap();
    assert!(listing.damaged.is_empty());
    assert_eq!(listing.items.len(), 2 * ROUNDS + 1);
    let item = shared.item(&id).unwrap();
    let last = (ROUNDS - 1).to_string();
    assert_eq!((item.tags.concat(), item.note), (last.clone(), last));
}

#[test]
fn a_change_in_another_window_is_seen() {
    let (_folder, shelf) = shelf();
    let id = shelf.add(label("one", &["a"], ""), &score(SIX)).unwrap();
    let other = Shelf::open(shelf.dir()).unwrap();
    // Settled long ago, so that both windows remember what they read.
    let file = shelf.dir().join(id.as_os_str());
    let old = std::time::SystemTime::now() - std::time::Duration::from_secs(60);
    fs::File::options()
        .write(true)
        .open(&file)
        .unwrap()
        .set_modified(old)
        .unwrap();
    assert_eq!(names(&other, &Query::default()), ["one"]);
    assert_eq!(names(&other, &Query::default()), ["one"]);
    shelf.retag(&id, &["b".into()]).unwrap();
    assert_eq!(other.list(&Query::default()).unwrap().items[0].tags, ["b"]);
    shelf.remove(&id).unwrap();
    assert!(names(&other, &Query::default()).is_empty());
}

#[test]
fn a_shelf_may_be_used_from_any_thread() {
    fn any_thread<T: Send + Sync + 'static>() {}
    any_thread::<Shelf>();
    any_thread::<ShelfError>();
    any_thread::<barform_app::shelf::Kits>();
    any_thread::<barform_app::shelf::Recent>();
}

/// XDG Base Directory Specification 0.8 (from memory): `$XDG_DATA_HOME` if it is
/// an absolute path, else `$HOME/.local/share`.
#[cfg(target_os = "linux")]
#[test]
fn the_users_folder_is_where_the_system_keeps_data() {
    let set = std::env::var_os("XDG_DATA_HOME").map(std::path::PathBuf::from);
    let data = set
        .filter(|p| p.is_absolute())
        .unwrap_or_else(|| Path::new(&std::env::var_os("HOME").unwrap()).join(".local/share"));
    let folders = Folders::of_user().unwrap();
    assert_eq!(folders.root(), data.join("barform"));
    assert_eq!(folders.shelf(), data.join("barform/shelf"));
    let own = Folders::at("/elsewhere");
    assert_eq!(own.kits(), Path::new("/elsewhere/kits"));
    assert_eq!(own.recent(), Path::new("/elsewhere/recent.toml"));
    assert_eq!(own.editor(), Path::new("/elsewhere/editor.toml"));
}

#[test]
fn an_item_is_never_a_path() {
    for name in [
        "../a.barform",
        "/a.barform",
        "a/b.barform",
        "..",
        "",
        ".a.barform",
        "a.toml",
        "a/",
    ] {
        assert_eq!(ItemId::new(OsStr::new(name), "barform"), None, "{name}");
    }
    assert!(ItemId::new(OsStr::new("a.b.Barform"), "barform").is_some());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_score_comes_back_as_it_was_put_there(score in common::score(), name in "\\PC{1,40}") {
        prop_assume!(!name.trim().is_empty());
        let (_folder, shelf) = shelf();
        let id = shelf.add(label(&name, &[], ""), &score).unwrap();
        prop_assert_eq!(shelf.load(&id).unwrap(), score.clone());
        let listing = shelf.list(&Query::default()).unwrap();
        prop_assert_eq!(&listing.items[0].name, name.trim());
        let letters: Vec<Letter> = listing.items[0].cells.iter().map(|c| c.letter.clone()).collect();
        let expected: Vec<Letter> = score.cells.iter().map(|c| c.letter.clone()).collect();
        prop_assert_eq!(letters, expected);
    }
}
