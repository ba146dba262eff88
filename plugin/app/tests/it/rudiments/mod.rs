//! All 40 rudiments are listed as published, found wherever they begin, and not
//! found where they are not.

mod recognition;
mod sheet;

use barform_app::craft::line::Line;
use barform_app::craft::rudiments::*;
use barform_app::music::*;
use proptest::prelude::*;
use sheet::{SHEET, cell, sheet, stroke};

fn find(cell: &Cell, look: Look) -> Vec<Find> {
    Rudiments::builtin()
        .find(&Line::from_cell(cell).unwrap(), look)
        .unwrap()
}

const STRICT: Look = Look {
    accents: true,
    rhythm: Rhythm::Proportional,
};

#[test]
fn families_count_as_published() {
    let rudiments = Rudiments::builtin();
    let count = |family| {
        rudiments
            .all()
            .iter()
            .filter(|r| r.family == family)
            .count()
    };
    assert_eq!(count(Family::SingleStrokeRolls), 3);
    assert_eq!(count(Family::MultipleBounceRolls), 2);
    assert_eq!(count(Family::DoubleStrokeRolls), 10);
    assert_eq!(count(Family::Diddles), 4);
    assert_eq!(count(Family::Flams), 11);
    assert_eq!(count(Family::Drags), 10);
    let numbers: Vec<u32> = rudiments.all().iter().map(|r| r.number).collect();
    assert_eq!(numbers, (1..=40).collect::<Vec<_>>());
    for (r, (name, ..)) in rudiments.all().iter().zip(SHEET) {
        assert_eq!(r.name, name);
    }
    assert_eq!(rudiments.get("Lesson 25").unwrap().number, 34);
}

#[test]
fn the_list_reads_as_the_sheet_does() {
    for r in Rudiments::builtin().all() {
        for lead in [Hand::Right, Hand::Left] {
            let want: Vec<Slot> = sheet(&r.name, lead)
                .into_iter()
                .map(|(s, _)| vec![s])
                .collect();
            let cell = r.cell(Letter::new("A").unwrap(), lead);
            assert_eq!(cell.slots, want, "{}", r.name);
            let bounds = cell.grid.slot_bounds().unwrap();
            let gap = |i: usize| bounds[i + 1].checked_sub(bounds[i]).unwrap();
            for (i, (_, time)) in sheet(&r.name, lead).iter().enumerate() {
                // Proportions to the shortest time of the sheet.
                let shortest = (0..want.len()).map(gap).min().unwrap();
                let shortest_time = sheet(&r.name, lead).iter().map(|s| s.1).min().unwrap();
                let ratio = gap(i).checked_div(shortest).unwrap();
                assert_eq!(
                    ratio,
                    Beats::new(*time, shortest_time),
                    "{} stroke {i}",
                    r.name
                );
            }
        }
    }
}

fn cells(texts: &[&str]) -> Line {
    let cells: Vec<Cell> = texts
        .iter()
        .zip("ABCDEFGH".chars())
        .map(|(text, letter)| {
            let strokes: Vec<(Stroke, i64)> = text.split(' ').map(|w| (stroke(w), 1)).collect();
            let mut cell = cell(&strokes, Beats::new(1, 4));
            cell.letter = Letter::new(&letter.to_string()).unwrap();
            cell
        })
        .collect();
    Line::from_cells(&cells).unwrap()
}

fn sentences(line: &Line, look: Look) -> Vec<String> {
    let finds = Rudiments::builtin().find(line, look).unwrap();
    finds.iter().map(|f| f.sentence(line)).collect()
}

#[test]
fn rudiments_cross_cell_joins_and_voices_do_not_matter() {
    let mut line = cells(&["R L R", "R L R L L", "R R L L R R L L"]);
    for (i, (_, s)) in line.strokes.iter_mut().enumerate() {
        s.voice = [Voice::Snare, Voice::Tom1, Voice::Ride][i % 3];
    }
    assert_eq!(
        sentences(&line, Look::default()),
        [
            "single paradiddle, right hand leads, 2 times: from cell A, slot 1 to cell B, slot 5",
            // These overlap with their neighbours, but neither covers them.
            "single paradiddle-diddle, left hand leads: from cell B, slot 2 to cell C, slot 2",
            "double stroke open roll, left hand leads, 5 times: from cell B, slot 4 to cell C, slot 8",
        ]
    );
    // Accents asked for: there are none here, and the roll has none either.
    assert_eq!(
        sentences(&line, STRICT),
        [
            "double stroke open roll, left hand leads, 5 times: from cell B, slot 4 to cell C, slot 8"
        ]
    );
}

#[test]
fn the_longest_wins_and_what_it_covers_is_not_told() {
    // Thirteen holds eleven, nine, seven and five.
    let mut strokes = sheet("thirteen stroke roll", Hand::Right);
    strokes.truncate(13);
    let finds = find(&cell(&strokes, Beats::new(1, 8)), Look::default());
    assert_eq!(finds.len(), 1);
    assert_eq!(finds[0].named.name, "thirteen stroke roll");
    // A drag is within a drag tap within a ratamacue.
    let mut strokes = sheet("single ratamacue", Hand::Left);
    strokes.truncate(4);
    let finds = find(&cell(&strokes, Beats::new(1, 6)), Look::default());
    assert_eq!(finds.len(), 1);
    assert_eq!(finds[0].named.name, "single ratamacue");
    assert_eq!(finds[0].named.lead, Hand::Left);
}

#[test]
fn hands_alone_tell_of_more_than_one_name() {
    // Even sextuplets: in rhythm a paradiddle-diddle begun on its second
    // stroke; by hands alone a six stroke roll in place, which comes first.
    let line = cells(&["R L L R R L"]);
    let any = Look {
        accents: false,
        rhythm: Rhythm::Any,
    };
    let finds = Rudiments::builtin().find(&line, any).unwrap();
    assert_eq!(finds[0].named.name, "six stroke roll");
    assert_eq!(finds[0].also.len(), 1);
    assert_eq!(finds[0].also[0].name, "single paradiddle-diddle");
    assert_eq!(
        (finds[0].also[0].rotation, finds[0].also[0].lead),
        (1, Hand::Left)
    );
    let strict = Rudiments::builtin().find(&line, Look::default()).unwrap();
    assert_eq!(strict.len(), 1);
    assert_eq!(strict[0].named, finds[0].also[0]);
}

#[test]
fn both_hands_at_once_end_a_rudiment_and_feet_do_not() {
    let line = cells(&["R L R R L R L L"]);
    let with = |i: usize, limb: Limb| {
        let mut line = line.clone();
        let (at, place) = (line.strokes[i].0, line.places[i]);
        line.strokes.insert(i + 1, (at, Stroke::plain(limb)));
        line.places.insert(i + 1, place);
        Rudiments::builtin().find(&line, Look::default()).unwrap()
    };
    assert_eq!(with(2, Limb::KickFoot)[0].strokes, [0, 1, 2, 4, 5, 6, 7, 8]);
    let broken = with(2, Limb::LeftHand);
    assert_eq!(broken.len(), 1);
    assert_eq!((broken[0].named.lead, broken[0].times), (Hand::Left, 1));
}

#[test]
fn a_change_of_speed_ends_a_roll_and_begins_another() {
    // Eight sixteenths, then twelve triplets: hand to hand throughout.
    let hands = "R L".split(' ').cycle().map(stroke);
    let strokes: Vec<(Stroke, i64)> = hands
        .take(20)
        .enumerate()
        .map(|(i, s)| (s, if i < 8 { 3 } else { 2 }))
        .collect();
    let finds = find(&cell(&strokes, Beats::new(1, 12)), Look::default());
    let spans: Vec<(usize, usize)> = finds
        .iter()
        .map(|f| (f.strokes[0], f.strokes.len()))
        .collect();
    // The ninth stroke ends the slow one's time and begins the fast one.
    assert_eq!(spans, [(0, 9), (9, 11)]);
}

#[test]
fn rudiments_are_data_and_say_what_is_wrong() {
    let own = "[rudiment.\"six-tap\"]\nnumber = 41\nfamily = \"diddles\"\ngrid = \"6\"\n\
               sticking = \"R R L R L L\"\nalternates = false\n";
    let rudiments = Rudiments::from_toml(own).unwrap();
    assert_eq!(rudiments.all().len(), 41);
    let line = cells(&["R R L R L L"]);
    let finds = rudiments.find(&line, Look::default()).unwrap();
    assert_eq!(finds[0].named.name, "six-tap");
    for (text, words) in [
        (
            "[rudiment.flam]\nleast = -1",
            "2:9: rudiment.flam.least: is -1; allowed is a whole number 0 to 999",
        ),
        ("[rudiment.flam]\nnumber = 31", "is 31 as is that of"),
        (
            "[rudiment.flam]\ngrid = \"0\"",
            "rudiment.flam.grid: is '0'",
        ),
        (
            "[rudiment.flam]\nsticking = \"lX\"",
            "rudiment.flam.sticking: has 'lX'",
        ),
        (
            "[rudiment.flam]\nsticking = \"lR L\"",
            "has 2 strokes; allowed is one for each of 1",
        ),
        ("[rudiment.flam]\nsticking = \"rL\"", "begins with L"),
        ("[rudiment.flam]\nhands = 2", "unknown field `hands`"),
        ("[rudiment.mine]\nnumber = 50", "missing field"),
        ("[rudiment.flam]\nfamily = \"frills\"", "frills"),
    ] {
        let error = Rudiments::from_toml(text).unwrap_err().to_string();
        assert!(error.contains(words), "{text:?}: {error}");
    }
}

proptest! {
    /// Whatever is found is there: its strokes are the named rudiment's.
    #[test]
    fn every_find_is_what_it_says(
        letters in proptest::collection::vec(
            proptest::sample::select(vec!["R", "L", "R", "L", "lR", "rL", "llR", "rrL"]), 1..60),
        times in proptest::collection::vec(1_i64..3, 60),
        any in any::<bool>(),
    ) {
        let rudiments = Rudiments::builtin();
        let strokes: Vec<(Stroke, i64)> =
            letters.iter().map(|w| stroke(w)).zip(times).collect();
        let line = Line::from_cell(&cell(&strokes, Beats::new(1, 4))).unwrap();
        let rhythm = if any { Rhythm::Any } else { Rhythm::Proportional };
        for find in rudiments.find(&line, Look { accents: false, rhythm }).unwrap() {
            for named in [&find.named].into_iter().chain(&find.also) {
                let r = rudiments.get(&named.name).unwrap();
                prop_assert_eq!(find.strokes.len() % r.strokes.len(), 0);
                prop_assert!(find.strokes.len() >= r.least);
                let cycle = sheet(&r.name, named.lead);
                for (k, i) in find.strokes.iter().enumerate() {
                    let (want, _) = cycle[(named.rotation + k) % cycle.len()];
                    let got = line.strokes[*i].1;
                    prop_assert_eq!((got.limb, got.graces), (want.limb, want.graces));
                }
            }
        }
    }
}
