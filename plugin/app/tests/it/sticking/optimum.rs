//! The optimum against trying every sticking there is.

use barform_app::craft::sticking::*;
use barform_app::music::*;
use proptest::prelude::*;

fn any_hand() -> impl Strategy<Value = Hand> {
    prop_oneof![Just(Hand::Right), Just(Hand::Left)]
}

fn any_stroke() -> impl Strategy<Value = OpenStroke> {
    let voice = proptest::sample::select(vec![
        Voice::Snare,
        Voice::Snare,
        Voice::Snare,
        Voice::Hat,
        Voice::Tom1,
        Voice::Tom2,
        Voice::Tom4,
        Voice::Ride,
        Voice::Crash,
    ]);
    let level = prop_oneof![3 => Just(Level::Normal), 1 => Just(Level::Accent)];
    let graces = prop_oneof![
        6 => Just(Graces::NONE),
        1 => proptest::collection::vec(any_hand(), 1..4)
            .prop_map(|h| Graces::from_hands(&h).unwrap()),
    ];
    let hand = prop_oneof![6 => Just(None), 1 => any_hand().prop_map(Some)];
    // The time holds the gap before the stroke in twelfths; 0 is "at once".
    let gap = prop_oneof![1 => Just(0_i64), 6 => 1_i64..7];
    (
        voice,
        level,
        graces,
        proptest::bool::weighted(0.1),
        hand,
        gap,
    )
        .prop_map(|(voice, level, graces, buzz, hand, gap)| OpenStroke {
            at: Beats::new(gap, 12),
            voice,
            level,
            graces,
            buzz,
            hand,
        })
}

/// Up to twelve strokes; at most two at once.
fn any_passage() -> impl Strategy<Value = Passage> {
    (
        proptest::collection::vec(any_stroke(), 1..13),
        any::<bool>(),
    )
        .prop_map(|(mut strokes, looped)| {
            let (mut at, mut at_once) = (Beats::ZERO, 0);
            for stroke in &mut strokes {
                at_once = if stroke.at.is_zero() { at_once + 1 } else { 1 };
                let gap = if at_once > 2 {
                    Beats::new(1, 4)
                } else {
                    stroke.at
                };
                at_once = if at_once > 2 { 1 } else { at_once };
                at = at.checked_add(gap).unwrap();
                stroke.at = at;
            }
            let length = at.checked_add(Beats::new(1, 4)).unwrap();
            Passage {
                strokes,
                looped: looped.then_some(length),
            }
        })
}

/// Every sticking that keeps the settled hands and gives two strokes at once to
/// two hands (unless both are settled): the cheapest, and of those the one with
/// the lead hand first.
fn by_trying_all(passage: &Passage, ask: &Ask, rules: &Rules) -> (i64, Vec<Hand>) {
    let n = passage.strokes.len();
    let mut found: Option<(i64, Vec<Hand>)> = None;
    // Counting upwards with the first stroke as the highest digit and the lead
    // hand as 0 goes through the stickings in order of preference.
    for number in 0..1_u32 << n {
        let hands: Vec<Hand> = (0..n)
            .map(|i| {
                if number >> (n - 1 - i) & 1 == 0 {
                    ask.lead
                } else {
                    ask.lead.other()
                }
            })
            .collect();
        let keeps = passage
            .strokes
            .iter()
            .zip(&hands)
            .all(|(s, h)| s.hand.is_none_or(|k| k == *h));
        let pairs = (1..n).all(|i| {
            let (a, b) = (&passage.strokes[i - 1], &passage.strokes[i]);
            a.at != b.at || hands[i - 1] != hands[i] || (a.hand.is_some() && b.hand.is_some())
        });
        if !keeps || !pairs {
            continue;
        }
        let total = Sticking::of(passage, &hands, ask, rules).unwrap().total;
        if found.as_ref().is_none_or(|(best, _)| total < *best) {
            found = Some((total, hands));
        }
    }
    found.unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn the_optimum_is_that_of_trying_all(
        passage in any_passage(),
        bpm in 40_i64..260,
        setup in proptest::sample::select(vec!["right-handed", "left-handed", "open-handed"]),
        lead in any_hand(),
        doubles in any::<bool>(),
        memory in 2_i64..13,
    ) {
        let rules = Rules::from_toml(&format!("[limits]\nmemory = {memory}")).unwrap();
        let mut ask = Ask::new(
            Beats::whole(bpm),
            rules.setup(setup, &Kit::general_midi()).unwrap(),
        );
        (ask.lead, ask.doubles) = (lead, doubles);
        let found = Sticking::best(&passage, &ask, &rules).unwrap();
        let (total, hands) = by_trying_all(&passage, &ask, &rules);
        prop_assert_eq!(found.total, total);
        prop_assert_eq!(found.hands, hands);
    }
}
