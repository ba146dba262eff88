"""Compares what a DAW played with what the command writes, and prints a row as
JSON.

compare.py RUN.json

The run says where everything lies:

    rate        samples a second
    parts       how many stretches of time there must be at least, cut by jumps
    tempos      [[from beat, beats a minute, reference MIDI, its stems as WAV], ...]
    log         what the probe wrote: the host's positions, the plugin's notes
    track       a MIDI track that the DAW recorded, or nothing
    sound       files of what it played, one a channel or one of two; none where it
                jumped or changed tempo: what rings on, and in which of its takes a drum
                is heard, hang on what went before
    real_time   the same as played in real time, where `sound` was exported

What is expected follows from the positions in samples (or seconds) that the host
reports, which both DAWs count exactly, and from the session's tempos. The
positions in beats, which they round, are what the plugin has to cope with: a
stroke may be as far off as the worst of them, and no further.
"""

import bisect
import json
import sys
from collections import defaultdict, namedtuple

import mido
import numpy as np
import soundfile

# Every main stroke of the demo score lies on a 24th of a beat. What does not is
# an ornament, set in milliseconds, and lies on the file's nearest tick.
GRID = 24
# A note is looked for this near, in seconds.
NEAR = 0.012
# What floating point may add, in samples.
FLOAT = 0.01

# Samples by the clock of the run; `origin` is the tempo's index and the sample in
# its reference, `off` how far off the note may be, `least` the length that is left
# of it where the part it starts in ends.
Expected = namedtuple("Expected", "at key velocity length least ornament off off_length tempo origin turn")
Note = namedtuple("Note", "at key velocity length")
# Time that runs on: the clock and the position at its start, the position at its end.
Part = namedtuple("Part", "clock start end")


def notes_of_file(path):
    """Notes in beats, the file's length in beats, and the length of a tick."""
    midi, notes = mido.MidiFile(path), []
    for track in midi.tracks:
        now, on = 0, defaultdict(list)
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                on[message.note].append((now, message.velocity))
            elif message.type in ("note_on", "note_off") and on[message.note]:
                start, velocity = on[message.note].pop(0)
                notes.append((start, message.note, velocity, now - start))
    tick = 1 / midi.ticks_per_beat
    length = max(sum(message.time for message in track) for track in midi.tracks) * tick
    return [Note(at * tick, key, v, long * tick) for at, key, v, long in sorted(notes)], length, tick


class Tempos:
    """Beats to samples, tempo by tempo."""

    def __init__(self, tempos, rate):
        self.starts, self.per_beat, self.samples = [], [], []
        for beat, tempo, *_ in tempos:
            self.samples.append(self.to_samples(beat) if beat else 0.0)
            self.starts.append(beat)
            self.per_beat.append(rate * 60 / tempo)

    def index(self, beat):
        return bisect.bisect_right(self.starts, beat) - 1

    def to_samples(self, beat):
        i = self.index(beat)
        return self.samples[i] + (beat - self.starts[i]) * self.per_beat[i]

    def to_beats(self, samples):
        i = bisect.bisect_right(self.samples, samples) - 1
        return self.starts[i] + (samples - self.samples[i]) / self.per_beat[i]


def read_log(path, rate, tempos):
    """The parts that the host played, the plugin's notes, the notes left on, and how
    far positions in beats are off, in samples."""
    parts, notes, on, off = [], [], defaultdict(list), 0.0
    clock = frames = 0
    last = None
    for line in open(path):
        if not line.endswith("\n"):
            break  # the host ended while this was written
        kind, *fields = line.split()
        if kind == "N":
            offset, starts, key, velocity = map(int, fields)
            if starts:
                on[key].append((clock + offset, velocity))
            elif on[key]:
                start, velocity = on[key].pop(0)
                notes.append(Note(start, key, velocity, clock + offset - start))
            continue
        clock += frames
        frames, playing = int(fields[0]), fields[1] == "1"
        if not playing:
            last = None
            continue
        start = round(float(fields[2]) * rate)
        off = max(off, abs(tempos.to_samples(float(fields[3])) - start))
        if start == last:
            # The same block once more, as some hosts begin: its strokes have sounded.
            parts.append(Part(clock + frames, start + frames, start + frames))
        elif parts and (parts[-1].end, parts[-1].clock + parts[-1].end - parts[-1].start) == (start, clock):
            parts[-1] = parts[-1]._replace(end=start + frames)
        else:
            parts.append(Part(clock, start, start + frames))
        last = start
    left = [Note(at, key, velocity, 0) for key, notes in on.items() for at, velocity in notes]
    return parts, sorted(notes + left), len(left), off


def expect(parts, references, tempos, off):
    """What the parts must bring."""
    expected = []
    for part in parts:
        for i, (notes, length, tick) in enumerate(references):
            per_beat = tempos.per_beat[i]
            for note in notes:
                ornament = abs(note.at * GRID - round(note.at * GRID)) > 1e-6
                may = off + 0.5 + FLOAT + (tick / 2 * per_beat if ornament else 0)
                beat, turn = note.at, 0
                while (at := tempos.to_samples(beat)) < part.end:
                    if tempos.index(beat) == i and part.start <= int(at + 0.5) < part.end:
                        long = note.length * per_beat
                        clock, least = part.clock + at - part.start, min(long, part.end - at)
                        expected.append(Expected(clock, note.key, note.velocity, long, least, ornament, may, 2 * tick * per_beat, i, round(note.at * per_beat), turn))
                    beat, turn = beat + length, turn + 1
    return sorted(expected)


def compare_notes(expected, got, may):
    """What is missing and what is too much, and how far the worst start and length are
    off; starts may be off by `may` samples more than is said in each note."""
    free, missing, wrong, worst, worst_length = defaultdict(list), [], [], 0.0, 0.0
    for note in got:
        free[note.key, note.velocity].append(note)
    for note in expected:
        candidates = free[note.key, note.velocity]
        found = min(candidates, key=lambda other: abs(other.at - note.at), default=None)
        if found is None or abs(found.at - note.at) > NEAR * rate:
            missing.append(note)
            continue
        candidates.remove(found)
        off = abs(found.at - note.at)
        off_length = max(note.least - found.length, found.length - note.length, 0)
        if off > note.off + may or off_length > note.off_length:
            wrong.append((note, found))
        # An ornament's place in the file is not exact enough to be told.
        worst, worst_length = max(worst, 0 if note.ornament else off), max(worst_length, off_length)
    extra = sorted(note for left in free.values() for note in left)
    return {
        "expected": len(expected),
        "played": len(got),
        "missing": len(missing),
        "extra": len(extra),
        "off": len(wrong),
        "start_ms": 1000 * worst / rate,
        "length_ms": 1000 * worst_length / rate,
        "notes": {"missing": missing[:20], "extra": extra[:20], "off": wrong[:20]},
    }


def decibels(ratio):
    return 20 * np.log10(np.maximum(ratio, 1e-9))


def read_sound(files):
    """Samples of all channels, as columns."""
    return np.hstack([soundfile.read(file, always_2d=True)[0] for file in files])


def compare_sound(expected, sound, first, references):
    """Each onset beside the reference's: by how many samples the worst is early or
    late, and by how many decibels the worst is off the level of most. The whole may be
    louder or softer: the plugin has a level of its own."""
    turn = min(note.turn for note in expected)
    before, long, reach = rate // 1000, rate * 30 // 1000, 64
    starts, levels, last = [], [], -rate
    for note in expected:
        # Strokes that fall together, or nearly, are one onset.
        at = round(note.at) - first
        if note.turn > turn or at - last < rate // 200:
            continue
        last = at
        start = min(before, note.origin, at - reach)
        wanted = references[note.tempo][note.origin - start : note.origin + long]
        heard = sound[at - start - reach : at + long + reach]
        if start < 0 or len(heard) < len(wanted) + 2 * reach:
            continue
        match = sum(np.correlate(heard[:, c], wanted[:, c], "valid") for c in range(2))
        energy = np.convolve((heard**2).sum(axis=1), np.ones(len(wanted)), "valid")
        best = int((match / np.sqrt(energy + 1e-12)).argmax())
        starts.append(best - reach)
        levels.append(match[best] / (wanted**2).sum())
    levels = decibels(levels) - decibels(np.median(levels))
    return {"onsets": len(starts), "start": int(np.abs(starts).max()), "level_db": float(np.abs(levels).max())}


def in_one_go(parts):
    """The clock at the end of what was played without a gap from the first part on."""
    end = parts[0].clock
    for part in parts:
        if part.clock != end:
            break
        end += part.end - part.start
    return end


def compare_track(expected, parts, path):
    """A track holds what was recorded in one go, its start the first part's."""
    notes, _, tick = notes_of_file(path)
    first = parts[0]
    beat = tempos.to_beats(first.start)

    def by_the_clock(note):
        start = tempos.to_samples(beat + note.at)
        length = tempos.to_samples(beat + note.at + note.length) - start
        return Note(first.clock + start - first.start, note.key, note.velocity, length)

    # What the last moments brought may lie on either side of the recording's end.
    end = in_one_go(parts) - rate / 10
    recorded = [note for note in map(by_the_clock, notes) if note.at < end]
    # The DAW puts starts and ends on its ticks.
    return compare_notes([note for note in expected if note.at < end], recorded, tick * max(tempos.per_beat))


run = json.load(open(sys.argv[1]))
rate = run["rate"]
tempos = Tempos(run["tempos"], rate)
references = [notes_of_file(midi) for _, _, midi, _ in run["tempos"]]
parts, sent, hanging, off = read_log(run["log"], rate, tempos)
expected = expect(parts, references, tempos, off)

row, wrong = {"host": {"off_ms": 1000 * off / rate}, "parts": parts}, []
row["plugin"] = compare_notes(expected, sent, 0) | {"hanging": hanging}
if run["track"]:
    row["track"] = compare_track(expected, parts, run["track"])
for part in ("plugin", "track"):
    for fault in ("missing", "extra", "hanging", "off"):
        if count := row.get(part, {}).get(fault):
            wrong.append(f"{part}: {count} {fault}")
if len(parts) < run.get("parts", 1) or not expected:
    wrong.append("the transport did not do what it should")
if run["sound"]:
    sound = read_sound(run["sound"])
    stems = [sum(read_sound([file]) for file in files) for *_, files in run["tempos"]]
    row["sound"] = compare_sound(expected, sound, parts[0].clock, stems)
    # The recording's own sample and the reference's.
    if row["sound"]["start"] > off + 1:
        wrong.append("sound: starts")
    # Strokes that are a sample off against each other add up to a little more or less,
    # and the kit's limiter may hold back the loudest.
    if row["sound"]["level_db"] > 0.5:
        wrong.append("sound: levels")
if run["real_time"]:
    played = read_sound(run["real_time"])
    both = min(len(sound), len(played))
    row["export_db"] = float(decibels(np.abs(sound[:both] - played[:both]).max()))
    if row["export_db"] > -100:
        wrong.append("export: unlike real time")
json.dump(row | {"wrong": wrong}, sys.stdout)
