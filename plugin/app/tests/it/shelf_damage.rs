//! What the shelf does with files that are not as it would write them, and with
//! folders that do not let it write.

use crate::shelf_support;

use barform_app::score::MAX_FILE_BYTES;
use barform_app::shelf::{ItemId, MAX_ITEMS, Query, Shelf, ShelfError, Stamp};
use proptest::prelude::*;
use shelf_support::*;
use std::ffi::OsStr;
use std::fs;

#[test]
fn damaged_files_are_told_about_and_left_alone() {
    let (_folder, shelf) = shelf();
    shelf.add(label("good", &[], ""), &score(SIX)).unwrap();
    let bad: [(&str, Vec<u8>, &str); 7] = [
        ("bytes.barform", vec![0xff, 0xfe, 0x00], "is not text"),
        ("empty.barform", Vec::new(), "barform = 1"),
        (
            "half.barform",
            SIX.as_bytes()[..60].to_vec(),
            "half.barform:",
        ),
        (
            "label.barform",
            format!("#: name = \"a\"\n#:  tags = 3\n{SIX}").into(),
            "label.barform:2:12: 'tags'",
        ),
        (
            "date.barform",
            format!("#: added = \"soon\"\n{SIX}").into(),
            "date.barform:1:12: 'added'",
        ),
        (
            "large.barform",
            vec![b'#'; MAX_FILE_BYTES + 1],
            "larger than",
        ),
        (
            "letter.barform",
            SIX.replace("\"A\"", "\"Q\"").into(),
            "letter.barform:2:",
        ),
    ];
    for (file, bytes, _) in &bad {
        put(&shelf, file, bytes);
    }
    let listing = shelf.list(&Query::default()).unwrap();
    assert_eq!(listing.items.len(), 1);
    assert_eq!(listing.damaged.len(), bad.len());
    for (file, bytes, reason) in &bad {
        let damaged = listing
            .damaged
            .iter()
            .find(|d| d.id.to_string() == *file)
            .unwrap();
        let text = damaged.error.to_string();
        assert!(text.contains(reason), "{file}: {text}");
        // No change is made to what is not understood, but it may be put away.
        assert_eq!(&fs::read(shelf.dir().join(file)).unwrap(), bytes);
        let moved = shelf.remove(&damaged.id).unwrap();
        assert_eq!(
            &fs::read(shelf.dir().join("removed").join(moved.as_os_str())).unwrap(),
            bytes
        );
    }
    let label = ItemId::new(OsStr::new("label.barform"), "barform").unwrap();
    let back = shelf.restore(&label).unwrap();
    assert!(shelf.rename(&back, "x").is_err() && shelf.retag(&back, &[]).is_err());
    // Its score is not damaged and can be had.
    assert_eq!(shelf.load(&back).unwrap(), score(SIX));
}

#[test]
fn a_file_put_there_by_hand_is_an_item() {
    let (_folder, shelf) = shelf();
    let id = put(&shelf, "From a Friend.BARFORM", format!("\u{feff}{SIX}"));
    let item = shelf.item(&id).unwrap();
    assert_eq!(item.name, "From a Friend");
    assert!(Stamp::now().unix_seconds() - item.added.unix_seconds() < 3_600);
    shelf.retag(&id, &["gift".into()]).unwrap();
    let tagged = shelf.item(&id).unwrap();
    assert_eq!((tagged.name, tagged.added), (item.name, item.added));
    assert_eq!(tagged.tags, ["gift"]);
    for other in [".hidden.barform", "notes.txt", "barform"] {
        fs::write(shelf.dir().join(other), SIX).unwrap();
    }
    assert_eq!(shelf.list(&Query::default()).unwrap().items.len(), 1);
}

#[test]
fn keys_of_a_newer_label_are_kept() {
    let (_folder, shelf) = shelf();
    let id = put(
        &shelf,
        "a.barform",
        format!("#: name = \"a\"\n#: colour = \"red\"\n#: [more]\n#: stars = 5\n{SIX}"),
    );
    shelf.retag(&id, &["x".into()]).unwrap();
    let text = shelf.text(&id).unwrap();
    for line in [
        "#: name = \"a\"",
        "#: tags = [\"x\"]",
        "#: colour = \"red\"",
        "#: [more]",
        "#: stars = 5",
    ] {
        assert!(text.lines().any(|l| l == line), "{line} in\n{text}");
    }
}

#[test]
fn no_more_files_are_taken_than_are_listed() {
    let (_folder, shelf) = shelf();
    fs::create_dir_all(shelf.dir()).unwrap();
    for i in 0..MAX_ITEMS + 2 {
        fs::write(shelf.dir().join(format!("{i:05}.barform")), "").unwrap();
    }
    let listing = shelf.list(&Query::default()).unwrap();
    assert_eq!((listing.damaged.len(), listing.left_out), (MAX_ITEMS, 2));
    let full = shelf.add(label("more", &[], ""), &score(SIX));
    assert!(matches!(
        full,
        Err(ShelfError::Full {
            most: MAX_ITEMS,
            ..
        })
    ));
}

#[test]
fn a_file_where_the_folder_should_be_is_told_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("shelf");
    fs::write(&path, "not a folder").unwrap();
    let text = Shelf::open(&path).unwrap_err().to_string();
    assert!(
        text.contains("was not opened: its folder is a file"),
        "{text}"
    );
    let below = Shelf::open(path.join("below")).unwrap();
    let text = below
        .add(label("a", &[], ""), &score(SIX))
        .unwrap_err()
        .to_string();
    assert!(text.contains("was not made"), "{text}");
    assert_eq!(fs::read_to_string(&path).unwrap(), "not a folder");
}

#[cfg(unix)]
#[test]
fn a_read_only_folder_can_be_read() {
    use std::os::unix::fs::PermissionsExt as _;
    let (_folder, shelf) = shelf();
    let id = shelf.add(label("one", &[], ""), &score(SIX)).unwrap();
    let mode = |m| fs::set_permissions(shelf.dir(), fs::Permissions::from_mode(m)).unwrap();
    mode(0o555);
    // To the system's administrator no folder is read-only.
    let obeyed = fs::write(shelf.dir().join("probe"), "").is_err();
    assert_eq!(shelf.load(&id).unwrap(), score(SIX));
    assert_eq!(names(&shelf, &Query::default()), ["one"]);
    let mut into = score(FORM);
    shelf.insert(&id, &mut into, None).unwrap();
    assert_eq!(into.cells.len(), 3);
    match shelf.add(label("two", &[], ""), &score(SIX)) {
        Ok(_) => assert!(!obeyed),
        Err(error) => {
            assert!(obeyed);
            assert!(
                error.to_string().contains("you have no permission for it"),
                "{error}"
            );
        }
    }
    mode(0o755);
}

#[cfg(unix)]
#[test]
fn a_read_only_item_is_not_written_over() {
    let (_folder, shelf) = shelf();
    let id = shelf.add(label("one", &[], ""), &score(SIX)).unwrap();
    let file = shelf.dir().join(id.as_os_str());
    let mut permissions = fs::metadata(&file).unwrap().permissions();
    permissions.set_readonly(true);
    fs::set_permissions(&file, permissions).unwrap();
    let text = shelf.retag(&id, &["x".into()]).unwrap_err().to_string();
    assert!(text.contains("you have no permission for it"), "{text}");
    assert!(shelf.item(&id).unwrap().tags.is_empty());
}

#[cfg(unix)]
#[test]
fn what_is_no_file_is_told_about_and_keeps_nobody_waiting() {
    let (folder, shelf) = shelf();
    fs::create_dir_all(shelf.dir().join("folder.barform")).unwrap();
    let _socket = std::os::unix::net::UnixListener::bind(shelf.dir().join("s.barform")).unwrap();
    std::os::unix::fs::symlink(folder.path().join("nowhere"), shelf.dir().join("l.barform"))
        .unwrap();
    let listing = shelf.list(&Query::default()).unwrap();
    let told: Vec<String> = listing
        .damaged
        .iter()
        .map(|d| d.error.to_string())
        .collect();
    assert_eq!(told.len(), 3, "{told:?}");
    assert!(told[0].contains("is not a file"), "{told:?}");
    assert!(told[1].contains("it is not there"), "{told:?}");
    assert!(told[2].contains("is not a file"), "{told:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Bytes at random, and a good file with bytes changed.
    #[test]
    fn hostile_files_do_no_harm(
        noise in proptest::collection::vec(any::<u8>(), 0..300),
        hits in proptest::collection::vec((0_usize..400, any::<u8>()), 1..8),
    ) {
        let (_folder, shelf) = shelf();
        shelf.add(label("good", &["x"], "note"), &score(SIX)).unwrap();
        let mut hurt = fs::read(shelf.dir().join("good.barform")).unwrap();
        for (at, byte) in hits {
            let at = at % hurt.len();
            hurt[at] = byte;
        }
        put(&shelf, "noise.barform", &noise);
        put(&shelf, "marked.barform", [b"#: ".as_slice(), &noise].concat());
        put(&shelf, "hurt.barform", &hurt);
        let listing = shelf.list(&Query::default()).unwrap();
        prop_assert_eq!(listing.items.len() + listing.damaged.len(), 4);
        prop_assert!(listing.items.iter().any(|i| i.id.to_string() == "good.barform"));
        prop_assert_eq!(fs::read(shelf.dir().join("hurt.barform")).unwrap(), hurt);
    }
}
