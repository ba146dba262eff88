//! Playability figures against arithmetic done by hand, and top tempos that are
//! as tight as they can be.

mod tight;

use barform_app::craft::line::{Line, Part};
use barform_app::craft::playable::*;
use barform_app::craft::range::Thousandths;
use barform_app::craft::sticking::{Rules, Setup};
use barform_app::music::*;
use barform_app::score::Score;
use barform_app::timeline::Timeline;

fn setup() -> Setup {
    Rules::builtin()
        .setup("right-handed", &Kit::general_midi())
        .unwrap()
}

fn beats(n: i64, d: i64) -> Beats {
    Beats::new(n, d)
}

/// A cell of one beat per group of letters: `RLRL RLKK`; `-` rests.
fn cell(letter: &str, text: &str) -> Cell {
    let groups: Vec<&str> = text.split(' ').collect();
    let spans = groups
        .iter()
        .map(|g| Span::new(g.len() as u8, Beats::ONE).unwrap());
    let slots = groups.iter().flat_map(|g| g.chars());
    let slots = slots.map(|c| {
        Limb::from_letter(c)
            .map(Stroke::plain)
            .into_iter()
            .collect()
    });
    Cell {
        letter: Letter::new(letter).unwrap(),
        grid: Grid::new(spans.collect()).unwrap(),
        slots: slots.collect(),
    }
}

fn line(cells: &[Cell]) -> Line {
    Line::from_cells(cells).unwrap()
}

fn playable<'a>(line: &'a Line, setup: &'a Setup) -> Playable<'a> {
    Playable::new(&line.strokes, None, setup, &Rules::builtin())
}

fn top(line: &Line, level: &str) -> (Top, String) {
    let levels = Levels::builtin();
    let level = levels.get(level).unwrap();
    let setup = setup();
    let top = playable(line, &setup).top_tempo(level, &levels).unwrap();
    let sentence = top.sentence(level, line);
    (top, sentence)
}

#[test]
fn even_sixteenths_hand_to_hand() {
    // Each hand plays every other sixteenth, two a beat. Eight strokes of the
    // right hand span 7/2 beats; intermediate allows 6 a second over eight:
    // T = 60 × 3.5 × 6 / 7 = 180. Three span 1 beat, 8 a second: T = 60 × 8 / 2
    // = 240. Two span 1/2, 12 a second: T = 60 × 0.5 × 12 = 360. 32 do not occur.
    let line = line(&[cell("A", "RLRL RLRL RLRL RLRL")]);
    let (top, sentence) = top(&line, "intermediate");
    assert_eq!(top.bpm, Some(180));
    // 7 × 181 / (60 × 3.5) = 6.033…; one decimal would read 6.
    assert_eq!(
        sentence,
        "At 181 bpm the right hand would play 6.03 strokes a second in cell A, slots 1–15; \
         intermediate allows 6."
    );
}

#[test]
fn a_double_of_the_left_hand_in_the_second_cell() {
    // Cell B has L on sixteenth-triplet slots 3, 4 and 5: three strokes in 2/6
    // of a beat. Intermediate allows 8: T = 60 × (1/3) × 8 / 2 = 80. Each pair:
    // 60 × (1/6) × 12 = 120. Closest 40 ms: 60000 × (1/6) / 40 = 250.
    let line = line(&[cell("A", "RLRL"), cell("B", "RRLLLR")]);
    let (top, _) = top(&line, "intermediate");
    assert_eq!(top.bpm, Some(80));
    let limit = top.limit.unwrap();
    assert_eq!(
        (limit.limb, limit.first, limit.last),
        (Limb::LeftHand, 6, 8)
    );
    // At 92 bpm: 2 × 92 / (60 / 3) = 9.2.
    let levels = Levels::builtin();
    assert_eq!(
        limit.sentence(92, levels.get("intermediate").unwrap(), &line),
        "At 92 bpm the left hand would play 9.2 strokes a second in cell B, slots 3–5; \
         intermediate allows 8."
    );
    // Inside the limit it may be asked too: 2 × 79 / 20 = 7.9.
    assert!(
        limit
            .sentence(79, levels.get("intermediate").unwrap(), &line)
            .contains("play 7.9 strokes a second")
    );
}

#[test]
fn across_cells_and_round_a_loop() {
    // Kick on the last sixteenth of A and the first of B: beginner's foot may
    // play 4 a second in a double: T = 60 × 1/4 × 4 = 60.
    let cells = [cell("A", "RLRK"), cell("B", "KLRL")];
    let line = line(&cells);
    let (top, sentence) = top(&line, "beginner");
    assert_eq!(top.bpm, Some(60));
    // 61 / 15 = 4.0666…; one decimal already shows that it is above 4.
    assert_eq!(
        sentence,
        "At 61 bpm the kick foot would play 4.1 strokes a second from cell A, slot 4 to \
         cell B, slot 1; beginner allows 4."
    );
    // The same join inside one cell that loops, K - - K in one beat.
    let looped = Line::from_cell(&cell("A", "K--K")).unwrap();
    let setup = setup();
    let levels = Levels::builtin();
    let level = levels.get("beginner").unwrap();
    let once = Playable::new(&looped.strokes, None, &setup, &Rules::builtin());
    // Once through: 3/4 of a beat for a double: 60 × 3/4 × 4 = 180.
    assert_eq!(once.top_tempo(level, &levels).unwrap().bpm, Some(180));
    let round = Playable::new(
        &looped.strokes,
        Some(looped.length),
        &setup,
        &Rules::builtin(),
    );
    // Round the loop: two a beat. 32 strokes from the second one on span 15 and
    // 1/4 beats: 60 × 15.25 × 2 / 31 = 59.03. So 59, and it is the foot's 32.
    let top = round.top_tempo(level, &levels).unwrap();
    assert_eq!(top.bpm, Some(59));
    let most = Measure::Rate {
        strokes: 32,
        most: Thousandths(2000),
    };
    assert_eq!(top.limit.unwrap().measure, most);
}

#[test]
fn travel_bounds_the_tempo() {
    // Right hand from the ride (65, 40) to the snare (0, 0) in 1/4 beat: root
    // of 4225 + 1600 = 76.3, so 76 cm. Advanced allows 450 cm a second:
    // T = 60 × 1/4 × 450 / 76 = 88.8. The double itself: 60 × 1/4 × 16 = 240.
    let mut c = cell("A", "RRL-");
    c.slots[0][0].voice = Voice::Ride;
    let line = line(&[c]);
    let (top, sentence) = top(&line, "advanced");
    assert_eq!(top.bpm, Some(88));
    // 76 × 89 / 15 = 450.93.
    assert_eq!(
        sentence,
        "At 89 bpm the right hand would travel 76 cm at 450.9 cm a second in cell A, slots 1–2; \
         advanced allows 450."
    );
}

#[test]
fn grace_notes_move_the_other_hand() {
    // L, then a flam of the right hand a sixteenth later: the left hand has two
    // motions 1/4 beat apart. Beginner: 60 × 1/4 × 6 = 90.
    let mut c = cell("A", "LR--");
    c.slots[1][0].graces = Graces::from_hands(&[Hand::Left]).unwrap();
    assert_eq!(top(&line(&[c.clone()]), "beginner").0.bpm, Some(90));
    // A drag's second grace note is a rebound.
    c.slots[1][0].graces = Graces::from_hands(&[Hand::Left, Hand::Left]).unwrap();
    assert_eq!(top(&line(&[c]), "beginner").0.bpm, Some(90));
}

#[test]
fn nothing_limits_a_slow_thing() {
    let line = line(&[cell("A", "R"), cell("B", "L")]);
    let (top, sentence) = top(&line, "beginner");
    assert_eq!((top.bpm, top.limit), (Some(MAX_BPM), None));
    assert_eq!(
        sentence,
        "Nothing is above what beginner allows, up to 400 bpm."
    );
}

#[test]
fn limbs_are_measured() {
    // 60 bpm, so beats are seconds. R: 0, 1/4, 1/2, then 1 (ride). L: 3/4. The
    // longest run of R is three in 1/2 s: 4 a second; over all 3 ways in 1 s: 3.
    let mut c = cell("A", "RRRL RKKH");
    c.slots[4][0].voice = Voice::Ride;
    let line = line(&[c]);
    let setup = setup();
    let [r, l, k, h] = playable(&line, &setup).limbs(Beats::whole(60)).unwrap();
    assert_eq!((r.motions, l.motions, k.motions, h.motions), (4, 1, 2, 1));
    assert_eq!(r.per_second, Thousandths(3000));
    let run = r.longest.unwrap();
    assert_eq!(
        (run.strokes, run.per_second, run.first, run.last),
        (3, Thousandths(4000), 0, 2)
    );
    assert_eq!(r.fastest.unwrap().per_second, Thousandths(4000));
    // Snare to ride: 76 cm in half a second.
    assert_eq!((r.travel_cm, r.travel_cm_per_second), (76, 152));
    assert_eq!(k.longest.unwrap().strokes, 2);
    assert_eq!(
        (h.longest.unwrap().strokes, h.per_second),
        (1, Thousandths(0))
    );
    assert_eq!((l.travel_cm, k.travel_cm), (0, 0));
}

#[test]
fn crossings_are_found_and_the_hat_is_told_apart() {
    // R on the hat over L on the snare; then R on the first crash, left of L on
    // the high tom? Crash (-35) and tom1 (-12): 23 cm, more than 20.
    let mut c = cell("A", "LRLR");
    c.slots[1][0].voice = Voice::Hat;
    c.slots[2][0].voice = Voice::Tom1;
    c.slots[3][0].voice = Voice::Crash;
    let line = line(&[c]);
    let setup = setup();
    let crossings = playable(&line, &setup).crossings();
    let found: Vec<(usize, bool)> = crossings.iter().map(|c| (c.stroke, c.for_hat)).collect();
    assert_eq!(found, [(1, true), (2, true), (3, false)]);
}

#[test]
fn an_ostinato_on_the_same_limb_collides() {
    let levels = Levels::builtin();
    let setup = setup();
    let hat = |text: &str| cell("H", text);
    // Form: kick on 1 and on the last sixteenth of beat 2. Ostinato: kick on
    // every beat, hi-hat foot on every '&'.
    let form = line(&[cell("A", "KRLR LRLK")]);
    let ostinato = hat("KH");
    let merged = form
        .clone()
        .with_ostinato("feet", &ostinato.grid, &ostinato.slots)
        .unwrap();
    assert!(merged.strokes.windows(2).all(|w| w[0].0 <= w[1].0));
    assert_eq!(merged.strokes.len(), 8 + 4);
    assert_eq!(merged.parts[1], Part::Ostinato("feet".into()));
    let check = playable(&merged, &setup);
    let found = check.collisions(Beats::whole(100), &levels).unwrap();
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].meeting, Meeting::Doubled(Voice::Kick));
    assert_eq!(
        found[0].sentence(&merged),
        "The kick foot has kick twice at once (cell A, slot 1; ostinato feet, slot 1); \
         one stroke does for both."
    );

    // A cowbell with the left hand in the ostinato, against the form's snare.
    let mut bell = hat("L");
    bell.slots[0][0].voice = Voice::Cowbell;
    let merged = line(&[cell("A", "LRLR LRLR")])
        .with_ostinato("bell", &bell.grid, &bell.slots)
        .unwrap();
    let check = playable(&merged, &setup);
    assert_eq!(check.two_voices().count(), 2);
    let top = check
        .top_tempo(levels.get("professional").unwrap(), &levels)
        .unwrap();
    assert_eq!(top.bpm, None);
    assert_eq!(
        top.sentence(levels.get("professional").unwrap(), &merged),
        "The left hand has snare (cell A, slot 1) and cowbell (ostinato bell, slot 1) at once."
    );

    // Kick sixteenths against a kick triplet ostinato: 1/4 and 1/3 are 1/12 of
    // a beat apart, 70 ms at T = 60000 / 12 / 70 = 71.4 bpm.
    let triplets = hat("KKK");
    let merged = line(&[cell("A", "-K--")])
        .with_ostinato("kick", &triplets.grid, &triplets.slots)
        .unwrap();
    let check = playable(&merged, &setup);
    assert_eq!(check.collisions(Beats::whole(71), &levels).unwrap(), []);
    let close = check.collisions(Beats::whole(72), &levels).unwrap();
    assert_eq!(close.len(), 1);
    let meeting = Meeting::TooClose {
        gap: beats(1, 12),
        least_ms: 70,
    };
    assert_eq!((close[0].meeting, close[0].at), (meeting, beats(1, 4)));
    // On its own cycle of another length, cut off at the end of the form.
    let three = hat("- - K");
    let merged = line(&[cell("A", "R L R L")])
        .with_ostinato("k", &three.grid, &three.slots)
        .unwrap();
    let kicks: Vec<Beats> = merged
        .strokes
        .iter()
        .filter(|(_, s)| s.limb.is_foot())
        .map(|(at, _)| *at)
        .collect();
    assert_eq!(kicks, [beats(2, 1)]);
}

#[test]
fn levels_are_data_and_say_what_is_wrong() {
    let builtin = Levels::builtin();
    let names: Vec<&str> = builtin.all().iter().map(|l| l.name.as_str()).collect();
    assert_eq!(
        names,
        ["beginner", "intermediate", "advanced", "professional"]
    );
    // A harder level allows at least as much, of everything.
    for pair in builtin.all().windows(2) {
        assert!(pair[0].travel_cm_per_second < pair[1].travel_cm_per_second);
        for limb in Limb::ALL {
            for (easy, hard) in pair[0].limits(limb).iter().zip(pair[1].limits(limb)) {
                assert!(
                    easy.0 == hard.0 && easy.1 < hard.1,
                    "{limb:?} {easy:?} {hard:?}"
                );
            }
        }
    }
    let own = Levels::from_toml("[level.beginner.hand]\n3 = 4.125\n5 = 4\n").unwrap();
    let hand = own.get("beginner").unwrap().limits(Limb::LeftHand).to_vec();
    assert_eq!(hand[1], (3, Thousandths(4125)));
    assert_eq!(hand[2], (5, Thousandths(4000)));
    for (text, words) in [
        (
            "[level.beginner.hand]\n1 = 4",
            "level.beginner.hand.1: is no number of strokes; allowed is 2 to 64",
        ),
        (
            "[level.beginner.hand]\n3 = 0",
            "level.beginner.hand.3: is 0; allowed is 0.1 to 60",
        ),
        (
            "[level.beginner.hand]\n3 = 4.0001",
            "at most three decimals",
        ),
        (
            "[level.beginner]\norder = 0",
            "2:9: level.beginner.order: is 0; allowed is a whole number 1 to 99",
        ),
        ("[level.beginner]\nfeet = 0", "unknown field `feet`"),
        (
            "[closest_ms]\nhand = 5",
            "closest_ms.hand: is 5; allowed is a whole number 10 to 1000",
        ),
        ("[level.mine]\norder = 5", "missing field"),
    ] {
        let error = Levels::from_toml(text).unwrap_err().to_string();
        assert!(error.contains(words), "{text:?}: {error}");
    }
}

/// A form as it is compiled, at its rate, with the score's ostinatos under it.
#[test]
fn a_whole_form_with_its_ostinatos() {
    let text = "barform = 1\nmeter = \"2/4\"\n\
                [[section]]\nform = \"A\"\n[[section]]\nform = \"A A\"\nrate = \"2\"\n\
                [cell.A]\ngrid = \"4 4\"\nsticking = \"R L R K  R L R L\"\n\
                [ostinato.foot]\ngrid = \"1\"\nsticking = \"H\"\n";
    let score = Score::parse(text, "form.barform").unwrap();
    let timeline = Timeline::compile(&score).unwrap();
    let mut line = Line::from_timeline(&timeline).unwrap();
    assert_eq!(line.length, beats(4, 1));
    assert_eq!(line.strokes.len(), 24);
    // Twice as fast from beat 2 on: the kick at 3/4, 2 + 3/8 and 3 + 3/8.
    let kicks = line
        .strokes
        .iter()
        .filter(|(_, s)| s.limb == Limb::KickFoot);
    let kicks: Vec<Beats> = kicks.map(|(at, _)| *at).collect();
    assert_eq!(kicks, [beats(3, 4), beats(19, 8), beats(27, 8)]);
    for o in &score.ostinatos {
        line = line.with_ostinato(&o.name, &o.grid, &o.slots()).unwrap();
    }
    assert_eq!(line.strokes.len(), 28);
    // The right hand has every other slot: four a beat at the double rate, so
    // its last eight span 7/4 beats. Advanced allows 8 a second over eight:
    // T = 60 × 7/4 × 8 / 7 = 120.
    let (top, _) = top(&line, "advanced");
    assert_eq!(top.bpm, Some(120));
}
