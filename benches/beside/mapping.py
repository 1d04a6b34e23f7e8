"""What the two Python forms share: an instrument's numbers, a take's notes and wheel."""

import json
import subprocess

import mido

STEPS_PER_CENT = 8192 / 200  # a bend range of two semitones
TICK_S = 0.001
POLE_S = 0.010  # two poles of the middling hand, 20 ms together


def instrument(polso, name):
    """The fields of a shipped instrument, by their dotted names."""
    shown = subprocess.run([polso, "show", name, "--json"], check=True, capture_output=True)
    return {row["field"]: row["value"] for row in json.loads(shown.stdout)["fields"]}


def points(value):
    """A curve's breakpoints; one number is a curve that stands."""
    if isinstance(value, (int, float)):
        return [0.0, 1.0], [float(value)] * 2
    return [float(x) for x, _ in value], [float(y) for _, y in value]


def track_events(track, ticks_per_beat, tempo=500_000):
    """Each message with its time in seconds."""
    ticks = 0
    for message in track:
        ticks += message.time
        yield ticks * tempo / ticks_per_beat / 1e6, message


def is_played(track):
    """The track has notes."""
    return any(message.type == "note_on" for message in track)


def read(path):
    """The file, and the tracks that are played."""
    file = mido.MidiFile(path)
    return file, [track for track in file.tracks if is_played(track)]
