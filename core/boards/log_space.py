"""Where in which tree a piece of wood was: the map from the panel to log space.

Log space is in millimetres: x runs along the fibre, the pith is the x axis. Every board (one per piece and per
background segment, unless a design says that some share one) gets its own place by a hash of its name, so that no two
pieces share figure and none changes its figure when others are added, moved or removed. The map from panel to log is a
rotation and a shift, hence exact on every triangle, section cuts included, and end grain agrees with faces by itself.
For a bent groove the panel is first straightened along the centre line.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..design import Cut

Array = NDArray[np.float64]

_CUTS: dict[Cut, tuple[float, float, float]] = {
    "flat": (0.55, 4.0, 15.0),
    "rift": (0.20, 30.0, 55.0),
    "quarter": (0.25, 70.0, 85.0),
}
"""Share of boards, and range of the angle between face and rings (by eye)."""
_SPREAD = (1000.0, 40.0)
"""How far from a shared board's middle pieces lie that do not say where, along the grain and across it, mm."""


@dataclass(frozen=True)
class Board:
    """One board's place in a log.

    Attributes:
        cut: degrees between the board's face and the growth rings; 0 is flat-sawn, 90 quarter-sawn.
        roll: degrees about the fibre; it keeps grids in log space from lining up with faces.
        place: mm from the log's end, from its middle plane, and from the pith.
        tone: lightness of this board relative to its species.
    """

    cut: float
    roll: float
    place: tuple[float, float, float]
    tone: float


def board_for(seed: str, cut: Cut | None = None) -> Board:
    """The board of this name: the same on every machine, for ever; sawn as asked for, or as its name decides."""
    which, angle, side, roll, x, y, z = chances(seed)
    tone = hashlib.blake2b(seed.encode("utf-8"), digest_size=56).digest()[49] / 255
    if cut is None:
        edges = np.cumsum([share for share, _, _ in _CUTS.values()])
        cut = list(_CUTS)[min(int(np.searchsorted(edges, which, side="right")), len(_CUTS) - 1)]
    _, low, high = _CUTS[cut]
    tilt = (low + angle * (high - low)) * (1 if side < 0.5 else -1)
    return Board(tilt, 360 * roll, (2500 * x, 70 * y - 35, 70 + 120 * z), 0.93 + 0.14 * tone)


def chances(seed: str) -> tuple[float, ...]:
    """Seven numbers from 0 to 1 that only depend on a name."""
    digest = hashlib.blake2b(seed.encode("utf-8"), digest_size=56).digest()
    return tuple(int.from_bytes(digest[i : i + 7], "big") / 2**56 for i in range(0, 49, 7))


def place_on_shared(seed: str) -> tuple[float, float]:
    """Where on a shared board the piece of this name lies, mm from its middle along and across the grain."""
    along, across, *_ = chances(f"{seed} on a shared board")
    return (2 * along - 1) * _SPREAD[0], (2 * across - 1) * _SPREAD[1]


def log_from_board(points: Array, board: Board) -> Array:
    """Log coordinates (n, 3) of points (n, 3) whose x runs along the fibre and z out of the face, in mm."""
    log: Array = (points @ _about_x(board.cut).T + np.array(board.place)) @ _about_x(board.roll).T
    return log


def lay_straight(points: Array, grain_degrees: float, anchor: tuple[float, float]) -> tuple[Array, Array]:
    """Panel points (n, 3) turned so that the grain runs along x, seen from `anchor`; and the fibre (n, 3)."""
    angle = np.radians(grain_degrees)
    cosine, sine = np.cos(angle), np.sin(angle)
    x, y = points[:, 0] - anchor[0], points[:, 1] - anchor[1]
    straight = np.column_stack([cosine * x + sine * y, cosine * y - sine * x, points[:, 2]])
    return straight, np.tile([cosine, sine, 0.0], (len(points), 1))


def lay_along(points: Array, centre_line: Array) -> tuple[Array, Array]:
    """Panel points (n, 3) straightened along a bent strip, and the fibre (n, 3) at each.

    x becomes the arc length of the nearest place on `centre_line` (m, 2), counted from its middle, y the signed
    distance to it (left is positive). Beyond an end the line is taken to go on straight.
    """
    start, step = centre_line[:-1], np.diff(centre_line, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    start, step, length = start[length > 0], step[length > 0], length[length > 0]
    run = step / length[:, None]
    before = np.concatenate([[0.0], np.cumsum(length)])

    away = points[:, None, :2] - start
    along = (away * run).sum(axis=2)
    low, high = np.zeros(len(run)), length.copy()
    low[0], high[-1] = -np.inf, np.inf
    along = np.clip(along, low, high)
    off = away - along[:, :, None] * run
    nearest = np.argmin((off**2).sum(axis=2), axis=1)

    row = np.arange(len(points))
    tangent = run[nearest]
    x = before[nearest] + along[row, nearest] - before[-1] / 2
    rest = off[row, nearest]
    side = np.sign(tangent[:, 0] * rest[:, 1] - tangent[:, 1] * rest[:, 0])
    y = side * np.hypot(rest[:, 0], rest[:, 1])
    straight = np.column_stack([x, y, points[:, 2]])
    return straight, np.column_stack([tangent, np.zeros(len(points))])


def _about_x(degrees: float) -> Array:
    angle = np.radians(degrees)
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.array([[1, 0, 0], [0, cosine, -sine], [0, sine, cosine]])
