"""Dilation, erosion and closing by scipy's grey morphology; parallel curves by shapely.

The grid holds every vertex of the faces, and the structuring function is the negative outline of
the tool. A grid can only miss a contact that lies between its places: the sampled dilation is never above the exact one
and at most (step/2)^2/2 times the outline's greatest second derivative below.
"""

import math

import numpy
import scipy.ndimage
import shapely

STEP = 0.0025  # mm
NOWHERE = -1.0e6  # stands for minus infinity


def outline(tool, w):
    """T(w), written anew from the tool's description: nose, edges, holder."""
    r = tool["nose_radius"]
    side = "outer" if w >= 0 else "inner"
    angle, w = tool[f"{side}_edge"], abs(w)
    nose = r * math.cos(angle)
    if w <= nose:
        return r - math.sqrt(max(0.0, r * r - w * w))
    edge = r * (1 - math.sin(angle)) + (w - nose) / math.tan(angle)
    if "holder" not in tool:
        return edge
    end = nose + tool["edge_length"] * math.sin(angle)
    if w <= end:
        return edge
    top = r * (1 - math.sin(angle)) + tool["edge_length"] * math.cos(angle)
    return top if w <= tool["holder"][side] else -NOWHERE


def sampled(points, before, behind):
    """The face on the grid, with room before and behind it."""
    x0, x1 = points[0][0], points[-1][0]
    x = x0 + STEP * numpy.arange(round((x1 - x0) / STEP) + 1)
    z = numpy.interp(x, [p[0] for p in points], [p[1] for p in points])
    return numpy.concatenate([numpy.full(before, NOWHERE), z, numpy.full(behind, NOWHERE)])


def face(seed, count, height):
    """Vertices on the grid, some of them one step apart: a wall."""
    rng = numpy.random.default_rng(seed)
    steps = numpy.where(rng.random(count) < 0.15, 1, rng.integers(4, 160, count))
    places = numpy.concatenate([[0], numpy.cumsum(steps)])
    heights = numpy.concatenate([[0.0], numpy.cumsum(rng.uniform(-height, height, count))])
    return [[100.0 + STEP * int(i), round(float(z), 4)] for i, z in zip(places, heights)]


def morphology():
    tools = [
        {"nose_radius": 0.8, "inner_edge": 0.35, "outer_edge": 0.6, "edge_length": 6.0},
        {"nose_radius": 0.4, "inner_edge": 0.9, "outer_edge": 0.2, "edge_length": 6.0},
        {"nose_radius": 0.5, "inner_edge": 0.5, "outer_edge": 0.7, "edge_length": 0.9, "holder": {"inner": 0.6, "outer": 2.0}},
    ]
    cases = []
    for seed, tool in enumerate(tools):
        points = face(20 + seed, 30, 0.25)
        length = round((points[-1][0] - points[0][0]) / STEP)
        reach = 900 if "holder" in tool else length + 800
        room = 800
        f = sampled(points, room, room)
        # scipy dilates by f(x - y) + s(y): with u = x - y that is s(y) = -T(-y).
        s = numpy.array([-outline(tool, -STEP * k) for k in range(-reach, reach + 1)])
        dilated = scipy.ndimage.grey_dilation(f, structure=s, mode="constant", cval=NOWHERE)
        # The face itself, taken as a path.
        path = numpy.where(f == NOWHERE, -NOWHERE, f)
        eroded = scipy.ndimage.grey_erosion(path, structure=s, mode="constant", cval=-NOWHERE)
        # Enough room on both sides that no end of the array is felt on the face.
        wide = sampled(points, 2 * reach, 2 * reach)
        closed = scipy.ndimage.grey_closing(wide, structure=s, mode="constant", cval=0.0)[2 * reach : -2 * reach]
        keep = range(0, length + 1, 23)
        cases.append(
            {
                "points": points,
                "tool": tool,
                "x": [points[0][0] + STEP * i for i in keep],
                "dilated": [dilated[room + i] for i in keep],
                "eroded": [eroded[room + i] for i in keep],
                "closed": [closed[i] for i in keep],
            }
        )
    return cases


def parallels():
    """Offsets of convex profiles, whose corners all become arcs."""
    cases = []
    for seed, radius, segments in [(1, 0.8, 16), (2, 1.2, 32), (3, 0.4, 64)]:
        rng = numpy.random.default_rng(seed)
        slopes = -numpy.sort(-rng.uniform(-2.5, 2.5, 9))
        steps = rng.uniform(0.05, 3.0, 9)
        x = 150.0 + numpy.concatenate([[0.0], numpy.cumsum(steps)])
        z = numpy.concatenate([[0.0], numpy.cumsum(steps * slopes)])
        points = [[float(f"{a:.12g}"), float(f"{b:.12g}")] for a, b in zip(x, z)]
        curve = shapely.LineString(points).offset_curve(radius, quad_segs=segments, join_style="round")
        cases.append({"points": points, "radius": radius, "segments": segments, "offset": [list(c) for c in curve.coords]})
    return cases


def reference():
    return {"step": STEP, "morphology": morphology(), "parallels": parallels()}
