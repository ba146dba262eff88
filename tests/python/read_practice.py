"""Practice tracks as MIDI files, read by mido.

Works each track out from its plain description alone, with exact fractions: bars of
4/4 throughout, so that everything changes on bar lines. Compares it with the notes
that mido reads by the file's own tempo map.
"""

import json
import sys
from collections import Counter
from fractions import Fraction

import mido

# A sample at 48 kHz.
SLACK = Fraction(1, 48_000)


def due(case):
    """Seconds, key of every note, and seconds of every tempo step."""
    notes, steps = [], []
    now = Fraction(0)
    beat = 60 / Fraction(case["tempos"][0])
    for bar in range(case["count_in"]):
        for n in range(4):
            notes.append((now, 33 if n else 34))
            now += beat
    bar = 0
    turns = [who for who, bars in case["turns"] for _ in range(bars)]
    for tempo in case["tempos"]:
        beat = 60 / Fraction(tempo)
        steps.append(now)
        for _ in range(case["passes"]):
            for first in range(0, len(case["form"]), 4):
                silent, of = case["gap"]
                clicks = bar % of < of - silent
                plays = not turns or turns[bar % len(turns)] == "barform"
                for n, letter in enumerate(case["form"][first : first + 4]):
                    if clicks:
                        notes.append((now, 33 if n else 34))
                    limbs = case["cells"][letter]
                    for slot, limb in enumerate(limbs):
                        if plays and limb in "RLK":
                            at = now + beat * Fraction(slot, len(limbs))
                            notes.append((at, 36 if limb == "K" else 38))
                    now += beat
                bar += 1
    return notes, steps, now


def read(path):
    """Seconds and key of every note-on, seconds of every tempo, the end."""
    file = mido.MidiFile(path)
    now, us = Fraction(0), 500_000
    notes, tempos = [], []
    for message in mido.merge_tracks(file.tracks):
        now += Fraction(message.time * us, file.ticks_per_beat * 1_000_000)
        if message.type == "set_tempo":
            us = message.tempo
            tempos.append(now)
        if message.type == "note_on" and message.velocity > 0:
            notes.append((now, message.note))
    return notes, tempos, now


def main():
    seen = Counter()
    with open(sys.argv[1], encoding="utf-8") as file:
        cases = json.load(file)
    for case in cases:
        wanted, steps, end = due(case)
        got, tempos, last = read(case["file"])
        by_key = lambda note: (note[1], note[0])
        wanted, got = sorted(wanted, key=by_key), sorted(got, key=by_key)
        assert len(wanted) == len(got), (case, len(wanted), len(got))
        for (at, key), (was, read_key) in zip(wanted, got):
            assert key == read_key and abs(at - was) <= SLACK, (case, key, float(at), float(was))
        assert abs(end - last) <= SLACK, (case, float(end), float(last))
        for before, step, tempo in zip(case["tempos"], steps[1:], case["tempos"][1:]):
            if before != tempo:
                assert any(abs(step - t) <= SLACK for t in tempos), (case, float(step))
        seen["cases"] += 1
        seen["notes"] += len(got)
        seen["steps"] += len(steps)
        seen["gaps"] += case["gap"][0] > 0
        seen["trades"] += bool(case["turns"])
    print(json.dumps(seen))


main()
