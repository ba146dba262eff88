//! Takes: where strokes land, against a search over all slots in wide exact
//! numbers; and what cell they make.

use barform_app::craft::sticking::{Ask, Rules};
use barform_app::music::{
    Articulation, Beats, Cell, Channel, Grid, Hand, Key, Kit, Letter, Level, Limb, Slot, Span,
    Stroke, Velocity, Voice,
};
use barform_app::played::{Hands, Landed, Loudness, Over, Round, Struck, Take};
use barform_app::played::{late, moment, voice_of};
use num_rational::Ratio;
use proptest::collection::vec;
use proptest::prelude::*;

type Wide = Ratio<i128>;

fn wide(beats: Beats) -> Wide {
    Ratio::new(i128::from(beats.numer()), i128::from(beats.denom()))
}

/// The nearest slot, found by trying every slot of the rounds before, at and
/// after the moment; of two as near the later. Nothing of the library's
/// arithmetic is used.
fn searched(grid: &Grid, at: Wide) -> (i128, usize, Wide) {
    let mut starts = Vec::new();
    let mut start = Wide::from_integer(0);
    for span in grid.spans() {
        let slots = i128::from(span.slots);
        starts.extend((0..slots).map(|i| start + wide(span.length) * Ratio::new(i, slots)));
        start += wide(span.length);
    }
    let around = (at / start).floor().to_integer();
    let mut best: Option<(Wide, i128, usize, Wide)> = None;
    for round in around - 1..=around + 1 {
        for (slot, from) in starts.iter().enumerate() {
            let off = at - (start * Wide::from_integer(round) + from);
            let far = if off < Wide::from_integer(0) {
                -off
            } else {
                off
            };
            // Slots come in order of time, so a later one wins a tie.
            if best.is_none_or(|(least, ..)| far <= least) {
                best = Some((far, round, slot, off));
            }
        }
    }
    let (_, round, slot, off) = best.unwrap();
    (round, slot, off)
}

fn grid() -> impl Strategy<Value = Grid> {
    let length = prop_oneof![
        4 => Just(Beats::ONE),
        1 => Just(Beats::whole(2)),
        1 => Just(Beats::new(1, 2)),
        1 => (1_i64..30, 1_i64..14).prop_map(|(n, d)| Beats::new(n, d)),
    ];
    let span = (1_u8..=64, length).prop_map(|(slots, length)| Span::new(slots, length).unwrap());
    vec(span, 1..5).prop_map(|spans| Grid::new(spans).unwrap())
}

/// Moments anywhere, and those that are as near to two slots.
fn at(grid: &Grid) -> impl Strategy<Value = Beats> + use<> {
    let bounds = grid.slot_bounds().unwrap();
    let ties = bounds.len() - 1;
    prop_oneof![
        (-40_000_000_i64..40_000_000).prop_map(|n| Beats::new(n, 1_000_000)),
        (0..ties).prop_map(move |i| {
            let sum = bounds[i].checked_add(bounds[i + 1]).unwrap();
            sum.checked_mul(Beats::new(1, 2)).unwrap()
        }),
    ]
}

proptest! {
    #[test]
    fn a_stroke_lands_on_the_nearest_slot_ties_up(
        (grid, at) in grid().prop_flat_map(|grid| (Just(grid.clone()), at(&grid))),
    ) {
        let landed = Round::of(&grid).unwrap().land(at).unwrap();
        let (round, slot, off) = searched(&grid, wide(at));
        prop_assert_eq!((i128::from(landed.round), landed.slot, wide(landed.off)), (round, slot, off));
    }

    #[test]
    fn whole_rounds_later_is_the_same_slot_later(
        (grid, at) in grid().prop_flat_map(|grid| (Just(grid.clone()), at(&grid))),
        rounds in -20_i64..20,
    ) {
        let round = Round::of(&grid).unwrap();
        let here = round.land(at).unwrap();
        let by = round.length().checked_mul(Beats::whole(rounds)).unwrap();
        let there = round.land(at.checked_add(by).unwrap()).unwrap();
        prop_assert_eq!(there, Landed { round: here.round + rounds, ..here });
    }

    /// A position is read to the nearest millionth: those on which the float is
    /// exact are off by half of one at most.
    #[test]
    fn a_floating_position_is_read_to_the_nearest_millionth(n in -100_000_000_000_i64..100_000_000_000) {
        let fine = 1_i64 << 32;
        let read = wide(moment(n as f64 / fine as f64).unwrap());
        let off = read - Ratio::new(i128::from(n), i128::from(fine));
        let half = Ratio::new(1_i128, 2_000_000);
        prop_assert!(off <= half && off >= -half, "{off}");
        prop_assert_eq!(1_000_000 % read.denom(), 0);
    }

    /// Whoever plays what is written, late or early by less than half the
    /// shortest slot, in any round, gets back what is written.
    #[test]
    fn what_is_written_and_played_is_what_comes_back(
        cell in cell(),
        shift in -49_i64..50,
        round in 0_i64..9,
    ) {
        let mut take = Take::new(&cell.grid).unwrap();
        let shortest = take.round().shortest().unwrap();
        let shift = shortest.checked_mul(Beats::new(shift, 100)).unwrap();
        let ahead = take.round().length().checked_mul(Beats::whole(round)).unwrap();
        for (slot, strokes) in cell.slots.iter().enumerate() {
            let start = take.round().start(slot).unwrap();
            let at = start.checked_add(ahead).unwrap().checked_add(shift).unwrap();
            for stroke in strokes {
                let landed = take.strike(at, struck(stroke.voice, level_velocity(stroke.level))).unwrap();
                prop_assert_eq!((landed.slot, landed.round, landed.off), (slot, round, shift));
            }
        }
        let played = cell_of(&take, &cell, Over::Replace);
        prop_assert_eq!(heard(&played.cell), heard(&cell));
        prop_assert!(played.told.is_empty(), "{:?}", played.told);
        // Nothing is changed by playing it once more over itself.
        let twice = cell_of(&take, &played.cell, Over::Overdub);
        prop_assert_eq!(twice.cell, played.cell);
    }

    /// Whatever is hit, the cell can be written down: a limb plays once a slot,
    /// feet their pedals, and what is not there was told.
    #[test]
    fn whatever_is_hit_two_hands_and_two_feet_can_play_it(
        cell in cell(),
        hits in vec((0_i64..8_000_000, 0_usize..16, 1_u8..=127), 0..40),
        over in prop_oneof![Just(Over::Replace), Just(Over::Overdub)],
    ) {
        let mut hits = hits;
        hits.sort_unstable();
        let mut take = Take::new(&cell.grid).unwrap();
        for (at, voice, velocity) in &hits {
            take.strike(Beats::new(*at, 1_000_000), struck(Voice::ALL[*voice], *velocity)).unwrap();
        }
        let played = cell_of(&take, &cell, over).cell;
        prop_assert_eq!(&played.grid, &cell.grid);
        prop_assert_eq!(played.slots.len(), cell.grid.slot_count());
        for slot in &played.slots {
            for (i, stroke) in slot.iter().enumerate() {
                prop_assert!(slot[..i].iter().all(|s| s.limb < stroke.limb), "{slot:?}");
                let foot = matches!(stroke.voice, Voice::Kick | Voice::HatFoot);
                prop_assert_eq!(stroke.limb.is_foot(), foot);
            }
        }
    }
}

/// A cell of at most two drums and two feet a slot, without ornaments.
fn cell() -> impl Strategy<Value = Cell> {
    let level = prop_oneof![Just(Level::Ghost), Just(Level::Normal), Just(Level::Accent)];
    let hand = (2_usize..16, level).prop_filter_map("a drum", |(voice, level)| {
        let voice = Voice::ALL[voice];
        (voice != Voice::HatFoot).then_some((voice, level))
    });
    let slot = vec(hand, 0..=2);
    let grid = prop_oneof![
        Just("4"),
        Just("6"),
        Just("4 6"),
        Just("3@2"),
        Just("1@1/2 3@1/2")
    ];
    (grid, vec((slot, any::<bool>()), 16)).prop_map(|(grid, slots)| {
        let grid = barform_app::score::read_grid(grid).unwrap();
        let count = grid.slot_count();
        let slots = slots.into_iter().take(count).map(|(hands, kick)| {
            let mut slot: Slot = Vec::new();
            for ((voice, level), limb) in hands.into_iter().zip([Limb::RightHand, Limb::LeftHand]) {
                if slot.iter().all(|s| s.voice != voice) {
                    slot.push(Stroke {
                        voice,
                        level,
                        ..Stroke::plain(limb)
                    });
                }
            }
            if kick {
                slot.push(Stroke::plain(Limb::KickFoot));
            }
            slot
        });
        Cell {
            letter: Letter::new("A").unwrap(),
            slots: slots.collect(),
            grid,
        }
    })
}

fn struck(voice: Voice, velocity: u8) -> Struck {
    let velocity = Velocity::new(velocity).unwrap();
    Struck {
        voice,
        articulation: Articulation::Plain,
        level: Loudness::default().level(velocity),
        velocity,
        limb: None,
    }
}

fn level_velocity(level: Level) -> u8 {
    match level {
        Level::Ghost => 30,
        Level::Normal => 80,
        Level::Accent => 120,
    }
}

fn cell_of(take: &Take, written: &Cell, over: Over) -> barform_app::played::Played {
    let rules = Rules::builtin();
    let setup = rules.setup("right-handed", &Kit::general_midi()).unwrap();
    let ask = Ask::new(Beats::whole(90), setup);
    let hands = Hands {
        ask: &ask,
        rules: &rules,
    };
    take.cell(written, over, hands).unwrap()
}

/// What can be heard of a cell: drums and levels slot by slot.
fn heard(cell: &Cell) -> Vec<Vec<(Voice, Level)>> {
    let one = |slot: &Slot| {
        let mut heard: Vec<_> = slot.iter().map(|s| (s.voice, s.level)).collect();
        heard.sort();
        heard
    };
    cell.slots.iter().map(one).collect()
}

fn sixteenths() -> Cell {
    Cell {
        letter: Letter::new("A").unwrap(),
        grid: Grid::per_beat(4).unwrap(),
        slots: vec![Slot::new(); 4],
    }
}

fn play(hits: &[(f64, Voice, u8)]) -> Take {
    let mut take = Take::new(&sixteenths().grid).unwrap();
    for (at, voice, velocity) in hits {
        take.strike(moment(*at).unwrap(), struck(*voice, *velocity))
            .unwrap();
    }
    take
}

#[test]
fn past_the_middle_of_the_last_slot_is_the_first_of_the_next_round() {
    let take = play(&[
        (0.9, Voice::Snare, 80),
        (-0.05, Voice::Snare, 80),
        (0.875, Voice::Snare, 80),
    ]);
    let places: Vec<_> = take
        .hits()
        .iter()
        .map(|h| (h.landed.round, h.landed.slot))
        .collect();
    assert_eq!(places, [(1, 0), (0, 0), (1, 0)]);
    assert_eq!(take.hits()[0].landed.off, Beats::new(-1, 10));
}

#[test]
fn latency_is_a_length_in_beats_at_the_tempo() {
    // 60 beats a minute: a second a beat.
    assert_eq!(late(25.0, 60.0), Some(Beats::new(1, 40)));
    assert_eq!(late(-25.0, 120.0), Some(Beats::new(-1, 20)));
    assert_eq!(moment(f64::NAN), None);
    assert_eq!(moment(f64::INFINITY), None);
}

#[test]
fn feet_play_their_pedals_and_hands_alternate() {
    let take = play(&[
        (0.0, Voice::Snare, 120),
        (0.0, Voice::Kick, 80),
        (0.26, Voice::Snare, 30),
        (0.5, Voice::Snare, 80),
        (0.74, Voice::HatFoot, 80),
        (0.76, Voice::Snare, 80),
    ]);
    let played = cell_of(&take, &sixteenths(), Over::Replace);
    let limbs: Vec<Vec<(Limb, Level)>> = played
        .cell
        .slots
        .iter()
        .map(|slot| slot.iter().map(|s| (s.limb, s.level)).collect())
        .collect();
    use Limb::*;
    assert_eq!(
        limbs,
        [
            vec![(RightHand, Level::Accent), (KickFoot, Level::Normal)],
            vec![(LeftHand, Level::Ghost)],
            vec![(RightHand, Level::Normal)],
            vec![(LeftHand, Level::Normal), (HatFoot, Level::Normal)],
        ]
    );
}

#[test]
fn a_softer_stroke_right_before_another_is_its_grace_note_and_one_after_a_bounce() {
    // At 90 beats a minute 30 ms are 0.045 beats.
    let take = play(&[
        (0.205, Voice::Tom1, 40),
        (0.25, Voice::Tom1, 110),
        (0.5, Voice::Snare, 100),
        (0.53, Voice::Snare, 20),
    ]);
    let played = cell_of(&take, &sixteenths(), Over::Replace);
    let [tom] = played.cell.slots[1][..] else {
        panic!("{:?}", played.cell)
    };
    assert_eq!((tom.graces.name(), tom.level), ("flam", Level::Accent));
    let grace: Vec<Hand> = tom.graces.iter().collect();
    assert_ne!(Some(grace[0]), tom.limb.hand());
    assert_eq!(played.cell.slots[2].len(), 1);
    assert!(played.cell.slots[0].is_empty());
    assert_eq!(played.told.len(), 1);
    assert!(played.told[0].contains("bounce"), "{:?}", played.told);
}

#[test]
fn a_third_drum_for_two_hands_is_left_out_and_told() {
    let take = play(&[
        (0.0, Voice::Snare, 80),
        (0.0, Voice::Crash, 80),
        (0.01, Voice::Ride, 80),
    ]);
    let played = cell_of(&take, &sixteenths(), Over::Replace);
    assert_eq!(played.cell.slots[0].len(), 2);
    assert_eq!(
        played.told,
        ["ride on slot 1 is left out: no hand or foot is free for it"]
    );
}

#[test]
fn the_last_round_counts_and_a_stroke_can_be_taken_back() {
    let mut take = play(&[
        (0.0, Voice::Snare, 120),
        (1.02, Voice::Snare, 30),
        (1.25, Voice::Snare, 80),
    ]);
    let level = |take: &Take, slot: usize| {
        let played = cell_of(take, &sixteenths(), Over::Replace);
        played.cell.slots[slot].first().map(|s| s.level)
    };
    assert_eq!(level(&take, 0), Some(Level::Ghost));
    assert_eq!(level(&take, 1), Some(Level::Normal));
    take.take_back();
    assert_eq!(level(&take, 1), None);
    take.take_back();
    assert_eq!(level(&take, 0), Some(Level::Accent));
    assert_eq!(take.median_off(), Some(Beats::ZERO));
}

#[test]
fn overdubbing_leaves_what_was_written_and_its_hands() {
    let mut written = sixteenths();
    written.slots[0] = vec![Stroke::plain(Limb::LeftHand)];
    let take = play(&[(0.0, Voice::Hat, 80), (0.5, Voice::Kick, 80)]);
    let played = cell_of(&take, &written, Over::Overdub).cell;
    let limbs: Vec<_> = played.slots[0].iter().map(|s| (s.limb, s.voice)).collect();
    assert_eq!(
        limbs,
        [
            (Limb::RightHand, Voice::Hat),
            (Limb::LeftHand, Voice::Snare)
        ]
    );
    assert_eq!(played.slots[2], [Stroke::plain(Limb::KickFoot)]);
    let replaced = cell_of(&take, &written, Over::Replace).cell;
    assert_eq!(replaced.slots[0].len(), 1);
}

#[test]
fn keys_are_the_kits_own_first_and_general_midi_after() {
    let mut kit = Kit::general_midi();
    let key = |n| Key::new(n).unwrap();
    let ten = Channel::PERCUSSION;
    // GM Level 1: 38 acoustic snare, 36 bass drum 1, 35 acoustic bass drum.
    assert_eq!(
        voice_of(&kit, ten, key(38)),
        Some((Voice::Snare, Articulation::Plain))
    );
    assert_eq!(
        voice_of(&kit, ten, key(35)),
        Some((Voice::Kick, Articulation::Plain))
    );
    // A pad that sends on another channel.
    let one = Channel::new(1).unwrap();
    assert_eq!(
        voice_of(&kit, one, key(46)),
        Some((Voice::Hat, Articulation::Open))
    );
    // The kit's own key goes before the standard's: 38 plays a tom here.
    kit.voice_mut(Voice::Snare).keys = [None; Articulation::COUNT];
    kit.voice_mut(Voice::Tom1).keys[Articulation::Plain.index()] = Some(key(38));
    assert_eq!(
        voice_of(&kit, ten, key(38)),
        Some((Voice::Tom1, Articulation::Plain))
    );
    assert_eq!(
        voice_of(&kit, ten, key(40)),
        Some((Voice::Snare, Articulation::Rim))
    );
    // No drum: the metronome click, and a key that no map names.
    assert_eq!(voice_of(&kit, ten, key(33)), None);
    assert_eq!(voice_of(&kit, ten, key(100)), None);
}
