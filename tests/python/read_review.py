"""Means and spreads of human takes, worked out by numpy.

In: a JSON file with a list of cases (file, review of the command as JSON). Every
stroke due is put with the nearest note of its drum that has it as its nearest
stroke, which is right wherever strokes of one drum are well apart. Out: how many takes
and strokes were compared, and how many takes agree.
"""

import json
import sys

import mido
import numpy as np

# Beyond this nothing is put together, in seconds.
REACH = 0.08

# Keys of the take's pads and of General MIDI Level 1.
VOICES = {36: "kick", 38: "snare", 40: "snare", 37: "snare", 42: "hat", 22: "hat",
          46: "hat", 26: "hat", 44: "hatfoot", 51: "ride", 59: "ride", 53: "ride"}


def onsets(path):
    """Seconds of the note-ons by drum."""
    drums, now = {}, 0.0
    for message in mido.MidiFile(path):
        now += message.time
        if message.type == "note_on" and message.velocity > 0 and message.note in VOICES:
            times = drums.setdefault(VOICES[message.note], [])
            times.append(now)
    return {voice: np.array(times) for voice, times in drums.items()}


def late(due, played):
    """Milliseconds late of the pairs that are each other's nearest."""
    if not len(due) or not len(played):
        return np.array([])
    apart = played[None, :] - due[:, None]
    of_due, of_note = np.abs(apart).argmin(1), np.abs(apart).argmin(0)
    rows = np.arange(len(due))
    mutual = (of_note[of_due] == rows) & (np.abs(apart[rows, of_due]) < REACH)
    return 1000 * apart[rows[mutual], of_due[mutual]]


def middle_of(late):
    """Without the outermost twentieth on either side: whether a stray note was meant
    as a stroke is a matter of opinion."""
    late = np.sort(late)
    cut = len(late) // 20
    return late[cut : len(late) - cut]


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        cases = json.load(file)
    compared = takes = agree = 0
    for case in cases:
        review = case["review"]
        if review["drift_percent"] != 0:
            continue
        rows = [s["due"] for s in review["strokes"]] + review["missed"]
        rows = [r for r in rows if not r["grace"]]
        drums = onsets(case["file"])
        # A player who is late on the whole is met there.
        middle = 0.0
        for _ in range(4):
            found = []
            for voice in sorted(set(VOICES.values())):
                due = np.sort([r["seconds"] for r in rows if r["voice"] == voice])
                played = drums.get(voice, np.array([])) - middle / 1000
                found.append(late(np.array(due), played) + middle)
            found = np.concatenate(found)
            middle = np.median(found) if len(found) else 0.0
        read = []
        for voice in sorted(set(VOICES.values())):
            of_voice = [s for s in review["strokes"] if s["due"]["voice"] == voice]
            of_voice = [s for s in of_voice if not s["due"]["grace"] and not s["wrong_drum"]]
            read.append(np.array([s["late_ms"] for s in of_voice]))
        read = np.concatenate(read)
        if len(found) < 40:
            continue
        found, read = middle_of(found), middle_of(read)
        mean, spread = found.mean(), found.std(ddof=1)
        case["told"] = (mean, read.mean(), spread, read.std(ddof=1))
        near = abs(mean - read.mean()) <= 1.0 and abs(spread / read.std(ddof=1) - 1) <= 0.1
        agree += int(near)
        if not near:
            print(case["file"], case["told"], file=sys.stderr)
        compared += len(found)
        takes += 1
    print(json.dumps({"takes": takes, "agree": agree, "strokes": compared}))


main()
