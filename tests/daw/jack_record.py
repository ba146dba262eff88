"""Rolls the JACK transport and records what the DAW plays.

jack_record.py FRAME SECONDS OUT.wav

The file's first sample is the first one played, at transport position FRAME.
"""

import sys
import time

import jack
import numpy as np
import soundfile

PORTS = ["Qtractor:Master/out_1", "Qtractor:Master/out_2"]

start, seconds, out = int(sys.argv[1]), float(sys.argv[2]), sys.argv[3]
client = jack.Client("recorder", no_start_server=True)
rate = client.samplerate
inputs = [client.inports.register(f"in_{i}") for i in (1, 2)]
sound = np.zeros((int(seconds * rate), 2), "f4")
written, first = 0, None


@client.set_process_callback
def process(frames):
    global written, first
    state, position = client.transport_query_struct()
    if first is None:
        if state != jack.ROLLING:
            return
        first = position.frame
    # From now on every block counts: Qtractor plays on while it makes JACK wait again.
    part = min(frames, len(sound) - written)
    for channel, port in enumerate(inputs):
        sound[written : written + part, channel] = port.get_array()[:part]
    written += part


with client:
    limit = time.monotonic() + 60
    while not client.get_ports(PORTS[-1]):
        if time.monotonic() > limit:
            sys.exit("the DAW has not started")
        time.sleep(0.1)
    time.sleep(2)
    for source, port in zip(PORTS, inputs):
        client.connect(source, port)
    client.transport_stop()
    client.transport_locate(start)
    time.sleep(1)
    client.transport_start()
    # A busy machine may take longer than the music does; one that stands still has failed.
    before, limit = 0, time.monotonic() + 20
    while written < len(sound) and time.monotonic() < limit:
        time.sleep(0.05)
        if written > before:
            before, limit = written, time.monotonic() + 20
    client.transport_stop()
    time.sleep(0.5)

if first != start or written < len(sound):
    sys.exit(f"JACK rolled from {first}, not from {start}, and played {written} of {len(sound)} samples")
soundfile.write(out, sound, rate, subtype="FLOAT")
