"""Local regression of second order by numpy.linalg.lstsq, and the constants of robust weights by scipy.

ISO 16610-28: a parabola at every place by least squares under a window that moves along; the window here is the biweight.
Constants: 95 % efficiency at the normal for Huber's and Tukey's weights (P. J. Huber 1964; A. E. Beaton and J. W. Tukey 1974);
the standard deviation of the normal over its median absolute deviation (F. R. Hampel 1974).
"""

import numpy as np
from scipy import integrate, optimize, stats

START, STEP, LEN = 60.0, 0.05, 300


def parabola(x, y, weight, place, half):
    """Height, slope and the height's variance for readings whose variance is one over their weight."""
    d = x - place
    kernel = np.clip(1 - (d / half) ** 2, 0, None) ** 2
    near = kernel > 0
    d, kernel, w = d[near], kernel[near], weight[near]
    a = np.vander(d, 3, increasing=True)
    root = np.sqrt(kernel * w)
    terms = np.linalg.lstsq(a * root[:, None], y[near] * root, rcond=None)[0]
    # Height as a sum of the readings, each times its share.
    shares = (np.linalg.pinv(a * root[:, None]) * root)[0]
    return terms[0], terms[1], np.sum(shares**2 / w)


def efficiency(psi, slope):
    density = stats.norm.pdf
    up = integrate.quad(lambda t: slope(t) * density(t), -12, 12, limit=400, points=[-5, -1, 1, 5])[0]
    down = integrate.quad(lambda t: psi(t) ** 2 * density(t), -12, 12, limit=400, points=[-5, -1, 1, 5])[0]
    return up**2 / down


def huber(c):
    return efficiency(lambda t: np.clip(t, -c, c), lambda t: float(abs(t) < c))


def tukey(c):
    inside = lambda t: abs(t) < c
    return efficiency(
        lambda t: t * (1 - (t / c) ** 2) ** 2 * inside(t),
        lambda t: (1 - (t / c) ** 2) * (1 - 5 * (t / c) ** 2) * inside(t),
    )


def reference():
    rng = np.random.default_rng(11)
    # At the middles of bins, some of them empty and some with several readings.
    bins = np.sort(rng.integers(0, LEN, 420))
    x = START + STEP * bins
    y = np.sin(x / 3) + 0.4 * np.clip(x - 68, 0, None) + 0.01 * rng.standard_normal(len(x))
    weight = rng.choice([1.0, 1.0, 0.5, 2.5], len(x))
    fits = []
    for half in (0.6, 1.7, 5.0):
        for place in np.r_[START, 62.31, 66.666, 68.0, 71.04, START + STEP * (LEN - 1)]:
            value, slope, variance = parabola(x, y, weight, place, half)
            fits.append({"place": place, "half": half, "value": value, "slope": slope, "variance": variance})
    constants = {
        "huber": optimize.brentq(lambda c: huber(c) - 0.95, 1.2, 1.5, xtol=1e-9),
        "tukey": optimize.brentq(lambda c: tukey(c) - 0.95, 4.4, 5.0, xtol=1e-9),
        "sigma_per_mad": 1 / stats.norm.ppf(0.75),
    }
    grid = {"start": START, "step": STEP, "len": LEN}
    return {"grid": grid, "x": x, "y": y, "weight": weight, "fits": fits, "constants": {k: round(v, 6) for k, v in constants.items()}}
