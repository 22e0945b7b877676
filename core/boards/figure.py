"""Which wood shows where on a solid: for every piece the board it is cut from, its place there, its stripes and leaves.

What a picture needs to know of the wood of one solid is made here, in millimetres; the add-on only writes it down. All
of it hangs on the piece itself: its id, its middle, its grain. So figure stays when a piece is moved or another one
changes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely

from ..design import Cut, Design, GluedBlank, Point
from ..errors import UnusableInput
from ..kept import Kept
from ..solids.closed_mesh import ClosedMesh, Surface
from ..solids.frame import FrameSide
from ..stack.stack import BackgroundPiece, PlacedPiece, Stack
from ..woods.species import folded
from . import log_space
from .joint_cuts import cut_at
from .place_on_photo import Extent, PhotoBoard, find_photo

Array = npt.NDArray[np.float64]
GLUE = ""
"""Stands for the glue of a joint among the woods of a solid."""
JOINT = 0.12
"""Width of a joint between stripes or leaves in pictures, mm (by eye)."""
SLIVER = 1e-6
"""A stripe of less is left out at the edge of a piece, mm."""


@dataclass(frozen=True)
class Lay:
    """How a piece lies in its wood."""

    name: str
    wood: str
    grain: float
    """Direction of its fibres on the panel."""
    anchor: Point
    """Its middle on the panel, mm: the place that its figure hangs on."""
    extent: Extent
    """How far it reaches from there, straightened, mm."""
    cut: Cut | None = None
    board: int | None = None
    at: Point | None = None
    mirrored: bool = False
    leaves: int = 1
    blank: GluedBlank | None = None
    line: Array | None = field(default=None, compare=False, repr=False)
    """The centre line (k, 2) of a groove, which the grain of its strip follows; other pieces are sawn from boards."""

    @cached_property
    def stripes(self) -> tuple[tuple[str, float, float], ...]:
        """Wood, least and greatest y (straightened) of each stripe or leaf, in order of y; they overlap nowhere."""
        low, high = self.extent[2:]
        if self.blank is not None:
            return tuple(_repeated(self.blank, low, high))
        edges = np.linspace(low, high, self.leaves + 1).tolist()
        return tuple((self.wood, a, b) for a, b in pairwise(edges))

    @property
    def leaf_extent(self) -> Extent:
        """How far one leaf reaches from its own middle; all of the piece where it is one."""
        x0, x1, y0, y1 = self.extent
        half = (y1 - y0) / self.leaves / 2
        return self.extent if self.leaves == 1 else (x0, x1, -half, half)

    @property
    def woods(self) -> tuple[str, ...]:
        """The woods that it shows, each once; behind them glue where there are joints."""
        shown = {wood for wood, _, _ in self.stripes}
        glued = [stripe.wood for stripe in self.blank.stripes] if self.blank else [self.wood]
        names = dict.fromkeys(wood for wood in glued if wood in shown)
        return (*names, GLUE) if len(self.stripes) > 1 else tuple(names)


@dataclass(frozen=True)
class Figure:
    """A solid with its wood: the mesh, cut at joints and parted there, and what each vertex and triangle shows."""

    mesh: ClosedMesh
    wood: npt.NDArray[np.int32]
    """(m,) of each triangle: its place among the lay's woods."""
    log: Array
    """(n, 3) where each vertex lies in its log, mm."""
    fibre: Array
    """(n, 3) direction of the fibre on the panel."""
    tone: Array
    """(n,) lightness of the board relative to its species."""
    photo: Array
    """(n, 2) place on the photo of its board, as shares of the board's width and height; zero without one."""


# --- How pieces lie -------------------------------------------------------------------------------------------------


def lays(stack: Stack) -> dict[str, Lay]:
    """How every piece lies, by the name of its solid; of pieces that did not change since an earlier call the same."""
    strips, pieces = stack.background, stack.pieces
    subjects = [[strip] for strip in strips] + [[placed.outline, placed.piece, placed.grain] for placed in pieces]
    count = len(strips)

    def measure(new: list[int]) -> list[Lay]:
        return [_strip(strips[i]) if i < count else _piece(pieces[i - count]) for i in new]

    return {lay.name: lay for lay in _LAYS.of(subjects, measure)}


_LAYS: Kept[Lay] = Kept()


def _strip(piece: BackgroundPiece) -> Lay:
    anchor, extent = _measured(shapely.get_coordinates(piece.box), piece.grain)
    return Lay(piece.name, piece.wood, piece.grain, anchor, extent, piece.cut, piece.board)


def _piece(placed: PlacedPiece) -> Lay:
    piece = placed.piece
    line = placed.centre_line if piece.is_groove else None
    anchor, extent = _measured(shapely.get_coordinates(placed.outline), placed.grain)
    if line is not None:
        half, side = float(np.hypot(*np.diff(line, axis=0).T).sum()) / 2, piece.cutter_radius
        extent = (-half, half, -side, side)
    leaves = 1 if piece.is_groove else piece.leaves
    return Lay(
        piece.id, piece.wood, placed.grain, anchor, extent, piece.cut, piece.board, piece.board_at,
        piece.laid_mirrored, leaves, piece.blank, line,
    )  # fmt: skip


def lay_of_side(side: FrameSide) -> Lay:
    """How a side of the frame lies."""
    _, extent = _measured(side.vertices[:, :2], side.grain)
    return Lay(side.name, side.wood, side.grain, side.anchor, extent)


def _measured(corners: Array, grain: float) -> tuple[Point, Extent]:
    """The middle of the box round a shape, and how far the shape reaches from there, straightened."""
    if not len(corners):
        return (0.0, 0.0), (0.0, 0.0, 0.0, 0.0)
    (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
    anchor = (float(x0 + x1) / 2, float(y0 + y1) / 2)
    straight, _ = log_space.lay_straight(np.column_stack([corners, np.zeros(len(corners))]), grain, anchor)
    (low_x, low_y), (high_x, high_y) = straight[:, :2].min(axis=0).tolist(), straight[:, :2].max(axis=0).tolist()
    return anchor, (low_x, high_x, low_y, high_y)


def _straight(points: Array, grain: float, anchor: Point, line: Array | None) -> tuple[Array, Array]:
    if line is not None and len(line) > 1:
        return log_space.lay_along(points, line)
    return log_space.lay_straight(points, grain, anchor)


def _repeated(blank: GluedBlank, low: float, high: float) -> Iterable[tuple[str, float, float]]:
    """A blank's stripes over a range of y, as often as they are needed."""
    widths = np.array([stripe.width for stripe in blank.stripes])
    period = float(widths.sum())
    start = blank.shift - widths[0] / 2
    start -= np.ceil((start - low) / period) * period
    number = 0
    while start < high - SLIVER:
        stripe = blank.stripes[number % len(blank.stripes)]
        end = start + stripe.width
        if end > low + SLIVER:
            yield stripe.wood, max(float(start), low), min(float(end), high)
        start, number = end, number + 1


# --- Boards ---------------------------------------------------------------------------------------------------------


def board_of(lay: Lay, wood: str) -> tuple[log_space.Board, Point]:
    """The board of a procedural wood that a stripe of a piece is cut from, and where on it the piece's middle lies."""
    if lay.board is not None:
        seed = f"{folded(wood)} board {lay.board}"
        return log_space.board_for(seed, lay.cut), lay.at or log_space.place_on_shared(lay.name)
    seed = lay.name if wood == lay.wood else f"{lay.name} {folded(wood)}"
    return log_space.board_for(seed, lay.cut), lay.at or (0.0, 0.0)


def photo_boards(design: Design) -> tuple[dict[str, PhotoBoard], tuple[UnusableInput, ...]]:
    """The photos of a design's boards by the folded name of their wood, and what is in the way of the others."""
    found, trouble = {}, []
    for wood in design.woods:
        if wood.photo is not None:
            try:
                found[folded(wood.name)] = find_photo(wood, design.folder)
            except UnusableInput as error:
                trouble.append(error)
    return found, tuple(trouble)


def on_photo(lay: Lay, board: PhotoBoard) -> tuple[Point, float]:
    """Where a piece's middle lies on its board's photo, mm, and how far the piece reaches beyond the board."""
    at = lay.at or board.default_place(lay.name, lay.leaf_extent, lay.mirrored)
    return at, board.overhang(lay.leaf_extent, lay.mirrored, at)


# --- Solids ---------------------------------------------------------------------------------------------------------


def figure_of(mesh: ClosedMesh, lay: Lay, photos: Mapping[str, PhotoBoard]) -> Figure:
    """A solid's mesh with its wood.

    Args:
        mesh: of the solid, mm.
        lay: how it lies.
        photos: the design's boards, from `photo_boards`.
    """
    if len(lay.stripes) > 1:
        mesh, stripe = _parted(mesh, lay)
    else:
        stripe = np.zeros(len(mesh.triangles), np.int64)
    straight, fibre = _straight(mesh.vertices, lay.grain, lay.anchor, lay.line)
    owner = np.zeros(len(mesh.vertices), np.int64)
    owner[mesh.triangles] = stripe[:, None]
    log, photo, tone = np.zeros((len(owner), 3)), np.zeros((len(owner), 2)), np.ones(len(owner))
    unfolded = None
    for number in np.unique(owner).tolist():
        own = owner == number
        wood, *_ = lay.stripes[number // 2]
        board = photos.get(folded(wood))
        if board is not None:
            if unfolded is None:
                unfolded = _straight(_unfolded(mesh), lay.grain, lay.anchor, lay.line)[0]
            at, _ = on_photo(lay, board)
            photo[own] = board.shares(board.places(_in_leaf(unfolded[own], lay, number // 2)[:, :2], lay.mirrored, at))
        grown, at = board_of(lay, wood)
        laid = _in_leaf(straight[own], lay, number // 2) * (1.0, -1.0 if lay.mirrored else 1.0, 1.0)
        log[own] = log_space.log_from_board(laid + np.array([*at, 0.0]), grown)
        tone[own] = grown.tone
    return Figure(mesh, _slots(lay, stripe), log, fibre, tone, photo)


def _parted(mesh: ClosedMesh, lay: Lay) -> tuple[ClosedMesh, npt.NDArray[np.int64]]:
    """The mesh cut on both sides of every joint and parted there; for each triangle twice its stripe, or one more for
    the glue behind it."""
    straight, _ = log_space.lay_straight(mesh.vertices, lay.grain, lay.anchor)
    joints = [high for _, _, high in lay.stripes[:-1]]
    half = min([JOINT, *(high - low for _, low, high in lay.stripes[1:-1])]) / 2
    levels = [level for joint in joints for level in (joint - half, joint + half)]
    vertices, triangles, source, band = cut_at(mesh.vertices, mesh.triangles, straight[:, 1], levels)
    corners = np.column_stack([np.repeat(band, 3), triangles.ravel()])
    pairs, number = np.unique(corners, axis=0, return_inverse=True)
    parted = number.reshape(-1, 3).astype(np.int32)
    return ClosedMesh(vertices[pairs[:, 1]], parted, mesh.surface[source]), band


def _slots(lay: Lay, stripe: npt.NDArray[np.int64]) -> npt.NDArray[np.int32]:
    order = lay.woods
    slots = [order.index(wood) for wood, _, _ in lay.stripes]
    table = np.array([slot for each in slots for slot in (each, len(order) - 1)], np.int32)
    return table[stripe]


def _in_leaf(straight: Array, lay: Lay, leaf: int) -> Array:
    """Straightened points of one leaf, about its own middle; every other leaf is turned over, as a page is."""
    if lay.leaves == 1:
        return straight
    _, low, high = lay.stripes[leaf]
    moved = straight - (0.0, (low + high) / 2, 0.0)
    return moved * (1.0, -1.0, 1.0) if leaf % 2 else moved


def _unfolded(mesh: ClosedMesh) -> Array:
    """The vertices with walls folded into the face: below the top, a place as far inward as it lies deep.

    A photo knows only the board's face. So walls go on with what lies behind their edge, at its true scale.
    """
    corners = mesh.vertices[mesh.triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    upright = (mesh.surface == Surface.WALL) | (mesh.surface == Surface.CUT)
    outward = np.zeros((len(mesh.vertices), 2))
    for corner in range(3):
        np.add.at(outward, mesh.triangles[upright, corner], normal[upright, :2])
    length = np.hypot(*outward.T)
    depth = mesh.vertices[:, 2].max() - mesh.vertices[:, 2]
    moved = mesh.vertices.copy()
    moved[:, :2] -= outward * (depth / np.maximum(length, 1e-12))[:, None]
    return moved
