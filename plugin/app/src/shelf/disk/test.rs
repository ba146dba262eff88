//! A machine that stops before any one step, and what is left of it.

use super::{Disk, Step};
use crate::score::Score;
use crate::shelf::store::Shelf;
use crate::shelf::{Item, ItemId, Label, Listing, Query, ShelfError};
use std::cell::Cell;
use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::Path;

thread_local! {
    /// Steps until the machine stops.
    static LEFT: Cell<u32> = const { Cell::new(u32::MAX) };
}

/// Once stopped, it does nothing any more, tidying up included.
fn stops(_: Step) -> io::Result<()> {
    LEFT.with(|left| match left.get() {
        0 => Err(io::Error::other("the machine stopped")),
        n => {
            left.set(n - 1);
            Ok(())
        }
    })
}

fn denied(_: Step) -> io::Result<()> {
    Err(io::ErrorKind::PermissionDenied.into())
}

fn failing() -> Disk {
    Disk { gate: Some(stops) }
}

fn score(sticking: &str) -> Score {
    let text =
        format!("barform = 1\nform = \"A\"\n[cell.A]\ngrid = \"4\"\nsticking = \"{sticking}\"\n");
    Score::parse(&text, "test").unwrap()
}

fn label(name: &str) -> Label {
    Label::named(name)
}

fn list(dir: &Path) -> Listing {
    let listing = Shelf::open(dir).unwrap().list(&Query::default()).unwrap();
    assert!(listing.damaged.is_empty(), "{:?}", listing.damaged);
    listing
}

/// Does it on a machine that stops before its first step, its second, and so
/// on, until it comes through. `after` sees what another start finds; `true` if
/// it is the new state.
fn at_every_step(
    act: impl Fn(&Shelf, &ItemId) -> Result<(), ShelfError>,
    after: impl Fn(&Shelf, &[Item]) -> bool,
) {
    let (mut old, mut new) = (0, 0);
    for steps in 0..100 {
        let folder = tempfile::tempdir().unwrap();
        let dir = folder.path().join("shelf");
        let sound = Shelf::open(&dir).unwrap();
        let id = sound.add(label("Old name"), &score("R L R L")).unwrap();
        sound.add(label("Bystander"), &score("K - K -")).unwrap();
        let before = fs::read_to_string(dir.join(id.as_os_str())).unwrap();

        LEFT.with(|left| left.set(steps));
        let shelf = Shelf::open_on(failing(), dir.clone()).unwrap();
        let done = act(&shelf, &id);
        let through = LEFT.with(|left| left.replace(u32::MAX)) > 0;

        let items = list(&dir).items;
        assert!(items.iter().any(|i| i.name == "Bystander"));
        let reopened = Shelf::open(&dir).unwrap();
        if after(&reopened, &items) {
            new += 1;
        } else {
            assert!(done.is_err(), "said to be done after {steps} steps");
            let now = fs::read_to_string(dir.join(id.as_os_str())).unwrap();
            assert_eq!(now, before, "after {steps} steps");
            old += 1;
        }
        // What the crash left does not stand in the way of the next try.
        drop(shelf);
        reopened.add(label("Later"), &score("R R L L")).unwrap();
        if through {
            done.unwrap();
            assert!(old > 0 && new > 0);
            return;
        }
    }
    panic!("never came through");
}

#[test]
fn a_new_item_is_there_whole_or_not_at_all() {
    at_every_step(
        |shelf, _| shelf.add(label("New"), &score("L L R R")).map(|_| ()),
        |shelf, items| match items.iter().find(|i| i.name == "New") {
            Some(item) => {
                assert_eq!(shelf.load(&item.id).unwrap(), score("L L R R"));
                assert_eq!(items.len(), 3);
                true
            }
            None => {
                assert_eq!(items.len(), 2);
                false
            }
        },
    );
}

#[test]
fn a_changed_score_is_the_old_or_the_new_one() {
    at_every_step(
        |shelf, id| shelf.replace(id, &score("L L R R")),
        |shelf, items| {
            assert_eq!(items.len(), 2);
            let item = items.iter().find(|i| i.name == "Old name").unwrap();
            shelf.load(&item.id).unwrap() == score("L L R R")
        },
    );
}

#[test]
fn changed_tags_leave_the_score_alone() {
    at_every_step(
        |shelf, id| shelf.retag(id, &["toms".to_owned()]),
        |shelf, items| {
            assert_eq!(items.len(), 2);
            let item = items.iter().find(|i| i.name == "Old name").unwrap();
            assert_eq!(shelf.load(&item.id).unwrap(), score("R L R L"));
            item.tags == ["toms"]
        },
    );
}

#[test]
fn a_renamed_item_is_never_gone_and_never_twice_there() {
    at_every_step(
        |shelf, id| shelf.rename(id, "New name").map(|_| ()),
        |shelf, items| {
            assert_eq!(items.len(), 2);
            let names: BTreeSet<&str> = items.iter().map(|i| i.name.as_str()).collect();
            let new = names.contains("New name");
            assert_eq!(new, !names.contains("Old name"));
            let item = items.iter().find(|i| i.name.ends_with(" name")).unwrap();
            assert_eq!(shelf.load(&item.id).unwrap(), score("R L R L"));
            new
        },
    );
}

#[test]
fn a_removed_item_is_in_one_of_the_two_places() {
    at_every_step(
        |shelf, id| shelf.remove(id).map(|_| ()),
        |shelf, items| {
            let removed = shelf.removed(&Query::default()).unwrap();
            assert_eq!(items.len() + removed.items.len(), 2);
            removed.items.len() == 1
        },
    );
}

#[test]
fn noting_the_use_never_hurts_the_item() {
    for steps in 0..12 {
        let folder = tempfile::tempdir().unwrap();
        let sound = Shelf::open(folder.path()).unwrap();
        let id = sound.add(label("A"), &score("R L R L")).unwrap();
        LEFT.with(|left| left.set(steps));
        let shelf = Shelf::open_on(failing(), folder.path().to_owned()).unwrap();
        let mut into = score("K K K K");
        shelf.insert(&id, &mut into, None).unwrap();
        LEFT.with(|left| left.set(u32::MAX));
        assert_eq!(into.cells.len(), 2);
        assert_eq!(list(folder.path()).items.len(), 1);
    }
}

#[test]
fn a_refusal_of_the_system_is_told_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let sound = Shelf::open(folder.path()).unwrap();
    let id = sound.add(label("Mine"), &score("R L R L")).unwrap();
    let disk = Disk { gate: Some(denied) };
    let shelf = Shelf::open_on(disk, folder.path().to_owned()).unwrap();
    for error in [
        shelf.add(label("New"), &score("R L R L")).unwrap_err(),
        shelf.retag(&id, &["toms".to_owned()]).unwrap_err(),
        shelf.remove(&id).unwrap_err(),
    ] {
        let text = error.to_string();
        assert!(text.contains("you have no permission for it"), "{text}");
        assert!(text.contains(&*folder.path().to_string_lossy()), "{text}");
    }
    // Reading goes on.
    assert_eq!(shelf.list(&Query::default()).unwrap().items.len(), 1);
    assert_eq!(shelf.load(&id).unwrap(), score("R L R L"));
}

#[test]
fn drafts_of_long_ago_are_swept_up_and_fresh_ones_are_not() {
    use std::time::{Duration, SystemTime};
    let folder = tempfile::tempdir().unwrap();
    let draft = |name: &str, hours: u64| {
        let path = folder.path().join(name);
        fs::write(&path, "half a sco").unwrap();
        let time = SystemTime::now() - Duration::from_secs(hours * 3_600);
        fs::File::options()
            .write(true)
            .open(&path)
            .and_then(|f| f.set_modified(time))
            .unwrap();
        path
    };
    let (old, fresh) = (
        draft(".barform-draft-1-0", 25),
        draft(".barform-draft-2-0", 1),
    );
    let foreign = draft(".somebody-else", 1_000);
    assert!(list(folder.path()).items.is_empty());
    assert!(!old.exists() && fresh.exists() && foreign.exists());
}
