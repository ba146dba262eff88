"""Writes drum patterns as MIDI files with mido, and says what they are.

In: a folder. Out: one file per case there, and a JSON list: file, what it was
made from. Patterns are invented; a beat is told as a list of (slot, drum), its
grid as a number of slots. Nothing is taken from the program under test.
"""

import json
import pathlib
import random
import sys
from fractions import Fraction as F

import mido
import pretty_midi.constants

FOLDER = pathlib.Path(sys.argv[1])

# General MIDI Level 1 percussion keys (MIDI Association), from memory.
KEYS = {"kick": 36, "snare": 38, "hat": 42, "tom1": 50, "tom4": 45, "crash": 49, "ride": 51}
VELOCITIES = {"ghost": 32, "normal": 84, "accent": 118}
DRUMS = 9  # channel 10 as it stands on the wire


def nearest(x):
    return (2 * x.numerator + x.denominator) // (2 * x.denominator)


def notes_of(beats, division, jitter_ms=0.0, bpm=100, rng=None):
    """(tick, drum, level), the drums of a slot together."""
    notes = []
    for number, (slots, strokes) in enumerate(beats):
        for slot, drum, level in strokes:
            tick = (number + F(slot, slots)) * division
            if jitter_ms:
                off_ms = rng.uniform(-jitter_ms, jitter_ms)
                tick += F(off_ms) * division * bpm / 60_000
            notes.append((max(0, nearest(tick)), drum, level))
    return sorted(notes)


def messages(notes, zero_off, gate):
    """Absolute messages, offs by note-on of velocity 0 where asked."""
    events = []
    for tick, drum, level in notes:
        key, velocity = KEYS[drum], VELOCITIES[level]
        events.append((tick, 1, mido.Message("note_on", channel=DRUMS, note=key,
                                             velocity=velocity)))
        off = (mido.Message("note_on", channel=DRUMS, note=key, velocity=0) if zero_off else
               mido.Message("note_off", channel=DRUMS, note=key, velocity=64))
        events.append((tick + gate, 0, off))
    return events


def track_of(events):
    track, now = mido.MidiTrack(), 0
    for tick, _, message in sorted(events, key=lambda e: (e[0], e[1])):
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=0))
    return track


def running(path, track, division, kind):
    """The same file with running status, which mido does not write: message by
    message, the status left out where it is that of the message before."""
    body, status = bytearray(), None
    for message in track:
        delta, parts = message.time, []
        parts.append(delta & 0x7F)
        while delta := delta >> 7:
            parts.append(0x80 | delta & 0x7F)
        body += bytes(reversed(parts))
        data = message.bytes()
        if message.is_meta:
            body += bytes(data)
            status = None
        else:
            body += bytes(data[1:] if data[0] == status else data)
            status = data[0]
    head = b"MThd" + (6).to_bytes(4, "big") + kind.to_bytes(2, "big") + b"\0\1"
    path.write_bytes(head + division.to_bytes(2, "big") + b"MTrk"
                     + len(body).to_bytes(4, "big") + bytes(body))
    mido.MidiFile(path)


def write(cases, name, beats, division, *, kind=1, split=False, zero_off=False, status=False,
          jitter_ms=0.0, bpm=100, seed=0, meter=(4, 4)):
    rng = random.Random(seed)
    notes = notes_of(beats, division, jitter_ms, bpm, rng)
    head = [(0, -2, mido.MetaMessage("set_tempo", tempo=round(60_000_000 / bpm))),
            (0, -1, mido.MetaMessage("time_signature", numerator=meter[0],
                                     denominator=meter[1]))]
    gate = max(1, division // 48)
    path = FOLDER / f"{name}.mid"
    file = mido.MidiFile(type=kind, ticks_per_beat=division)
    if kind == 0:
        track = track_of(head + messages(notes, zero_off, gate))
        if status:
            running(path, track, division, 0)
        else:
            file.tracks.append(track)
            file.save(path)
    else:
        file.tracks.append(track_of(head))
        drums = sorted({n[1] for n in notes}) if split else [None]
        for drum in drums:
            mine = [n for n in notes if drum is None or n[1] == drum]
            file.tracks.append(track_of(messages(mine, zero_off, gate)))
        file.save(path)
    cases.append({
        "name": name, "file": str(path), "bpm": bpm, "meter": f"{meter[0]}/{meter[1]}",
        "jitter_ms": jitter_ms, "exact": not jitter_ms,
        # Strokes in order: beat and position in it as a fraction, drum, level.
        "strokes": sorted([n, str(F(s, slots)), d, l]
                          for n, (slots, strokes) in enumerate(beats) for s, d, l in strokes),
        # Slots of the beats that have strokes on all of their slots.
        "full": {str(n): slots for n, (slots, strokes) in enumerate(beats)
                 if len({s for s, *_ in strokes}) == slots},
    })


def full(slots, drum="snare"):
    levels = ["accent", "normal", "ghost"]
    return slots, [(s, drum, levels[min(s, 2)]) for s in range(slots)]


def groove():
    return [
        (4, [(0, "hat", "normal"), (0, "kick", "accent"), (2, "hat", "normal"),
             (3, "kick", "normal")]),
        (4, [(0, "hat", "normal"), (0, "snare", "accent"), (1, "snare", "ghost"),
             (2, "hat", "normal")]),
        (3, [(0, "tom1", "accent"), (1, "tom1", "normal"), (2, "tom4", "normal")]),
        (2, [(0, "crash", "accent"), (0, "kick", "accent"), (1, "snare", "normal")]),
    ]


def main():
    cases = []
    for division in (480, 960, 96):
        for kind in (0, 1):
            beats = groove() + [full(3), full(5), full(4), full(6)]
            write(cases, f"plain-{division}-{kind}", beats, division, kind=kind)
    write(cases, "split", groove() * 2, 480, split=True)
    write(cases, "zero-off", groove() * 2, 480, zero_off=True)
    write(cases, "running", groove() * 2, 480, kind=0, zero_off=True, status=True)
    write(cases, "three-four", [full(4), full(3), full(2)] * 2, 480, meter=(3, 4))
    write(cases, "septuplets", [full(7), full(9), full(8), full(1)], 960)
    for seed in range(40):
        beats = groove() + [full(3), full(5), full(4), full(6)]
        random.Random(seed).shuffle(beats)
        # No stroke before the file starts: the first beat is a plain one.
        write(cases, f"played-{seed}", [full(1)] + beats[:7], 480, jitter_ms=8.0, seed=seed)
    names = [pretty_midi.constants.DRUM_MAP[key - 35] for key in range(35, 82)]
    print(json.dumps({"cases": cases, "names": names}))


main()
