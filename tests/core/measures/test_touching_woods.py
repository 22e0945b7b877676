"""Who meets whom in the finished face, and for how long: lengths by plane geometry (DERIVED)."""

from __future__ import annotations

import math

import pytest

from core.design import Piece, PolygonOutline, Segment, Strip
from core.measures.touching_woods import Face, Meeting
from core.stack.stack import build_stack
from tests.core.designs import EIGHTH_INCH, POINT_CUTTER, disc, make_design, make_panel, make_piece, rectangle

STRIPS = {"strips": (Strip(60, (Segment(80, "ash"),)), Strip(60, (Segment(80, "elm"),))), "wood": None}


def box(name: str, x: float, y: float, width: float, height: float, **changes: object) -> Piece:
    """With corners as sharp as drawn, and an insert as large as its pocket."""
    own = {"cutter_diameter": POINT_CUTTER, "side_clearance": 0.0, **changes}
    return make_piece(name, rectangle(width, height), at=(x, y), **own)


def meetings(*pieces: Piece, **panel: object) -> dict[tuple[str | None, str], Meeting]:
    """All that meet, measured: by the later one's id, and the earlier one's id or the background's wood."""
    face = Face(build_stack(make_design(pieces, make_panel(face_trim=0.5, **panel))))
    ids = [piece.id for piece in pieces]
    found = {}
    for rough in face.meetings(lambda *_: True):
        meeting = face.measured(rough)
        if meeting is not None:
            later = None if meeting.later is None else ids[meeting.later]
            earlier = meeting.woods[1] if meeting.earlier is None else ids[meeting.earlier]
            found[later, earlier] = meeting
            # Looked at every 4 mm: one step too little for each stretch. Shared walls count for the background too.
            assert rough.at is not None or rough.length >= meeting.length - 4 * 2
    return found


def lengths(*pieces: Piece, **panel: object) -> dict[tuple[str | None, str], float]:
    return {pair: meeting.length for pair, meeting in meetings(*pieces, **panel).items()}


def test_a_piece_alone_meets_its_background_all_round() -> None:
    assert lengths(box("a", 20, 20, 30, 20)) == {("a", "sapele"): pytest.approx(100, abs=0.05)}
    found = lengths(make_piece("disc", disc(20), at=(60, 40)))
    assert found == {("disc", "sapele"): pytest.approx(2 * math.pi * 20, rel=1e-3)}


def test_each_wood_of_the_background_has_its_share() -> None:
    """A box of 40 x 20 that lies 10 mm over the first strip: 10 + 20 + 10, and 30 + 20 + 30."""
    found = lengths(box("a", 50, 30, 40, 20), **STRIPS)
    assert found == {
        ("a", "ash"): pytest.approx(40, abs=0.05),
        ("a", "elm"): pytest.approx(80, abs=0.05),
        (None, "elm"): pytest.approx(60),
    }


def test_a_later_piece_takes_the_edge() -> None:
    """Two boxes of 40 x 20, the later one 10 mm further right and 5 up: of its edge 30 + 15 lie on the earlier one."""
    found = meetings(box("a", 20, 20, 40, 20), box("b", 30, 25, 40, 20))
    assert {pair: meeting.length for pair, meeting in found.items()} == {
        ("a", "sapele"): pytest.approx(120 - 45, abs=0.05),
        ("b", "a"): pytest.approx(45, abs=0.05),
        ("b", "sapele"): pytest.approx(75, abs=0.05),
    }
    assert found["b", "a"].at == pytest.approx((37.5, 25), abs=0.05)  # 22.5 mm along, from (30, 40) by (30, 25)


def test_the_latest_of_the_earlier_pieces_lies_along_the_edge() -> None:
    """c stands on b alone, which stands on a: c meets b all round, and a nowhere."""
    found = lengths(box("a", 10, 10, 80, 60), box("b", 20, 20, 60, 40), box("c", 30, 30, 20, 10))
    assert found == {
        ("a", "sapele"): pytest.approx(280, abs=0.05),
        ("b", "a"): pytest.approx(200, abs=0.05),
        ("c", "b"): pytest.approx(60, abs=0.05),
    }


def test_shared_walls_are_no_edge_of_the_background() -> None:
    """Two boxes side by side: they share 15 mm of wall."""
    found = lengths(box("a", 20, 20, 20, 20), box("b", 40, 25, 30, 20))
    assert found["b", "a"] == pytest.approx(15, abs=0.1)
    assert found["a", "sapele"] == pytest.approx(80 - 15, abs=0.1)
    assert found["b", "sapele"] == pytest.approx(100 - 15, abs=0.1)


@pytest.mark.parametrize("clearance", [0.0, 0.1, 0.4])
def test_side_clearance_parts_nobody(clearance: float) -> None:
    fit = {"cutter_diameter": EIGHTH_INCH, "side_clearance": clearance}
    found = lengths(box("a", 20, 20, 60, 40, **fit), box("b", 40, 30, 20, 10, **fit))
    radius = EIGHTH_INCH / 2
    assert found["b", "a"] == pytest.approx(60 - 8 * radius + 2 * math.pi * radius, abs=0.05)


def test_what_is_trimmed_off_is_not_seen() -> None:
    """Trimmed at x = 10, a box from 0 to 30 keeps 20 + 20 + 20 of its edge."""
    assert lengths(box("a", 0, 20, 30, 20), edge_trim=(10.0, 0.0, 0.0, 0.0)) == {
        ("a", "sapele"): pytest.approx(60, abs=0.05)
    }


def test_a_pocket_shallower_than_the_face_trim_is_none() -> None:
    found = lengths(box("a", 20, 20, 60, 40), box("b", 40, 30, 20, 10, pocket_depth=0.4))
    assert found == {("a", "sapele"): pytest.approx(200, abs=0.05)}


def test_only_what_is_of_interest_is_looked_at() -> None:
    pieces = (box("a", 20, 20, 60, 40), box("b", 40, 30, 20, 10, wood="koa"))
    face = Face(build_stack(make_design(pieces, make_panel(face_trim=0.5))))
    (found,) = face.meetings(lambda later, earlier: "koa" in (later.piece.wood,))
    assert (found.later, found.earlier, found.woods) == (1, 0, ("koa", "holly"))
    assert face.outlines == pytest.approx([200 + 60, 60], abs=0.1)


def test_holes_have_edges_too() -> None:
    frame = PolygonOutline(tuple(rectangle(60, 40)), (tuple(rectangle(20, 10, 20, 15)),))
    piece = make_piece("frame", frame, at=(20, 20), cutter_diameter=POINT_CUTTER, side_clearance=0.0)
    assert lengths(piece) == {("frame", "sapele"): pytest.approx(260, abs=0.05)}
