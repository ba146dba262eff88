//! A take, read.

use crate::beat::{self, BeatMap, Wish};
use crate::form::Form;
use crate::job::{Job, Watch};
use crate::keys::Keys;
use crate::letters::{self, Content, Costs, Mark, Text};
use crate::recording::Recording;
use crate::strokes::{GRACE, Stroke, strokes};
use crate::subdivide::{self, BeatRead, Onset, Shape, spread};
use crate::TakeError;
use barform_core::music::{Beats, Kit, Meter};
use barform_core::take::Loudness;

/// Whether somebody played it, or a program wrote it on its ticks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// By hand, with human timing.
    Played,
    /// On the ticks of a grid.
    Programmed,
}

/// Where the beats come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum BeatSource {
    /// The file's tempo map where it states one, else found.
    #[default]
    Auto,
    /// The file's tempo map: it was played to a click.
    Click,
    /// Found from the strokes.
    Found,
}

/// How a take is read.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Played or programmed; `None` to find out.
    pub kind: Option<Kind>,
    /// Where the beats come from.
    pub beats: BeatSource,
    /// Pulses a minute, 20 to 400; `None` to find out.
    pub tempo: Option<f64>,
    /// Moment of the first beat of a bar, in seconds; `None` to find out.
    pub first_beat: Option<f64>,
    /// Meter; `None` for the file's, else 4/4.
    pub meter: Option<Meter>,
    /// The kit whose keys the pads send.
    pub kit: Kit,
    /// Most forms proposed, `1 ..= 20`.
    pub proposals: usize,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            kind: None,
            beats: BeatSource::Auto,
            tempo: None,
            first_beat: None,
            meter: None,
            kit: Kit::general_midi(),
            proposals: 5,
        }
    }
}

/// A stroke with its slot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// The stroke.
    pub stroke: Stroke,
    /// Its pulse, from the start of the form.
    pub pulse: i64,
    /// Its slot as a fraction of a pulse from there.
    pub slot: (i64, i64),
    /// How late it came, in milliseconds; negative if early. What the whole take
    /// is late is taken off, and what its player's own line of beats is.
    pub late_ms: f64,
    /// The same against the beats as they were given, or found.
    pub click_ms: f64,
}

/// A take, read.
#[derive(Debug, Clone)]
pub struct Reading {
    /// Whether it was played or programmed.
    pub kind: Kind,
    /// Share of notes that lie on the ticks of a grid, `0 ..= 1`.
    pub on_ticks: f64,
    /// Where the beats were taken from: never [`BeatSource::Auto`].
    pub source: BeatSource,
    /// The beats; pulse 0 is the form's first.
    pub map: BeatMap,
    /// The meter.
    pub meter: Meter,
    /// Pulses of the form.
    pub pulses: usize,
    /// How late the take is against its beats on the whole, in milliseconds.
    pub late_ms: f64,
    /// Spread of the strokes around their slots, in milliseconds.
    pub spread_ms: f64,
    /// The subdivisions there are.
    pub shapes: Vec<Shape>,
    /// Subdivision of every beat, or two.
    pub beats: Vec<BeatRead>,
    /// Every stroke with its slot, in order of time.
    pub strokes: Vec<Placed>,
    /// Notes that were a second contact of a stroke.
    pub contacts: usize,
    /// What each pulse plays.
    pub contents: Vec<Content>,
    /// Forms, that with the shortest description first.
    pub forms: Vec<Form>,
    /// How sure the beats are.
    pub certainty: Certainty,
    /// Strokes of a count-in; they are not in the form.
    pub counted: Vec<Stroke>,
    /// The file's title.
    pub title: String,
}

/// How sure beats are.
#[derive(Debug, Clone, PartialEq)]
pub struct Certainty {
    /// Of tempo and beat, `0 ..= 1`.
    pub beat: f64,
    /// Of the bar line, `0 ..= 1`.
    pub bar: f64,
    /// Other tempos that fit, pulses a minute, best first.
    pub others: Vec<f64>,
}

impl Default for Certainty {
    fn default() -> Self {
        Certainty {
            beat: 1.0,
            bar: 1.0,
            others: Vec::new(),
        }
    }
}

impl Reading {
    /// Reads the bytes of a MIDI file.
    ///
    /// # Errors
    /// See [`TakeError`].
    pub fn of(bytes: &[u8], options: &Options) -> Result<Reading, TakeError> {
        Reading::watched(bytes, options, &mut |_| true)
    }

    /// The same, telling `watch` the share that is done; where it answers
    /// `false` the reading stops.
    ///
    /// # Errors
    /// See [`TakeError`].
    pub fn watched(
        bytes: &[u8],
        options: &Options,
        watch: &mut Watch<'_>,
    ) -> Result<Reading, TakeError> {
        let mut job = Job::new(watch);
        job.part(0.05);
        job.step(0, 1)?;
        let recording = Recording::read(bytes)?;
        read(&recording, options, &mut job)
    }
}

fn read(
    recording: &Recording,
    options: &Options,
    job: &mut Job<'_>,
) -> Result<Reading, TakeError> {
    let notes = recording.notes.len();
    let on = recording.notes.iter().filter(|n| recording.on_ticks(n.tick)).count();
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
            (found.map, certainty, some.list[found.count_in].seconds - 0.04)
        }
        _ => (click(recording, meter, options), Certainty::default(), f64::NEG_INFINITY),
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
    let mut contents = contents(&strokes, &beats, count, &map, late, &shapes);
    let spreads: Vec<f64> = (0..count).map(|k| width / map.length(k as f64 + 0.5)).collect();
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
    let best = solutions.first().map_or_else(Vec::new, |best| best.classes());
    costs.slip = slip(&text, &best, strokes.len());
    recut(&mut contents, &strokes, &first, &best, &costs, &shapes, &spreads);
    let before = letters::Known {
        meant: &best,
        list: &first.list,
        costs: &costs,
    };
    let classes = letters::classes(&contents, &spreads, &shapes, Some(&before));
    job.part(1.0);
    let text = Text::new(&classes.of, &classes.list, bar, costs);
    let solutions = letters::search(&text, options.proposals.clamp(1, 20), job)?;
    let meant = solutions.first().map_or_else(Vec::new, |best| best.classes());
    letters::snap(&mut contents, &classes, &meant, &spreads, &shapes);
    on_slots(&mut strokes, &contents, &map, &click, late);
    let forms = solutions.iter().filter_map(|s| Form::of(s, &text)).collect();
    Ok(Reading {
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

/// Pulses in a bar, at least 1.
pub fn pulses(meter: Meter) -> usize {
    let pulses = meter.bar().checked_div(meter.pulse());
    pulses.map_or(4, |p| p.numer().max(1) as usize)
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
fn bounds(
    strokes: &[Stroke],
    map: &BeatMap,
    per_bar: usize,
) -> Result<(i64, i64), TakeError> {
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

/// The pulses up to the last bar in which something is struck.
fn sounding(strokes: &[Placed], count: usize, per_bar: usize) -> usize {
    let last = strokes.iter().map(|s| s.pulse).max().unwrap_or(0);
    let until = usize::try_from(last).unwrap_or(0) / per_bar * per_bar + per_bar;
    count.min(until)
}

/// What a slip costs before anything is known, in nats.
const FIRST_SLIP: f64 = 6.0;

/// What a slip costs where so many of the strokes are slips.
fn slip(text: &Text<'_>, meant: &[usize], strokes: usize) -> f64 {
    let pairs = text.beats.iter().zip(meant);
    let slips: u32 = pairs.map(|(a, b)| text.difference(*a, *b).strokes).sum();
    let share = (f64::from(slips) + 1.0) / (strokes as f64 + 50.0);
    2.3 - share.clamp(0.004, 0.1).ln()
}

/// Beat lines drawn anew by what the letters have on each beat.
fn recut(
    contents: &mut [Content],
    strokes: &[Placed],
    classes: &letters::Classes,
    meant: &[usize],
    costs: &Costs,
    shapes: &[Shape],
    spreads: &[f64],
) {
    let mut marks: Vec<Mark> = Vec::with_capacity(strokes.len());
    let mut owner: Vec<usize> = Vec::with_capacity(strokes.len());
    for (k, content) in contents.iter().enumerate() {
        let mut own = content.marks.clone();
        own.sort_by_key(|m| m.stroke);
        owner.extend(own.iter().map(|_| k));
        marks.extend(own.into_iter().map(|m| Mark {
            played: m.played + k as f64,
            ..m
        }));
    }
    // Beats of a two-beat grid may hold strokes out of order: leave those.
    if marks.windows(2).any(|w| w[0].stroke > w[1].stroke) || meant.len() < contents.len() {
        return;
    }
    let ends: Vec<usize> =
        (0..contents.len()).map(|k| owner.partition_point(|o| *o <= k)).collect();
    let letters: Vec<&Content> = meant.iter().map(|m| &classes.list[*m]).collect();
    let near = 5.0 * costs.spread;
    let cut = letters::recut(&marks, &ends, &letters, near, costs);
    let mut start = 0;
    for (k, end) in cut.iter().enumerate() {
        let before = k.checked_sub(1).map_or(0, |b| ends[b]);
        if (start, *end) != (before, ends[k]) && shapes[contents[k].shape].pulses == 1 {
            let own = marks[start..*end].iter().map(|m| Mark {
                played: m.played - k as f64,
                ..*m
            });
            contents[k].marks = own.collect();
            letters::read_alone(&mut contents[k], spreads[k], shapes);
        }
        start = *end;
    }
}

/// Strokes on the slots that their beats have.
fn on_slots(
    strokes: &mut [Placed],
    contents: &[Content],
    map: &BeatMap,
    click: &BeatMap,
    late: f64,
) {
    for (pulse, content) in contents.iter().enumerate() {
        for mark in &content.marks {
            let placed = &mut strokes[mark.stroke];
            placed.slot = mark.slot;
            placed.pulse = pulse as i64;
            let (num, den) = mark.slot;
            let meant = map.seconds(pulse as f64 + num as f64 / den as f64);
            placed.late_ms = (placed.stroke.seconds - late - meant) * 1000.0;
            let meant = click.seconds(pulse as f64 + num as f64 / den as f64);
            placed.click_ms = (placed.stroke.seconds - late - meant) * 1000.0;
        }
    }
}

/// What each pulse plays.
fn contents(
    strokes: &[Placed],
    beats: &[BeatRead],
    count: usize,
    map: &BeatMap,
    late: f64,
    shapes: &[Shape],
) -> Vec<Content> {
    let mut contents = vec![Content::default(); count];
    for beat in beats {
        for part in 0..shapes[beat.shape].pulses {
            let pulse = usize::try_from(beat.pulse).ok().map(|p| p + part);
            if let Some(content) = pulse.and_then(|p| contents.get_mut(p)) {
                content.shape = beat.shape;
                content.part = part;
                content.times = 1;
            }
        }
    }
    let loudness = Loudness::default();
    for (index, placed) in strokes.iter().enumerate() {
        let pulse = usize::try_from(placed.pulse).ok();
        let Some(content) = pulse.and_then(|p| contents.get_mut(p)) else {
            continue;
        };
        content.marks.push(Mark {
            slot: placed.slot,
            played: map.pulse(placed.stroke.seconds - late) - placed.pulse as f64,
            voice: placed.stroke.voice,
            articulation: placed.stroke.articulation,
            level: loudness.level(placed.stroke.velocity),
            graces: placed.stroke.graces,
            buzz: placed.stroke.buzz,
            stroke: index,
        });
    }
    contents
}
