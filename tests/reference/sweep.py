"""What a path of a round-nosed tool leaves of a face, by grey erosion on a fine grid (ISO 16610-40's disk filters; scipy.ndimage).

The path is sampled, so the surface here lies at or above the exact one, by no more than the sampling lets it.
"""

import numpy as np
from scipy.ndimage import grey_erosion

STEP = 0.002


def outline(w, r, inner, outer):
    """Height of nose and endless straight edges over the distance from the nose centre."""
    out = np.empty_like(w)
    for sign, angle in ((-1, inner), (1, outer)):
        side = w * sign >= 0
        v = np.abs(w[side])
        end = r * np.cos(angle)
        nose = r - np.sqrt(np.maximum(r * r - np.minimum(v, end) ** 2, 0))
        out[side] = np.where(v <= end, nose, r - r * np.sin(angle) + (v - end) / np.tan(angle))
    return out


def case(rng, r, inner_deg, outer_deg, steepness):
    inner, outer = np.radians([inner_deg, outer_deg])
    xs = np.unique(np.round(np.concatenate([[60.0, 80.0], rng.uniform(60, 80, 40)]) / STEP) * STEP)
    zs = np.cumsum(rng.uniform(-1, 1, len(xs)) * steepness * np.diff(xs, prepend=xs[0]))
    zs -= zs.max() + 0.1
    n = round(30 / STEP) + 1
    grid = 55 + STEP * np.arange(n)
    path = np.interp(grid, xs, zs, left=np.inf, right=np.inf)
    path[(grid < 60 - STEP / 2) | (grid > 80 + STEP / 2)] = np.inf
    path = np.where(np.isfinite(path), path, 1e6)
    half = round(4 / STEP)
    w = STEP * np.arange(-half, half + 1)
    # scipy takes the least of path(u + k) − structure(k); the tool stands at x = u + k, so w = u − x = −k.
    left = grey_erosion(path, structure=-outline(-w, r, inner, outer), mode="nearest")
    radii = np.arange(61, 79.01, 0.5)
    at = np.round((radii - 55) / STEP).astype(int)
    return {
        "nose_radius": r, "inner_edge": inner_deg, "outer_edge": outer_deg,
        "path": [[float(x), float(z)] for x, z in zip(xs, zs)],
        "radii": radii, "left": left[at],
    }


def reference():
    rng = np.random.default_rng(20)
    shapes = [(1.2, 30, 30, 0.3), (0.8, 20, 35, 0.8), (0.4, 45, 15, 1.5), (2.0, 10, 60, 0.5), (1.2, 30, 30, 1.2), (0.8, 25, 25, 0.05)]
    return {"step": STEP, "cases": [case(rng, *shape) for shape in shapes]}
