"""Strips in grooves: length, thickness, how tight they bend, and which ends show."""

from __future__ import annotations

import math

import numpy as np
import pytest

from core.design import LineOutline
from core.measures.grooves import (
    play_takes_up,
    shown_ends,
    strip_length,
    strip_thickness,
    tightest_bend,
)
from core.outlines.curves import smooth_cubics
from core.stack.stack import PlacedPiece, Stack, build_stack

from ..designs import EIGHTH_INCH, disc, make_design, make_panel, make_piece, rectangle


def stack_of(*pieces, **panel) -> Stack:
    return build_stack(make_design(pieces, make_panel(400, 300, **panel)))


def groove(points, smooth=False, **changes):
    width = changes.pop("width", EIGHTH_INCH)
    line = LineOutline(tuple(map(tuple, points)), width, smooth)
    return make_piece("reed", line, **({"cutter_diameter": width} | changes))


def placed(points, **changes) -> PlacedPiece:
    return stack_of(groove(points, **changes)).pieces[0]


def arc(radius, turn=1.0, sagitta=0.001, middle=(150.0, 20.0)):
    """Points of an arc, chords within `sagitta` of it."""
    step = 2 * math.acos(1 - sagitta / radius)
    angles = np.linspace(0.3, 0.3 + turn, max(4, math.ceil(turn / step) + 1))
    return np.stack([middle[0] + radius * np.cos(angles), middle[1] + radius * np.sin(angles)], axis=1)


# Size


def test_a_strip_is_as_long_as_its_line_and_as_thick_as_the_line_less_its_clearance():
    strip = placed([(20, 20), (50, 60), (50, 110)], strip_clearance=0.04)
    assert strip_length(strip) == pytest.approx(100)
    assert strip_thickness(strip) == pytest.approx(EIGHTH_INCH - 0.08)


def test_length_along_an_arc():
    assert strip_length(placed(arc(80, 1.2))) == pytest.approx(80 * 1.2, rel=1e-4)


# The bend of a line


@pytest.mark.parametrize("radius", [5.0, 30.0, 100.0, 250.0])
@pytest.mark.parametrize("sagitta", [0.001, 0.0002, 0.02])
def test_the_bend_of_a_circular_arc_is_its_radius_however_finely_it_is_flattened(radius, sagitta):
    bend = tightest_bend(placed(arc(radius, 0.9, sagitta), at=(0, 60)))
    assert bend.radius == pytest.approx(radius, rel=1e-9)


def test_the_arc_between_two_straight_lines_tells_the_bend():
    bow = arc(100, 0.8)
    before = bow[0] - 40 * np.array([-math.sin(0.3), math.cos(0.3)])
    after = bow[-1] + 60 * np.array([-math.sin(1.1), math.cos(1.1)])
    bend = tightest_bend(placed([before, *bow, after]))
    assert bend.radius == pytest.approx(100, rel=0.01)
    assert min(np.hypot(*(bow - bend.at).T)) < 1e-9


def test_an_ellipse_bends_tightest_at_its_ends():
    """Radius of curvature at the end of the long axis: b² / a (analytic geometry)."""
    angles = np.linspace(-1.2, 1.2, 400)
    bend = tightest_bend(placed(np.stack([60 + 120 * np.cos(angles), 150 + 70 * np.sin(angles)], axis=1)))
    assert bend.radius == pytest.approx(70**2 / 120, rel=0.01)
    assert bend.at == pytest.approx((180, 150), abs=2)


def test_a_smooth_line_bends_as_its_curve_does_by_derivatives():
    """Such a curve bends in a spike at its vertices, which the strip's play evens out a little."""
    points = np.array([[60.0, 20.0], [80.0, 100.0], [150.0, 160.0], [170.0, 250.0]])
    p0, p1, p2, p3 = np.moveaxis(smooth_cubics(points)[:, :, None], 1, 0)
    t = np.linspace(0, 1, 2001)[None, :, None]
    first = 3 * ((1 - t) ** 2 * (p1 - p0) + 2 * t * (1 - t) * (p2 - p1) + t**2 * (p3 - p2))
    second = 6 * ((1 - t) * (p2 - 2 * p1 + p0) + t * (p3 - 2 * p2 + p1))
    cross = np.abs(first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0])
    exact = (np.hypot(first[..., 0], first[..., 1]) ** 3 / cross).min()
    assert tightest_bend(placed(points, smooth=True)).radius == pytest.approx(exact, rel=0.06)


def test_wobble_well_within_the_strips_play_is_no_bend():
    x = np.linspace(20, 180, 161)
    wobble = np.random.default_rng(3).uniform(-0.004, 0.004, len(x))
    assert tightest_bend(placed(np.stack([x, 50 + wobble], axis=1))).radius > 400


def test_a_corner_may_be_rounded_as_far_as_the_strip_has_play():
    """R (1 / cos(a / 2) - 1) is the way from an arc's top to the corner of its tangents."""
    bend = tightest_bend(placed([(20, 20), (120, 20), (120 + 100 * math.cos(0.5), 20 + 100 * math.sin(0.5))]))
    assert bend.radius == pytest.approx(2 * 0.03 / (1 / math.cos(0.25) - 1))
    assert bend.at == (120, 20)


def test_a_straight_line_does_not_bend_and_a_closed_one_bends_at_its_seam_too():
    assert tightest_bend(placed([(20, 20), (120, 90)])).radius == math.inf
    corners = [(100, 100), (150, 100), (150, 150), (100, 150), (100, 100)]
    chamfered = [(100, 100), (150, 101), (199, 100), (150, 200), (100, 100)]
    assert tightest_bend(placed(corners)).radius < 1
    assert tightest_bend(placed(chamfered)).at in {(100, 100), (199, 100), (150, 200)}


# Ends


LINE = [(60.0, 50.0), (160.0, 50.0)]


def ends(*pieces, **panel):
    return [(end.end, end.at) for end in shown_ends(stack_of(*pieces, **panel))]


def test_both_ends_in_the_open_show():
    assert ends(groove(LINE)) == [("first", LINE[0]), ("last", LINE[1])]


@pytest.mark.parametrize(("reach", "shows"), [(159.9, True), (161.0, True), (161.2, False), (170.0, False)])
def test_an_end_is_hidden_where_a_later_pocket_takes_all_of_the_round_gap_but_a_hair(reach, shows):
    """The gap reaches 1.5875 beyond the last vertex; 0.5 of it, seen, is a hair."""
    cover = make_piece("cover", rectangle(40, 20, reach - 40, 40), cutter_diameter=1.0)
    assert (("last", LINE[1]) in ends(groove(LINE), cover)) == shows


def test_an_earlier_piece_hides_no_end():
    before = make_piece("before", disc(10), at=LINE[0])
    assert len(ends(before, groove(LINE))) == 2
    assert len(ends(groove(LINE), before)) == 1


@pytest.mark.parametrize(("trim", "shows"), [(50, True), (59.4, True), (59.6, False), (62, False)])
def test_an_end_off_the_trimmed_edge_is_hidden(trim, shows):
    assert (("first", LINE[0]) in ends(groove(LINE), edge_trim=(trim, 0, 0, 0))) == shows


def test_a_closed_groove_has_no_ends():
    assert ends(groove([(60, 50), (160, 50), (110, 120), (60, 50)])) == []


# A short stretch that is tight


def bow_in_bow(tight: float, length: float, wide: float = 184.0) -> np.ndarray:
    """An arc of a wide radius in whose middle a stretch of some mm has a tighter one."""
    step = 0.5
    count = 160
    along = (np.arange(count) - count / 2) * step
    bend = np.where(np.abs(along) < length / 2, 1 / tight, 1 / wide)
    heading = np.cumsum(bend * step)
    return 60.0 + np.cumsum(np.stack([np.cos(heading), np.sin(heading)], axis=1) * step, axis=0)


@pytest.mark.parametrize(
    ("tight", "length", "taken_up"), [(163.55, 8.0, True), (150.0, 60.0, False), (60.0, 8.0, False)]
)
def test_a_short_tight_stretch_is_taken_up_by_the_strips_play(tight, length, taken_up):
    """Against an arc of 168 mm a stretch of length c at radius r rises by c² / 8 (1 / r - 1 / 168) more (geometry)."""
    strip = placed(bow_in_bow(tight, length), strip_clearance=0.06)
    assert play_takes_up(strip, 168.03) == taken_up


def test_a_corner_that_the_play_does_not_round_is_not_taken_up():
    corner = placed([(20, 20), (120, 20), (120 + 100 * math.cos(0.5), 20 + 100 * math.sin(0.5))])
    assert not play_takes_up(corner, 100.0)
