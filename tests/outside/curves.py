"""Holds curve values from standard input against SciPy's monotone cubic, and prints the largest difference."""

import sys

from scipy.interpolate import PchipInterpolator

largest = 0.0
count = 0
for line in sys.stdin:
    knots, values = (
        [tuple(map(float, pair.split(","))) for pair in part.split()] for part in line.split("|")
    )
    curve = PchipInterpolator([x for x, _ in knots], [y for _, y in knots])
    for x, y in values:
        largest = max(largest, abs(float(curve(x)) - y))
    count += 1
print(count, largest)
