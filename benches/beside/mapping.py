"""What the two Python forms share: an instrument's numbers, a take's notes, and the hand's path."""

import json
import math
import subprocess

import mido

STEPS_PER_CENT = 8192 / 200  # a bend range of two semitones
TICK_S = 0.001
LEVEL_TICKS, LEVEL_LOOK_TICKS = 20, 4  # from one level to the next; to the next look at it
BEND_TICKS = 5
MIDDLING_PACE = 0.7  # of the onset, at two notes a second
RELEASE_S = 0.080

# The hand: its range and dead zones, flutter, and the lines between its steps.
LOW, HIGH, DEAD_REST, DEAD_FULL = 0.02, 0.98, 0.02, 0.01
FLUTTER_S, STILLNESS_S = 0.25, 0.6
INTERVAL_WEIGHT, INTERVAL_S, GAP_S = 0.35, 0.010, 0.6
RAMP_S_MIN, RAMP_S_MAX = 0.003, 0.050
# Two poles, slower for a slow hand: seconds, and the speed between.
FAST_S, SLOW_S, TURN_PER_S = 0.004, 0.045, 0.40
SPEED_FALL = 1 - math.exp(-2 * math.pi * 6 * TICK_S)


def instrument(polso, name):
    """The fields of an instrument, by their dotted names."""
    shown = subprocess.run([polso, "show", name, "--json"], check=True, capture_output=True)
    return {row["field"]: row["value"] for row in json.loads(shown.stdout)["fields"]}


def points(value):
    """A curve's breakpoints; one number is a curve that stands."""
    if isinstance(value, (int, float)):
        return [0.0, 1.0], [float(value)] * 2
    return [float(x) for x, _ in value], [float(y) for _, y in value]


def read(path):
    """The file, and the tracks that are played."""
    file = mido.MidiFile(path)
    return file, [track for track in file.tracks if any(m.type == "note_on" for m in track)]


def track_events(track, ticks_per_beat, tempo=500_000):
    """Each message with its time in seconds."""
    ticks = 0
    for message in track:
        ticks += message.time
        yield ticks * tempo / ticks_per_beat / 1e6, message


def is_on(message):
    return message.type == "note_on" and message.velocity > 0


def is_wheel(message):
    return message.type == "control_change" and message.control == 1


def believed(wheel):
    """The wheel's values without its flutter: a step back counts when it has lasted."""
    step, direction, moved_s, doubted = None, 0, 0.0, None
    for now_s, value in [*wheel, (math.inf, None)]:
        due_s = math.ceil((doubted[1] + FLUTTER_S) / TICK_S) * TICK_S if doubted else math.inf
        if due_s < now_s:
            direction, step, moved_s = (1 if doubted[0] > step else -1), doubted[0], due_s
            doubted = None
            yield due_s, step
        if value is None or value == step:
            doubted = None
            continue
        if step is not None:
            change = value - step
            if now_s - moved_s > STILLNESS_S:
                direction = 0
            is_onward = (change > 0) - (change < 0) == direction
            if not (value in (0, 127) or is_onward or abs(change) > 1):
                if not doubted or doubted[0] != value:
                    doubted = value, now_s
                continue
        direction = 0 if step is None else (1 if value > step else -1)
        step, moved_s, doubted = value, now_s, None
        yield now_s, value


def travel(value):
    share = min(max((value / 127 - LOW) / (HIGH - LOW), 0.0), 1.0)
    return min(max((share - DEAD_REST) / (1 - DEAD_REST - DEAD_FULL), 0.0), 1.0)


def lines(wheel):
    """The straight lines between the wheel's steps: start, end, value at the start, slope."""
    begin, end, start, slope = -math.inf, -math.inf, None, 0.0
    interval_s, last_s, goal = INTERVAL_S, -math.inf, 0.0
    for now_s, value in believed(wheel):
        to = travel(value)
        if start is None:
            start = goal = to
            yield begin, end, to, 0.0, to
            continue
        gap_s, last_s = now_s - last_s, now_s
        interval_s = INTERVAL_S if gap_s > GAP_S else interval_s + INTERVAL_WEIGHT * (gap_s - interval_s)
        if to == goal:
            continue
        here = goal if now_s >= end else start + slope * (now_s - begin)
        length_s = min(max(interval_s, RAMP_S_MIN), RAMP_S_MAX)
        begin, end, start, goal = now_s, now_s + length_s, here, to
        slope = (to - here) / length_s
        yield begin, end, here, slope, to
