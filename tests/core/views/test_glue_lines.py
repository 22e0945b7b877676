"""Glue in the gaps: as wide as the clearance, cut away by later pockets, none where inserts are pressed tight."""

import pytest
import shapely

from core.stack.stack import build_stack
from core.views.glue_lines import glue_lines

from ..designs import make_design, make_panel, make_piece, rectangle

SHARP = {"cutter_diameter": 0.008}


def glue(*pieces, **panel):
    return glue_lines(build_stack(make_design(pieces, make_panel(**panel))))


@pytest.mark.parametrize("clearance", [0.001, 0.003])
def test_the_gap_is_as_wide_as_the_clearance(clearance):
    """A ring round 40 x 20 mm: c (2 x 40 + 2 x 20) - 4 c^2."""
    made = glue(make_piece("a", rectangle(40, 20, 20, 20), side_clearance=clearance, **SHARP))
    assert made.area == pytest.approx(clearance * 120 - 4 * clearance**2, rel=1e-4)
    assert shapely.hausdorff_distance(made, shapely.box(20, 20, 60, 40).exterior) <= clearance * 1.5


def test_later_pockets_take_it_away_and_have_their_own():
    first = make_piece("a", rectangle(40, 20, 20, 20))
    whole = glue(first)
    both = glue(first, make_piece("b", rectangle(20, 30, 50, 15)))
    pocket = shapely.box(50.2, 17, 69.8, 43)  # but for its corners and its own gap
    assert both.intersection(pocket).area < 1e-6
    assert both.intersection(shapely.box(0, 0, 49, 80)).area == pytest.approx(
        whole.intersection(shapely.box(0, 0, 49, 80)).area
    )
    assert both.area > whole.area


def test_the_trimmed_edge_and_a_tight_insert_show_none():
    piece = make_piece("a", rectangle(40, 20, 20, 20))
    assert glue(piece, edge_trim=(0.0, 0.0, 50.0, 0.0)).is_empty
    tight = make_piece("a", rectangle(40, 20, 20, 20), taper=5.0, side_clearance=-0.1, floor_gap=2.0)
    assert glue(tight).area < 1e-3
    assert glue().is_empty
