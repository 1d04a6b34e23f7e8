"""Whether two shaped files say the same: as many numbers, at the same moments, of one value."""

import mido

TICKS_PER_MS = 1.92  # of the takes
BEND_MS = 5  # from one bend to the next; where in them it goes out is each one's own matter
# What may differ: a share of the moments, and steps of the receiver's numbers.
MOMENTS_OFF_MAX = 0.001
LEVEL_STEPS_MAX = 1
BEND_STEPS_MAX = 4  # a tenth of a cent at two semitones


def outputs(path):
    """For each played track its levels by the millisecond, its bends by five of them, its notes."""
    file = mido.MidiFile(path)
    tracks = []
    for track in file.tracks:
        ticks, levels, bends, notes = 0, {}, {}, []
        for message in track:
            ticks += message.time
            if message.type == "pitchwheel":
                bends[round(ticks / TICKS_PER_MS) // BEND_MS] = message.pitch
            elif message.type == "control_change" and message.control == 11:
                levels[round(ticks / TICKS_PER_MS)] = message.value
            elif message.type == "note_on" and message.velocity > 0:
                notes.append((ticks, message.note, message.velocity))
        if notes:
            tracks.append((levels, bends, notes))
    return tracks


def compare(what, ours, theirs, steps_max):
    """The furthest that two series of numbers are apart; a sentence if it is too far."""
    common = ours.keys() & theirs.keys()
    off = 1 - len(common) / max(len(ours), len(theirs), 1)
    if off > MOMENTS_OFF_MAX:
        raise ValueError(f"{what}: {len(ours)} and {len(theirs)} numbers, {len(common)} together")
    furthest = max((abs(ours[moment] - theirs[moment]) for moment in common), default=0)
    if furthest > steps_max:
        raise ValueError(f"{what}: a number is {furthest} steps off; allowed is {steps_max}")
    return furthest


def check(ours, theirs):
    """How many levels and bends there are, and how far bends are apart; fails where the outputs of
    two files do not say the same."""
    if len(ours) != len(theirs):
        raise ValueError(f"{len(ours)} and {len(theirs)} tracks")
    counts, furthest = [0, 0], 0
    for (levels, bends, notes), (their_levels, their_bends, their_notes) in zip(ours, theirs):
        if notes != their_notes:
            raise ValueError(f"{len(notes)} and {len(their_notes)} notes, or not the same")
        # What comes before the first note and after the last is each one's own way to begin and end.
        first_ms, last_ms = notes[0][0] / TICKS_PER_MS, notes[-1][0] / TICKS_PER_MS
        is_within = lambda at, ms: first_ms <= at * ms < last_ms
        cut = lambda numbers, ms: {at: it for at, it in numbers.items() if is_within(at, ms)}
        compare("levels", cut(levels, 1), cut(their_levels, 1), LEVEL_STEPS_MAX)
        bends, their_bends = cut(bends, BEND_MS), cut(their_bends, BEND_MS)
        steps = compare("bends", bends, their_bends, BEND_STEPS_MAX)
        furthest = max(furthest, steps)
        counts = [counts[0] + len(levels), counts[1] + len(bends)]
    return counts, furthest
