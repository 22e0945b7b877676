"""The frame of the listing picture: four mitred sides round the trimmed panel, each a closed solid.

For display and the listing card only: no measure and no finding knows of it. The panel lies on a ledge all round, with
a gap (the reveal) between its edge and the frame. A side is one section drawn along it: u is the distance outwards
from the opening, z as in the panel; both ends are cut at 45 degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from ..design import Design, Frame
from ..errors import UnusableInput
from ..woods.species import find_wood, near_woods
from .closed_mesh import ClosedMesh, Surface, volume
from .triangulate import triangulate

Array = npt.NDArray[np.float64]

# Ledge, lap, lip and arris are common practice, no published source.
LEDGE = 6.0
"""mm of frame below the panel, which rests on it."""
LAP = 6.0
"""How far the ledge reaches under the panel, mm, beyond the reveal."""
LIP = 4.0
"""How far a frame of no given depth stands above the panel's face, mm."""
ARRIS = 1.0
"""Radius of the front edges, mm: sanded, as the hand meets them."""
ARC_STEPS = 5
"""Straight pieces of a rounded edge's quarter circle; four times as many on a round front."""


@dataclass(frozen=True)
class FrameSide:
    """One side, closed and outward, mm, in the panel's place."""

    name: str
    wood: str
    grain: float
    """Along the side: 0 for the lower and upper one, 90 for the left and right one."""
    anchor: tuple[float, float]
    """The middle of the side, for its wood's figure to hang on."""
    vertices: Array
    triangles: npt.NDArray[np.int32]
    surface: npt.NDArray[np.uint8]

    @property
    def mesh(self) -> ClosedMesh:
        """Its surface alone."""
        return ClosedMesh(self.vertices, self.triangles, self.surface)

    @property
    def volume(self) -> float:
        """mm³"""
        return volume(self.mesh)


@dataclass(frozen=True)
class FramedSize:
    """Outer sizes of the framed panel, mm."""

    width: float
    height: float
    depth: float


def frame_depth(design: Design) -> float:
    """Depth of the frame, from back to front, mm."""
    if design.frame.depth is not None:
        return design.frame.depth
    return design.panel.thickness - design.panel.face_trim + LEDGE + LIP


def framed_size(design: Design) -> FramedSize:
    """What the frame measures over all."""
    x0, y0, x1, y1 = framed_box(design)
    return FramedSize(x1 - x0, y1 - y0, frame_depth(design))


def framed_box(design: Design) -> tuple[float, float, float, float]:
    """Left, lower, right and upper edge of the frame, mm."""
    x0, y0, x1, y1 = _opening(design)
    width = design.frame.width
    return x0 - width, y0 - width, x1 + width, y1 + width


def back_of(design: Design) -> float:
    """z of the frame's back, mm."""
    return -design.panel.thickness - LEDGE


def frame_sides(design: Design) -> tuple[FrameSide, ...]:
    """The left, lower, right and upper side.

    Raises:
        UnusableInput: the frame's wood is unknown, its depth too small, or the panel narrower than the ledges under it.
    """
    check_frame(design)
    section = section_of(design)
    x0, y0, x1, y1 = _opening(design)
    corners = np.array([(x0, y1), (x0, y0), (x1, y0), (x1, y1)])  # counter-clockwise, from the left side's start
    outward = np.array([(-1, 1), (-1, -1), (1, -1), (1, 1)], float)
    ring = np.column_stack([section, np.zeros(len(section))])
    names: tuple[Literal["left", "lower", "right", "upper"], ...] = ("left", "lower", "right", "upper")
    sides = []
    for place, name in enumerate(names):
        start, end = (
            np.column_stack([corners[k % 4] + ring[:, :1] * outward[k % 4], section[:, 1]]) for k in (place, place + 1)
        )
        mesh = _prism(section, start, end)
        middle = (start[:, :2].mean(axis=0) + end[:, :2].mean(axis=0)) / 2
        anchor = (float(middle[0]), float(middle[1]))
        grain = 90.0 if name in ("left", "right") else 0.0
        sides.append(
            FrameSide(f"frame-{name}", design.frame.wood, grain, anchor, mesh.vertices, mesh.triangles, mesh.surface)
        )
    return tuple(sides)


def section_of(design: Design) -> Array:
    """Corners (n, 2) of a side's section, counter-clockwise with u to the right and z up: an upright with a ledge."""
    frame = design.frame
    back = back_of(design)
    front, ledge = back + frame_depth(design), back + LEDGE
    reach = -frame.reveal - LAP
    inner_to_outer = _front(frame, front, ledge)
    return np.array([(reach, back), (frame.width, back), *inner_to_outer[::-1], (0.0, ledge), (reach, ledge)])


def _front(frame: Frame, front: float, ledge: float) -> list[tuple[float, float]]:
    """The face from its inner to its outer edge, edges rounded."""
    width, room = frame.width, front - ledge
    if frame.profile == "round":
        rise = min(0.3 * width, 0.8 * room)
        turns = np.linspace(np.pi, 0.0, 4 * ARC_STEPS + 1)
        along, up = width / 2 * (1 + np.cos(turns)), front - rise + rise * np.sin(turns)
        return list(zip(along.tolist(), up.tolist(), strict=True))
    drop = min(0.3 * width, 0.5 * room) if frame.profile == "bevel" else 0.0
    corners = np.array([(0.0, ledge), (0.0, front - drop), (width, front), (width, front - room)])
    radius = min(ARRIS, width / 4, (room - drop) / 2)
    return [point for k in (1, 2) for point in _rounded(corners[k - 1], corners[k], corners[k + 1], radius)]


def _rounded(before: Array, corner: Array, after: Array, radius: float) -> list[tuple[float, float]]:
    """A corner as an arc that touches both its legs, from the first leg to the second."""
    one, other = ((leg - corner) / np.linalg.norm(leg - corner) for leg in (before, after))
    half = np.arccos(np.clip(one @ other, -1, 1)) / 2
    middle = corner + (one + other) / np.linalg.norm(one + other) * radius / np.sin(half)
    first, last = (corner + leg * radius / np.tan(half) - middle for leg in (one, other))
    turn = np.arctan2(first[0] * last[1] - first[1] * last[0], first @ last)
    angles = np.linspace(0.0, turn, ARC_STEPS + 1)
    turned = np.column_stack(
        [np.cos(angles) * first[0] - np.sin(angles) * first[1], np.sin(angles) * first[0] + np.cos(angles) * first[1]]
    )
    return [(float(x), float(y)) for x, y in middle + turned]


def _prism(section: Array, start: Array, end: Array) -> ClosedMesh:
    """A ring of points and the same ring further on, closed by walls and two cut ends."""
    count = len(section)
    closed = np.vstack([section, section[:1]])
    cap = triangulate(closed, np.array([len(closed)], np.uint32)) % count
    here = np.arange(count)
    there = (here + 1) % count
    walls = np.concatenate(
        [np.column_stack([here, here + count, there]), np.column_stack([there, here + count, there + count])]
    )
    triangles = np.concatenate([walls, cap, cap[:, ::-1] + count]).astype(np.int32)
    surface = np.full(len(triangles), Surface.CUT, np.uint8)
    surface[: len(walls)] = Surface.WALL
    mesh = ClosedMesh(np.vstack([start, end]), triangles, surface)
    return mesh if volume(mesh) > 0 else ClosedMesh(mesh.vertices, triangles[:, ::-1].copy(), surface)


def _opening(design: Design) -> tuple[float, float, float, float]:
    """The rectangle that the frame leaves free: the trimmed panel and the reveal all round it."""
    panel, reveal = design.panel, design.frame.reveal
    left, right, bottom, top = panel.edge_trim
    return left - reveal, bottom - reveal, panel.width - right + reveal, panel.height - top + reveal


def check_frame(design: Design) -> None:
    """Whether `frame_sides` can make it.

    Raises:
        UnusableInput: it cannot.
    """
    frame = design.frame
    if find_wood(frame.wood, design.woods) is None:
        near = ", ".join(near_woods(frame.wood, own=design.woods))
        remedy = f"Write one of the species table, perhaps {near}" if near else "Write a wood of the species table"
        raise UnusableInput(design.file, "frame.wood", f'there is no wood called "{frame.wood}"', remedy)
    least = LEDGE + 2.0
    if frame_depth(design) < least:
        problem = f"{frame_depth(design):.2f} mm is less than the ledge under the panel and an edge above it need"
        raise UnusableInput(design.file, "frame.depth", problem, f"Give {least:.2f} mm or more")
    x0, y0, x1, y1 = _opening(design)
    if min(x1 - x0, y1 - y0) <= 2 * (frame.reveal + LAP):
        problem = f"the trimmed panel is not wider than the ledges under it ({2 * LAP:.2f} mm)"
        raise UnusableInput(design.file, "panel", problem, "Trim its edges less")
