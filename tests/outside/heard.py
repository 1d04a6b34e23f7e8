"""Measures a recording with Praat: one question a line on standard input, one line of numbers back.

Of two recordings it measures what the first has and the second has not.

tone BEGIN END HZ      the middle pitch of a steady tone near HZ, in hertz
swing BEGIN END HZ     rate (Hz), width (cents, peak to peak), lowest and highest (cents from HZ)
                       of the middle cycle: in each part of a cycle the median of all cycles
line BEGIN END HZ      the pitch every 2 ms: seconds and cents from HZ, in pairs
leap BEGIN END LOW HIGH  as line, of one that goes between two pitches: cents from LOW
level BEGIN END        the level of the span, in decibels of full scale
"""

import os
import sys

# Small sums are slower on many threads.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy
import parselmouth
from scipy.optimize import minimize_scalar

STEP_S = 0.002
HARMONICS = 5
PARTS_OF_A_CYCLE = 40


def pitch(sound, begin_s, end_s, hz, high_hz=None):
    """Seconds and cents from `hz`, every 2 ms; the window is three periods of a floor close below."""
    floor_hz = 0.85 * hz
    high_hz = high_hz or 1.08 * hz
    margin_s = 2.0 / floor_hz
    part = sound.extract_part(begin_s - margin_s, end_s + margin_s, preserve_times=True)
    track = part.to_pitch_ac(
        time_step=STEP_S, pitch_floor=floor_hz, pitch_ceiling=1.25 * high_hz, max_number_of_candidates=4,
        octave_jump_cost=0.9, voicing_threshold=0.2, silence_threshold=0.001)
    seconds, found_hz = track.xs(), track.selected_array["frequency"]
    is_heard = (found_hz > 0) & (seconds >= begin_s) & (seconds <= end_s)
    return seconds[is_heard], 1200 * numpy.log2(found_hz[is_heard] / hz)


def swing(seconds, cents):
    """Rate and width of the periodic curve that fits best: a fundamental and its harmonics."""
    seconds = seconds - seconds.mean()

    def basis(rate_hz):
        turns = 2 * numpy.pi * rate_hz * seconds[:, None] * numpy.arange(1, HARMONICS + 1)
        return numpy.hstack([numpy.ones((len(seconds), 1)), numpy.sin(turns), numpy.cos(turns)])

    def fit(rate_hz):
        columns = basis(rate_hz)
        weights = numpy.linalg.solve(columns.T @ columns, columns.T @ cents)
        return weights, numpy.sum((cents - columns @ weights) ** 2)

    spectrum = numpy.abs(numpy.fft.rfft((cents - cents.mean()) * numpy.hanning(len(cents)), 1 << 15))
    rates_hz = numpy.fft.rfftfreq(1 << 15, STEP_S)
    is_vibrato = (rates_hz >= 3.0) & (rates_hz <= 10.0)
    near_hz = rates_hz[is_vibrato][spectrum[is_vibrato].argmax()]
    bracket = (near_hz - 0.1, near_hz + 0.1)
    rate_hz = minimize_scalar(lambda x: fit(x)[1], bounds=bracket, options={"xatol": 1e-5}).x
    weights, _ = fit(rate_hz)
    turns = numpy.linspace(0, 2 * numpy.pi, 720)[:, None] * numpy.arange(1, HARMONICS + 1)
    curve = numpy.hstack([numpy.sin(turns), numpy.cos(turns)]) @ weights[1:]
    parts = (seconds * rate_hz % 1.0 * PARTS_OF_A_CYCLE).astype(int)
    middle = [numpy.median(cents[parts == part]) for part in numpy.unique(parts)]
    return rate_hz, curve.max() - curve.min(), min(middle), max(middle)


def answer(sound, words):
    begin_s, end_s = float(words[1]), float(words[2])
    if words[0] == "level":
        part = sound.extract_part(begin_s, end_s)
        return [10 * numpy.log10(numpy.mean(part.values**2) + 1e-20)]
    hz = float(words[3])
    high_hz = float(words[4]) if words[0] == "leap" else None
    seconds, cents = pitch(sound, begin_s, end_s, hz, high_hz)
    if len(seconds) < 0.9 * (end_s - begin_s) / STEP_S:
        sys.exit(f"{' '.join(words)}: no pitch in {len(seconds)} of the looks")
    if words[0] == "tone":
        return [hz * 2 ** (numpy.median(cents) / 1200)]
    if words[0] == "swing":
        return swing(seconds, cents)
    return numpy.column_stack([seconds, cents]).ravel()


whole = parselmouth.Sound(sys.argv[1]).convert_to_mono()
for other in sys.argv[2:]:
    whole.values -= parselmouth.Sound(other).convert_to_mono().values
for question in sys.stdin:
    print(*(f"{number:.5f}" for number in answer(whole, question.split())), flush=True)
