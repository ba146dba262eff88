"""Reads a score file and describes its music in plain words, as the test's own
generator does: an independent reader for the built-in score.

In: the text of a score file. Out: the description that read_midi.py takes.
What a refit makes of a cell is not worked out: such a letter is marked open,
with the slots on which its strokes may fall.
"""

import re
import tomllib
from fractions import Fraction as F

HAND, KICK, HAT_FOOT = "snare", "kick", "hatfoot"

# Slots and beats of the subdivisions' names. Common practice.
NAMED = {
    "quarters": (1, 1), "quarter-triplets": (3, 2), "8ths": (2, 1),
    "8th-triplets": (3, 1), "16ths": (4, 1), "quintuplets": (5, 1),
    "16th-triplets": (6, 1), "septuplets": (7, 1), "32nds": (8, 1),
}

FORM_WORDS = re.compile(r"\(|\)(?:x\d+)?(?:\[[^\]]*\])?|\||[A-Z]\d*'*(?:\[[^\]]*\])?")


def spans(grid):
    out = []
    for word in grid.split():
        slots, _, length = word.partition("@")
        out.append([int(slots), length or "1"])
    return out


def slots(sticking, voices):
    """One list of strokes per slot. A dot goes on where the hands were; a foot
    stays on its pedal."""
    tokens = voices.split() if voices else ["."] * len(sticking.split())
    hand, out = (HAND, ""), []
    for sticks, token in zip(sticking.split(), tokens, strict=True):
        strokes = []
        sticks = [] if sticks == "-" else sticks.split("+")
        named = [] if token in ".-" else [tuple((v + ":").split(":")[:2]) for v in token.split("+")]
        for i, stick in enumerate(sticks):
            graces, limb, buzz = re.fullmatch(r"\(?([rl]*)([RLKH])(z?)>?\)?", stick).groups()
            foot = limb in "KH"
            # One voice for several strokes is the hands'.
            if len(named) == len(sticks):
                voice = named[i]
            elif foot:
                voice = (KICK if limb == "K" else HAT_FOOT, "")
            elif named:
                voice = named[0]
            else:
                voice = hand
            if not foot:
                hand = voice
            level = "ghost" if "(" in stick else "accent" if ">" in stick else "normal"
            strokes.append({"voice": voice[0], "how": voice[1], "level": level,
                            "graces": len(graces), "buzz": bool(buzz), "foot": foot})
        out.append(strokes)
    return out


def cell(cells, letter):
    """A cell with what it takes from its parent."""
    own = dict(cells[letter])
    while "like" in own:
        parent = cells[own.pop("like")]
        own = {**parent, **own}
    return {"spans": spans(own["grid"]), "slots": slots(own["sticking"], own.get("voices"))}


def brackets(text):
    found = re.search(r"\[(.*)\]", text)
    out = {"rate": F(1), "subdivision": None, "voicing": None, "level": False}
    for part in (found[1].split(",") if found else []):
        word, _, value = part.strip().partition(" ")
        if word == "rate":
            out["rate"] = F(value)
        elif word == "voicing":
            out["voicing"] = value
        elif word == "level":
            out["level"] = True
        else:
            count, length = NAMED[word]
            out["subdivision"] = {"slot": str(F(length, count)), "carry": value == "carry"}
    return out


def within(outer, inner):
    """The innermost statement wins; rates multiply."""
    return {"rate": outer["rate"] * inner["rate"], "level": outer["level"] or inner["level"],
            "voicing": inner["voicing"] or outer["voicing"],
            "subdivision": inner["subdivision"] or outer["subdivision"]}


def form_items(text):
    stack = [[]]
    for word in FORM_WORDS.findall(text):
        if word == "(":
            stack.append([])
        elif word.startswith(")"):
            inner, times = stack.pop(), re.match(r"\)x(\d+)", word)
            inner = [(letter, within(brackets(word), b)) for letter, b in inner]
            stack[-1] += inner * int(times[1] if times else 1)
        elif word != "|":
            stack[-1].append((re.match(r"[A-Z]\d*'*", word)[0], brackets(word)))
    return stack[0]


def meter(text):
    return [int(n) for n in text.split("/")]


def music_of(text):
    score = tomllib.loads(text)
    cells, sections = {}, []
    for section in score.get("section", [{"form": score.get("form")}]):
        items = []
        for letter, own in form_items(section["form"]):
            own = within({**brackets(""), "level": "level" in section}, own)
            name = f"{letter} {own['voicing'] or ''} {own['level']}"
            cells[name] = made = cell(score["cell"], letter)
            for stroke in (s for slot in made["slots"] for s in slot):
                new = score["voicing"][own["voicing"]].get(stroke["voice"]) if own["voicing"] else None
                if new:
                    stroke["voice"], stroke["how"] = (new + ":").split(":")[:2]
                if own["level"]:
                    stroke["level"] = None
            sub = own["subdivision"]
            items.append({"letter": letter, "cell": name, "rate": str(own["rate"]),
                          "subdivision": sub, "open": bool(sub) and not sub["carry"]})
        sections.append({"name": section.get("name", ""), "items": items,
                         "meter": meter(section.get("meter", score["meter"]))})
    ostinatos = [{"name": name, "pattern": {"spans": spans(o["grid"]),
                  "slots": slots(o["sticking"], o.get("voices"))}}
                 for name, o in score.get("ostinato", {}).items()]
    return {"title": score["title"], "tempo": str(score["tempo"]), "meter": meter(score["meter"]),
            "pickup": str(score.get("pickup", 0)), "cells": cells, "sections": sections,
            "ostinatos": ostinatos}
