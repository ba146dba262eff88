"""When strokes begin in seconds, worked out from the text of score files.

In: a JSON file with a list of jobs (score text, passes, lead, click, the tracks
that are heard). Out, as JSON, for each: the times at which something must
begin, and those at which something may (letters whose refit is open).
"""

import json
import pathlib
import sys
from collections import Counter
from fractions import Fraction as F

# Python is run apart from its surroundings; the neighbours are named here.
sys.path.insert(0, str(pathlib.Path(__file__).parent))
from read_score import music_of
from schedule import Schedule


def job(job):
    music = job | music_of(job["score"])
    music |= {"grace_us": 25_000, "buzz_us": 30_000}
    schedule = Schedule(music, Counter())
    beat = 60 / F(music["tempo"])
    must = {at * beat + F(shift, 1_000_000) for track, at, shift, *_ in schedule.strokes
            if track in job["heard"] or track.startswith("Ostinato") and "Ostinatos" in job["heard"]}
    may = {(schedule.lead + n * schedule.length + at) * beat
           for n in range(music["passes"]) for _, _, on in schedule.open for at in on}
    return {"must": sorted(map(float, must)), "may": sorted(map(float, may)),
            "end": float(schedule.end * beat)}


with open(sys.argv[1], encoding="utf-8") as file:
    print(json.dumps([job(j) for j in json.load(file)]))
