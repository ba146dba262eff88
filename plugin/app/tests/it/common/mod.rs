//! Invented scores for property tests: everything a score can say, in
//! proportions that a check accepts.

// Every test binary uses its own part of this.
#![allow(dead_code)]

mod forms;
pub mod mistakes;

use barform_app::music::{
    Articulation, Beats, Channel, Graces, Grid, Hand, Key, Kit, Letter, Level, Limb, Meter, Span,
    Velocity, VelocityCurve, Voice,
};
use barform_app::score::{
    CellDef, FormItem, Lay, Ostinato, Score, StickSlot, StickToken, Timing, VoiceSlot, VoiceToken,
    Voicing,
};
use forms::sections;
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::{select, subsequence};

/// A score that passes [`Score::check`].
pub fn score() -> impl Strategy<Value = Score> {
    let head = (title(), tempo(), meter(), pickup(), timing());
    let names = subsequence(vec!["toms", "ride-side", "Blech_2"], 0..=3);
    let body = (1_usize..6, names, kit());
    (head, body)
        .prop_flat_map(
            |((title, tempo, meter, pickup, timing), (count, names, kit))| {
                let letters = letters(count);
                let voicings: Vec<_> = names.iter().map(|n| voicing(n)).collect();
                (
                    Just((title, tempo, meter, pickup, kit, timing)),
                    cells(count),
                    sections(letters, names.iter().map(|n| (*n).to_owned()).collect()),
                    ostinatos(),
                    voicings,
                )
            },
        )
        .prop_map(
            |((title, tempo, meter, pickup, kit, timing), cells, sections, ostinatos, voicings)| {
                let score = Score {
                    title,
                    tempo,
                    meter,
                    pickup,
                    sections,
                    cells,
                    ostinatos,
                    voicings,
                    kit,
                    timing,
                };
                settle(score)
            },
        )
        .prop_filter("a score that checks", |score| score.check().is_ok())
}

/// What a take left behind, or nothing.
fn timing() -> impl Strategy<Value = Timing> {
    let lay = || {
        let lay = (-1_000_000..=1_000_000, 0..=1_000_000, 1_u32..5000);
        lay.prop_map(|(mean_us, spread_us, strokes)| Lay {
            mean_us,
            spread_us,
            strokes,
        })
    };
    let limbs = subsequence(Limb::ALL.to_vec(), 0..=2);
    let voices = subsequence(Voice::ALL.to_vec(), 0..=4);
    let places = subsequence(vec![(0, 1), (1, 4), (1, 3), (5, 12)], 0..=3);
    let some = (option::of(lay()), voices, limbs, places, vec(lay(), 9));
    let made = some.prop_map(|(all, voices, limbs, places, lays)| {
        let mut lays = lays.into_iter();
        let mut next = move || lays.next().unwrap_or_default();
        Timing {
            all,
            voices: voices.into_iter().map(|v| (v, next())).collect(),
            limbs: limbs.into_iter().map(|l| (l, next())).collect(),
            places: places
                .into_iter()
                .map(|(n, d)| (Beats::new(n, d), next()))
                .collect(),
        }
    });
    option::weighted(0.2, made).prop_map(Option::unwrap_or_default)
}

/// Takes away what a random form rarely gets right: bar lines first, then
/// meters and pickups, then refits.
fn settle(mut score: Score) -> Score {
    if score.check().is_ok() {
        return score;
    }
    for section in &mut score.sections {
        strip(&mut section.items, false);
    }
    if score.check().is_ok() {
        return score;
    }
    score.pickup = Beats::ZERO;
    for section in &mut score.sections {
        section.meter = None;
    }
    if score.check().is_ok() {
        return score;
    }
    for section in &mut score.sections {
        section.overrides.subdivision = None;
        strip(&mut section.items, true);
    }
    score
}

fn strip(items: &mut Vec<FormItem>, subdivisions: bool) {
    items.retain(|item| *item != FormItem::BarLine);
    for item in items {
        let overrides = match item {
            FormItem::Letter { overrides, .. } => overrides,
            FormItem::Group {
                items, overrides, ..
            } => {
                strip(items, subdivisions);
                overrides
            }
            FormItem::BarLine => continue,
        };
        if subdivisions {
            overrides.subdivision = None;
        }
    }
}

fn title() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        Just("Lantern Street".to_owned()),
        Just("\"quoted\" \\ 'Blätter' # ♩ = 92".to_owned()),
        "[ -~]{0,30}",
    ]
}

fn tempo() -> impl Strategy<Value = Beats> {
    (20_i64..400, 1_i64..8).prop_map(|(n, d)| {
        let tempo = Beats::new(n, d);
        if tempo < Beats::whole(20) {
            Beats::whole(n)
        } else {
            tempo
        }
    })
}

/// A meter in use.
pub fn meter() -> impl Strategy<Value = Meter> {
    let meters = [(4, 4), (4, 4), (3, 4), (5, 4), (7, 8), (6, 8), (12, 8)];
    select(meters.to_vec()).prop_map(|(n, u)| Meter::new(n, u).unwrap())
}

fn pickup() -> impl Strategy<Value = Beats> {
    select(vec![
        Beats::ZERO,
        Beats::ZERO,
        Beats::ONE,
        Beats::new(1, 2),
        Beats::new(2, 3),
    ])
}

fn letters(count: usize) -> Vec<Letter> {
    ["A", "B2", "C", "D10", "B2'", "A''", "E"][..=count]
        .iter()
        .map(|l| Letter::new(l).unwrap())
        .collect()
}

/// A grid of simple lengths, so that forms add up.
pub fn grid() -> impl Strategy<Value = Grid> {
    let length = select(vec![
        Beats::ONE,
        Beats::ONE,
        Beats::ONE,
        Beats::whole(2),
        Beats::new(1, 2),
        Beats::new(3, 2),
        Beats::new(5, 3),
    ]);
    let span = (select(vec![1_u8, 2, 3, 4, 5, 6, 7, 8, 12, 64]), length)
        .prop_map(|(slots, length)| Span::new(slots, length).unwrap());
    vec(span, 1..4).prop_map(|spans| Grid::new(spans).unwrap())
}

fn stick(limb: Limb) -> impl Strategy<Value = StickToken> {
    let level = select(vec![
        Level::Normal,
        Level::Normal,
        Level::Ghost,
        Level::Accent,
    ]);
    let hands = vec(select(vec![Hand::Right, Hand::Left]), 0..4);
    (level, hands, any::<bool>()).prop_map(move |(level, hands, buzz)| StickToken {
        limb,
        level,
        graces: if limb.is_foot() {
            Graces::NONE
        } else {
            Graces::from_hands(&hands).unwrap()
        },
        buzz: buzz && !limb.is_foot(),
    })
}

/// A slot of a sticking line: a rest, one stroke, or several at once.
pub fn stick_slot() -> impl Strategy<Value = StickSlot> {
    let limbs = || select(Limb::ALL.to_vec());
    let many = subsequence(Limb::ALL.to_vec(), 2..=4).prop_shuffle();
    prop_oneof![
        1 => Just(Vec::new()),
        6 => limbs().prop_flat_map(stick).prop_map(|token| vec![token]),
        2 => many.prop_flat_map(|limbs| limbs.into_iter().map(stick).collect::<Vec<_>>()),
    ]
}

/// A voice with one of its articulations.
pub fn voice() -> impl Strategy<Value = VoiceToken> {
    select(Voice::ALL.to_vec())
        .prop_flat_map(|voice| (Just(voice), select(voice.articulations().to_vec())))
        .prop_map(|(voice, articulation)| VoiceToken {
            voice,
            articulation,
        })
}

/// A slot of a voices line that goes with a slot of a sticking line.
fn voice_slot(stick: &StickSlot) -> BoxedStrategy<VoiceSlot> {
    let hands = stick.iter().filter(|t| !t.limb.is_foot()).count();
    let count = stick.len();
    if count == 0 {
        return select(vec![VoiceSlot::Same, VoiceSlot::Rest]).boxed();
    }
    let named = |n| vec(voice(), n).prop_map(VoiceSlot::Voices);
    let fewer = match hands {
        0 => count,
        hands if count.is_multiple_of(2) => hands,
        _ => 1,
    };
    prop_oneof![Just(VoiceSlot::Same), named(count), named(fewer)].boxed()
}

/// A grid, a sticking and perhaps voices that go together.
pub fn lines() -> impl Strategy<Value = (Grid, Vec<StickSlot>, Option<Vec<VoiceSlot>>)> {
    grid()
        .prop_flat_map(|grid| {
            let slots = grid.slot_count();
            (Just(grid), vec(stick_slot(), slots))
        })
        .prop_flat_map(|(grid, sticking)| {
            let voices: Vec<_> = sticking.iter().map(voice_slot).collect();
            (Just(grid), Just(sticking), option::of(voices))
        })
}

/// `count` cells and a variation of one of them.
fn cells(count: usize) -> impl Strategy<Value = Vec<CellDef>> {
    let own = vec(lines(), count);
    (own, 0..count, 0_u8..4).prop_flat_map(move |(own, parent, states)| {
        let letters = letters(count);
        let cells: Vec<CellDef> = own
            .into_iter()
            .zip(&letters)
            .map(|((grid, sticking, voices), letter)| CellDef {
                letter: letter.clone(),
                like: None,
                grid: Some(grid),
                sticking: Some(sticking),
                voices,
            })
            .collect();
        let slots = cells[parent].sticking.as_ref().map_or(0, Vec::len);
        let like = Some(cells[parent].letter.clone());
        vec(stick_slot(), slots).prop_map(move |sticking| {
            let mut cells = cells.clone();
            let own_sticking = (states & 1 != 0).then(|| sticking.clone());
            let rests = vec![VoiceSlot::Same; slots];
            cells.push(CellDef {
                letter: letters[count].clone(),
                like: like.clone(),
                grid: None,
                voices: (own_sticking.is_some() || states & 2 != 0).then_some(rests),
                sticking: own_sticking,
            });
            // Parents may stand after their variations.
            if states == 3 {
                cells.rotate_right(1);
            }
            cells
        })
    })
}

fn ostinatos() -> impl Strategy<Value = Vec<Ostinato>> {
    vec(lines(), 0..3).prop_map(|all| {
        let names = ["hat", "left-foot", "Füße"];
        all.into_iter()
            .zip(names)
            .map(|((grid, sticking, voices), name)| Ostinato {
                name: name.to_owned(),
                grid,
                sticking,
                voices,
            })
            .collect()
    })
}

fn voicing(name: &str) -> impl Strategy<Value = Voicing> + use<> {
    let name = name.to_owned();
    (subsequence(Voice::ALL.to_vec(), 0..6), vec(voice(), 6)).prop_map(move |(from, to)| Voicing {
        name: name.clone(),
        map: from.into_iter().zip(to).collect(),
    })
}

fn kit() -> impl Strategy<Value = Kit> {
    let all: Vec<Voice> = Voice::ALL.into_iter().chain([Voice::Click]).collect();
    let order = subsequence(Voice::ALL.to_vec(), 1..10).prop_shuffle();
    let change = (
        select(all),
        0_u8..128,
        option::of(0_u8..128),
        1_u8..=16,
        [1_u8..128, 1..128, 1..128],
        0_usize..Articulation::COUNT,
    );
    (option::of(order), vec(change, 0..4)).prop_map(|(order, changes)| {
        let mut kit = Kit::general_midi();
        if let Some(order) = order {
            kit.order = order;
        }
        for (voice, plain, other, channel, [g, n, a], way) in changes {
            let to = kit.voice_mut(voice);
            to.keys[Articulation::Plain.index()] = Key::new(plain);
            let ways = voice.articulations();
            let way = ways[way % ways.len()];
            if way != Articulation::Plain {
                to.keys[way.index()] = other.and_then(Key::new);
            }
            to.channel = Channel::new(channel).unwrap();
            let velocity = |v| Velocity::new(v).unwrap();
            to.curve = VelocityCurve {
                ghost: velocity(g),
                normal: velocity(n),
                accent: velocity(a),
            };
        }
        kit
    })
}
