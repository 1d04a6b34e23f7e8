"""Reads a MIDI file with mido, strictly, and prints how many notes it holds and its seconds."""

import sys

import mido

file = mido.MidiFile(sys.argv[1], clip=False)
strikes = [m for track in file.tracks for m in track if m.type == "note_on" and m.velocity > 0]
for track in file.tracks:
    if track[-1].type != "end_of_track":
        sys.exit("a track has no end")
print(len(strikes), file.length)
