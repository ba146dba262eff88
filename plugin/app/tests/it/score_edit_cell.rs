//! Edits of cells: every action, the strokes and the lines it leaves.

use crate::score_edit_support;

use barform_app::music::{Articulation, Beats, Limb, Span, Stroke, Voice};
use barform_app::score::Score;
use barform_app::score::edit::{CellEdit, Edit, Lines, Owner, Way};
use score_edit_support::*;

/// The sticking and voices of cell C after an edit of it.
fn on_c(edit: CellEdit) -> [String; 2] {
    let done = do_cell(&score("C"), "C", edit);
    let [_, sticking, voices] = lines(&done.score, "C");
    [sticking, voices]
}

fn stroke(limb: Limb, voice: Voice) -> Stroke {
    Stroke {
        voice,
        ..Stroke::plain(limb)
    }
}

#[test]
fn a_stroke_is_put_beside_others_and_taken_away() {
    let tom = stroke(Limb::LeftHand, Voice::Tom1);
    let put = |slot, stroke| CellEdit::Put { slot, stroke };
    let [sticking, voices] = on_c(put(2, tom));
    assert_eq!(sticking, "R L L L  R L R L");
    // Only what is needed is said.
    assert_eq!(voices, "snare . tom1 snare  . . . .");
    let kick = Stroke::plain(Limb::KickFoot);
    let [sticking, voices] = on_c(put(0, kick));
    assert_eq!(
        [sticking.as_str(), voices.as_str()],
        ["K L R L  R L R L", ""]
    );
    // The other limb's stroke stays; a limb's own is replaced.
    let add = |stroke| CellEdit::Add { slot: 1, stroke };
    let [sticking, voices] = on_c(add(kick));
    assert_eq!(
        [sticking.as_str(), voices.as_str()],
        ["R L+K R L  R L R L", ""]
    );
    let [sticking, voices] = on_c(add(stroke(Limb::RightHand, Voice::Ride)));
    assert_eq!(sticking, "R R+L R L  R L R L");
    assert_eq!(voices, "snare ride+snare snare .  . . . .");
    let [sticking, _] = on_c(add(tom));
    assert_eq!(sticking, "R L R L  R L R L");
    let [sticking, voices] = on_c(CellEdit::Remove {
        slot: 1,
        limb: None,
    });
    assert_eq!(
        [sticking.as_str(), voices.as_str()],
        ["R - R L  R L R L", ""]
    );
    let both = do_cell(&score("C"), "C", add(kick)).score;
    let one = CellEdit::Remove {
        slot: 1,
        limb: Some(Limb::LeftHand),
    };
    assert_eq!(
        lines(&do_cell(&both, "C", one).score, "C")[1],
        "R K R L  R L R L"
    );
}

#[test]
fn accents_ghosts_and_ornaments_turn_on_and_off() {
    let slot = 2;
    let limb = None;
    let mut s = score("C");
    let mut after = |edit: CellEdit| {
        s = do_cell(&s, "C", edit).score;
        lines(&s, "C")[1]
            .split_whitespace()
            .nth(slot)
            .unwrap()
            .to_owned()
    };
    assert_eq!(after(CellEdit::Accent { slot, limb }), "R>");
    assert_eq!(after(CellEdit::Ghost { slot, limb }), "(R)");
    assert_eq!(after(CellEdit::Ghost { slot, limb }), "R");
    // Flam and drag: Percussive Arts Society, 40 International Drum Rudiments.
    for written in ["lR", "llR", "lrlR", "Rz", "R"] {
        assert_eq!(after(CellEdit::Ornament { slot, limb }), written);
    }
    let done = do_cell(&s, "C", CellEdit::Accent { slot, limb });
    assert_eq!(done.label, "Accent on C, slot 3");
    assert_eq!(done.focus.slot, Some(2));
    assert_eq!(done.focus.letter, Some(letter("C")));
}

#[test]
fn articulation_voice_and_hand_change() {
    let (slot, limb) = (1, None);
    let [_, voices] = on_c(CellEdit::Articulation {
        slot,
        limb,
        articulation: Articulation::Rim,
    });
    assert_eq!(voices, "snare snare:rim snare .  . . . .");
    let voice = Voice::Hat;
    let [_, voices] = on_c(CellEdit::Voice { slot, limb, voice });
    assert_eq!(voices, "snare hat snare .  . . . .");
    let [sticking, voices] = on_c(CellEdit::SwapHand { slot });
    assert_eq!(
        [sticking.as_str(), voices.as_str()],
        ["R R R L  R L R L", ""]
    );
    // Two hands at once change places, each with its voice.
    let cross = do_cell(
        &score("C"),
        "C",
        CellEdit::Sticking("lR+L L R L R L R L".into()),
    );
    let ride = CellEdit::Voice {
        slot: 0,
        limb: Some(Limb::RightHand),
        voice: Voice::Ride,
    };
    let cross = do_cell(&cross.score, "C", ride);
    let swapped = do_cell(&cross.score, "C", CellEdit::SwapHand { slot: 0 }).score;
    let strokes = &cell(&swapped, "C").slots[0];
    assert_eq!(
        (strokes[0].limb, strokes[0].voice),
        (Limb::LeftHand, Voice::Ride)
    );
    assert_eq!(
        (strokes[1].limb, strokes[1].voice),
        (Limb::RightHand, Voice::Snare)
    );
    assert!(lines(&swapped, "C")[1].starts_with("rL+R "));
}

#[test]
fn what_cannot_be_done_says_why() {
    let s = score("A C");
    let rest = do_cell(
        &s,
        "C",
        CellEdit::Remove {
            slot: 0,
            limb: None,
        },
    )
    .score;
    let on = |score: &Score, of: &str, edit| {
        let owner = Owner::Cell(letter(of));
        refused(score, Edit::Cell(owner, edit))
    };
    let (slot, limb) = (0, None);
    for edit in [
        CellEdit::Accent { slot, limb },
        CellEdit::Ornament { slot, limb },
        CellEdit::SwapHand { slot },
    ] {
        let message = on(&rest, "C", edit);
        assert!(message.contains("put a stroke there first"), "{message}");
    }
    let message = on(&s, "A", CellEdit::Ornament { slot: 17, limb });
    assert!(message.contains("a foot has no grace notes"), "{message}");
    let choke = CellEdit::Articulation {
        slot,
        limb,
        articulation: Articulation::Choke,
    };
    assert!(on(&s, "C", choke).contains("snare is not played as 'choke'"));
    let message = on(&s, "C", CellEdit::SwapHand { slot: 8 });
    assert!(
        message.contains("C has no slot 9; allowed are 1 to 8"),
        "{message}"
    );
    assert!(on(&s, "D", CellEdit::Clear).contains("unknown cell 'D'"));
    let zero = Span {
        slots: 0,
        length: Beats::ONE,
    };
    assert!(on(&s, "C", CellEdit::AddSpan { at: 0, span: zero }).contains("1 to 64"));
    let last = on(&s, "B", CellEdit::RemoveSpan(0));
    assert!(last.contains("one span only"), "{last}");
    assert!(on(&s, "C", CellEdit::RemoveSpan(2)).contains("no span 3"));
}

#[test]
fn a_span_changes_and_strokes_stay_where_their_time_is() {
    let s = score("C");
    let span = |to: &str, way| CellEdit::Span {
        span: 0,
        to: grid(to).spans()[0],
        way,
    };
    // Every second sixteenth is an eighth; the others find no free slot.
    let done = do_cell(&s, "C", span("2", Way::Time));
    assert_eq!(
        lines(&done.score, "C"),
        ["2 4".into(), "R R  R L R L".to_owned(), String::new()]
    );
    assert_eq!(
        done.told,
        [
            "the stroke on slot 2 is left out: no slot is free for it",
            "the stroke on slot 4 is left out: no slot is free for it"
        ]
    );
    // On triplets the beat stays; the others go to what is free, in order.
    let done = do_cell(&s, "C", span("3", Way::Time));
    assert_eq!(lines(&done.score, "C")[1], "R L R  R L R L");
    assert_eq!(
        done.told[2],
        "the stroke on slot 4 is left out: no slot is free for it"
    );
    // Sixteenths are all among thirty-seconds.
    let done = do_cell(&s, "C", span("8", Way::Time));
    assert_eq!(lines(&done.score, "C")[1], "R - L - R - L -  R L R L");
    assert!(done.told.is_empty());
    // A longer span keeps its start; a shorter one loses its end, told.
    let done = do_cell(&s, "C", span("8@2", Way::Time));
    assert_eq!(lines(&done.score, "C")[1], "R L R L - - - -  R L R L");
    let done = do_cell(&s, "C", span("2@1/2", Way::Time));
    assert_eq!(lines(&done.score, "C")[0], "2@1/2 4");
    assert_eq!(lines(&done.score, "C")[1], "R L  R L R L");
    assert!(
        done.told[1].contains("slot 4 is left out: past the end"),
        "{:?}",
        done.told
    );
    // By number.
    let done = do_cell(&s, "C", span("6", Way::Slot));
    assert_eq!(lines(&done.score, "C")[1], "R L R L - -  R L R L");
    let done = do_cell(&s, "C", span("3", Way::Slot));
    assert_eq!(lines(&done.score, "C")[1], "R L R  R L R L");
    assert_eq!(
        done.told,
        ["the stroke on slot 4 is left out: past the end"]
    );
    // Refit keeps the beat full, carry keeps every stroke.
    let done = do_cell(&s, "C", span("6", Way::Refit));
    assert_eq!(lines(&done.score, "C")[0], "6 4");
    assert!(
        cell(&done.score, "C").slots[..6]
            .iter()
            .all(|s| !s.is_empty())
    );
    let done = do_cell(&s, "C", span("6", Way::Carry));
    assert_eq!(
        lines(&done.score, "C")[..2],
        ["4@2/3 4", "R L R L  R L R L"]
    );
    let message = refused(
        &s,
        Edit::Cell(Owner::Cell(letter("C")), span("3@2", Way::Refit)),
    );
    assert!(message.contains("no whole number of slots"), "{message}");
}

#[test]
fn spans_come_and_go_and_strokes_turn_round() {
    let s = score("C");
    let add = |at| CellEdit::AddSpan {
        at,
        span: grid("6").spans()[0],
    };
    let after = |edit| lines(&do_cell(&s, "C", edit).score, "C");
    assert_eq!(
        after(add(1))[..2],
        ["4 6 4", "R L R L  - - - - - -  R L R L"]
    );
    assert_eq!(after(add(2))[0], "4 4 6");
    assert_eq!(after(CellEdit::RemoveSpan(0))[..2], ["4", "R L R L"]);
    assert_eq!(after(CellEdit::Clear)[1], "- - - -  - - - -");
    let s = score("B");
    let after = |by| lines(&do_cell(&s, "B", CellEdit::Rotate(by)).score, "B");
    assert_eq!(after(1)[1], "K R L K R L");
    assert_eq!(after(1)[2], ". snare . . tom1 .");
    assert_eq!(after(-1), after(5));
    assert_eq!(after(6), lines(&s, "B"));
    let whole = CellEdit::Grid {
        grid: grid("8"),
        way: Way::Time,
    };
    let done = do_cell(&score("C"), "C", whole);
    // Two beats of strokes on one beat: the second beat is past the end.
    assert_eq!(lines(&done.score, "C")[1], "R - L - R - L -");
    assert_eq!(done.told.len(), 4);
    let other = CellEdit::Become(cell(&s, "A"));
    let done = do_cell(&s, "C", other);
    assert_eq!(cell(&done.score, "C").slots, cell(&s, "A").slots);
    assert_eq!(cell(&done.score, "C").letter, letter("C"));
}

#[test]
fn ostinatos_are_edited_the_same_way() {
    let text = file("A") + "[ostinato.hat]\ngrid = \"2\"\nsticking = \"- H\"\n";
    let s = Score::parse(&text, "").unwrap();
    let owner = Owner::Ostinato("hat".into());
    let add = CellEdit::Add {
        slot: 0,
        stroke: Stroke::plain(Limb::KickFoot),
    };
    let done = Edit::Cell(owner.clone(), add).apply(&s).unwrap();
    assert_eq!(Lines::of(&done.score, &owner).unwrap().sticking, "K H");
    assert_eq!(done.score.ostinatos[0].voices, None);
    assert_eq!(done.label, "Stroke on ostinato hat, slot 1");
    let open = CellEdit::Articulation {
        slot: 1,
        limb: None,
        articulation: Articulation::Open,
    };
    let done = Edit::Cell(owner.clone(), open).apply(&done.score).unwrap();
    assert_eq!(
        Lines::of(&done.score, &owner).unwrap().voices,
        ". hatfoot:open"
    );
    let unknown = Edit::Cell(Owner::Ostinato("left".into()), CellEdit::Clear);
    assert!(refused(&s, unknown).contains("no ostinato left"));
}
