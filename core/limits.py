"""How much a design may ask for, each limit with its reason, and the one way to refuse what goes beyond.

What is refused is counted before the work that it would make, so that the answer comes at once and needs little memory.
`docs/design-file.md` tells the maker the same numbers.
"""

from __future__ import annotations

from .errors import UnusableInput

# --- Files ------------------------------------------------------------------------------------------------

MOST_BYTES = 32_000_000
"""Bytes of a design file, and of an SVG file: ten times what the busiest scan makes."""
MOST_XML_ELEMENTS = 200_000
"""Elements of an SVG file, whatever they are: each costs some 300 bytes as it is read, even where it draws nothing."""
MOST_ELEMENTS = 20_000
"""Elements that an SVG file draws; `use` multiplies them."""
DEEPEST = 100
"""Elements of an SVG file inside each other."""
MOST_CURVES = 200_000
"""Lines and curves that an SVG file draws; `use` multiplies them."""
MOST_CHARACTERS = 4_000_000
"""Characters of path data, which take some 100 bytes for each as they are read."""

# --- Sizes ------------------------------------------------------------------------------------------------

LARGEST = 1e6
"""mm, or degrees, of any number in a design, and of every coordinate of an outline in its own frame: one beyond it is a
slip of the keyboard, or of a transform. float64 still tells 1.2e-10 mm apart there."""
LARGEST_PLACED = 1e5
"""mm, of every coordinate of a piece on the panel, ten times as far as the panel goes: a grid of 2^-30 mm has room
there (float64 tells 1.5e-11 mm apart)."""
LARGEST_PANEL = 10_000.0
"""mm, of the panel's width and height: no workshop has a longer board to glue up."""
LARGEST_DEPTH = 1_000.0
"""mm, of thicknesses and depths."""
LARGEST_RADIUS = 1_000.0
"""mm, of cutters and corners: arcs have more points the larger they are."""

# --- Counts -----------------------------------------------------------------------------------------------

MOST_PIECES = 5_000
MOST_WOODS = 500
MOST_ENTRIES = 200_000
"""Entries of a list that has no limit of its own."""
MOST_STRIPS = 1_000
"""Strips, and segments of one strip: more would be narrower than a saw kerf on the largest panel."""
MOST_SEGMENTS = 2_000
"""Segments of all strips together: each is a solid of its own."""
MOST_STOCK = 500
"""Boards in stock, all counts together: the bench sheet draws each of those that are sawn."""
MOST_AFTER = 100_000
"""Ids in all `after` lists together."""
MOST_POINTS = 50_000
"""Points of one outline, flattened and scaled: a metre of edge at fifty points to the millimetre."""
MOST_POINTS_IN_ALL = 1_000_000
"""Points of all outlines together: each costs about 1 kB by the time that it is part of a solid."""
MOST_CROSSINGS = 20_000
"""Crossings of an outline with itself, and of any two outlines: at each crossing new faces come up."""
MOST_ARC_POINTS = 2_000_000
"""Points that rounding the corners of all outlines may make on the way, at some 3 microseconds each."""
MOST_CLOSE_CORNERS = 250_000
"""Pairs of sharp corners of one outline nearer to each other than the cutter is wide, in all outlines together: their
arcs cross each other, at some 40 microseconds a pair."""
MOST_NEAR_PAIRS = 2_000_000
"""Pairs of pieces whose boxes overlap, so that they must be looked at."""
MOST_OVERLAPS = 500_000
"""Pairs of pieces that overlap: all pairs of a thousand that lie in one place."""
MOST_COINCIDENT = 1_000
"""Pairs of pieces that nearly coincide, and whose pockets do not unite into one since they differ in depth or lean: all
pairs of 45. Each leaves a hair of each other, so that the work grows with the third power of their number."""


def count_text(count: float) -> str:
    """A count as a maker reads it: ``20 000``."""
    return f"{count:,.0f}".replace(",", " ")


def refuse_beyond(count: float, most: float, what: str, remedy: str, place: str = "", file: str = "") -> None:
    """Nothing where the count is within its limit.

    Raises:
        UnusableInput: it is not; `what` follows the number, as in "412 000 points".
    """
    if not count <= most:
        problem = f"{count_text(count)} {what} are too many; at most {count_text(most)} can be worked on"
        raise UnusableInput(file, place, problem, remedy)
