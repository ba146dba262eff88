//! The sticking that comes out is the cheapest there is, and every cost is the
//! one that the rules state.

mod optimum;

use barform_app::craft::sticking::*;
use barform_app::music::*;

fn ask(bpm: i64) -> Ask {
    let setup = Rules::builtin()
        .setup("right-handed", &Kit::general_midi())
        .unwrap();
    Ask::new(Beats::whole(bpm), setup)
}

fn stroke(at: Beats, voice: Voice) -> OpenStroke {
    OpenStroke {
        at,
        voice,
        level: Level::Normal,
        graces: Graces::NONE,
        buzz: false,
        hand: None,
    }
}

/// Even strokes on the snare, `per_beat` to the beat.
fn even(n: i64, per_beat: i64) -> Passage {
    let strokes = (0..n)
        .map(|i| stroke(Beats::new(i, per_beat), Voice::Snare))
        .collect();
    Passage {
        strokes,
        looped: None,
    }
}

fn best(passage: &Passage, ask: &Ask) -> Sticking {
    Sticking::best(passage, ask, &Rules::builtin()).unwrap()
}

fn hands(letters: &str) -> Vec<Hand> {
    letters
        .chars()
        .map(|c| if c == 'R' { Hand::Right } else { Hand::Left })
        .collect()
}

/// Cost of given hands, and the causes in order.
fn cost(passage: &Passage, letters: &str, ask: &Ask) -> (i64, Vec<Cause>) {
    let s = Sticking::of(passage, &hands(letters), ask, &Rules::builtin()).unwrap();
    assert_eq!(
        s.total,
        s.charges.iter().flatten().map(|c| c.cost).sum::<i64>()
    );
    (
        s.total,
        s.charges.iter().flatten().map(|c| c.cause).collect(),
    )
}

#[test]
fn even_strokes_alternate_and_the_lead_hand_keeps_the_beat() {
    assert_eq!(best(&even(8, 4), &ask(120)).letters(), "RLRLRLRL");
    let mut left = ask(120);
    left.lead = Hand::Left;
    assert_eq!(best(&even(8, 4), &left).letters(), "LRLRLRLR");
    // Natural alternation of triplets leaves the lead hand every other beat;
    // that is cheaper than a double in every beat (6 against 10).
    assert_eq!(best(&even(6, 3), &ask(90)).letters(), "RLRLRL");
}

#[test]
fn a_sweep_round_the_toms_does_not_cross() {
    // Snare, high tom, floor tom in sixteenths, four of each: hand to hand.
    let voices = [Voice::Snare, Voice::Tom1, Voice::Tom4];
    let mut passage = even(12, 4);
    for (i, s) in passage.strokes.iter_mut().enumerate() {
        s.voice = voices[i / 4];
    }
    let found = best(&passage, &ask(100));
    assert_eq!(found.letters(), "RLRLRLRLRLRL");
    let causes = found.charges.iter().flatten();
    assert_eq!(causes.filter(|c| c.cause == Cause::Crossing).count(), 0);
}

#[test]
fn a_settled_hand_is_kept_and_the_rest_goes_round_it() {
    let mut passage = even(8, 4);
    for (i, hand) in [(2, Hand::Right), (3, Hand::Right)] {
        passage.strokes[i].hand = Some(hand);
    }
    // A paradiddle is what is left: R L R R L R L L costs one more double than
    // R L R R L R L R; the second has the fewest.
    assert_eq!(best(&passage, &ask(100)).letters(), "RLRRLRLR");
}

#[test]
fn at_once_needs_both_hands_and_the_near_one_for_each() {
    let mut passage = even(1, 1);
    passage.strokes = vec![
        stroke(Beats::ZERO, Voice::Ride),
        stroke(Beats::ZERO, Voice::Snare),
    ];
    assert_eq!(best(&passage, &ask(100)).letters(), "RL");
    passage.strokes.reverse();
    assert_eq!(best(&passage, &ask(100)).letters(), "LR");
    passage.strokes.push(stroke(Beats::ZERO, Voice::Tom1));
    let none = Sticking::best(&passage, &ask(100), &Rules::builtin());
    assert_eq!(
        none,
        Err(StickingError::TooManyAtOnce {
            at: Beats::ZERO,
            strokes: 3
        })
    );
}

#[test]
fn set_ups_say_who_plays_the_hat() {
    let rules = Rules::builtin();
    let kit = Kit::general_midi();
    let groove = |setup: &str| {
        let ask = Ask::new(Beats::whole(100), rules.setup(setup, &kit).unwrap());
        let strokes = vec![
            stroke(Beats::ZERO, Voice::Hat),
            stroke(Beats::ZERO, Voice::Snare),
        ];
        let found = best(
            &Passage {
                strokes,
                looped: None,
            },
            &ask,
        );
        (found.letters(), found.total)
    };
    // Right hand crosses over to the hat: 2. The other way round: hat hand 4.
    assert_eq!(groove("right-handed"), ("RL".into(), 2));
    assert_eq!(groove("left-handed"), ("LR".into(), 2));
    assert_eq!(groove("open-handed"), ("LR".into(), 0));
    assert_eq!(groove("left-open-handed"), ("RL".into(), 0));
}

#[test]
fn each_cost_is_what_the_rules_state() {
    // At 60 bpm a sixteenth is 250 ms: 4 strokes a second from one hand, which
    // is free. R R L: the same hand again, 10. On beat 1 the lead hand: 0.
    assert_eq!(
        cost(&even(3, 4), "RRL", &ask(60)),
        (10, vec![Cause::Repeat])
    );
    // L first: start 3, on the beat 6.
    assert_eq!(
        cost(&even(2, 4), "LR", &ask(60)),
        (9, vec![Cause::Start, Cause::OffLead])
    );
    // R R R R: three times 10; third in a row 8, fourth 2 × 8.
    let run = |in_a_row| Cause::Run { in_a_row };
    assert_eq!(
        cost(&even(4, 4), "RRRR", &ask(60)),
        (
            30 + 8 + 16,
            vec![Cause::Repeat, Cause::Repeat, run(3), Cause::Repeat, run(4)]
        )
    );
    // At 120 a sixteenth is 125 ms, 8 a second, 4 above what is free: 3 × 4 for
    // the double, and 10 for the repeat. L then comes 3 slots after nothing.
    assert_eq!(cost(&even(3, 4), "RRL", &ask(120)).0, 10 + 12);
    // An accent on the second of a double: 6 more.
    let mut accent = even(3, 4);
    accent.strokes[1].level = Level::Accent;
    assert_eq!(cost(&accent, "RRL", &ask(60)).0, 10 + 6);
    // After the hand's own buzz: 12 more.
    let mut buzz = even(3, 4);
    buzz.strokes[0].buzz = true;
    assert_eq!(cost(&buzz, "RRL", &ask(60)).0, 10 + 12);
    // A flam right after the left hand's stroke: the left hand has the grace
    // note, 4 a second, free. At 120: 8 a second, 12.
    let mut flam = even(2, 4);
    flam.strokes[1].graces = Graces::from_hands(&[Hand::Left]).unwrap();
    assert_eq!(cost(&flam, "LR", &ask(60)).0, 9);
    assert_eq!(cost(&flam, "LR", &ask(120)).0, 9 + 12);
    // Its grace note settled to its own hand: 40.
    flam.strokes[1].hand = Some(Hand::Left);
    assert_eq!(cost(&flam, "RL", &ask(60)).0, 40);
}

#[test]
fn travel_is_measured_in_centimetres() {
    // Snare (0, 0) to tom1 (-12, 38): root of 144 + 1444 = 39.8, so 39 cm, for
    // one hand in 500 ms: 3 for 39 cm, 78 cm a second is free. Repeat 10.
    let mut passage = even(2, 2);
    passage.strokes[1].voice = Voice::Tom1;
    let travel = Cause::Travel { cm: 39 };
    assert_eq!(
        cost(&passage, "RR", &ask(60)),
        (13, vec![Cause::Repeat, travel])
    );
    // At 240 in 125 ms: 312 cm a second, 112 above what is free: 4 × 1.12 = 4.
    // 8 strokes a second: 12.
    let (total, causes) = cost(&passage, "RR", &ask(240));
    assert_eq!(total, 10 + 12 + 3 + 4);
    assert!(causes.contains(&Cause::Haste { cm_per_second: 312 }));
    // Left hand on the first crash (-35), right hand on the snare (0): apart.
    // The other way round: 35 cm of overlap, more than the 20 that are free.
    passage.strokes[1].voice = Voice::Crash;
    assert_eq!(cost(&passage, "RL", &ask(60)).0, 0);
    assert_eq!(
        cost(&passage, "LR", &ask(60)),
        (
            3 + 6 + 12,
            vec![Cause::Start, Cause::OffLead, Cause::Crossing]
        )
    );
}

#[test]
fn what_cannot_be_played_is_said() {
    // 64th notes at 120 bpm: 32 a second with one hand.
    let s = Sticking::of(&even(2, 16), &hands("RR"), &ask(120), &Rules::builtin()).unwrap();
    assert_eq!(s.impossible().collect::<Vec<_>>(), [1]);
    assert!(
        s.reasons(1).iter().any(|r| {
            r == "impossible: the right hand would play at 32 strokes a second: 1000000"
        })
    );
    // Two settled on one hand at once are kept and told.
    let mut at_once = even(1, 1);
    at_once.strokes.push(at_once.strokes[0]);
    at_once
        .strokes
        .iter_mut()
        .for_each(|s| s.hand = Some(Hand::Right));
    let s = best(&at_once, &ask(100));
    assert_eq!(s.letters(), "RR");
    assert_eq!(s.impossible().collect::<Vec<_>>(), [1]);
    // Doubles where none are allowed.
    let mut single = ask(120);
    single.doubles = false;
    let s = Sticking::of(&even(2, 4), &hands("RR"), &single, &Rules::builtin()).unwrap();
    assert_eq!(s.impossible().collect::<Vec<_>>(), [1]);
    // At 60 in eighths, 2 a second: no double.
    single.tempo = Beats::whole(60);
    let s = Sticking::of(&even(2, 2), &hands("RR"), &single, &Rules::builtin()).unwrap();
    assert_eq!(s.impossible().count(), 0);
    // Ride to hi-hat (110 cm to the left, 25 towards the player: 112 cm) in a
    // sixteenth at 140 bpm, 107142 us: 1045 cm a second.
    let mut far = even(2, 4);
    (far.strokes[0].voice, far.strokes[1].voice) = (Voice::Ride, Voice::Hat);
    let (_, causes) = cost(&far, "RR", &ask(140));
    assert!(
        causes.contains(&Cause::TooFar {
            cm_per_second: 1045
        }),
        "{causes:?}"
    );
}

#[test]
fn a_loop_counts_its_way_back() {
    // Three sixteenths of a bar of three: once through R L R costs nothing; in
    // a loop the right hand would repeat across the join, so the optimum pays.
    let open = even(3, 4);
    assert_eq!(best(&open, &ask(60)).total, 0);
    let looped = open.looped_every(Beats::new(3, 4));
    let found = best(&looped, &ask(60));
    // R R L and R L R pay one double each; the rule for ties
    // takes the lead hand where they first differ.
    assert_eq!((found.letters().as_str(), found.total), ("RRL", 10));
    // A single stroke that loops follows itself: memory 6 tells of six in a
    // row before this seventh: repeat 10 and run 5 × 8, at one a second.
    let one = even(1, 1).looped_every(Beats::ONE);
    assert_eq!(best(&one, &ask(60)).total, 10 + 40);
}

#[test]
fn cells_get_hands_and_feet_stay() {
    let plain = Stroke::plain;
    let mut slots: Vec<Slot> = vec![vec![plain(Limb::RightHand)]; 8];
    slots[1] = vec![plain(Limb::KickFoot)];
    slots[4].push(plain(Limb::KickFoot));
    slots[6] = vec![];
    slots[5][0].graces = Graces::from_hands(&[Hand::Right, Hand::Right]).unwrap();
    let grid = Grid::new(vec![Span::new(4, Beats::ONE).unwrap(); 2]).unwrap();
    let cell = Cell {
        letter: Letter::new("A").unwrap(),
        grid,
        slots,
    };
    let rules = Rules::builtin();
    let (stuck, sticking) = stick_cell(&cell, |_, _| true, true, &ask(92), &rules).unwrap();
    assert_eq!(sticking.hands.len(), 6);
    assert_eq!(stuck.slots[1], cell.slots[1]);
    assert_eq!(stuck.slots[4][1], cell.slots[4][1]);
    for (slot, strokes) in stuck.slots.iter().enumerate() {
        assert_eq!(strokes.len(), cell.slots[slot].len());
        for stroke in strokes.iter().filter(|s| !s.graces.is_empty()) {
            let hand = stroke.limb.hand().unwrap();
            assert!(stroke.graces.iter().all(|g| g == hand.other()));
        }
    }
    // With nothing open nothing changes.
    let (same, _) = stick_cell(&cell, |_, _| false, false, &ask(92), &rules).unwrap();
    assert_eq!(same, cell);
}

#[test]
fn the_kit_order_moves_the_toms() {
    let rules = Rules::builtin();
    let mut kit = Kit::general_midi();
    let usual = rules.setup("right-handed", &kit).unwrap();
    kit.order.swap(2, 3);
    let swapped = rules.setup("right-handed", &kit).unwrap();
    assert_eq!(usual.cm_right(Voice::Tom1), swapped.cm_right(Voice::Tom2));
    assert_eq!(usual.cm_right(Voice::Tom2), swapped.cm_right(Voice::Tom1));
    let left = rules.setup("left-handed", &Kit::general_midi()).unwrap();
    for voice in Voice::ALL {
        assert_eq!(usual.cm_right(voice), -left.cm_right(voice), "{voice:?}");
    }
}

#[test]
fn rules_are_data_and_say_what_is_wrong() {
    let rules = Rules::from_toml(
        "[cost]\nrepeat = 1\n[setup.mine]\nmirror = false\nlead = \"L\"\nhat_hand = \"R\"\n",
    )
    .unwrap();
    assert_eq!(rules.cost.repeat, 1);
    assert_eq!(rules.cost.run, Rules::builtin().cost.run);
    assert_eq!(
        rules.setup("mine", &Kit::general_midi()).unwrap().lead,
        Hand::Left
    );
    for (text, words) in [
        (
            "[cost]\nrepeat = -1",
            "2:10: cost.repeat: is -1; allowed is a whole number 0 to 10000",
        ),
        ("[cost]\nrepaet = 1", "unknown field `repaet`"),
        (
            "[limits]\nmemory = 13",
            "limits.memory: is 13; allowed is a whole number 2 to 12",
        ),
        ("[place]\ntimpani = [0, 0]", "place.timpani"),
        (
            "[place]\nsnare = [0, 900]",
            "place.snare: is 900; allowed is a whole number -300 to 300",
        ),
        (
            "[setup.left-handed]\nlead = \"B\"",
            "setup.left-handed.lead: is 'B'; allowed is R or L",
        ),
        ("[setup.x]\nlead = \"L\"", "missing field"),
        ("[cost]\nrepeat = \"x\"", "cost.repeat"),
        ("nonsense", "not TOML"),
    ] {
        let error = Rules::from_toml(text).unwrap_err().to_string();
        assert!(error.contains(words), "{text:?}: {error}");
    }
    let error = rules
        .setup("upside-down", &Kit::general_midi())
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("left-handed, left-open-handed, mine"),
        "{error}"
    );
}
