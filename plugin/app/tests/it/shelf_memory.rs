//! What the editor remembers: the files opened last, and how it looks.

use barform_app::shelf::{MAX_RECENT, Prefs, Recent, RecentFile, ShelfError, Stamp, Theme};
use proptest::prelude::*;
use std::fs;
use std::path::{Path, PathBuf};

fn paths(files: &[RecentFile]) -> Vec<&Path> {
    files.iter().map(|f| f.path.as_path()).collect()
}

#[test]
fn the_last_twelve_are_remembered_each_once() {
    let folder = tempfile::tempdir().unwrap();
    let recent = Recent::at(folder.path().join("deep/er/recent.toml"));
    assert!(recent.list().unwrap().is_empty());
    let file = |i: usize| folder.path().join(format!("{i}.barform"));
    for i in 0..15 {
        fs::write(file(i), "").unwrap();
        recent.opened(&file(i)).unwrap();
    }
    let expected: Vec<PathBuf> = (3..15).rev().map(file).collect();
    let listed = recent.list().unwrap();
    assert_eq!(MAX_RECENT, 12);
    assert_eq!(paths(&listed), expected);
    assert!(
        listed
            .iter()
            .all(|f| !f.missing && f.opened.unwrap() <= Stamp::now())
    );

    recent.opened(&file(7)).unwrap();
    let listed = recent.list().unwrap();
    assert_eq!(listed[0].path, file(7));
    assert_eq!(listed.len(), 12);
    // The same file by another way.
    fs::create_dir(folder.path().join("x")).unwrap();
    let listed = recent
        .opened(&folder.path().join("x/../9.barform"))
        .unwrap();
    assert_eq!(listed.len(), 12);
    assert_eq!(
        listed
            .iter()
            .filter(|f| f.path.ends_with("9.barform"))
            .count(),
        1
    );

    fs::remove_file(file(7)).unwrap();
    let listed = recent.list().unwrap();
    let missing: Vec<&RecentFile> = listed.iter().filter(|f| f.missing).collect();
    assert_eq!(missing.len(), 1);
    assert_eq!(missing[0].path, file(7));
    recent.forget(&file(7)).unwrap();
    assert_eq!(recent.list().unwrap().len(), 11);
    assert!(file(8).exists());
    recent.clear().unwrap();
    assert!(recent.list().unwrap().is_empty());
}

#[test]
fn windows_that_open_files_at_once_lose_none() {
    let folder = tempfile::tempdir().unwrap();
    let list = folder.path().join("recent.toml");
    std::thread::scope(|scope| {
        for i in 0..MAX_RECENT {
            let list = &list;
            scope.spawn(move || {
                Recent::at(list)
                    .opened(Path::new(&format!("/f/{i}")))
                    .unwrap()
            });
        }
    });
    let listed = Recent::at(&list).list().unwrap();
    assert_eq!(listed.len(), MAX_RECENT);
    assert!(listed.iter().all(|f| f.missing));
}

#[test]
fn a_damaged_list_is_set_aside_and_a_newer_one_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("recent.toml");
    let recent = Recent::at(&path);
    for (i, bytes) in [
        b"version = 1\n[content]\nfiles = 3\n".as_slice(),
        b"\xff",
        b"files = []",
    ]
    .into_iter()
    .enumerate()
    {
        fs::write(&path, bytes).unwrap();
        assert!(recent.list().is_err());
        assert_eq!(fs::read(&path).unwrap(), bytes, "reading changes nothing");
        assert_eq!(recent.opened(Path::new("/a")).unwrap().len(), 1);
        let aside = ["recent.damaged", "recent 2.damaged", "recent 3.damaged"][i];
        assert_eq!(fs::read(folder.path().join(aside)).unwrap(), bytes);
    }
    let newer = "version = 2\n[content]\nshape = \"unknown\"\n";
    fs::write(&path, newer).unwrap();
    let error = recent.opened(Path::new("/a")).unwrap_err();
    assert!(
        matches!(
            error,
            ShelfError::Newer {
                read: 2,
                known: 1,
                ..
            }
        ),
        "{error}"
    );
    assert_eq!(fs::read_to_string(&path).unwrap(), newer);
}

#[test]
fn a_list_by_hand_may_hold_too_much() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("recent.toml");
    let mut text = String::from("version = 1\n");
    for i in 0..30 {
        text += &format!("[[content.files]]\npath = \"/f/{}\"\n", i / 2);
    }
    fs::write(&path, text).unwrap();
    let listed = Recent::at(&path).list().unwrap();
    assert_eq!(listed.len(), MAX_RECENT);
    assert_eq!(listed[1].path, Path::new("/f/1"));
    assert_eq!(listed[1].opened, None);
}

#[test]
fn preferences_start_plain_and_keep_what_is_changed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("editor.toml");
    let plain = Prefs::load(&path).unwrap();
    assert_eq!((plain.theme, plain.scale_percent), (Theme::Dark, 100));
    assert_eq!(
        (plain.reduced_motion, plain.latency_offset_ms),
        (false, 0.0)
    );
    assert!(!path.exists());
    Prefs::update(&path, |p| p.theme = Theme::Light).unwrap();
    // Another window changes another thing.
    let both = Prefs::update(&path, |p| p.latency_offset_ms = -12.5).unwrap();
    assert_eq!((both.theme, both.latency_offset_ms), (Theme::Light, -12.5));
    assert_eq!(Prefs::load(&path).unwrap(), both);
}

/// One stored sample of each version is read for ever.
#[test]
fn version_1_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("editor.toml");
    let text = "version = 1\n\n[content]\ntheme = \"system\"\nscale_percent = 250\n\
                reduced_motion = true\nlatency_offset_ms = 40.0\n";
    fs::write(&path, text).unwrap();
    let prefs = Prefs::load(&path).unwrap();
    let expected = Prefs {
        theme: Theme::System,
        scale_percent: 250,
        reduced_motion: true,
        latency_offset_ms: 40.0,
    };
    assert_eq!(prefs, expected);
    fs::write(&path, "version = 1\n[content]\nlatency_offset_ms = 5\n").unwrap();
    assert_eq!(Prefs::load(&path).unwrap().latency_offset_ms, 5.0);
}

#[test]
fn values_out_of_range_are_told_with_their_place() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("editor.toml");
    for (line, place, message) in [
        ("scale_percent = 74", ":3:17: ", "75 to 250 %"),
        ("scale_percent = 251", ":3:17: ", "251 %"),
        ("latency_offset_ms = 1000.5", ":3:21: ", "-1000 to 1000 ms"),
        ("latency_offset_ms = nan", ":3:21: ", "NaN ms"),
        ("theme = \"blue\"", ":3:9: ", "blue"),
        ("them = \"dark\"", ":3:1: ", "them"),
    ] {
        fs::write(&path, format!("version = 1\n[content]\n{line}\n")).unwrap();
        let error = Prefs::load(&path).unwrap_err().to_string();
        assert!(error.contains(place) && error.contains(message), "{error}");
    }
    fs::remove_file(&path).unwrap();
    for change in [
        (|p: &mut Prefs| p.scale_percent = 300) as fn(&mut Prefs),
        |p| p.latency_offset_ms = f64::INFINITY,
        |p| p.latency_offset_ms = f64::NAN,
    ] {
        let refused = Prefs::update(&path, change);
        assert!(matches!(refused, Err(ShelfError::OutOfRange { .. })));
        assert!(!path.exists());
    }
}

proptest! {
    #[test]
    fn preferences_are_read_back_equal(
        scale in 75_u16..=250,
        motion in any::<bool>(),
        latency in -1_000.0..=1_000.0,
    ) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("editor.toml");
        let kept = Prefs::update(&path, |p| {
            p.scale_percent = scale;
            p.reduced_motion = motion;
            p.latency_offset_ms = latency;
        });
        prop_assert_eq!(Prefs::load(&path).unwrap(), kept.unwrap());
    }

    #[test]
    fn any_path_that_is_text_comes_back(names in proptest::collection::vec("[^\0/]{1,20}", 1..14)) {
        let folder = tempfile::tempdir().unwrap();
        let recent = Recent::at(folder.path().join("recent.toml"));
        let mut last = Vec::new();
        for name in &names {
            let path = Path::new("/nowhere").join(name);
            let path = std::path::absolute(path).unwrap();
            last.retain(|p| *p != path);
            last.insert(0, path.clone());
            recent.opened(&path).unwrap();
        }
        last.truncate(MAX_RECENT);
        let listed = recent.list().unwrap();
        prop_assert_eq!(paths(&listed), last);
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.toml");
        fs::write(&path, &bytes).unwrap();
        let _ = Recent::at(&path).list();
        prop_assert!(Prefs::load(&path).is_err());
        prop_assert_eq!(&fs::read(&path).unwrap(), &bytes);
        // Set aside, not lost.
        Prefs::update(&path, |p| p.reduced_motion = true).unwrap();
        prop_assert_eq!(fs::read(folder.path().join("x.damaged")).unwrap(), bytes);
        prop_assert!(Prefs::load(&path).unwrap().reduced_motion);
    }
}
