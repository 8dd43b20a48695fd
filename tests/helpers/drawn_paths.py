"""What a drawing's document shows, measured by geometry alone: nothing here knows how it was made."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import combinations, pairwise
from xml.etree import ElementTree

Point = tuple[float, float]
Segment = tuple[Point, Point]
SVG = "{http://www.w3.org/2000/svg}"
NUMBER = re.compile(r"[MLQ]|-?\d+(?:\.\d+)?")
MOVED = re.compile(r"translate\((-?[\d.]+) (-?[\d.]+)\)")
NEAR = 1.0
"""Parallel pieces nearer than this lie on one another."""
AT_LUG, AT_CASING = 56.0, 64.0
"""Wires of one lug or casing meet before this far from it: they leave it by one stem."""


@dataclass(frozen=True)
class Wire:
    """A drawn wire: its ends as the document names them, and its corners."""

    key: str
    joint: str
    corners: tuple[Point, ...]
    tied: bool

    @property
    def ends(self) -> tuple[str, str]:
        """The terminals."""
        first, _, last = self.key.partition("~")
        return first, last

    @property
    def tips(self) -> tuple[Point, Point]:
        """Where it starts and ends, in the order of `ends`."""
        return self.corners[0], self.corners[-1]

    @property
    def segments(self) -> list[Segment]:
        return [pair for pair in pairwise(self.corners) if pair[0] != pair[1]]


def corners_of(path: str) -> tuple[Point, ...]:
    """Return the corners of a path of lines and rounded corners (the control points)."""
    numbers: list[float] = []
    corners: list[Point] = []
    letter = ""
    for token in NUMBER.findall(path):
        if token.isalpha():
            letter, numbers = token, []
            continue
        numbers.append(float(token))
        if letter in "ML" and len(numbers) == 2:
            corners.append((numbers[0], numbers[1]))
        elif letter == "Q" and len(numbers) == 4:
            corners[-1] = (numbers[0], numbers[1])
            corners.append((numbers[2], numbers[3]))
    return tuple(corners)


def wires_of(svg: str) -> list[Wire]:
    """Return every wire that is drawn from lug to lug."""
    found = []
    for group in ElementTree.fromstring(svg).iter(f"{SVG}g"):
        key, joint = group.get("data-wire"), group.get("data-joint")
        outer = [path for path in group.findall(f"{SVG}path") if path.get("class") == "outer"]
        classes = (group.get("class") or "").split()
        if key is None or joint is None or not outer or "stub" in classes:
            continue
        tied = bool({"tie", "twist"} & set(classes))
        found.append(Wire(key, joint, corners_of(outer[0].get("d") or ""), tied))
    return found


def lug_places(svg: str) -> dict[str, Point]:
    """Return the middle of every lug by its terminal."""
    found = {}
    for group in ElementTree.fromstring(svg).iter(f"{SVG}g"):
        terminal = group.get("data-lug")
        pad = next((one for one in group.findall(f"{SVG}circle") if one.get("class") == "pad"), None)
        if terminal and pad is not None:
            found[terminal] = (float(pad.get("cx") or 0), float(pad.get("cy") or 0))
    return found


def overlaps(wires: list[Wire]) -> list[tuple[str, str, Point]]:
    """Return places where two wires run on one another, except where they leave one lug."""
    found = []
    for one, other in combinations([wire for wire in wires if not wire.tied], 2):
        shared = {end: point for end, point in zip(one.ends, one.tips, strict=True) if end in other.ends}
        for p, q in ((p, q) for p in one.segments for q in other.segments):
            middle = _common(p, q)
            if middle and not any(_far(middle, lug) <= _reach(end) for end, lug in shared.items()):
                found.append((one.key, other.key, middle))
    return found


def _reach(end: str) -> float:
    return AT_CASING if end.endswith(".casing") else AT_LUG


def _common(one: Segment, other: Segment) -> Point | None:
    """Return the middle of the piece that two parallel segments share."""
    (a, b), (c, d) = one, other
    length = _far(a, b)
    unit = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
    away = [abs((p[0] - a[0]) * unit[1] - (p[1] - a[1]) * unit[0]) for p in (c, d)]
    if max(away) > NEAR:
        return None
    along = sorted((p[0] - a[0]) * unit[0] + (p[1] - a[1]) * unit[1] for p in (c, d))
    low, high = max(0.0, along[0]), min(length, along[1])
    if high - low <= 2 * NEAR:
        return None
    at = (low + high) / 2
    return a[0] + unit[0] * at, a[1] + unit[1] * at


def crossings(wires: list[Wire]) -> int:
    """Count the places where two wires cross."""
    found = set()
    for one, other in combinations([wire for wire in wires if not wire.tied], 2):
        for p, q in ((p, q) for p in one.segments for q in other.segments):
            if at := _crossing(p, q):
                found.add((one.key, other.key, round(at[0]), round(at[1])))
    return len(found)


def _crossing(one: Segment, other: Segment) -> Point | None:
    (a, b), (c, d) = one, other
    rx, ry, sx, sy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    cross = rx * sy - ry * sx
    if abs(cross) < 1e-9:
        return None
    t = ((c[0] - a[0]) * sy - (c[1] - a[1]) * sx) / cross
    u = ((c[0] - a[0]) * ry - (c[1] - a[1]) * rx) / cross
    inside = 1e-6 < t < 1 - 1e-6 and 1e-6 < u < 1 - 1e-6
    return (a[0] + t * rx, a[1] + t * ry) if inside else None


def bodies_of(svg: str) -> dict[str, tuple[float, float, float, float]]:
    """Return the box of every drawn body by its part: left, top, right, bottom."""
    found: dict[str, tuple[float, float, float, float]] = {}
    for group in ElementTree.fromstring(svg).iter(f"{SVG}g"):
        name = group.get("data-drawn")
        moved = group.find(f"{SVG}g")
        if not name or moved is None:
            continue
        shift = MOVED.fullmatch(moved.get("transform") or "")
        if shift is None:
            continue
        x, y = float(shift[1]), float(shift[2])
        for k, (left, top, right, bottom) in enumerate(_boxes(moved)):
            found[f"{name} {k}"] = (x + left, y + top, x + right, y + bottom)
    return found


def _boxes(group: ElementTree.Element) -> list[tuple[float, float, float, float]]:
    boxes = []
    for rect in group.iter(f"{SVG}rect"):
        if set((rect.get("class") or "").split()) & {"housing", "deck"}:
            x, y = float(rect.get("x") or 0), float(rect.get("y") or 0)
            boxes.append((x, y, x + float(rect.get("width") or 0), y + float(rect.get("height") or 0)))
    for circle in group.iter(f"{SVG}circle"):
        if circle.get("class") == "casing":
            r = float(circle.get("r") or 0)
            boxes.append((-r, -r, r, r))
    return boxes


def through_bodies(svg: str, wires: list[Wire]) -> list[tuple[str, str]]:
    """Return wires that pass a body, except the last piece to their own lugs."""
    found = []
    bodies = bodies_of(svg)
    for wire in wires:
        if wire.tied:
            continue
        for (a, b), (name, box) in ((s, body) for s in wire.segments[1:-1] for body in bodies.items()):
            left, top, right, bottom = (v + d for v, d in zip(box, (4, 4, -4, -4), strict=True))
            (x0, x1), (y0, y1) = sorted((a[0], b[0])), sorted((a[1], b[1]))
            if x1 > left and x0 < right and y1 > top and y0 < bottom:
                found.append((wire.key, name))
    return found


def _far(p: Point, q: Point) -> float:
    return float(((p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2) ** 0.5)
