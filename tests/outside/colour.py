"""Reads the colour of held notes: one recording a line on standard input, one line back.

A line is a path and the note's frequency in hertz. The answer is the centre of the power of its
first forty partials (up to 16 kHz), in hertz, in the second after the note has become loud.
"""

import os
import sys

# Small sums are slower on many threads.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy
import parselmouth

PARTIALS = 40
TOP_HZ = 16000.0
# A note is loud from this share of its loudest on; its beginning is left out.
LOUD, FIRST_S, LENGTH_S = 0.3, 0.2, 1.0
LOOKS = 1 << 17


def centre_hz(path, hz):
    sound = parselmouth.Sound(path).convert_to_mono()
    samples, rate_hz = sound.values[0], sound.sampling_frequency
    size = numpy.sqrt(numpy.convolve(samples**2, numpy.ones(2048) / 2048, "same"))
    loud = numpy.flatnonzero(size > LOUD * size.max())
    begin = loud[0] + int(FIRST_S * rate_hz)
    part = samples[begin : min(loud[-1], begin + int(LENGTH_S * rate_hz))]
    power = numpy.abs(numpy.fft.rfft(part * numpy.hanning(len(part)), LOOKS)) ** 2
    at_hz = numpy.fft.rfftfreq(LOOKS, 1.0 / rate_hz)
    numbers = numpy.arange(1, PARTIALS + 1)
    partials_hz = hz * numbers[hz * numbers < TOP_HZ]
    # A vibrato spreads the higher partials over more of the spectrum.
    reach_hz = lambda partial_hz: min(0.02 * partial_hz + 12.0, 0.5 * hz)
    powers = [power[abs(at_hz - it) < reach_hz(it)].sum() for it in partials_hz]
    return numpy.average(partials_hz, weights=powers)


for line in sys.stdin:
    path, hz = line.rstrip("\n").rsplit(" ", 1)
    print(f"{centre_hz(path, float(hz)):.1f}", flush=True)
