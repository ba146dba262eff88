//! Key maps in files.

use crate::common;

use barform_app::music::{Articulation, Key, Kit, Voice};
use barform_app::score::{Score, kit_text, read_kit};
use barform_app::shelf::Kits;
use proptest::prelude::*;
use std::fs;

fn other() -> Kit {
    let mut kit = Kit::general_midi();
    kit.voice_mut(Voice::Snare).keys[Articulation::Plain.index()] = Key::new(62);
    kit.order = vec![Voice::Ride, Voice::Snare];
    kit
}

#[test]
fn key_maps_are_kept_changed_and_removed() {
    let folder = tempfile::tempdir().unwrap();
    let kits = Kits::open(folder.path().join("kits"));
    assert!(kits.list().unwrap().kits.is_empty());
    let id = kits.save("Practice Müll", &Kit::general_midi()).unwrap();
    assert_eq!(id.to_string(), "Practice Mull.toml");
    assert_eq!(kits.load(&id).unwrap(), Kit::general_midi());
    kits.replace(&id, &other()).unwrap();
    let second = kits.save("Practice müll", &Kit::general_midi()).unwrap();
    let listing = kits.list().unwrap();
    assert_eq!(listing.kits.len(), 2);
    assert_eq!(
        (listing.kits[0].name.as_str(), &listing.kits[0].kit),
        ("Practice Müll", &other())
    );

    let id = kits.rename(&id, "Stage").unwrap();
    assert_eq!(kits.load(&id).unwrap(), other());
    let gone = kits.remove(&second).unwrap();
    assert_eq!(kits.list().unwrap().kits.len(), 1);
    assert_eq!(kits.restore(&gone).unwrap(), second);
    assert!(kits.save("", &other()).is_err());
    let mut broken = other();
    broken.order.clear();
    assert!(
        kits.save("broken", &broken)
            .unwrap_err()
            .to_string()
            .contains("order")
    );
    assert_eq!(kits.list().unwrap().kits.len(), 2);
}

#[test]
fn mistakes_are_told_with_their_place() {
    for (text, place, message) in [
        (
            "barform = 1\n[kit.snair]\nkey = 38\n",
            "k.toml:2:6",
            "did you mean 'snare'?",
        ),
        (
            "barform = 1\n[kit.snare]\nkey = 128\n",
            "k.toml:3:7",
            "0 to 127",
        ),
        (
            "barform = 1\n[kit]\norder = \"hat gong\"\n",
            "k.toml:3:14",
            "'gong'",
        ),
        ("barform = 1\n[kit]\norder = \"\"\n", "k.toml:3:9", "order"),
        (
            "barform = 1\n[kit.hat]\nopen = \"no\"\n",
            "k.toml:3:8",
            "none",
        ),
        ("barform = 1\ntempo = 90\n", "k.toml:2:1", "barform kit"),
        ("[kit.snare]\nkey = 38\n", "k.toml:1:1", "barform = 1"),
        ("barform = 2\n", "k.toml:1:11", "version"),
        ("barform = 1\n[kit\n", "k.toml:2:", "unclosed table"),
    ] {
        let error = read_kit(text, "k.toml").unwrap_err().to_string();
        assert!(
            error.starts_with(place) && error.contains(message),
            "{error}"
        );
    }
    assert_eq!(read_kit("barform = 1\n", "k").unwrap(), Kit::general_midi());
}

#[test]
fn damaged_key_maps_are_told_about() {
    let folder = tempfile::tempdir().unwrap();
    let kits = Kits::open(folder.path());
    kits.save("good", &other()).unwrap();
    let text = "#: name = \"bad\"\nbarform = 1\n[kit.snare]\nkey = \"x\"\n";
    fs::write(folder.path().join("bad.toml"), text).unwrap();
    fs::write(folder.path().join("bytes.toml"), [0xff; 9]).unwrap();
    fs::write(folder.path().join("huge.toml"), vec![b'#'; 70_000]).unwrap();
    let listing = kits.list().unwrap();
    assert_eq!((listing.kits.len(), listing.damaged.len()), (1, 3));
    let error = listing.damaged[0].error.to_string();
    assert!(error.starts_with("bad.toml:4:7: "), "{error}");
    assert_eq!(
        fs::read_to_string(folder.path().join("bad.toml")).unwrap(),
        text
    );
}

proptest! {
    #[test]
    fn a_key_map_is_read_back_equal(score in common::score()) {
        let text = kit_text(&score.kit);
        prop_assert_eq!(&read_kit(&text, "k").unwrap(), &score.kit, "{}", text);
    }

    /// The words are those of a score file: the same lines say the same there.
    #[test]
    fn a_score_file_reads_the_same_lines(score in common::score()) {
        let bare = Score { kit: Kit::general_midi(), ..score.clone() };
        let lines = kit_text(&score.kit);
        let tables = lines.strip_prefix("barform = 1\n").unwrap();
        let text = bare.to_toml() + tables;
        prop_assert_eq!(Score::parse(&text, "s").unwrap(), score);
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.toml"), &bytes).unwrap();
        let listing = Kits::open(folder.path()).list().unwrap();
        prop_assert_eq!(listing.kits.len() + listing.damaged.len(), 1);
    }
}
