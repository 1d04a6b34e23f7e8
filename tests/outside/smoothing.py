"""Holds the gesture's smoothing against SciPy's two poles, in ticks and in continuous time.

A case is three lines: the weight; seconds and positions of the controller; the gesture at every
millisecond. Printed of each: the largest difference from the textbook with its inputs held for a
tick, and from the textbook in continuous time; then the highest speed.
"""

import os
import sys

# Small sums are slower on many threads.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy
from scipy.signal import lfilter, lsim

TICK_S = 0.001
SLOW_S, TURN_PER_S, FALL_HZ = 0.045, 0.40, 6.0
FAST_S_MIN, FAST_S_MAX, FAST_SHARE = 0.004, 0.010, 0.2


def joined(events, count):
    """The controller's steps joined by straight lines: where it stands, how fast it moves, and the
    least smoothing that its interval asks for."""
    start_s, end_s, begin, goal = 0.0, 0.0, events[0][1], events[0][1]
    interval_s, accepted_s, fast_s = 0.010, -numpy.inf, FAST_S_MIN
    waiting = list(events[1:])
    places, speeds, fasts = numpy.empty(count), numpy.empty(count), numpy.empty(count)

    def at(now_s):
        if now_s >= end_s - 1e-6:
            return goal, 0.0
        return begin + (goal - begin) * (now_s - start_s) / (end_s - start_s), abs(
            (goal - begin) / (end_s - start_s))

    for tick in range(count):
        now_s = tick * TICK_S
        while waiting and waiting[0][0] <= now_s + 1e-9:
            at_s, value = waiting.pop(0)
            gap_s = at_s - accepted_s
            interval_s = 0.010 if gap_s > 0.6 else interval_s + 0.35 * (gap_s - interval_s)
            accepted_s = at_s
            fast_s = min(max(FAST_SHARE * interval_s, FAST_S_MIN), FAST_S_MAX)
            if value != goal:
                begin, start_s = at(at_s)[0], at_s
                end_s, goal = at_s + min(max(interval_s, 0.003), 0.050), value
        (places[tick], speeds[tick]), fasts[tick] = at(now_s), fast_s
    return places, speeds, fasts


def times(speeds, fasts, weight):
    """The whole smoothing time at each tick: it follows the speed (instant rise, 6 Hz fall)."""
    speed = 0.0
    for now_per_s, fast_s in zip(speeds[1:], fasts[1:]):
        fallen = now_per_s + (speed - now_per_s) * numpy.exp(-2 * numpy.pi * FALL_HZ * TICK_S)
        speed = max(now_per_s, fallen)
        yield weight * (fast_s + (SLOW_S - fast_s) / (1 + (speed / TURN_PER_S) ** 2))


def in_ticks(places, speeds, fasts, weight):
    """Two one-poles of half the time each, each with its input held for the tick."""
    first = second = places[0]
    gesture = [second]
    for now, whole_s in zip(places[1:], times(speeds, fasts, weight)):
        kept = numpy.exp(-TICK_S / (whole_s / 2))
        pole = [1 - kept], [1, -kept]
        first = lfilter(*pole, [now], zi=[kept * first])[0][0]
        second = lfilter(*pole, [first], zi=[kept * second])[0][0]
        gesture.append(second)
    return numpy.array(gesture)


def in_time(places, speeds, fasts, weight):
    """The same in continuous time, its input moving evenly within the tick."""
    state = numpy.array([places[0], places[0]])
    gesture = [state[1]]
    for before, now, whole_s in zip(places[:-1], places[1:], times(speeds, fasts, weight)):
        if before == now == state[0] == state[1]:
            gesture.append(state[1])
            continue
        pole = 2 / whole_s
        system = ([[-pole, 0], [pole, -pole]], [[pole], [0]], [[0, 1]], [[0]])
        _, _, states = lsim(system, [before, now], [0, TICK_S], state)
        state = states[-1]
        gesture.append(state[1])
    return numpy.array(gesture)


lines = iter(sys.stdin.read().splitlines())
for weight, events, gesture in zip(lines, lines, lines):
    events = [tuple(map(float, pair.split(","))) for pair in events.split()]
    gesture = numpy.array(gesture.split(), dtype=float)
    places, speeds, fasts = joined(events, len(gesture))
    apart = [numpy.abs(smoothed(places, speeds, fasts, float(weight)) - gesture).max()
             for smoothed in (in_ticks, in_time)]
    print(*apart, speeds.max())
