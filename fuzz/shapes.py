"""Outlines to draw with: points in the shape's own frame, mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from random import Random

from .drawing import Entry, Point, polygon


def rectangle(width: float, height: float, x: float = 0.0, y: float = 0.0) -> list[Point]:
    """Counter-clockwise from its lower left corner."""
    return [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]


def regular(count: int, radius: float, first: float = 0.0) -> list[Point]:
    """A regular polygon about the origin; its first corner lies at an angle in degrees."""
    angles = [math.radians(first + 360 * i / count) for i in range(count)]
    return [(radius * math.cos(angle), radius * math.sin(angle)) for angle in angles]


def star(tips: int, outer: float, inner: float) -> list[Point]:
    """A star with its first tip on +x."""
    radii = [inner if i % 2 else outer for i in range(2 * tips)]
    return [(r * math.cos(math.pi * i / tips), r * math.sin(math.pi * i / tips)) for i, r in enumerate(radii)]


def blob(random: Random, radius: float, count: int = 24) -> list[Point]:
    """A smooth closed curve round the origin."""
    waves = [(k, random.uniform(-0.3, 0.3) / k**0.5, random.uniform(0, 6.3)) for k in range(2, 5)]
    points = []
    for i in range(count):
        angle = 2 * math.pi * i / count
        reach = 1 + sum(height * math.cos(k * angle + phase) for k, height, phase in waves)
        reach = radius * min(1.6, max(0.4, reach))
        points.append((reach * math.cos(angle), reach * math.sin(angle)))
    return points


def astroid(radius: float, count: int = 40) -> list[Point]:
    """Four cusps: sharper than any cutter."""
    angles = [2 * math.pi * i / count for i in range(count)]
    return [(radius * math.cos(angle) ** 3, radius * math.sin(angle) ** 3) for angle in angles]


def comb(teeth: int, tooth: float, gap: float, length: float, back: float = 5.0) -> list[Point]:
    """A back along x with teeth that point up."""
    points: list[Point] = [(0.0, 0.0), (teeth * (tooth + gap) - gap, 0.0)]
    for i in reversed(range(teeth)):
        left, right = i * (tooth + gap), i * (tooth + gap) + tooth
        points += [(right, back), (right, back + length), (left, back + length), (left, back)]
    return points


def letter(random: Random, size: float) -> Entry:
    """A letter of straight strokes: L, T, U, E, H, O, A."""
    s, w = size, size / 5 * random.choice([1.0, 0.6, 1.4])
    left, right, low, high = s / 2 - w / 2, s / 2 + w / 2, s / 2, s / 2 + w
    letters: list[Sequence[Point]] = [
        [(0, 0), (s, 0), (s, w), (w, w), (w, s), (0, s)],
        [(left, 0), (right, 0), (right, s - w), (s, s - w), (s, s), (0, s), (0, s - w), (left, s - w)],
        [(0, 0), (s, 0), (s, s), (s - w, s), (s - w, w), (w, w), (w, s), (0, s)],
        [
            (0, 0), (s, 0), (s, w), (w, w), (w, left), (s, left),
            (s, right), (w, right), (w, s - w), (s, s - w), (s, s), (0, s),
        ],
        [
            (0, 0), (w, 0), (w, low), (s - w, low), (s - w, 0), (s, 0),
            (s, s), (s - w, s), (s - w, high), (w, high), (w, s), (0, s),
        ],
    ]  # fmt: skip
    which = random.randrange(len(letters) + 2)
    if which == len(letters):
        return polygon(rectangle(s, s), rectangle(s - 2 * w, s - 2 * w, w, w))
    if which > len(letters):
        return polygon([(0, 0), (s, 0), (s / 2, s)], [(left, w), (right, w), (s / 2, s / 2)])
    return polygon(letters[which])


def crescent(radius: float) -> Entry:
    """Two arcs that meet in points."""
    r, big = radius, radius * 1.5
    return {"path": f"M 0 0 A {r} {r} 0 0 1 {2 * r} 0 A {big} {big} 0 0 0 0 0 Z"}


def leaf(length: float) -> Entry:
    """Two Bézier curves that meet in points."""
    x, y = length / 2, length / 2
    return {"path": f"M 0 0 C {x} {y} {x} {y} {length} 0 C {x} {-y} {x} {-y} 0 0 Z"}


def round_path(radius: float, hole: float = 0.0) -> Entry:
    """A disc of two arcs, with a round hole if wanted."""
    discs = [radius, hole] if hole else [radius]
    return {"path": " ".join(f"M {-r} 0 A {r} {r} 0 1 0 {r} 0 A {r} {r} 0 1 0 {-r} 0 Z" for r in discs)}


def groove(random: Random, width: float = 3.175) -> Entry:
    """A centre line on a grid of 10 mm that may cross or meet itself, as good as exactly too."""
    near = random.choice([0.0, 0.0, 1e-7])
    points: list[Point] = [(0.0, 0.0)]
    while len(points) < random.randint(2, 6):
        x, y = points[-1]
        step = (random.choice([-20, -10, 0, 10, 20]) + near, random.choice([-10, 0, 10]) + near * random.randrange(2))
        if math.hypot(*step) > 5:
            points.append((x + step[0], y + step[1]))
    if random.random() < 0.2 and points[-1] != points[0]:
        points.append(points[0])
    return {"line": [list(point) for point in points], "width": width, "smooth": random.random() < 0.2}
