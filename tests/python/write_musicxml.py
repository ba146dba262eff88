"""Writes drum parts with music21: files of a foreign writer.

In: a folder. Out: the files there, plain and packed, and as JSON what each of
them plays: every stroke as (beats, voice, how, level, grace notes, buzz) in
order of time, worked out here with exact fractions.
"""

import json
import pathlib
import random
import sys
from fractions import Fraction as F

from music21 import articulations, bar, clef, duration, expressions
from music21 import meter, note, percussion, stream, tempo, tie

# Voice and how, place on the staff (Weinberg, Percussive Notes, June 1994) and
# head.
HANDS = [
    ("snare", "", "C5", "normal"),
    ("snare", "cross", "C5", "x"),
    ("hat", "", "G5", "x"),
    ("ride", "", "F5", "x"),
    ("ride", "bell", "F5", "diamond"),
    ("crash", "", "A5", "x"),
    ("tom1", "", "E5", "normal"),
    ("tom2", "", "D5", "normal"),
    ("tom4", "", "A4", "normal"),
]
FEET = [("kick", "", "F4", "normal"), ("hatfoot", "", "D4", "x")]

# Rows of lengths that fill one quarter note.
BEATS = [[F(1)], [F(1, 2)] * 2, [F(1, 3)] * 3, [F(1, 4)] * 4, [F(1, 6)] * 6, [F(1, 5)] * 5,
         [F(3, 4), F(1, 4)], [F(2, 3), F(1, 3)], [F(1, 7)] * 7, [F(1, 2), F(1, 4), F(1, 4)]]
METERS = ["4/4", "3/4", "5/4", "2/4", "6/4"]


class Player:
    def __init__(self, dice):
        self.dice = dice

    def one(self, kinds):
        """A note as music21 has it, and the stroke it is."""
        voice, how, place, shape = self.dice.choice(kinds)
        unpitched = note.Unpitched(displayName=place)
        unpitched.notehead = shape
        level = self.dice.choice(["normal", "normal", "accent", "ghost"])
        if level == "accent":
            unpitched.articulations.append(articulations.Accent())
        if level == "ghost":
            unpitched.noteheadParenthesis = True
        return unpitched, [voice, how, level]

    def line(self, beats, kinds):
        """A voice of one bar, and its strokes by their time in the bar."""
        voice, strokes, at = stream.Voice(), [], F(0)
        before = None
        for _ in range(beats):
            for length in self.dice.choice(BEATS):
                kind = self.dice.random()
                long = duration.Duration(length)
                if kind < 0.3:
                    element = note.Rest(duration=long)
                    before = None
                elif kind < 0.4 and len(kinds) > 2:
                    pair = [self.one([k]) for k in self.dice.sample(kinds, 2)]
                    # The library keeps one accent a chord: none here.
                    for n, stroke in pair:
                        n.articulations.clear()
                        stroke[2] = "ghost" if stroke[2] == "ghost" else "normal"
                    element = percussion.PercussionChord([n for n, _ in pair], duration=long)
                    strokes += [(at, *s, 0, False) for _, s in pair]
                    before = None
                elif kind < 0.45 and before is not None:
                    # The stroke before sounds on: no new one.
                    element = note.Unpitched(displayName=before.displayName, duration=long)
                    element.notehead = before.notehead
                    before.tie, element.tie = tie.Tie("start"), tie.Tie("stop")
                    before = None
                else:
                    element, stroke = self.one(kinds)
                    element.duration = long
                    graces = self.dice.choice([0, 0, 0, 1, 2, 3]) if len(kinds) > 2 else 0
                    buzz = len(kinds) > 2 and self.dice.random() < 0.1
                    if buzz:
                        element.expressions.append(expressions.Tremolo())
                    for _ in range(graces):
                        grace = note.Unpitched(displayName=element.displayName)
                        grace.notehead = element.notehead
                        grace.duration = duration.Duration("16th")
                        voice.append(grace.getGrace())
                    strokes.append((at, *stroke, graces, buzz))
                    before = element
                voice.append(element)
                at += length
        return voice, strokes


def piece(number):
    dice = random.Random(number)
    player = Player(dice)
    signature = dice.choice(METERS)
    beats = int(signature.split("/")[0])
    part = stream.Part()
    part.partName = "Drums"
    pace = dice.choice([60, 92, 133])
    bars = []
    for n in range(dice.randint(2, 4)):
        measure = stream.Measure(number=n + 1)
        if n == 0:
            measure.append(clef.PercussionClef())
            measure.append(meter.TimeSignature(signature))
            measure.insert(0, tempo.MetronomeMark(number=pace))
        strokes = []
        for kinds in (HANDS, FEET):
            voice, own = player.line(beats, kinds)
            measure.insert(0, voice)
            strokes += own
        part.append(measure)
        bars.append(strokes)
    times = dice.choice([1, 2, 3])
    order = list(range(len(bars)))
    if times > 1:
        measures = list(part.getElementsByClass("Measure"))
        measures[0].leftBarline = bar.Repeat(direction="start")
        measures[1].rightBarline = bar.Repeat(direction="end", times=times)
        order = [0, 1] * times + order[2:]
    score = stream.Score([part])
    strokes = [(n * beats + at, *rest) for n, i in enumerate(order) for at, *rest in bars[i]]
    return score, strokes, signature, pace


# The order of strokes at one time is that of limbs; by name it is the same for
# both sides.
def listed(strokes):
    return sorted(([*s] for s in strokes), key=lambda s: (s[0], s[1:]))


def main():
    folder, out = pathlib.Path(sys.argv[1]), []
    for number in range(30):
        score, strokes, signature, pace = piece(number)
        name = f"foreign-{number}.{'mxl' if number % 3 == 0 else 'musicxml'}"
        score.write("mxl" if number % 3 == 0 else "musicxml", fp=folder / name,
                    makeNotation=False)
        strokes = [[str(at), *rest] for at, *rest in listed(strokes)]
        out.append({"name": name, "strokes": strokes, "meter": signature, "tempo": str(pace)})
    print(json.dumps(out))


main()
