"""What pockets of several days leave of the background: walls, tips and crumbs, on either side of each threshold."""

from __future__ import annotations

import math

import pytest

from core.design import Piece
from core.findings.all_findings import find_all
from core.findings.finding import Finding
from core.stack.stack import build_stack
from tests.core.designs import POINT_CUTTER, Points, make_design, make_panel, make_piece, rectangle

SHARP = {"cutter_diameter": POINT_CUTTER, "side_clearance": 0.0}
CODES = {
    "thin-neck",
    "loose-remnant",
    "thin-wall",
    "meeting-edges",
    "fragile-peninsula",
    "fragile-island",
    "edge-sliver",
}


def sharp(name: str, points: Points, **changes: object) -> Piece:
    return make_piece(name, points, **SHARP, **changes)


def told(*pieces: Piece, **panel: object) -> list[Finding]:
    """All that is told of thin wood."""
    stack = build_stack(make_design(pieces, make_panel(200, 120, face_trim=0.5, **panel)))
    return [finding for finding in find_all(stack) if finding.code in CODES]


@pytest.mark.parametrize(("gap", "code"), [(0.49, "meeting-edges"), (0.5, "thin-neck"), (0.99, "thin-neck"), (1.0, "")])
def test_a_wall_between_pockets_of_two_days_is_a_neck_of_the_panel_below_a_millimetre(gap: float, code: str) -> None:
    pair = sharp("one", rectangle(60, 30, 20, 20)), sharp("two", rectangle(60, 30, 20, 50 + gap), after=("one",))
    found = told(*pair)
    assert [(f.code, f.piece, f.other) for f in found] == ([(code, "two", "one")] if code else [])
    if code == "thin-neck":
        assert f"the wall of the panel between it and one is only {gap:.2f} mm wide" in found[0].text
        assert found[0].value == pytest.approx(-gap)


def test_a_wall_of_one_day_is_told_as_a_wall_alone() -> None:
    pair = sharp("one", rectangle(60, 30, 20, 20)), sharp("two", rectangle(60, 30, 20, 50.7))
    assert [finding.code for finding in told(*pair)] == ["thin-wall"]


def test_a_wall_of_an_insert_is_no_wall_of_the_panel() -> None:
    base = sharp("base", rectangle(160, 80, 20, 10), grain=0.0)
    pair = sharp("one", rectangle(60, 30, 40, 20)), sharp("two", rectangle(60, 30, 40, 50.7), after=("one",))
    assert [(f.code, f.piece) for f in told(base, *pair)] == [("thin-neck", "base")]


@pytest.mark.parametrize(("side", "code"), [(0.7, ""), (0.72, "loose-remnant"), (2.23, "loose-remnant"), (2.24, "")])
def test_a_crumb_among_pockets_of_several_days_is_loose_between_half_and_five_square_millimetres(
    side: float, code: str
) -> None:
    """Four bars round it, each after the first cut into the one before. √0.5 = 0.707, √5 = 2.236."""
    x, y, width, length = 100.0, 60.0, 20.0, 50.0
    bars = (
        sharp("south", rectangle(22 + side, width, x - 20, y - width)),
        sharp("east", rectangle(width, length, x + side, y - 2)),
        sharp("north", rectangle(22 + side, width, x - 20, y + side)),
        sharp("west", rectangle(width + 18, 4 + side, x - width - 18, y - 2)),
    )
    found = told(*bars)
    assert [(f.code, f.piece, f.other) for f in found] == ([(code, "west", "south")] if code else [])
    if code:
        assert f"a crumb of the panel of only {side * side:.2f} mm² is left between south, east, north and west" in (
            found[0].text
        )


@pytest.mark.parametrize(("width", "code"), [(0.99, "loose-remnant"), (1.0, "")])
def test_a_long_lens_of_the_panel_is_a_crumb_where_it_is_nowhere_a_millimetre_wide(width: float, code: str) -> None:
    frame = [(0, 0), (60, 0), (60, 30), (40, 30), (40, 30 - width), (20, 30 - width), (20, 30), (0, 30)]
    found = told(sharp("one", frame, at=(60, 30)), sharp("two", rectangle(80, 30, 50, 60), after=("one",)))
    assert [finding.code for finding in found if finding.code != "meeting-edges"] == ([code] if code else [])


def wedge(degrees: float, length: float = 60.0) -> Points:
    """A bar whose upper edge rises from the origin at an angle."""
    rise = length * math.tan(math.radians(degrees))
    return [(-10, -30), (length, -30), (length, -rise), (0, 0), (-10, 0)]


@pytest.mark.parametrize(("degrees", "thin"), [(6.0, True), (8.0, False)])
def test_a_tip_between_pockets_that_cross_is_thin_where_it_is_long(degrees: float, thin: bool) -> None:
    """It is thinner than 1 mm for 1 / tan of the angle: 9.5 mm and 7.1 mm, of which 8 mm count."""
    found = told(sharp("ground", wedge(degrees), at=(60, 50)), sharp("wave", rectangle(100, 30, 40, 49)))
    assert [(f.code, f.piece, f.other) for f in found] == ([("thin-neck", "wave", "ground")] if thin else [])
    if thin:
        assert "the tip of the panel between it and ground" in found[0].text


def test_a_corner_of_the_panel_that_a_piece_and_the_edge_trim_cut_off_is_a_crumb() -> None:
    across = [(0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (0.0, 60.0), (0.0, 3.0), (3.0, 0.0)]
    corner = sharp("hill", across[1:], at=(8.0, 8.0))
    (found,) = told(corner, edge_trim=(8.0, 8.0, 8.0, 8.0))
    assert (found.code, found.piece, found.other) == ("loose-remnant", "hill", None)
    assert "4.50 mm² is left between hill and the edge trim" in found.text


def test_no_wood_is_told_twice() -> None:
    """A thin crumb that is a wall too, and whose ends are tips, is told once."""
    lens = [(0, 0), (60, 0), (60, 30), (40, 30), (30, 28.1), (20, 30), (0, 30)]
    found = told(sharp("one", lens, at=(60, 30)), sharp("two", rectangle(80, 30, 50, 58.8)))
    assert [finding.code for finding in found] == ["loose-remnant"]
