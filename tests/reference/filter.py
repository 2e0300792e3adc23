"""Gaussian profile filter and robust Gaussian regression, by numpy and scipy.

ISO 16610-21: weight s(x) = exp(-pi (x / (alpha lc))^2) / (alpha lc), alpha = sqrt(ln 2 / pi);
ISO 16610-28 and -31: local least squares with these weights, which needs no points beyond the ends.
"""

import numpy as np
from scipy import ndimage, optimize

ALPHA = {1: np.sqrt(np.log(2) / np.pi)}
# The kernel of a local parabola lets (1 + q) exp(-q), q = pi alpha^2, of a wave as long as the cut-off through.
ALPHA[2] = np.sqrt(optimize.brentq(lambda q: (1 + q) * np.exp(-q) - 0.5, 0.1, 5.0, xtol=1e-15) / np.pi)


def stretch(x, cutoff):
    """The stretch of radius that each point stands for, bounded to a sixteenth of the cut-off either way."""
    half = np.minimum(np.diff(x) / 2, cutoff / 16)
    inner, outer = np.r_[half[0], half], np.r_[half, half[-1]]
    return inner + outer


def local_fit(x, z, cutoff, order, rho=None):
    """Local polynomial regression at every point by numpy.linalg.lstsq."""
    out = []
    own = stretch(x, cutoff) * (1 if rho is None else rho)
    for xi in x:
        near = np.abs(x - xi) <= cutoff * ALPHA[order] / ALPHA[1]
        u = (x[near] - xi) / (ALPHA[order] * cutoff)
        w = np.sqrt(own[near] * np.exp(-np.pi * u**2))
        a = np.vander(u, order + 1, increasing=True) * w[:, None]
        out.append(np.linalg.lstsq(a, z[near] * w, rcond=None)[0][0])
    return np.array(out)


def uneven():
    rng = np.random.default_rng(20)
    x = 80 + np.cumsum(rng.uniform(0.02, 0.2, 150))
    z = 0.5 * np.sin(x) + 0.02 * (x - 85) ** 2 + rng.normal(0, 0.01, x.size)
    return x, z


def even():
    """An even row, for scipy's own Gaussian filter; only its middle is compared."""
    rng = np.random.default_rng(21)
    step, cutoff = 0.02, 0.8
    z = np.cumsum(rng.normal(0, 0.01, 300))
    sigma = ALPHA[1] * cutoff / np.sqrt(2 * np.pi) / step
    return step, cutoff, z, ndimage.gaussian_filter1d(z, sigma, mode="nearest", radius=round(cutoff / step))


def reference():
    x, z = uneven()
    step, cutoff, ez, ef = even()
    waves = [0.4, 0.8, 1.6, 3.2]
    return {
        "alpha": ALPHA[1],
        "alpha_parabola": ALPHA[2],
        "uneven": {"cutoff": 0.8, "x": x, "z": z, "line": local_fit(x, z, 0.8, 1), "parabola": local_fit(x, z, 0.8, 2)},
        "even": {"step": step, "cutoff": cutoff, "z": ez, "filtered": ef},
        "transmission": [{"wave": w, "share": 2 ** -((0.8 / w) ** 2)} for w in waves],
    }
