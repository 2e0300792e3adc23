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


def robust_cut(x, z, cutoff, order):
    """ISO 16610-31: reweighing by the biweight of the residual over 4.4478 medians, until the cut stands still."""
    f = local_fit(x, z, cutoff, order)
    cut = np.inf
    for _ in range(200):
        new = 4.4478 * np.median(np.abs(z - f))
        if abs(cut - new) < 1e-12 * new:
            break
        cut = new
        f = local_fit(x, z, cutoff, order, biweight((z - f) / cut))
    return f, cut


def biweight(u):
    return np.where(np.abs(u) < 1, (1 - u**2) ** 2, 0.0)


def spiky():
    rng = np.random.default_rng(22)
    x = 80 + np.cumsum(rng.uniform(0.03, 0.1, 200))
    z = 0.3 * np.sin(x / 2) + rng.normal(0, 0.01, x.size)
    hit = rng.choice(x.size, 16, replace=False)
    z[hit] += rng.uniform(0.1, 1.0, 16) * rng.choice([-1, 1], 16)
    return x, z


def minimised(x, z, f, cutoff, cut):
    """The same heights by scipy.optimize.minimize: at the fixed point each is the least weighted sum of squares."""
    own = stretch(x, cutoff) * biweight((z - f) / cut)
    out = []
    for xi, fi in zip(x, f):
        near = np.abs(x - xi) <= cutoff
        u = (x[near] - xi) / (ALPHA[1] * cutoff)
        w = own[near] * np.exp(-np.pi * u**2)
        best = optimize.minimize(lambda p: np.sum(w * (z[near] - p[0] - p[1] * u) ** 2) * 1e6, [fi, 0.0], tol=1e-14)
        out.append(best.x[0])
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
    sx, sz = spiky()
    sf, cut = robust_cut(sx, sz, 0.8, 1)
    waves = [0.4, 0.8, 1.6, 3.2]
    return {
        "alpha": ALPHA[1],
        "alpha_parabola": ALPHA[2],
        "uneven": {"cutoff": 0.8, "x": x, "z": z, "line": local_fit(x, z, 0.8, 1), "parabola": local_fit(x, z, 0.8, 2)},
        "even": {"step": step, "cutoff": cutoff, "z": ez, "filtered": ef},
        "robust": {"cutoff": 0.8, "x": sx, "z": sz, "line": sf, "cut": cut,
                   "minimised": minimised(sx, sz, sf, 0.8, cut)},
        "transmission": [{"wave": w, "share": 2 ** -((0.8 / w) ** 2)} for w in waves],
    }
