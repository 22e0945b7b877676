"""The place for a close look: found where a design was given a crowd, and always within the trimmed panel."""

from __future__ import annotations

import pytest

from core.stack.stack import build_stack
from core.views.detail import SHARE, close_up

from ..designs import make_design, make_panel, make_piece, rectangle


def test_it_looks_where_the_pieces_crowd() -> None:
    lone = [make_piece("lone", rectangle(20, 20), at=(60, 100))]
    crowd = [make_piece(f"crowd-{n}", rectangle(8, 8), at=(220 + 11 * (n % 3), 140 + 11 * (n // 3))) for n in range(9)]
    place = close_up(build_stack(make_design(lone + crowd, panel=make_panel(300, 200))))
    assert abs(place.x - 231) < place.half
    assert abs(place.y - 151) < place.half


def test_it_looks_at_one_crowd_and_not_between_two() -> None:
    """A square of 88 mm could hold parts of both; it is centred on the larger one."""
    left = [make_piece(f"left-{n}", rectangle(8, 8), at=(100 + 11 * (n % 3), 90 + 11 * (n // 3))) for n in range(9)]
    right = [make_piece(f"right-{n}", rectangle(8, 8), at=(170 + 11 * n, 101)) for n in range(3)]
    place = close_up(build_stack(make_design(left + right, panel=make_panel(300, 200))))
    assert place.x == pytest.approx(115, abs=0.2 * place.half)
    assert place.y == pytest.approx(105, abs=0.2 * place.half)


def test_it_stays_within_the_trimmed_panel() -> None:
    design = make_design([make_piece("corner", rectangle(20, 20), at=(5, 5))], panel=make_panel(300, 200))
    stack = build_stack(design)
    place = close_up(stack)
    left, low, right, high = stack.finished_box.bounds
    assert place.half == pytest.approx(SHARE * min(right - left, high - low))
    assert left <= place.x - place.half + 1e-6
    assert low <= place.y - place.half + 1e-6
    assert place.x + place.half <= right + 1e-6
    assert place.y + place.half <= high + 1e-6


def test_a_plain_panel_is_looked_at_in_its_middle() -> None:
    place = close_up(build_stack(make_design([], panel=make_panel(300, 200))))
    assert (place.x, place.y) == (150, 100)
