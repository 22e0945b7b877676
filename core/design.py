"""The design as frozen records: what the maker said, every default filled in.

Lengths in millimetres, angles in degrees counter-clockwise from +x, x to the right, y up.
`design_file` reads these records from a file and checks them; nothing else makes them from text.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

Point = tuple[float, float]
Box = tuple[float, float, float, float]
FitKind = Literal["rounded", "as-drawn"]
FrameProfile = Literal["square", "bevel", "round"]
Cut = Literal["flat", "rift", "quarter"]


@dataclass(frozen=True)
class BoardPhoto:
    """A picture of a real board. Pixels are counted from its upper left corner, as image viewers do."""

    file: str
    mm_per_pixel: float
    grain: float = 0.0
    """Direction of the grain in the picture, degrees counter-clockwise from its +x."""
    crop: Box | None = None
    """Left, top, right and bottom of the board in the picture, pixels; None: all of it is board."""
    grey: Box | None = None
    """Left, top, right and bottom of a place on a neutral card, pixels, for the white balance."""
    grey_reflectance: float | None = None
    """What share of the light the card returns; None: brightness stays as photographed."""


@dataclass(frozen=True)
class OwnWood:
    """A wood of the maker's own. What it leaves out is that of the species it is like."""

    name: str
    looks_like: str
    """A species of the table: its figure is borrowed; of a photo it is the board's own species."""
    cut: str | None = None
    """Colour just cut, ``#rrggbb``."""
    settled: str | None = None
    aged: str | None = None
    density: float | None = None
    shrinkage_tangential: float | None = None
    shrinkage_radial: float | None = None
    hardness: float | None = None
    pores: str | None = None
    note: str = ""
    photo: BoardPhoto | None = None


@dataclass(frozen=True)
class Segment:
    """A length of one wood within a strip; `length` runs along the strip."""

    length: float
    wood: str
    cut: Cut | None = None
    """How it was sawn from the log; None: chosen from the piece's name."""
    board: int | None = None
    """Number of the board it is cut from; None: one of its own."""


@dataclass(frozen=True)
class Strip:
    """A background strip: its segments end to end, just one where the strip is a single wood."""

    width: float
    segments: tuple[Segment, ...]


@dataclass(frozen=True)
class Panel:
    """The raw board: strips that fill it exactly, or one plain wood (then `strips` is empty)."""

    width: float
    height: float
    thickness: float
    face_trim: float
    edge_trim: tuple[float, float, float, float]
    """Taken off the left, right, bottom and top edge."""
    strips_along: Literal["x", "y"]
    strips: tuple[Strip, ...]
    wood: str | None
    grain: float
    """Grain direction of a plain background; strips have theirs along the strip."""


def radius_at_face(cutter_diameter: float, depth: float, taper: float) -> float:
    """The radius, mm, that a cutter of this tip diameter cuts at the face of a pocket of this depth.

    taper: the angle between its side and its axis, degrees: radius of the tip + depth x tan(taper).
    """
    return cutter_diameter / 2 + depth * math.tan(math.radians(taper))


@dataclass(frozen=True)
class Workshop:
    """The maker's tools and the thresholds of the findings."""

    cutter_diameter: float = 3.175
    corner_radius: float | None = None
    cutter_length: float | None = None
    side_clearance: float = 0.1
    taper: float = 0.0
    pocket_depth: float = 6.0
    proud: float = 1.5
    floor_gap: float = 0.0
    strip_clearance: float = 0.03
    depth_error: float = 0.0
    """How much deeper pockets come out than they are set, as measured on a coupon; below 0 shallower."""
    board_width: float = 150.0
    saw_kerf: float = 3.0
    """What the saw takes with each cut, mm (a common rip blade; common practice, no published source)."""
    min_planing_length: float | None = None
    """The shortest wood that may go through the planer, mm, as its manual says; None: not told."""
    # The six least widths and `detail` are common practice, no published source.
    min_floor: float = 5.0
    min_wall: float = 3.0
    min_neck: float = 3.0
    min_neck_glued: float = 1.0
    min_skin: float = 1.0
    min_island: float = 3.0
    detail: float = 0.5
    """How far rounding may move an outline's edge before a smaller cutter is suggested."""
    glue_colour: str | None = None
    """Colour of the glue seen between inserts and pockets, ``#rrggbb``; None: pictures leave the gaps empty."""
    in_hand: tuple[str, ...] = ()
    """Woods that the maker has: better ones are suggested from these, or from the design's if there are none."""
    humidity_low: float = 35.0
    """Relative humidity in the dry season where the panel will hang, %."""
    humidity_high: float = 60.0
    """Relative humidity there in the damp season, %."""
    temperature: float = 20.0
    """Temperature of that air, °C."""


@dataclass(frozen=True)
class Frame:
    """The frame of the listing picture, in which the trimmed panel lies with room all round; and its wall."""

    wood: str = "black walnut"
    profile: FrameProfile = "square"
    width: float = 18.0
    """Width of its face, seen from the front."""
    depth: float | None = None
    """From back to front; None: 4 mm more than the panel and the ledge under it."""
    reveal: float = 4.0
    """The gap left all round between panel and frame, for the panel to move in."""
    wall: str = "#d6cfc2"
    """Colour of the wall that it hangs on, sRGB."""
    caption: bool = True
    """Whether the picture says at its foot what it shows, and that it is a rendering."""


@dataclass(frozen=True)
class StockBoard:
    """Boards of one size that the maker has; the grain runs along the length. Sound wood only, mm."""

    wood: str
    length: float
    width: float
    thickness: float
    count: int = 1
    photo: str | None = None
    """A picture of it, in the design's folder."""


@dataclass(frozen=True)
class PolygonOutline:
    """A ring of points with rings of holes."""

    points: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...] = ()


@dataclass(frozen=True)
class PathOutline:
    """SVG path data in millimetres, y up."""

    data: str


@dataclass(frozen=True)
class LineOutline:
    """A groove's centre line; `smooth` draws a centripetal Catmull-Rom curve through the points."""

    points: tuple[Point, ...]
    width: float
    smooth: bool = False


@dataclass(frozen=True)
class SvgOutline:
    """An SVG file beside the design, and an element's id in it (None: the whole artwork)."""

    file: str
    element: str | None = None


OutlineSource = PolygonOutline | PathOutline | LineOutline | SvgOutline


@dataclass(frozen=True)
class Stripe:
    """One wood of a glued-up blank."""

    wood: str
    width: float


@dataclass(frozen=True)
class GluedBlank:
    """Stripes glued edge to edge, along the grain; they come again until the blank is wide enough."""

    stripes: tuple[Stripe, ...]
    shift: float = 0.0
    """How far the first stripe's middle lies across the grain from the middle of the piece, to its left."""


@dataclass(frozen=True)
class Piece:
    """One inlaid shape. What the file leaves out was taken from the workshop."""

    id: str
    wood: str
    outline: OutlineSource
    grain: float | None
    """Absolute; None: it follows the piece's own length."""
    at: Point
    turn: float
    scale: float
    mirror: bool
    fit: FitKind
    after: tuple[str, ...]
    pocket_depth: float
    insert_thickness: float
    side_clearance: float
    strip_clearance: float
    taper: float
    floor_gap: float
    cutter_diameter: float
    corner_radius: float
    """At least `radius_at_face`, and that by default."""
    leaves: int = 1
    """Leaves of a board that its blank is glued from, edge to edge; 2 is a book-match."""
    cut: Cut | None = None
    """How its wood was sawn from the log; None: as its id falls."""
    board: int | None = None
    """Number of the board it is cut from, shared with other pieces of that wood; None: one of its own."""
    board_at: Point | None = None
    """Where its middle lies on the board, mm; None: a place that follows from its id."""
    board_turn: float = 0.0
    """How far it is turned on the board; the grain in the piece turns the other way."""
    board_mirror: bool = False
    """Laid on the board turned over."""
    blank: GluedBlank | None = None
    """The woods it is glued from, instead of `wood` alone."""

    @property
    def laid_mirrored(self) -> bool:
        """Whether it is a mirror image that is laid on the board: a tapered insert is sawn face down."""
        return self.board_mirror != (self.taper > 0)

    @property
    def cutter_radius(self) -> float:
        """mm"""
        return self.cutter_diameter / 2

    @property
    def radius_at_face(self) -> float:
        """The radius that its cutter cuts at the face, mm."""
        return radius_at_face(self.cutter_diameter, self.pocket_depth, self.taper)

    @property
    def is_groove(self) -> bool:
        """A line as wide as its cutter (within 0.01 mm) is cut in one pass and filled with strip."""
        line = self.outline
        return isinstance(line, LineOutline) and abs(line.width * self.scale - self.cutter_diameter) <= 0.01


@dataclass(frozen=True)
class Accepted:
    """What the maker has looked at and accepts: findings of one code about one piece, one pair or the panel."""

    code: str
    piece: str | None
    other: str | None
    value: float
    """The worst that is accepted, as the finding's `value`."""
    why: str
    places: int = 1
    """How many such findings are accepted."""


@dataclass(frozen=True)
class Design:
    """A whole panel. Pieces are listed back to front."""

    title: str
    panel: Panel
    workshop: Workshop
    pieces: tuple[Piece, ...]
    folder: Path
    """Where the design's own files (SVG artwork) lie."""
    file: str = ""
    """The design file as the maker named it, for messages."""
    frame: Frame = Frame()
    woods: tuple[OwnWood, ...] = ()
    """The maker's own woods and boards, looked for before the species table."""
    accepted: tuple[Accepted, ...] = ()
    stock: tuple[StockBoard, ...] = ()
    """The boards that the maker has."""
