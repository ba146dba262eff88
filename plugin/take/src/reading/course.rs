//! The course of a reading, from notes to forms.

use super::contents::{FIRST_SLIP, contents, on_slots, recut, slip, sounding};
use super::{BeatSource, Certainty, Kind, Options, Placed, Reading, pulses};
use crate::beat::{self, BeatMap, Wish};
use crate::form::Form;
use crate::job::Job;
use crate::keys::Keys;
use crate::letters::{self, Costs, Text};
use crate::recording::Recording;
use crate::strokes::{GRACE, Stroke, strokes};
use crate::subdivide::{self, BeatRead, Onset, Shape, spread};
use crate::{TakeError, feet};
use barform_score::music::{Beats, Meter};

pub(super) fn read(
    recording: &Recording,
    options: &Options,
    job: &mut Job<'_>,
) -> Result<Reading, TakeError> {
    let notes = recording.notes.len();
    let on = recording
        .notes
        .iter()
        .filter(|n| recording.on_ticks(n.tick))
        .count();
    let on_ticks = on as f64 / notes.max(1) as f64;
    let found = if on_ticks >= 0.97 {
        Kind::Programmed
    } else {
        Kind::Played
    };
    let kind = options.kind.unwrap_or(found);
    let stated = recording.meters.first().map(|m| m.1);
    let meter = options.meter.or(stated).unwrap_or(Meter::FOUR_FOUR);
    let keys = Keys::of(recording, &options.kit);
    let per_bar = pulses(meter);
    let shapes = subdivide::shapes();
    let source = match options.beats {
        BeatSource::Auto if recording.tempo_stated => BeatSource::Click,
        BeatSource::Auto => BeatSource::Found,
        stated => stated,
    };
    let (map, certainty, count_in) = match source {
        BeatSource::Found => {
            let some = strokes(recording, &keys, GRACE);
            let wish = Wish {
                tempo: options.tempo,
                first_beat: options.first_beat,
                per_bar,
            };
            let found = beat::find(&some.list, &wish, &shapes, job)?;
            let certainty = Certainty {
                beat: found.beat_certainty,
                bar: found.bar_certainty,
                others: found.others,
            };
            (
                found.map,
                certainty,
                some.list[found.count_in].seconds - 0.04,
            )
        }
        _ => (
            click(recording, meter, options),
            Certainty::default(),
            f64::NEG_INFINITY,
        ),
    };
    let pulse_seconds = map.length(map.pulse(recording.notes[0].seconds));
    let grace = GRACE.min(pulse_seconds / 13.0);
    let mut found = strokes(recording, &keys, grace);
    let ahead = found.list.partition_point(|s| found_before(s, count_in));
    let counted: Vec<Stroke> = found.list.drain(..ahead).collect();
    let bounds = bounds(&found.list, &map, per_bar)?;
    let map = map.renumbered(-(bounds.0 as f64));
    let count = usize::try_from(bounds.1 - bounds.0).unwrap_or(1);
    job.part(0.5);
    let click = map.clone();
    let (mut beats, mut late, mut width) = settle(&found.list, count, &map, kind, &shapes, job)?;
    let mut map = map;
    if kind == Kind::Played && source == BeatSource::Click {
        // Nobody keeps to a click to the millisecond: a player's own line of beats
        // wanders around it, and strokes lie closer to that.
        let line = own_line(&found.list, &beats, &map, late, &shapes);
        let own = settle(&found.list, count, &line, kind, &shapes, job)?;
        // Where it gains little, the click is the surer line.
        if own.2 < 0.85 * width {
            (beats, late, width) = own;
            map = line;
        }
    }
    let mut strokes = placed(&found.list, &beats, &map, late, &shapes);
    let count = sounding(&strokes, count, per_bar);
    let lifted = feet::ostinatos(&strokes, count, per_bar);
    let mut contents = contents(&strokes, &beats, count, &map, late, &shapes, &lifted);
    let spreads: Vec<f64> = (0..count)
        .map(|k| width / map.length(k as f64 + 0.5))
        .collect();
    let mut middle = spreads.clone();
    middle.sort_by(f64::total_cmp);
    let mut costs = Costs {
        slip: FIRST_SLIP,
        shade: 0.6,
        spread: middle[middle.len() / 2],
    };
    let bar = (per_bar, 0);
    job.part(0.75);
    let first = letters::classes(&contents, &spreads, &shapes, None);
    let text = Text::new(&first.of, &first.list, bar, costs);
    let solutions = letters::search(&text, 2, job)?;
    // Once more, knowing what repeats.
    let best = solutions
        .first()
        .map_or_else(Vec::new, |best| best.classes());
    costs.slip = slip(&text, &best, strokes.len());
    recut(
        &mut contents,
        &strokes,
        &first,
        &best,
        &costs,
        &shapes,
        &spreads,
    );
    let before = letters::Known {
        meant: &best,
        list: &first.list,
        costs: &costs,
    };
    let classes = letters::classes(&contents, &spreads, &shapes, Some(&before));
    job.part(1.0);
    let text = Text::new(&classes.of, &classes.list, bar, costs);
    let solutions = letters::search(&text, options.proposals.clamp(1, 20), job)?;
    let meant = solutions
        .first()
        .map_or_else(Vec::new, |best| best.classes());
    letters::snap(&mut contents, &classes, &meant, &spreads, &shapes);
    on_slots(&mut strokes, &contents, &map, &click, late);
    let forms = solutions
        .iter()
        .filter_map(|s| Form::of(s, &text))
        .collect();
    Ok(Reading {
        lifted,
        classes,
        costs,
        keys,
        other_channels: recording.other_channels,
        kind,
        on_ticks,
        source,
        map,
        meter,
        pulses: count,
        late_ms: late * 1000.0,
        spread_ms: width * 1000.0,
        shapes,
        beats,
        strokes,
        contacts: found.contacts,
        contents,
        forms,
        certainty,
        counted,
        title: recording.title.clone(),
    })
}

/// The beats of the file's own tempo map.
fn click(recording: &Recording, meter: Meter, options: &Options) -> BeatMap {
    let pulse = meter.pulse().to_f64();
    let first = options.first_beat.unwrap_or(0.0);
    let even = |us: u32| BeatMap::even(f64::from(us) / 1e6 * pulse, first);
    if let Some(tempo) = options.tempo {
        return BeatMap::even(60.0 / tempo, first);
    }
    let Some(per) = recording.ticks_per_quarter else {
        return even(recording.tempos[0].2);
    };
    let mut knots: Vec<(f64, f64)> = recording
        .tempos
        .iter()
        .map(|(tick, seconds, _)| (*tick as f64 / f64::from(per) / pulse, *seconds))
        .collect();
    let (at, seconds) = knots[knots.len() - 1];
    let (.., us) = recording.tempos[recording.tempos.len() - 1];
    knots.push((at + 1.0, seconds + f64::from(us) / 1e6 * pulse));
    BeatMap::new(knots).unwrap_or_else(|| even(recording.tempos[0].2))
}

/// The pulses from the bar line before the first stroke to that after the last.
fn bounds(strokes: &[Stroke], map: &BeatMap, per_bar: usize) -> Result<(i64, i64), TakeError> {
    let per_bar = per_bar as f64;
    let at = |s: Option<&Stroke>| s.map_or(0.0, |s| map.pulse(s.seconds));
    // A stroke just ahead of a beat is meant for it.
    let first = (at(strokes.first()) + 0.17).div_euclid(1.0);
    let last = (at(strokes.last()) + 0.17).div_euclid(1.0) + 1.0;
    let first = (first / per_bar).floor() * per_bar;
    let last = (last / per_bar).ceil() * per_bar;
    if last - first > MOST_PULSES {
        return Err(TakeError::TooMuch(format!("more than {MOST_PULSES} beats")));
    }
    Ok((first as i64, last as i64))
}

/// Most pulses of a take.
const MOST_PULSES: f64 = 200_000.0;

fn found_before(stroke: &Stroke, seconds: f64) -> bool {
    stroke.seconds < seconds
}

/// Subdivisions, how late the take is and its spread, each found with the help
/// of the others.
fn settle(
    strokes: &[Stroke],
    count: usize,
    map: &BeatMap,
    kind: Kind,
    shapes: &[Shape],
    job: &mut Job<'_>,
) -> Result<(Vec<BeatRead>, f64, f64), TakeError> {
    let (mut late, mut width) = (0.0, spread::FIRST);
    if kind == Kind::Programmed {
        width = 0.003;
    }
    for round in 0.. {
        let onsets: Vec<Onset> = (strokes.iter())
            .map(|s| Onset::of(s, map.pulse(s.seconds - late)))
            .collect();
        let range = (0, count as i64);
        let (beats, _) = subdivide::viterbi::read(&onsets, range, map, width, shapes, job)?;
        let placed = placed(strokes, &beats, map, late, shapes);
        let off: Vec<f64> = placed.iter().map(|p| p.late_ms / 1000.0).collect();
        let found = spread::middle_and_spread(&off);
        let Some((middle, found)) = found.filter(|_| kind == Kind::Played && round < 3) else {
            return Ok((beats, late, width));
        };
        let still = middle.abs() < 0.0007 && (found / width - 1.0).abs() < 0.08;
        if still {
            return Ok((beats, late, width));
        }
        late += middle;
        width = found;
    }
    unreachable!("the fourth round returns")
}

/// The line of beats that a player keeps to, near the one that was given.
fn own_line(
    strokes: &[Stroke],
    beats: &[BeatRead],
    map: &BeatMap,
    late: f64,
    shapes: &[Shape],
) -> BeatMap {
    let placed = placed(strokes, beats, map, late, shapes);
    let mut meant: Vec<(f64, f64)> = placed
        .iter()
        .map(|p| {
            let into = p.slot.0 as f64 / p.slot.1 as f64;
            (p.pulse as f64 + into, p.stroke.seconds - late)
        })
        .collect();
    meant.sort_by(|a, b| a.0.total_cmp(&b.0));
    beat::refine(map, &meant)
}

/// Strokes with their slots.
fn placed(
    strokes: &[Stroke],
    beats: &[BeatRead],
    map: &BeatMap,
    late: f64,
    shapes: &[Shape],
) -> Vec<Placed> {
    let mut out = Vec::with_capacity(strokes.len());
    for beat in beats {
        let some = &strokes[beat.onsets.0..beat.onsets.1];
        for (stroke, slot) in some.iter().zip(&beat.slots) {
            let (num, den) = shapes[beat.shape].slots[*slot];
            let meant = map.seconds(beat.pulse as f64 + num as f64 / den as f64);
            // A slot of the second of two beats.
            let whole = num.div_euclid(den);
            let into = Beats::new(num - whole * den, den);
            out.push(Placed {
                stroke: *stroke,
                pulse: beat.pulse + whole,
                slot: (into.numer(), into.denom()),
                late_ms: (stroke.seconds - late - meant) * 1000.0,
                click_ms: (stroke.seconds - late - meant) * 1000.0,
            });
        }
    }
    out
}
