//! Reads a written voice as a line of text, and facts that hold for any sheet.

// Every test binary uses its own part of this.
#![allow(dead_code)]

use barform_app::music::*;
use barform_app::score::Score;
use barform_app::sheet::notate::{Fold, NotateError, Options, written};
use barform_app::sheet::*;
use barform_app::timeline::Timeline;

pub fn parse(text: &str) -> (Score, Timeline) {
    let score = Score::parse(&format!("barform = 1\n{text}"), "test.barform").unwrap();
    let timeline = Timeline::compile(&score).unwrap();
    (score, timeline)
}

pub fn folded(text: &str, fold: Fold) -> Result<Written, NotateError> {
    let (score, timeline) = parse(text);
    let options = Options {
        fold,
        ..Options::default()
    };
    written(&score, &timeline, &options)
}

pub fn full(text: &str) -> Written {
    folded(text, Fold::Full).unwrap()
}

/// A score of one cell in a meter.
pub fn one(meter: &str, grid: &str, sticking: &str) -> Written {
    full(&format!(
        "meter = \"{meter}\"\nform = \"A\"\n[cell.A]\ngrid = \"{grid}\"\nsticking = \"{sticking}\""
    ))
}

/// Values as numbers (4 a quarter, 8. a dotted eighth), rests with r (rw for a
/// whole bar, h in front where hidden), tuplets in brackets: `3:2[8 8 8]`.
pub fn text(line: &VoiceLine) -> String {
    let mut words: Vec<String> = Vec::new();
    for (i, e) in line.elements.iter().enumerate() {
        let mut word = String::new();
        for t in line.tuplets.iter().filter(|t| t.first == i) {
            word += &format!("{}:{}[", t.ratio.actual, t.ratio.normal);
        }
        match e.kind {
            Kind::Rest {
                hidden,
                whole_bar: true,
            } => word += if hidden { "hrw" } else { "rw" },
            Kind::Rest { hidden, .. } => word += if hidden { "hr" } else { "r" },
            Kind::Notes(_) => {}
        }
        if !matches!(
            e.kind,
            Kind::Rest {
                whole_bar: true,
                ..
            }
        ) {
            word += &(1_u32 << e.value.halvings()).to_string();
            word += &".".repeat(usize::from(e.dots));
        }
        word += &"]".repeat(line.tuplets.iter().filter(|t| t.last == i).count());
        words.push(word);
    }
    words.join(" ")
}

/// Beams of a level as pairs of elements, hooks as one with an arrow.
pub fn beams(line: &VoiceLine, level: u8) -> String {
    let beams = line.beams.iter().filter(|b| b.level == level);
    let words: Vec<String> = beams
        .map(|b| match (b.first == b.last, b.backward) {
            (false, _) => format!("{}-{}", b.first, b.last),
            (true, false) => format!("{}>", b.first),
            (true, true) => format!("<{}", b.first),
        })
        .collect();
    words.join(" ")
}

/// Beats of a meter that a beam stays inside of, worked out apart from the
/// product. Common practice.
pub fn beat_groups(meter: Meter) -> Vec<Beats> {
    let eighths = |list: &[i64]| list.iter().map(|n| Beats::new(*n, 2)).collect();
    match (meter.count(), meter.unit()) {
        (n, 4) => vec![Beats::ONE; usize::from(n)],
        (6, 8) => eighths(&[3, 3]),
        (9, 8) => eighths(&[3, 3, 3]),
        (12, 8) => eighths(&[3, 3, 3, 3]),
        (7, 8) => eighths(&[2, 2, 3]),
        (5, 8) => eighths(&[2, 3]),
        other => panic!("no table for {other:?}"),
    }
}

fn add(a: Beats, b: Beats) -> Beats {
    a.checked_add(b).unwrap()
}

/// Everything that must hold for a bar, whatever is played.
pub fn check_bar(bar: &WrittenBar) {
    for line in [&bar.hands, &bar.feet] {
        check_line(bar, line);
    }
    let steps: Vec<Beats> = bar.under.iter().map(|u| u.at).collect();
    assert!(steps.is_sorted_by(|a, b| a < b), "{steps:?}");
    assert!(
        bar.under
            .iter()
            .all(|u| Beats::ZERO <= u.at && u.at < bar.length)
    );
}

fn check_line(bar: &WrittenBar, line: &VoiceLine) {
    let shown = text(line);
    let mut now = Beats::ZERO;
    for (i, e) in line.elements.iter().enumerate() {
        assert_eq!(e.at, now, "no gaps: {shown}");
        assert!(e.length.is_positive());
        now = add(now, e.length);
        let around = line
            .tuplets
            .iter()
            .filter(|t| (t.first..=t.last).contains(&i));
        let (mut actual, mut normal) = (1_u32, 1_u32);
        for t in around {
            actual *= t.ratio.actual;
            normal *= t.ratio.normal;
        }
        assert_eq!(e.ratio, Ratio { actual, normal }, "{shown}");
        if let Kind::Rest {
            whole_bar: true, ..
        } = e.kind
        {
            assert_eq!((line.elements.len(), e.length), (1, bar.length));
            continue;
        }
        // A dot adds half of what it follows.
        let dots = Beats::new((1 << (e.dots + 1)) - 1, 1 << e.dots);
        let scale = Beats::new(i64::from(normal), i64::from(actual));
        let length = e.value.beats().checked_mul(dots).unwrap();
        assert_eq!(e.length, length.checked_mul(scale).unwrap(), "{shown}");
        if let Kind::Notes(strokes) = &e.kind {
            assert!(!strokes.is_empty());
            assert!(strokes.is_sorted_by_key(|s| s.step));
        }
    }
    assert_eq!(now, bar.length, "the voice fills the bar: {shown}");
    check_tuplets(line);
    check_beams(bar, line);
}

fn check_tuplets(line: &VoiceLine) {
    for (i, t) in line.tuplets.iter().enumerate() {
        assert!(t.first <= t.last && t.last < line.elements.len());
        assert!(t.ratio.actual > 1 && t.ratio.actual != t.ratio.normal);
        assert!(t.ratio.actual < 2 * t.ratio.normal && t.ratio.normal < 2 * t.ratio.actual);
        let before = &line.tuplets[..i];
        let around = before
            .iter()
            .filter(|o| o.first <= t.first && t.last <= o.last);
        assert_eq!(around.count(), usize::from(t.depth), "outer ones first");
        // Apart, or one inside the other; never across.
        for o in before {
            let inside = o.first <= t.first && t.last <= o.last;
            assert!(o.last < t.first || inside, "{o:?} {t:?}");
        }
        let one_beam = |b: &Beam| b.level == 1 && (b.first, b.last) == (t.first, t.last);
        assert_eq!(t.bracket, !line.beams.iter().any(one_beam));
    }
}

fn check_beams(bar: &WrittenBar, line: &VoiceLine) {
    let mut cuts = vec![Beats::ZERO];
    for group in beat_groups(bar.meter) {
        cuts.push(add(*cuts.last().unwrap(), group));
    }
    // A pickup is the end of a full bar, a bar cut short its start.
    let missing = match (bar.number, bar.start.is_zero()) {
        (None, true) => bar.meter.bar().checked_sub(bar.length).unwrap(),
        _ => Beats::ZERO,
    };
    for b in &line.beams {
        let row = &line.elements[b.first..=b.last];
        assert!(
            row.iter().all(|e| e.value.flags() >= b.level),
            "{}",
            text(line)
        );
        assert!(matches!(row[0].kind, Kind::Notes(_)));
        assert!(matches!(row[row.len() - 1].kind, Kind::Notes(_)));
        let group = |e: &Element| cuts.partition_point(|c| *c <= add(e.at, missing));
        let in_beat = group(&row[0]) == group(&row[row.len() - 1]);
        // Or inside a tuplet that itself crosses beats.
        let in_tuplet = line.tuplets.iter().any(|t| {
            let crosses = group(&line.elements[t.first]) != group(&line.elements[t.last]);
            t.depth == 0 && t.first <= b.first && b.last <= t.last && crosses
        });
        assert!(in_beat || in_tuplet, "{} {b:?}", text(line));
        let lower = |l: &&Beam| l.level + 1 == b.level && l.first <= b.first && b.last <= l.last;
        assert!(b.level == 1 || line.beams.iter().any(|l| lower(&l)));
        let same = |l: &&Beam| l.level == b.level && l.first <= b.last && b.first <= l.last;
        assert_eq!(
            line.beams.iter().filter(same).count(),
            1,
            "one beam per level"
        );
    }
    assert!(line.beams.is_sorted_by_key(|b| b.level), "level 1 first");
    // Whoever is under a beam has all the lines its value has flags.
    for (i, e) in line.elements.iter().enumerate() {
        let under = |level| {
            let at = |b: &&Beam| b.level == level && (b.first..=b.last).contains(&i);
            line.beams.iter().filter(at).count()
        };
        if matches!(e.kind, Kind::Notes(_)) && under(1) == 1 {
            assert!((1..=e.value.flags()).all(|level| under(level) == 1));
        }
    }
}
