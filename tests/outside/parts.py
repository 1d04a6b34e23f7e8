"""Writes down the four parts of pieces of the music21 corpus: chorales or string quartets.

Arguments: `chorales` or `quartets`, how many, and a number that chooses which. A line `piece NAME`, then a
line a note: part (0 is the highest), begin and end in milliseconds (100 quarters a minute), MIDI key.
Grace notes are left out; of a double stop the upper note counts.
"""

import random
import sys
import warnings

warnings.filterwarnings("ignore")

from music21 import converter, corpus

QUARTER_MS = 600
COMPOSERS = {"chorales": ["bach"], "quartets": ["haydn", "mozart", "beethoven"]}

kind, count, seed = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
paths = [path for name in COMPOSERS[kind] for path in corpus.getComposer(name)]
random.Random(seed).shuffle(paths)
for path in paths:
    if count == 0:
        break
    score = converter.parse(path)
    if len(score.parts) != 4:
        continue
    count -= 1
    print("piece", path.name)
    for place, part in enumerate(score.parts):
        for note in part.stripTies().flatten().notes:
            if note.duration.isGrace:
                continue
            begin, length = float(note.offset), float(note.duration.quarterLength)
            key = max(pitch.midi for pitch in note.pitches)
            print(place, round(begin * QUARTER_MS), round((begin + length) * QUARTER_MS), key)
