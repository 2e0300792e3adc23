"""Tilt and harmonics by numpy.linalg.lstsq, and the robust tilt by scipy.optimize.least_squares with Huber's loss."""

import numpy as np
from scipy.optimize import least_squares


def face(r):
    return -3 * np.sin(r / 40.0)


def case(angles, noise, outliers, seed):
    rng = np.random.default_rng(seed)
    angles = np.array(angles)
    r = np.linspace(70.0, 216.0, 60)
    z = face(r)[None, :] + r[None, :] * (3e-4 * np.cos(angles)[:, None] - 2e-4 * np.sin(angles)[:, None])
    z = z + noise * rng.standard_normal(z.shape)
    for line, start, stop, depth in outliers:
        z[line, start:stop] -= depth
    return angles, r, z


def design(angles, r):
    """One unknown for the face at each radius, then the two of the tilt."""
    k, n = len(angles), len(r)
    a = np.zeros((k * n, n + 2))
    for j, angle in enumerate(angles):
        for i in range(n):
            a[j * n + i, i] = 1
            a[j * n + i, n] = r[i] * np.cos(angle)
            a[j * n + i, n + 1] = r[i] * np.sin(angle)
    return a


def plain(angles, r, z):
    return np.linalg.lstsq(design(angles, r), z.ravel(), rcond=None)[0]


def robust(angles, r, z):
    """Huber's proposal: the scale from the median absolute residual, the fit by Huber's loss at that scale, in turn."""
    a, y, n = design(angles, r), z.ravel(), len(r)
    x = plain(angles, r, z)
    spent = np.sqrt(len(y) / (len(y) - n - 2))
    for _ in range(60):
        sigma = 1.482602218505602 * np.median(np.abs(y - a @ x)) * spent
        x = least_squares(lambda p: a @ p - y, x, jac=lambda p: a, loss="huber", f_scale=1.345 * sigma,
                          xtol=1e-14, ftol=1e-14, gtol=1e-14).x
    return x, sigma


def reference():
    turn = np.deg2rad
    cases = [
        case(turn([0, 120, 240]), 0.01, [], 1),
        case(turn([10, 95, 170, 300]), 0.01, [(1, 20, 30, 0.3)], 2),
        case(turn([0, 70, 150, 210, 290]), 0.005, [(0, 50, 60, 0.5), (3, 5, 9, -0.2)], 3),
    ]
    out = []
    for angles, r, z in cases:
        p = plain(angles, r, z)
        q, sigma = robust(angles, r, z)
        out.append({"angles": angles, "r": r, "z": z, "plain": p[-2:], "robust": q[-2:], "sigma": sigma})
    rings = []
    rng = np.random.default_rng(7)
    for angles, order in [([0, 120, 240], 1), ([5, 80, 171, 260], 1), ([0, 60, 130, 200, 290], 2), (list(range(0, 360, 40)), 2)]:
        t = turn(np.array(angles, float))
        y = rng.standard_normal(len(t))
        columns = [np.ones_like(t)] + [f(m * t) for m in range(1, order + 1) for f in (np.cos, np.sin)]
        terms = np.linalg.lstsq(np.stack(columns, axis=1), y, rcond=None)[0]
        rings.append({"angles": t, "values": y, "order": order, "terms": terms})
    return {"tilts": out, "rings": rings}
