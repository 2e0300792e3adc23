"""Turning figures: pass time and spiral length by numerical integration, ideal roughness by its definition.

Time of a pass: integral of ds/(f·n(x)), n = min(limit, v/(2·pi·x)); scipy.integrate.quad.
Ra: mean distance from the mean line (ISO 4287, ISO 21920-2) over one feed of a round nose; quad.
"""

import math

from scipy.integrate import quad
from scipy.optimize import brentq


def times():
    cases = []
    for v, limit, feed, pieces in [
        (280e3, 700.0, 0.2, [("line", 50.0, 0.0, 216.0, 0.0)]),
        (220e3, 900.0, 0.11, [("line", 30.0, 4.0, 120.0, -12.0), ("line", 120.0, -12.0, 140.0, 3.0)]),
        (280e3, 1200.0, 0.2, [("cap", 40.0, 60.0, -20.0, 25.0), ("cup", 90.0, 110.0, 12.0, 30.0)]),
    ]:
        seconds = spiral = 0.0
        out = []
        for kind, *p in pieces:
            if kind == "line":
                x0, z0, x1, z1 = p
                stretch = math.hypot(1.0, (z1 - z0) / (x1 - x0))
                ds = lambda x: stretch
                out.append({"kind": kind, "from": [x0, z0], "to": [x1, z1], "centre": [0.0, 0.0]})
            else:
                # An arc round (centre, zc) from x0 to x1: upper half for a cap, lower half for a cup.
                x0, x1, zc, r = p
                c = 0.5 * (x0 + x1) + 3.0
                up = 1.0 if kind == "cap" else -1.0
                z = lambda x: zc + up * math.sqrt(r * r - (x - c) ** 2)
                ds = lambda x: r / math.sqrt(r * r - (x - c) ** 2)
                out.append({"kind": kind, "from": [x0, z(x0)], "to": [x1, z(x1)], "centre": [c, zc]})
            edge = v / (2 * math.pi * limit)
            rate = lambda x: ds(x) / (feed * min(limit, v / (2 * math.pi * x)))
            seconds += 60 * quad(rate, x0, x1, points=[edge] if x0 < edge < x1 else None, epsabs=1e-12, epsrel=1e-13)[0]
            spiral += quad(lambda x: 2 * math.pi * x / feed * ds(x), x0, x1, epsabs=1e-9, epsrel=1e-13)[0]
        cases.append({"surface_speed": v, "limit": limit, "feed": feed, "pieces": out, "seconds": seconds, "spiral": spiral})
    return cases


def roughness():
    cases = []
    for feed, r in [(0.05, 1.2), (0.1, 0.8), (0.2, 0.8), (0.25, 0.4), (0.3, 1.6), (0.8, 0.8)]:
        z = lambda t: r - math.sqrt(r * r - t * t)
        a = feed / 2
        mean = quad(z, 0, a, epsabs=1e-16, epsrel=1e-13)[0] / a
        t0 = brentq(lambda t: z(t) - mean, 0, a, xtol=1e-15)
        ra = (quad(lambda t: mean - z(t), 0, t0, epsabs=1e-17)[0] + quad(lambda t: z(t) - mean, t0, a, epsabs=1e-17)[0]) / a
        cases.append({"feed": feed, "nose": r, "rz": z(a), "ra": ra})
    return cases


def reference():
    return {"times": times(), "roughness": roughness()}
