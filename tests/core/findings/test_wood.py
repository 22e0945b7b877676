"""Strips that bend, ends that show, joints under edges, cutters and boards: either side of each threshold."""

from __future__ import annotations

import math

import pytest

from core.design import LineOutline, Segment, Strip
from core.findings.finding import Step
from tests.core.designs import disc, make_piece
from tests.core.findings.test_strength import RADIUS, box, told

# Grooves


def half_circle(radius: float) -> LineOutline:
    angle = [math.radians(degree) for degree in range(181)]
    return LineOutline(tuple((radius * math.cos(a), radius * math.sin(a)) for a in angle), 3.175)


@pytest.mark.parametrize(("share", "told_"), [(0.995, True), (1.005, False)])
def test_strips_bent_tighter_than_their_wood_takes(share: float, told_: bool) -> None:
    """Bent to R, a strip of thickness t is stretched by t / 2R (beam theory, DERIVED).

    Hard (sugar) maple breaks in bending at 109 MPa with a stiffness of 12.6 GPa (Wood Handbook, table 5-3, at 12 %
    moisture; MEMORY).
    """
    least = 12_600 / 109 * (3.175 - 2 * 0.03) / 2
    groove = make_piece("reed", half_circle(share * least), at=(200, 10), wood="hard maple")
    findings = told("strip-bend", groove, width=400.0, height=400.0)
    assert [(f.level, f.piece) for f in findings] == ([("warning", "reed")] if told_ else [])
    if told_:
        assert f"bend to a radius of {share * least:.2f} mm" in findings[0].text
        assert "glue the strip up from 2 thin ones of 1.55 mm each (a strip of this wood takes" in findings[0].remedy
        assert "this bend if it is no thicker than 3.0" in findings[0].remedy


def test_a_sharp_corner_is_two_strips() -> None:
    groove = make_piece("reed", LineOutline(((20, 20), (60, 20), (60, 60)), 3.175), wood="hard maple")
    (finding,) = told("strip-bend", groove)
    assert finding.at == pytest.approx((60, 20))
    assert "begin another" in finding.remedy


@pytest.mark.parametrize(("shown", "told_"), [(0.49, False), (0.51, True)])
def test_ends_in_plain_sight(shown: float, told_: bool) -> None:
    """The lower end's half disc lies in the trimmed edge but for `shown`; the upper end lies under a disc."""
    reed = make_piece("reed", LineOutline(((60.0, 6 + shown), (60.0, 50.0)), 3.175))
    bud = make_piece("bud", disc(12), at=(60, 50))
    findings = told("strip-end-shows", reed, bud, edge_trim=(6.0,) * 4)
    assert [(f.level, f.piece, f.at) for f in findings] == ([("warning", "reed", (60.0, 6 + shown))] if told_ else [])


# Joints

STRIPS = {"strips": (Strip(30, (Segment(80, "ash"),)), Strip(90, (Segment(80, "ash"),))), "wood": None}


@pytest.mark.parametrize(("x", "told_"), [(28.99, False), (29.01, True), (30.99, True), (31.01, False)])
def test_joints_beside_edges(x: float, told_: bool) -> None:
    findings = told("joint-under-edge", box("pad", x, 20, 40, 30), **STRIPS)
    assert [(f.level, f.piece) for f in findings] == ([("warning", "pad")] if told_ else [])
    if told_:
        assert "the joint of strips 1 and 2 runs along its edge" in findings[0].text
        assert ("sliver" in findings[0].text) == (x > 30)


@pytest.mark.parametrize(("length", "told_"), [(9.99, False), (10.01, True)])
def test_joints_count_where_they_run_along_for_more_than_10_mm(length: float, told_: bool) -> None:
    """0.5 mm beside the edge, a corner of radius r is still near it sqrt((1 + r)² - (0.5 + r)²) on."""
    beyond = math.sqrt((1 + RADIUS) ** 2 - (0.5 + RADIUS) ** 2)
    height = length + 2 * RADIUS - 2 * beyond
    assert len(told("joint-under-edge", box("pad", 30.5, 20, 40, height), **STRIPS)) == told_


def test_joints_that_line_up_are_one_note() -> None:
    strip = Strip(40, (Segment(30, "ash"), Segment(50, "ash")))
    (finding,) = told("joint-under-edge", strips=(strip,) * 3, wood=None)
    assert (finding.level, finding.piece, finding.at) == ("note", None, (20, 30))
    assert "2 times" in finding.text


# Cutter and boards


@pytest.mark.parametrize(("reach", "said"), [(None, ""), (7.5, ""), (7.49, "insert"), (6.0, "insert"), (5.99, "both")])
def test_too_deep_for_the_cutter(reach: float | None, said: str) -> None:
    findings = told("too-deep-for-cutter", make_piece("sun", disc(12), at=(50, 40)), workshop={"cutter_length": reach})
    assert [(f.level, f.piece) for f in findings] == ([("warning", "sun")] if said else [])
    if said:
        assert ("a pocket 6.00 mm deep" in findings[0].text) == (said == "both")
        assert "an insert 7.50 mm thick" in findings[0].text


@pytest.mark.parametrize(("width", "told_"), [(150.19, False), (150.21, True)])
def test_blanks_wider_than_a_board(width: float, told_: bool) -> None:
    """The insert is 0.1 mm smaller all round."""
    bar = box("bar", 10, 20, width, 40, grain=90.0)
    findings = told("blank-too-narrow", bar, width=180.0)
    assert [(f.level, f.piece) for f in findings] == ([("warning", "bar")] if told_ else [])
    if told_:
        assert "Book-match it from two leaves" in findings[0].remedy
        assert "150.01 mm wide across the grain" in findings[0].text


def test_a_very_wide_blank_takes_more_leaves() -> None:
    (finding,) = told(
        "blank-too-narrow", box("bar", 10, 20, 400, 200), width=440.0, height=240.0, workshop={"board_width": 60.0}
    )
    assert "from 4 leaves" in finding.remedy
    assert finding.step == Step("bar", "leaves", 4)


@pytest.mark.parametrize(("width", "told_"), [(300.19, False), (300.21, True)])
def test_a_book_matched_blank_is_two_boards_wide(width: float, told_: bool) -> None:
    """The insert is 0.1 mm smaller all round."""
    bar = box("bar", 10, 20, width, 40, grain=90.0, leaves=2)
    findings = told("blank-too-narrow", bar, width=330.0)
    assert ["wider than 2 boards of 150.00 mm" in f.text for f in findings] == ([True] if told_ else [])
