"""When every note of a described piece of music sounds, in exact fractions.

In: a description in plain words (see read_score.py). Out: a Schedule. Nothing
here is taken from the program under test.
"""

import math
from fractions import Fraction as F

# General MIDI Level 1 percussion key map (MIDI Association, General MIDI
# System Level 1), from memory.
GM_KEYS = {
    "Acoustic Bass Drum": 35, "Bass Drum 1": 36, "Side Stick": 37,
    "Acoustic Snare": 38, "Hand Clap": 39, "Electric Snare": 40,
    "Low Floor Tom": 41, "Closed Hi-Hat": 42, "High Floor Tom": 43,
    "Pedal Hi-Hat": 44, "Low Tom": 45, "Open Hi-Hat": 46, "Low-Mid Tom": 47,
    "Hi-Mid Tom": 48, "Crash Cymbal 1": 49, "High Tom": 50, "Ride Cymbal 1": 51,
    "Chinese Cymbal": 52, "Ride Bell": 53, "Tambourine": 54,
    "Splash Cymbal": 55, "Cowbell": 56, "Crash Cymbal 2": 57,
    "Ride Cymbal 2": 59,
}

# The drum set's names for the same instruments. The standard knows no rimshot:
# its second snare stands for it; nor a choke: the cymbal stands for it. Common
# practice, no source.
INSTRUMENT = {
    ("kick", ""): "Bass Drum 1", ("snare", ""): "Acoustic Snare",
    ("snare", "cross"): "Side Stick", ("snare", "rim"): "Electric Snare",
    ("hat", ""): "Closed Hi-Hat", ("hat", "open"): "Open Hi-Hat",
    ("hatfoot", ""): "Pedal Hi-Hat", ("hatfoot", "open"): "Open Hi-Hat",
    ("tom1", ""): "High Tom", ("tom2", ""): "Hi-Mid Tom",
    ("tom3", ""): "Low-Mid Tom", ("tom4", ""): "Low Tom",
    ("tom5", ""): "High Floor Tom", ("tom6", ""): "Low Floor Tom",
    ("ride", ""): "Ride Cymbal 1", ("ride", "bell"): "Ride Bell",
    ("crash", ""): "Crash Cymbal 1", ("crash", "choke"): "Crash Cymbal 1",
    ("crash2", ""): "Crash Cymbal 2",
    ("splash", ""): "Splash Cymbal", ("china", ""): "Chinese Cymbal",
}

# Metronome click and bell of General MIDI Level 2 (MIDI Association), from
# memory.
CLICK, BELL = 33, 34

# A pressed stick settles after a handful of bounces. Common practice.
MOST_BOUNCES = 8


def nearest(x):
    """Nearest whole number, ties up."""
    return math.floor(x + F(1, 2))


def slot_bounds(spans):
    bounds, at = [], F(0)
    for slots, length in spans:
        bounds += [at + F(length) * i / slots for i in range(slots)]
        at += F(length)
    return bounds + [at]


def played_cell(cell, subdivision):
    """Slot bounds and slots of a cell, on another subdivision if asked for."""
    bounds, slots = slot_bounds(cell["spans"]), cell["slots"]
    if subdivision is None:
        return bounds, slots
    slot = F(subdivision["slot"])
    count = len(slots) if subdivision["carry"] else bounds[-1] / slot
    count = int(count)
    return [slot * i for i in range(count + 1)], [slots[i % len(slots)] for i in range(count)]


def is_compound(meter):
    """6/8, 9/8, 12/8 and the like are felt in threes. Common practice."""
    count, unit = meter
    return unit >= 8 and count > 3 and count % 3 == 0


class Schedule:
    """The music, written out in exact beats from the start of the file."""

    def __init__(self, music, seen):
        self.seen = seen
        self.strokes = []  # track, time, shift in us, key, level or None
        self.markers = []
        self.open = []  # stretches of a pass, with the slots strokes may fall on
        passes, lead = music["passes"], music["lead"]
        first_meter = music["sections"][0]["meter"]
        first_bar = F(4 * first_meter[0], first_meter[1])
        self.pickup = F(music["pickup"])
        self.lead = lead * first_bar
        self.lead += first_bar - self.pickup if self.pickup else 0
        form, places, sections = self.one_pass(music)
        self.length = sections[-1][1]
        self.end = self.lead + passes * self.length
        self.bars = self.bars_of_pass(sections)
        for n in range(passes):
            start = self.lead + n * self.length
            for track, at, *rest in form:
                self.strokes.append((track, start + at, *rest))
            for at, text in places:
                self.markers.append((start + at, text))
        self.ostinatos(music)
        if music["click"]:
            self.clicks(first_meter, first_bar, passes)
        seen["pickups"] += bool(self.pickup)
        seen["repeated"] += passes > 1
        seen["meter_changes"] += len({tuple(s["meter"]) for s in music["sections"]}) > 1

    def one_pass(self, music):
        at, form, places, sections = F(0), [], [], []
        for section in music["sections"]:
            if section["name"]:
                places.append((at, section["name"]))
            start = at
            for item in section["items"]:
                places.append((at, item["letter"]))
                sub, rate = item["subdivision"], F(item["rate"])
                cell = music["cells"][item.get("cell", item["letter"])]
                bounds, slots = played_cell(cell, sub)
                self.seen["rates"] += rate != 1
                if sub:
                    self.seen["carries" if sub["carry"] else "refits"] += 1
                if item.get("open"):
                    on = {at + b / rate for b in bounds[:-1]}
                    self.open.append((at, at + bounds[-1] / rate, on))
                else:
                    form += self.pattern(bounds, slots, at, rate, music, None)
                at += bounds[-1] / rate
            sections.append((start, at, section["meter"]))
        return form, places, sections

    def pattern(self, bounds, slots, start, rate, music, track):
        out = []
        for i, slot in enumerate(slots):
            at, room = start + bounds[i] / rate, (bounds[i + 1] - bounds[i]) / rate
            for stroke in slot:
                key = GM_KEYS[INSTRUMENT[stroke["voice"], stroke["how"]]]
                line = track or ("Feet" if stroke["foot"] else "Hands")
                out.append((line, at, 0, key, stroke["level"]))
                for n in range(stroke["graces"]):
                    out.append((line, at, -(n + 1) * music["grace_us"], key, None))
                    self.seen["graces"] += 1
                if stroke["buzz"]:
                    # Bounces end where the next slot begins.
                    us = self.us_per_quarter(music)
                    for n in range(1, MOST_BOUNCES + 1):
                        if n * music["buzz_us"] < room * us:
                            out.append((line, at, n * music["buzz_us"], key, None))
                            self.seen["bounces"] += 1
        return out

    @staticmethod
    def us_per_quarter(music):
        """Whole microseconds: what three bytes of a tempo event hold."""
        return nearest(F(60_000_000) / F(music["tempo"]))

    def bars_of_pass(self, sections):
        bars, at = [], F(0)
        if self.pickup:
            bars.append((F(0), sections[0][2], True))
            at = self.pickup
        total = sections[-1][1]
        while at < total:
            meter = next(m for start, end, m in reversed(sections) if start <= at)
            bars.append((at, meter, False))
            at += F(4 * meter[0], meter[1])
        return bars

    def ostinatos(self, music):
        for ostinato in music["ostinatos"]:
            bounds = slot_bounds(ostinato["pattern"]["spans"])
            track, start = f"Ostinato: {ostinato['name']}", F(0)
            total = self.end - self.lead
            while start < total:
                cycle = self.pattern(
                    bounds, ostinato["pattern"]["slots"], start, F(1), music, track)
                cycle = [(t, self.lead + at, *rest) for t, at, *rest in cycle if at < total]
                self.strokes += cycle
                self.seen["ostinato_notes"] += len(cycle)
                start += bounds[-1]

    def clicks(self, first_meter, first_bar, passes):
        def pulse(meter):
            return F(4 * (3 if is_compound(meter) else 1), meter[1])

        def add(at, bar_line):
            key = BELL if bar_line else CLICK
            self.strokes.append(("Click", at, 0, key, None))
            self.seen["clicks"] += 1

        at = F(0)
        while at < self.lead:
            add(at, at % first_bar == 0)
            at += pulse(first_meter)
        for n in range(passes):
            for i, (start, meter, is_pickup) in enumerate(self.bars):
                end = self.bars[i + 1][0] if i + 1 < len(self.bars) else self.length
                step = pulse(meter)
                at = start + (end - start) % step if is_pickup else start
                while at < end:
                    add(self.lead + n * self.length + at, at == start and not is_pickup)
                    at += step
