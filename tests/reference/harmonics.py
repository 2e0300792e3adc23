"""Tilt, harmonics and eccentricity by numpy.linalg.lstsq."""

import numpy as np


def face(r):
    """A dish with two walls and a groove."""
    wall = lambda at, rise, width: rise / (1 + np.exp(-(r - at) / width))
    return -6 * ((215 - r) / 150) ** 2 + wall(95, 1.4, 0.5) + wall(170, -0.9, 0.4) - 0.6 * np.exp(-(((r - 130) / 2.5) ** 2))


def slope(r):
    return (face(r + 1e-5) - face(r - 1e-5)) / 2e-5


def eccentric(angles, e, tilt, noise, seed):
    """Lines over an eccentric and tilted face, and what least squares say of both where the face itself is known."""
    rng = np.random.default_rng(seed)
    angles = np.deg2rad(np.array(angles, float))
    r = np.linspace(60.0, 215.0, 700)
    shift = e[0] * np.cos(angles) + e[1] * np.sin(angles)
    lift = tilt[0] * np.cos(angles) + tilt[1] * np.sin(angles)
    z = face(r[None, :] - shift[:, None]) + r[None, :] * lift[:, None]
    z = np.round(z + noise * rng.standard_normal(z.shape), 6)
    found = np.zeros(4)
    for _ in range(8):
        moved = r[None, :] - (found[0] * np.cos(angles) + found[1] * np.sin(angles))[:, None]
        c, s = np.cos(angles)[:, None], np.sin(angles)[:, None]
        across = np.ones_like(moved)
        columns = [-slope(moved) * c, -slope(moved) * s, r[None, :] * c * across, r[None, :] * s * across]
        a = np.stack([column.ravel() for column in columns], axis=1)
        left = z - face(moved) - r[None, :] * (found[2] * c + found[3] * s)
        # The face's own height at every radius is not known to the fit: only differences between lines count.
        centre = lambda v: (v - v.mean(axis=0)).ravel()
        a = np.stack([centre(column.reshape(z.shape)) for column in columns], axis=1)
        step = np.linalg.lstsq(a, centre(left), rcond=None)[0]
        found += step
    return {"angles": angles, "r": r, "z": z, "noise": noise, "eccentricity": found[:2], "tilt": found[2:]}


def reference():
    rings = []
    rng = np.random.default_rng(7)
    turns = [([0, 120, 240], [1]), ([5, 80, 171, 260], [1]), ([0, 60, 130, 200, 290], [1, 2]), (list(range(0, 360, 40)), [1, 3])]
    for angles, orders in turns:
        t = np.deg2rad(np.array(angles, float))
        y = rng.standard_normal(len(t))
        columns = [np.ones_like(t)] + [f(m * t) for m in orders for f in (np.cos, np.sin)]
        terms = np.linalg.lstsq(np.stack(columns, axis=1), y, rcond=None)[0]
        rings.append({"angles": t, "values": y, "orders": orders, "terms": terms})
    wheels = [
        eccentric([0, 72, 144, 216, 288], (0.12, -0.05), (4e-4, 1e-4), 0.005, 1),
        eccentric([10, 95, 170, 300], (-0.03, 0.08), (-2e-4, 6e-4), 0.005, 2),
    ]
    return {"rings": rings, "wheels": wheels}
