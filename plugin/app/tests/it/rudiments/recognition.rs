//! All 40 in all rotations, and near misses.

use super::sheet::{cell, sheet};
use super::{STRICT, find};
use barform_app::craft::rudiments::*;
use barform_app::music::*;

/// Every rotation of every rudiment with both leads: found as itself, whole,
/// and as nothing else.
#[test]
fn all_are_found_in_all_rotations_and_none_falsely() {
    let mut tried = 0;
    for r in Rudiments::builtin().all() {
        for lead in [Hand::Right, Hand::Left] {
            for rotation in 0..r.strokes.len() {
                for cycles in [1, 2] {
                    let mut strokes = sheet(&r.name, lead).repeat(cycles);
                    strokes.rotate_left(rotation);
                    let cell = cell(&strokes, Beats::new(1, 8));
                    for accents in [true, false] {
                        let look = Look { accents, ..STRICT };
                        let finds = find(&cell, look);
                        let what = format!("{} {lead:?} {rotation} {finds:?}", r.name);
                        assert_eq!(finds.len(), 1, "{what}");
                        let found = &finds[0];
                        assert_eq!(found.named.name, r.name, "{what}");
                        assert_eq!(found.named.rotation, rotation, "{what}");
                        assert_eq!(found.named.lead, lead, "{what}");
                        assert_eq!(found.strokes.len(), strokes.len(), "{what}");
                        assert_eq!((found.first.slot, found.last.slot), (0, strokes.len() - 1));
                        assert_eq!(found.also, [], "{what}");
                        tried += 1;
                    }
                }
            }
        }
    }
    // Two leads, once and twice round, with and without accents.
    let strokes: usize = Rudiments::builtin()
        .all()
        .iter()
        .map(|r| r.strokes.len())
        .sum();
    assert_eq!(tried, strokes * 8);
}

/// One rudiment with one thing wrong is not that rudiment.
#[test]
fn near_misses_are_not_found() {
    for r in Rudiments::builtin().all() {
        // As short as it may be, so that nothing wrong can be left outside.
        let mut whole = sheet(&r.name, Hand::Right);
        whole.truncate(r.least);
        let not_found = |strokes: &[(Stroke, i64)], look: Look, what: &str| {
            let finds = find(&cell(strokes, Beats::new(1, 8)), look);
            let hit = finds
                .iter()
                .flat_map(|f| [&f.named].into_iter().chain(&f.also));
            let hit = hit.filter(|n| n.name == r.name).count();
            assert_eq!(hit, 0, "{}: {what}: {finds:?}", r.name);
        };
        let loose = Look {
            accents: false,
            ..STRICT
        };
        assert_eq!(
            find(&cell(&whole, Beats::new(1, 8)), STRICT)[0].named.name,
            r.name
        );

        // One stroke short.
        if whole.len() > 1 {
            not_found(&whole[1..], loose, "first stroke missing");
            not_found(&whole[..whole.len() - 1], loose, "last stroke missing");
        }
        for i in 0..whole.len() {
            let with = |change: &dyn Fn(&mut (Stroke, i64))| {
                let mut changed = whole.clone();
                change(&mut changed[i]);
                changed
            };
            let one_hand = with(&|(s, _)| s.limb = s.limb.hand().unwrap().other().into());
            not_found(&one_hand, loose, &format!("hand {i} changed"));
            not_found(
                &with(&|(s, _)| s.buzz = !s.buzz),
                loose,
                &format!("buzz {i}"),
            );
            if whole[i].0.graces.is_empty() {
                let flam = with(&|(s, _)| {
                    let other = s.limb.hand().unwrap().other();
                    s.graces = Graces::from_hands(&[other]).unwrap();
                });
                not_found(&flam, loose, &format!("flam too many at {i}"));
            } else {
                not_found(
                    &with(&|(s, _)| s.graces = Graces::NONE),
                    loose,
                    "no grace note",
                );
                let more = with(&|(s, _)| {
                    let mut hands: Vec<Hand> = s.graces.iter().collect();
                    hands.push(hands[0]);
                    s.graces = Graces::from_hands(&hands).unwrap();
                });
                not_found(&more, loose, "one grace note more");
                let wrong = with(&|(s, _)| {
                    let hands: Vec<Hand> = s.graces.iter().map(Hand::other).collect();
                    s.graces = Graces::from_hands(&hands).unwrap();
                });
                not_found(&wrong, loose, "grace notes by the wrong hand");
            }
            let foot = with(&|(s, _)| *s = Stroke::plain(Limb::KickFoot));
            not_found(&foot, loose, &format!("stroke {i} by the foot"));
            let accent = with(&|(s, _)| {
                s.level = if s.level == Level::Accent {
                    Level::Normal
                } else {
                    Level::Accent
                };
            });
            not_found(&accent, STRICT, &format!("accent {i}"));
            // Any time but the last one, and the free one before a new lead.
            let free = r.strokes.len() - 1;
            if i + 1 < whole.len() && (i % r.strokes.len() != free || r.strokes.len() < 3) {
                let late = with(&|(_, gap)| *gap *= 3);
                // Of two strokes there is no proportion to break; and a long note
                // elsewhere may make another rotation, never one in place.
                let finds = find(&cell(&late, Beats::new(1, 8)), loose);
                let hit = |n: &Named| n.name == r.name && n.rotation == 0;
                let whole_again = finds
                    .iter()
                    .any(|f| hit(&f.named) || f.also.iter().any(hit));
                assert!(
                    whole.len() < 3 || !whole_again,
                    "{}: rhythm {i}: {finds:?}",
                    r.name
                );
            }
        }
    }
}
