"""Reads MIDI files with mido and pretty_midi and compares them with music that
is described in plain words.

In: a JSON file with a list of cases (file, description, what the command
said). Out: counts of what was compared, as JSON. The schedule is worked out
here from the description, with exact fractions; nothing is taken from the
program under test. The first difference ends the script with an error.
"""

import json
import math
import pathlib
import re
import sys
from collections import Counter, defaultdict
from fractions import Fraction as F

import mido
import pretty_midi

# Python is run apart from its surroundings; the neighbour is named here.
sys.path.insert(0, str(pathlib.Path(__file__).parent))
from read_score import music_of
from schedule import Schedule, is_compound, nearest

# Standard MIDI Files 1.0: the division has 15 bits for ticks per quarter note.
MOST_TICKS = 0x7FFF

# General MIDI's percussion channel, 10, as it stands on the wire.
PERCUSSION = 9


def fail(case, what):
    sys.exit(f"{case['name']}: {what}")


def same(case, what, read, expected):
    if read != expected:
        fail(case, f"{what}: read {read}, expected {expected}")


def read_tracks(case, midi):
    """Per track: name, note-ons with their ends, end of track. Every note-on
    must get exactly one note-off before its key sounds again."""
    tracks = []
    for track in midi.tracks:
        now, name, on, notes = 0, None, {}, []
        for message in track:
            now += message.time
            if message.type == "track_name":
                name = message.name
            elif message.type == "note_on":
                if message.velocity == 0:
                    fail(case, "a note-on of velocity 0 stands for a note-off")
                same(case, "channel", message.channel, PERCUSSION)
                if message.note in on:
                    fail(case, f"key {message.note} starts twice at tick {now}")
                on[message.note] = (now, message.velocity)
            elif message.type == "note_off":
                if message.note not in on:
                    fail(case, f"key {message.note} ends at tick {now} but does not sound")
                start, velocity = on.pop(message.note)
                notes.append((start, now, message.note, velocity))
        if on:
            fail(case, f"{name}: notes left hanging: {on}")
        tracks.append((name, sorted(notes), now))
    return tracks


def check_case(case, seen):
    music, told = case["music"], case["told"]
    midi = mido.MidiFile(case["file"], charset="utf-8")
    schedule = Schedule(music, seen)
    same(case, "type of file", midi.type, 1)
    division = midi.ticks_per_beat
    conductor = midi.tracks[0]
    same(case, "title", [m.name for m in conductor if m.type == "track_name"], [music["title"]])
    us = Schedule.us_per_quarter(music)
    same(case, "tempo", [m.tempo for m in conductor if m.type == "set_tempo"], [us])
    exact_us = F(60_000_000) / F(music["tempo"])
    if us != exact_us:
        seen["inexact_tempos"] += 1
        if f"{us} microseconds a quarter note, not {exact_us}" not in told:
            fail(case, f"an inexact tempo is not told: {told}")

    signatures = check_bars(case, conductor, division, schedule)
    times = {at for _, at, *_ in schedule.strokes} | {at for at, _ in schedule.markers}
    check_division(case, division, times | signatures | {schedule.end}, us, seen)

    markers, now = [], 0
    for message in conductor:
        now += message.time
        if message.type == "marker":
            markers.append((now, message.text))
    expected = [(nearest(at * division), text) for at, text in schedule.markers]
    same(case, "markers", markers, expected)
    check_notes(case, midi, division, us, schedule, seen)
    check_pretty(case, midi, us, seen)


def check_bars(case, conductor, division, schedule):
    """Draws bar lines as any reader would: from each time signature on, a line
    every bar. They must be the form's. Returns the signatures' exact times."""
    signatures, now = [], 0
    for message in conductor:
        now += message.time
        if message.type == "time_signature":
            signatures.append((now, (message.numerator, message.denominator)))
            pulse = F(4 * (3 if is_compound((message.numerator, message.denominator)) else 1),
                      message.denominator)
            same(case, "MIDI clocks per pulse", message.clocks_per_click,
                 max(1, math.floor(24 * pulse)))
            same(case, "32nds per quarter", message.notated_32nd_notes_per_beat, 8)
    same(case, "first signature's tick", signatures[0][0], 0)
    lines, pickups, meters = {}, set(), {}
    for n in range(case["music"]["passes"]):
        for at, meter, is_pickup in schedule.bars:
            at = schedule.lead + n * schedule.length + at
            if is_pickup:
                pickups.add(nearest(at * division))
            else:
                lines[nearest(at * division)] = at
                meters[nearest(at * division)] = tuple(meter)
    drawn = {}
    for i, (start, (count, unit)) in enumerate(signatures):
        last = i + 1 == len(signatures)
        until = nearest(schedule.end * division) if last else signatures[i + 1][0]
        step, at = F(4 * count * division, unit), F(start)
        # A line of the form may lie up to half a tick from where it is meant.
        while nearest(at) < until:
            drawn[nearest(at)] = (count, unit)
            at += step
    inexact = any((at * division).denominator > 1 for at in lines.values())
    if not inexact:
        missing = sorted(set(lines) - set(drawn))
        same(case, "bar lines that are not drawn", missing, [])
        form_from = nearest(schedule.lead * division)
        extra = {t for t in drawn if t not in lines and t not in pickups and t >= form_from}
        same(case, "bar lines drawn where none is", sorted(extra), [])
        full = sorted(lines)
        passes = {nearest((schedule.lead + n * schedule.length) * division)
                  for n in range(case["music"]["passes"])}
        for tick, after in zip(full, full[1:]):
            count, unit = meters[tick]
            # A pass may end in a short bar, and the next one's pickup fill it up.
            cut = any(tick < at < after for at in passes)
            if not cut and F(after - tick, division) == F(4 * count, unit):
                same(case, f"meter at tick {tick}", drawn[tick], (count, unit))
    every = {nearest(F(at) * division): F(at) for at in
             list(lines.values()) + [schedule.lead + n * schedule.length
                                     for n in range(case["music"]["passes"])]}
    return {every.get(tick, F(tick, division)) for tick, _ in signatures}


def check_division(case, division, times, us, seen):
    common = 1
    for at in times:
        common = math.lcm(common, at.denominator)
    largest = max(abs(at * division - nearest(at * division)) for at in times)
    if common <= MOST_TICKS:
        same(case, "ticks between strokes and their ticks", largest, 0)
        if "largest error" in case["told"]:
            fail(case, f"an error where there is none: {case['told']}")
        return
    seen["inexact_divisions"] += 1
    told = re.search(r"largest error is (\d+)/(\d+) of a tick, ([\d.]+) microseconds", case["told"])
    if not told:
        fail(case, f"rounding is not told: {case['told']}")
    same(case, "largest error", F(int(told[1]), int(told[2])), largest)
    if abs(F(told[3]) - largest * us / division) > F(1, 100):
        fail(case, f"the error in microseconds is told as {told[3]}")
    # No other division is nearer.
    fractions = {at % 1 for at in times} - {0}
    for other in range(1, MOST_TICKS + 1):
        worst = F(0)
        for at in fractions:
            rest = at.numerator * other % at.denominator
            worst = max(worst, F(min(rest, at.denominator - rest), at.denominator * other))
            if worst * division >= largest:
                break
        if worst * division < largest:
            fail(case, f"{other} ticks a quarter note would be nearer than {division}")


def check_notes(case, midi, division, us, schedule, seen):
    ticks_per_us = F(division, us)
    expected, levels = defaultdict(set), {}
    end = nearest(schedule.end * division)
    total = 0
    for track, at, shift, key, level in schedule.strokes:
        tick = nearest(at * division + shift * ticks_per_us)
        seen["clamped"] += tick < 0
        tick = max(tick, 0)
        total += 1
        seen["merged"] += (tick, key) in expected[track]
        if (tick, key) in expected[track]:
            levels[track, tick, key] = None
        else:
            levels[track, tick, key] = level
        expected[track].add((tick, key))
    schedule.neighbours = set().union(*expected.values())
    tracks = read_tracks(case, midi)
    same(case, "tracks", [name for name, *_ in tracks[1:]],
         [name for name in ["Hands", "Feet"]
          + [f"Ostinato: {o['name']}" for o in case["music"]["ostinatos"]] + ["Click"]
          if expected[name]])
    gate = case["music"]["gate_us"]
    by_level = defaultdict(set)
    for name, notes, ends_at in tracks:
        same(case, f"end of {name}", ends_at, end)
        read = {(start, key) for start, _, key, _ in notes}
        if name in ("Hands", "Feet"):
            seen["open_notes"] += take_open(case, name, read, schedule, division, ticks_per_us)
        levels_known = {(start, key) for start, _, key, _ in notes} & read
        if read != expected.get(name, set()):
            missing = sorted(expected.get(name, set()) - read)[:5]
            extra = sorted(read - expected.get(name, set()))[:5]
            fail(case, f"{name}: missing {missing}, not asked for {extra}")
        for start, stop, key, velocity in notes:
            if not start < stop <= start + max(1, math.ceil(gate * ticks_per_us) + 1):
                fail(case, f"{name}: key {key} sounds from {start} to {stop}")
            if (start, key) in levels_known:
                by_level[levels[name, start, key]].add(velocity)
    seen["strokes"] += total
    order = ["ghost", "normal", "accent"]
    for soft, loud in zip(order, order[1:]):
        if by_level[soft] and by_level[loud] and max(by_level[soft]) >= min(by_level[loud]):
            fail(case, f"{soft} is not softer than {loud}: {dict(by_level)}")


def take_open(case, name, read, schedule, division, ticks_per_us):
    """Takes notes out of `read` that stand in a stretch whose strokes are open.
    Every one must be a stroke on a slot there, a grace note or a bounce by one;
    what the neighbours' grace notes put there is left in."""
    taken = 0
    music = case["music"]
    for n in range(music["passes"]):
        start = schedule.lead + n * schedule.length
        for begins, ends, on in schedule.open:
            ticks = {nearest((start + at) * division) for at in on}
            shifts = [-k * music["grace_us"] for k in (1, 2, 3)]
            near = {nearest((start + at) * division + us * ticks_per_us)
                    for at in on for us in shifts}
            within = nearest((start + begins) * division), nearest((start + ends) * division)
            mine = {(t, key) for t, key in read
                    if t in ticks or t in near}
            if name == "Hands" and not any(t in ticks for t, _ in mine):
                fail(case, f"nothing is played from tick {within[0]} to {within[1]}")
            others = {(t, key) for t, key in schedule.neighbours if (t, key) in mine}
            taken += len(mine - others)
            read -= mine - others
    return taken


def check_pretty(case, midi, us, seen):
    """What pretty_midi hears: the same notes, in seconds."""
    pretty = pretty_midi.PrettyMIDI(case["file"])
    same(case, "resolution", pretty.resolution, midi.ticks_per_beat)
    heard = Counter()
    for instrument in pretty.instruments:
        if not instrument.is_drum:
            fail(case, f"{instrument.name} is not on the percussion channel")
        for note in instrument.notes:
            heard[round(note.start * 1e6), note.pitch] += 1
    meant = Counter()
    for _, notes, _ in read_tracks(case, midi):
        for start, _, key, _ in notes:
            meant[round(start * us / midi.ticks_per_beat), key] += 1
    # Rounding of floating point may turn half a microsecond either way.
    lost = meant - heard
    for (at, key), count in lost.items():
        near = sum(heard[at + d, key] for d in (-1, 0, 1))
        if near < count:
            fail(case, f"pretty_midi does not hear key {key} at {at} us")
    same(case, "notes that pretty_midi hears", heard.total(), meant.total())
    read = pretty.time_signature_changes
    written = [m for m in midi.tracks[0] if m.type == "time_signature"]
    same(case, "signatures that pretty_midi reads",
         [(s.numerator, s.denominator) for s in read],
         [(m.numerator, m.denominator) for m in written])


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        cases = json.load(file)
    seen = Counter()
    for case in cases:
        if isinstance(case["music"].get("score"), str):
            case["music"] |= music_of(case["music"]["score"])
        check_case(case, seen)
        seen["cases"] += 1
    print(json.dumps(seen))


main()
