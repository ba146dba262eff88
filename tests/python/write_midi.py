"""Times how long mido takes to write the notes of a MIDI file.

In: a MIDI file and a number of turns. Out: seconds for all turns. The notes are
read beforehand into plain tuples; what is timed is making the messages and
writing the file, which is what a program that has notes must do.
"""

import io
import sys
import time

import mido

source = mido.MidiFile(sys.argv[1])
tracks = [
    [(m.type, m.channel, m.note, m.velocity, m.time) for m in track
     if m.type in ("note_on", "note_off")]
    for track in source.tracks
]
turns = int(sys.argv[2])
start = time.perf_counter()
for _ in range(turns):
    file = mido.MidiFile(type=1, ticks_per_beat=source.ticks_per_beat)
    for notes in tracks:
        track = mido.MidiTrack()
        for kind, channel, note, velocity, delta in notes:
            track.append(mido.Message(kind, channel=channel, note=note,
                                      velocity=velocity, time=delta))
        file.tracks.append(track)
    file.save(file=io.BytesIO())
print(time.perf_counter() - start)
