"""Waviness in a band of wavelengths, and what noise leaves of it after a local parabola, by numpy and scipy.

ISO 16610-21: the Gaussian filter, alpha = sqrt(ln 2 / pi), twice: at the short and at the long end of the band. At the ends of the
row a local line with the same weights (ISO 16610-28).
Expected peak to valley of a stationary Gaussian process over a length: S. O. Rice, Mathematical analysis of random noise,
Bell System Technical Journal 23 and 24 (1944, 1945), for the rate of crossings; H. Cramér, M. R. Leadbetter, Stationary and
related stochastic processes (1967), for the extremes (both from memory). Here the mean over simulated rows stands against it.
"""

import numpy as np
from scipy import ndimage

ALPHA = np.sqrt(np.log(2) / np.pi)
SHORT, LONG = 0.8, 8.0


def middle(z, step, cutoff):
    """By scipy; right where the whole kernel lies inside the row."""
    sigma = ALPHA * cutoff / np.sqrt(2 * np.pi) / step
    return ndimage.gaussian_filter1d(z, sigma, mode="nearest", radius=round(cutoff / step))


def local_line(z, step, cutoff):
    """By numpy.linalg.lstsq, everywhere."""
    x = np.arange(z.size) * step
    out = []
    for xi in x:
        near = np.abs(x - xi) <= cutoff + step / 4
        u = (x[near] - xi) / (ALPHA * cutoff)
        w = np.sqrt(np.exp(-np.pi * u**2))
        out.append(np.linalg.lstsq(np.vander(u, 2, increasing=True) * w[:, None], z[near] * w, rcond=None)[0][0])
    return np.array(out)


def kernel(half, step):
    """Equivalent kernel of a local parabola with biweight weights, in the middle of a long row."""
    n = round(half / step)
    u = np.arange(-n, n + 1) / n
    w = (1 - u**2) ** 2
    a = np.vander(u, 3, increasing=True)
    return np.linalg.solve(a.T @ (a * w[:, None]), (a * w[:, None]).T)[0]


def spectrum(half, step=0.005):
    """Integrals of the squared kernel through the band, and of its squared slope."""
    room = round(12 / step)
    k = np.pad(kernel(half, step) / step, room)
    b = middle(k, step, SHORT) - middle(k, step, LONG)
    return np.sum(b**2) * step, np.sum(np.gradient(b, step) ** 2) * step


def simulated(half, sigma, spacing, length, runs=200):
    """Mean peak to valley in the band of local parabolas through noise."""
    rng = np.random.default_rng(163)
    n = round(length / spacing)
    room = round((half + LONG) / spacing)
    k = kernel(half, spacing)
    out = []
    for _ in range(runs):
        f = np.convolve(rng.normal(0, sigma, n + 2 * room + 2 * round(half / spacing)), k, mode="valid")
        b = (middle(f, spacing, SHORT) - middle(f, spacing, LONG))[room:-room]
        out.append(np.ptp(b))
    return float(np.mean(out))


def reference():
    rng = np.random.default_rng(162)
    step = 0.05
    z = np.cumsum(rng.normal(0, 0.002, 600)) + 0.003 * np.sin(np.arange(600) * step * 2 * np.pi / 2.5)
    cases = []
    for half in [1.0, 2.0, 4.0, 8.5]:
        square, slope = spectrum(half)
        cases.append({"half": half, "square": square, "slope": slope,
                      "simulated": simulated(half, 0.010, 0.04, 145.0)})
    return {
        "step": step,
        "heights": z,
        "band": local_line(z, step, SHORT) - local_line(z, step, LONG),
        "band_by_scipy": middle(z, step, SHORT) - middle(z, step, LONG),
        "kept_from_end": round(LONG / step),
        "noise": {"sigma": 0.010, "spacing": 0.04, "length": 145.0, "cases": cases},
    }
