//! Top tempos against limits worked out anew, on random strokes.

use super::setup;
use barform_app::craft::playable::*;
use barform_app::craft::sticking::Rules;
use barform_app::music::*;
use num_rational::Ratio;
use proptest::prelude::*;

/// Whether a level's limits all hold at a tempo: worked out anew with wide
/// fractions, from the words of the data file.
fn holds(strokes: &[(Beats, Stroke)], bpm: i128, level: &Ability, levels: &Levels) -> bool {
    let seconds = |b: Beats| Ratio::new(i128::from(b.numer()) * 60, i128::from(b.denom()) * bpm);
    let setup = setup();
    Limb::ALL.into_iter().all(|limb| {
        let mut own: Vec<(Ratio<i128>, Voice)> = Vec::new();
        for (at, s) in strokes {
            let grace = s.graces.iter().any(|h| Limb::from(h) == limb);
            let time = seconds(*at);
            if (s.limb == limb || grace) && own.last().is_none_or(|(last, _)| *last != time) {
                own.push((time, s.voice));
            }
        }
        let rates = level.limits(limb).iter().all(|(n, most)| {
            own.windows(*n).all(|w| {
                let time = w[n - 1].0 - w[0].0;
                Ratio::from_integer(*n as i128 - 1) / time <= Ratio::new(i128::from(most.0), 1000)
            })
        });
        let pairs = own.windows(2).all(|w| {
            let time = w[1].0 - w[0].0;
            let cm = i128::from(setup.cm_between(w[0].1, w[1].1));
            let far = Ratio::from_integer(cm) / time
                > Ratio::from_integer(i128::from(level.travel_cm_per_second));
            time >= Ratio::new(i128::from(levels.closest_ms(limb)), 1000)
                && (limb.is_foot() || !far)
        });
        rates && pairs
    })
}

fn any_strokes() -> impl Strategy<Value = Vec<(Beats, Stroke)>> {
    let limb = proptest::sample::select(vec![
        Limb::RightHand,
        Limb::LeftHand,
        Limb::RightHand,
        Limb::LeftHand,
        Limb::KickFoot,
        Limb::HatFoot,
    ]);
    let voice = proptest::sample::select(vec![Voice::Snare, Voice::Tom1, Voice::Tom4, Voice::Ride]);
    let stroke = (limb, voice, 1_i64..25, proptest::bool::weighted(0.15));
    proptest::collection::vec(stroke, 2..70).prop_map(|strokes| {
        let mut at = Beats::ZERO;
        let timed = strokes.into_iter().map(|(limb, voice, gap, flam)| {
            at = at.checked_add(Beats::new(gap, 24)).unwrap();
            let mut s = Stroke::plain(limb);
            if let Some(hand) = limb.hand() {
                s.voice = voice;
                if flam {
                    s.graces = Graces::from_hands(&[hand.other()]).unwrap();
                }
            }
            (at, s)
        });
        timed.collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// The top tempo holds; one more breaks the very limit that is told.
    #[test]
    fn the_top_tempo_is_tight(strokes in any_strokes(), number in 0_usize..4) {
        let levels = Levels::builtin();
        let level = &levels.all()[number];
        let setup = setup();
        let playable = Playable::new(&strokes, None, &setup, &Rules::builtin());
        let top = playable.top_tempo(level, &levels).unwrap();
        let bpm = i128::from(top.bpm.unwrap_or(0));
        prop_assert!(bpm == 0 || holds(&strokes, bpm, level, &levels));
        match top.limit {
            Some(limit) => {
                prop_assert!(!holds(&strokes, bpm + 1, level, &levels));
                let above = Beats::whole(bpm as i64 + 1);
                prop_assert!(limit.breaks(above));
                let broken = playable.broken(above, level, &levels).unwrap();
                prop_assert!(broken.contains(&limit));
                if bpm > 0 {
                    let at = Beats::whole(bpm as i64);
                    prop_assert_eq!(playable.broken(at, level, &levels).unwrap(), vec![]);
                }
            }
            None => prop_assert_eq!(bpm, i128::from(MAX_BPM)),
        }
    }

    /// A loop is as hard as itself written out often enough.
    #[test]
    fn a_loop_is_itself_written_out(strokes in any_strokes(), number in 0_usize..4) {
        let levels = Levels::builtin();
        let level = &levels.all()[number];
        let setup = setup();
        let length = strokes.last().unwrap().0.checked_add(Beats::new(1, 24)).unwrap();
        let looped = Playable::new(&strokes, Some(length), &setup, &Rules::builtin());
        let mut out = Vec::new();
        // The longest limit is 32 strokes, so 33 times are enough for any limb.
        for turn in 0..34 {
            let from = length.checked_mul(Beats::whole(turn)).unwrap();
            out.extend(strokes.iter().map(|(at, s)| (at.checked_add(from).unwrap(), *s)));
        }
        let written = Playable::new(&out, None, &setup, &Rules::builtin());
        let (a, b) = (looped.top_tempo(level, &levels), written.top_tempo(level, &levels));
        prop_assert_eq!(a.unwrap().bpm, b.unwrap().bpm);
    }
}
