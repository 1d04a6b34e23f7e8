"""Reads the life of held notes with Praat: one recording a line on standard input, one line back.

A line is a path and the note's frequency in hertz. The answer, or `-` where no vibrato is found:
rate (Hz), half width (cents), SD of the rate and of the width from cycle to cycle (percent of the
mean), swing of the level (decibels, peak to peak). Pitch and level are looked at every 5 ms, in the
steady middle of the note, and passed through a band of 2.5 to 14 Hz.
"""

import os
import sys

# Small sums are slower on many threads.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy
import parselmouth
from scipy.signal import butter, sosfiltfilt

STEP_S = 0.005
BAND_HZ = (2.5, 14.0)
# What counts as the note's middle: within this of its loudest, without its first and last parts.
QUIET_DB = 20.0
FIRST_S, LAST_S = 0.25, 0.15
CYCLES_MIN = 4
# Less than this is the unsteadiness of the reader.
HALF_WIDTH_MIN = 2.0
RATE_HZ = (3.5, 9.0)


def middle(sound):
    """Begin and end of the span in which the note is loud."""
    level = sound.to_intensity(minimum_pitch=100.0, time_step=STEP_S)
    loud = level.values[0] > level.values[0].max() - QUIET_DB
    seconds = level.xs()[loud]
    return seconds[0] + FIRST_S, seconds[-1] - LAST_S


def band(values):
    sections = butter(2, BAND_HZ, btype="bandpass", fs=1.0 / STEP_S, output="sos")
    return sosfiltfilt(sections, values - values.mean())


def cycles(values):
    """Looks at which each cycle begins: where the curve rises through the middle, in fractions."""
    rises = numpy.flatnonzero((values[:-1] < 0) & (values[1:] >= 0))
    return rises + values[rises] / (values[rises] - values[rises + 1])


def swing_with(values, turns):
    """Peak to peak of what moves once in each cycle, always at the same place in it."""
    looks = numpy.arange(int(numpy.ceil(turns[0])), int(turns[-1]))
    phase = 2 * numpy.pi * numpy.interp(looks, turns, numpy.arange(len(turns)))
    return 4 * abs(numpy.mean(values[looks] * numpy.exp(1j * phase)))


def life(path, hz):
    sound = parselmouth.Sound(path).convert_to_mono()
    begin_s, end_s = middle(sound)
    pitch = sound.to_pitch_ac(
        time_step=STEP_S, pitch_floor=0.8 * hz, pitch_ceiling=1.4 * hz, octave_jump_cost=0.9,
        voicing_threshold=0.2, silence_threshold=0.001)
    seconds, found_hz = pitch.xs(), pitch.selected_array["frequency"]
    is_heard = (found_hz > 0) & (seconds >= begin_s) & (seconds <= end_s)
    if is_heard.sum() < CYCLES_MIN / RATE_HZ[0] / STEP_S:
        return None
    first, last = numpy.flatnonzero(is_heard)[[0, -1]]
    looks = seconds[first : last + 1]
    heard = numpy.interp(looks, seconds[is_heard], found_hz[is_heard])
    cents = band(1200 * numpy.log2(heard / hz))
    level = sound.to_intensity(minimum_pitch=min(0.8 * hz, 200.0), time_step=STEP_S)
    level_db = band(numpy.interp(looks, level.xs(), level.values[0]))
    turns = cycles(cents)
    if len(turns) <= CYCLES_MIN:
        return None
    rates = 1.0 / (numpy.diff(turns) * STEP_S)
    spans = [slice(int(a), int(b) + 1) for a, b in zip(turns[:-1], turns[1:])]
    widths = numpy.array([numpy.ptp(cents[span]) for span in spans])
    rate, width = numpy.median(rates), numpy.median(widths)
    is_vibrato = RATE_HZ[0] <= rate <= RATE_HZ[1] and width / 2 >= HALF_WIDTH_MIN
    if not is_vibrato:
        return None
    # A cycle that the reader split in two, or missed, is none.
    whole = (rates > rate / 1.5) & (rates < rate * 1.5)
    if whole.sum() <= CYCLES_MIN:
        return None
    spread = lambda values: 100 * values.std() / values.mean()
    return [rate, width / 2, spread(rates[whole]), spread(widths[whole]), swing_with(level_db, turns)]


for line in sys.stdin:
    path, hz = line.rstrip("\n").rsplit(" ", 1)
    found = life(path, float(hz))
    print(*(f"{number:.4f}" for number in found) if found else "-", flush=True)
