"""How long general-purpose libraries take to offset the envelope benchmark's face by the nose radius.

    python tests/reference/timing.py

Prints a table for docs/benchmarks.md; writes no file and is no part of make.py.
scipy's grey dilation works on a raster, here the points themselves, with the nose sampled at their spacing.
"""

import time

import numpy
import scipy.ndimage
import shapely

NOSE = 0.8
LENGTH = 150.0
# A library that took longer than this is not asked for ten times the points, since its time grows faster than their number.
PATIENCE = 4.0


def face(count):
    """The gently curved face of the benchmark with noise of 0.01 mm."""
    x = numpy.linspace(70.0, 70.0 + LENGTH, count)
    noise = numpy.random.default_rng(1).normal(0.0, 0.01, count)
    return x, 12.0 * numpy.sin(x / 40.0) + noise


def dilation(x, z):
    step = x[1] - x[0]
    reach = int(NOSE / step)
    u = step * numpy.arange(-reach, reach + 1)
    nose = numpy.sqrt(NOSE**2 - u**2) - NOSE
    return scipy.ndimage.grey_dilation(z, size=nose.shape, structure=nose)


def offset(x, z):
    return shapely.offset_curve(shapely.linestrings(numpy.column_stack([x, z])), NOSE)


def main():
    print("| points | scipy.ndimage.grey_dilation | shapely.offset_curve |")
    print("|---|---|---|")
    last = {dilation: 0.0, offset: 0.0}
    for count in [1_000, 10_000, 100_000]:
        x, z = face(count)
        cells = []
        for work in (dilation, offset):
            if last[work] > PATIENCE:
                cells.append("not run")
                continue
            begun = time.perf_counter()
            work(x, z)
            last[work] = time.perf_counter() - begun
            cells.append(f"{last[work] * 1e3:.1f} ms ({last[work] * 1e9 / count:,.0f})")
        print(f"| {count:,} | {cells[0]} | {cells[1]} |", flush=True)


if __name__ == "__main__":
    main()
