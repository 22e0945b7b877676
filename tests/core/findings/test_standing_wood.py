"""Wood that pockets leave standing: just on either side of each threshold, and sound designs that come near.

All thresholds are common practice without a published source; places and widths are plane geometry (DERIVED).
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from core.design import Piece, PolygonOutline
from core.findings.all_findings import Finding, find_all
from core.stack.stack import build_stack
from tests.core.designs import Points, disc, make_design, make_panel, make_piece, rectangle

TRIMMED = {"edge_trim": (10.0, 10.0, 10.0, 10.0)}


def told(code: str, *pieces: Piece, workshop: dict[str, float] | None = None, **panel: object) -> list[Finding]:
    design = make_design(pieces, make_panel(**panel))
    design = replace(design, workshop=replace(design.workshop, **(workshop or {})))
    return [finding for finding in find_all(build_stack(design)) if finding.code == code]


def box(name: str, x: float, y: float, width: float, height: float, **changes: object) -> Piece:
    return make_piece(name, rectangle(width, height), at=(x, y), **changes)


def fork(tine: float, length: float = 20.0) -> Points:
    """Two arms of 18 mm with a bay of some width between them."""
    x0, x1 = 18.0, 18.0 + tine
    return [(0, 0), (x1 + 18, 0), (x1 + 18, 30), (x1, 30), (x1, 30 - length), (x0, 30 - length), (x0, 30), (0, 30)]


# Peninsulas


@pytest.mark.parametrize(("width", "told_"), [(2.99, True), (3.01, False)])
def test_a_peninsula_narrower_than_the_least_island(width: float, told_: bool) -> None:
    fine = {"cutter_diameter": 1.0, "pocket_depth": 2.0}
    findings = told("fragile-peninsula", make_piece("fork", fork(width), at=(30, 20), **fine))
    assert [(f.level, f.piece) for f in findings] == ([("warning", "fork")] if told_ else [])
    if told_:
        assert "a tongue of wood 2.99 mm wide" in findings[0].text
        assert findings[0].at[0] == pytest.approx(30 + 18 + width / 2, abs=0.01)


@pytest.mark.parametrize(("width", "told_"), [(5.98, True), (6.02, False)])
def test_a_peninsula_narrower_than_its_pocket_is_deep(width: float, told_: bool) -> None:
    findings = told("fragile-peninsula", make_piece("fork", fork(width), at=(30, 20)))
    assert len(findings) == told_
    if told_:
        assert findings[0].step is not None
        assert (findings[0].step.key, findings[0].step.value) == ("pocket_depth", 5.98)


def test_a_thin_and_high_peninsula_of_an_earlier_insert_is_told_of_the_later_piece() -> None:
    pieces = (
        box("ground", 20, 10, 80, 60, pocket_depth=13.0),
        make_piece("fork", fork(3.4), at=(40, 25), pocket_depth=12.0),
    )
    (finding,) = told("fragile-peninsula", *pieces)
    assert finding.piece == "fork"
    assert "3.40 mm wide" in finding.text
    assert "12.00 mm high" in finding.text


@pytest.mark.parametrize(("length", "told_"), [(11.0, True), (9.0, False)])
def test_a_peninsula_is_at_least_twice_as_long_as_wide(length: float, told_: bool) -> None:
    """5 mm wide: from 10 mm on, as a fin of an insert is (SLENDER)."""
    assert len(told("fragile-peninsula", make_piece("fork", fork(5.0, length), at=(30, 20)))) == told_


def test_a_peninsula_that_a_later_piece_takes_is_none() -> None:
    fork_, lid = make_piece("fork", fork(5.0), at=(30, 20)), box("lid", 45, 27, 12, 26)
    assert told("fragile-peninsula", fork_, lid) == []


def test_a_bay_that_gets_wider_outward_is_no_peninsula() -> None:
    """A notch of 53 degrees: what stands in it is a wedge, wide at its foot."""
    notched = [(0, 0), (50, 0), (50, 30), (40, 30), (30, 10), (20, 30), (0, 30)]
    assert told("fragile-peninsula", make_piece("notched", notched, at=(30, 20))) == []


# Pillars. Three discs of radius R about the corners of a triangle of side s leave a pillar of diameter
# 2 (s / sqrt 3 - R) where each two of them overlap.


def three_discs(gap: float, **changes: object) -> list[Piece]:
    radius, middle = 14.0, (60.0, 40.0)
    out = radius + gap / 2
    angles = [math.radians(90 + 120 * i) for i in range(3)]
    return [
        make_piece(
            f"disc-{i}", disc(radius), at=(middle[0] + out * math.cos(a), middle[1] + out * math.sin(a)), **changes
        )
        for i, a in enumerate(angles)
    ]


@pytest.mark.parametrize(("gap", "told_"), [(0.4, True), (0.49, True), (0.51, False)])
def test_a_pillar_between_pockets_of_several_batches(gap: float, told_: bool) -> None:
    findings = told("fragile-peninsula", *three_discs(gap))
    assert [(f.level, f.piece) for f in findings] == ([("warning", "disc-2")] if told_ else [])
    if told_:
        assert f"a pillar {gap:.2f} mm wide" in findings[0].text
        assert "disc-0, disc-1 and disc-2" in findings[0].text
        assert findings[0].at == pytest.approx((60, 40), abs=0.05)


@pytest.mark.parametrize(("side", "told_"), [(5.98, True), (6.02, False)])
def test_a_pillar_among_pockets_of_one_day(side: float, told_: bool) -> None:
    """Four boxes that share edges run round a square: it stands 6 mm high on a foot of `side` mm."""
    x, y, far = 40.0, 20.0, 20.0
    fine = {"cutter_diameter": 0.008}  # its corners stay square, so that no hair is left where boxes meet
    pieces = [
        box("a", x, y, far + side, far, **fine),
        box("b", x + far + side, y, far, far + side, **fine),
        box("c", x + far, y + far + side, far + side, far, **fine),
        box("d", x, y + far, far, far + side, **fine),
    ]
    assert len(told("fragile-peninsula", *pieces)) == told_


# Slivers along the edges


@pytest.mark.parametrize(("gap", "told_"), [(0.009, False), (0.3, True), (0.99, True), (1.01, False)])
@pytest.mark.parametrize("side", ["left", "right", "bottom", "top"])
def test_a_sliver_of_the_panel_at_a_trimmed_edge(gap: float, told_: bool, side: str) -> None:
    x = {"left": 10 + gap, "right": 110 - 40 - gap}.get(side, 40.0)
    y = {"bottom": 10 + gap, "top": 70 - 20 - gap}.get(side, 30.0)
    findings = told("edge-sliver", box("one", x, y, 40, 20), **TRIMMED)
    assert [f.level for f in findings] == (["warning"] if told_ else [])
    if told_:
        assert f"the {side} edge is only {gap:.2f} mm wide" in findings[0].text
        moved = findings[0].step
        assert moved is not None
        assert told("edge-sliver", replace(box("one", 0, 0, 40, 20), at=moved.value), **TRIMMED) == []


@pytest.mark.parametrize(("gap", "told_"), [(0.5, True), (2.99, True), (3.01, False)])
def test_a_wall_at_a_raw_edge_that_is_not_trimmed(gap: float, told_: bool) -> None:
    findings = told("edge-sliver", box("one", 30, gap, 40, 20))
    assert [f.level for f in findings] == (["warning"] if told_ else [])


def test_what_is_trimmed_off_may_break_out() -> None:
    assert told("edge-sliver", box("one", 30, 0.5, 40, 30), **TRIMMED) == []


@pytest.mark.parametrize(("seen", "told_"), [(0.4, True), (0.98, True), (1.02, False)])
def test_a_piece_that_just_reaches_into_the_finished_face(seen: float, told_: bool) -> None:
    """Its insert is 0.1 mm smaller than its outline. One finding, and none of necks and crumbs beside it."""
    design = make_design([box("one", 20, 10 - 9.9 + seen + 0.0, 80, 10)], make_panel(**TRIMMED))
    findings = [f for f in find_all(build_stack(design)) if f.level != "note"]
    assert [f.code for f in findings] == (["edge-sliver"] if told_ else [])
    if told_:
        assert f"a sliver {seen:.2f} mm wide" in findings[0].text


def test_a_round_piece_that_nearly_touches_the_edge_leaves_no_sliver() -> None:
    """A disc of 14 mm 0.3 mm off: the strip is thinner than 1 mm along 2 sqrt(2 x 14 x 0.7) = 8.9 mm."""
    assert told("edge-sliver", make_piece("sun", disc(14), at=(60, 10.3 + 14)), **TRIMMED) == []


def test_a_sliver_that_a_later_piece_covers_is_none() -> None:
    pieces = box("one", 30, 10.3, 40, 20), box("border", 5, 5, 110, 10)
    assert told("edge-sliver", *pieces, **TRIMMED) == []


def test_a_frame_of_pieces_that_runs_off_all_edges_leaves_none() -> None:
    outline = PolygonOutline(tuple(rectangle(118, 78, 1, 1)), (tuple(rectangle(80, 40, 20, 20)),))
    assert [f.level for f in told("edge-sliver", make_piece("border", outline), **TRIMMED)] == []
