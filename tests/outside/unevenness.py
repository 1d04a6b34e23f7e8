"""Mean, spread and correlation of a vibrato's cycles, beside those of the textbook's chain.

The first line says how many per cent the file states for the rate and the width, the others are
the rate and the width of each cycle as shares of the even ones. Printed for each of the two: mean,
spread and correlation with the next cycle, and the same three of two million cycles of a
first-order autoregressive chain (rho = 0.5, normal, clipped at 2), straight across each cycle and
as wide as makes the spread of two neighbours' mean, which is what a cycle is heard by, 1.
"""

import sys

import numpy
from scipy.signal import lfilter

CORRELATION, STRAY_MAX, COUNT = 0.5, 2.0, 2_000_000


def three(values):
    return values.mean(), values.std(), numpy.corrcoef(values[:-1], values[1:])[0, 1]


def chain(seed):
    """The stray at the beginning of each cycle, in spreads."""
    news = numpy.random.default_rng(seed).standard_normal(COUNT) * numpy.sqrt(1 - CORRELATION**2)
    strays = numpy.clip(lfilter([1], [1, -CORRELATION], news)[100:], -STRAY_MAX, STRAY_MAX)
    return strays / ((strays[:-1] + strays[1:]) / 2).std()


rate_percent, width_percent = map(float, sys.stdin.readline().split())
cycles = numpy.array([line.split() for line in sys.stdin], dtype=float)
# The time of a cycle in which the rate moves evenly from one stray to the next.
begin, end = 1 + rate_percent / 100 * chain(1)[:-1], 1 + rate_percent / 100 * chain(1)[1:]
moves = end != begin
rates = begin.copy()
rates[moves] = (end - begin)[moves] / numpy.log(end[moves] / begin[moves])
# The two turning points stand at a quarter and at three quarters of a cycle, each half the width.
stray = chain(2)
widths = 1 + width_percent / 100 * (stray[:-1] + stray[1:]) / 2
print(*three(cycles[:, 0]), *three(rates))
print(*three(cycles[:, 1]), *three(widths))
