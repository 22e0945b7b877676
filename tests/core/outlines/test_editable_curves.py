"""Outlines as curves and back to path data."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from core.design import LineOutline, PathOutline, PolygonOutline, SvgOutline
from core.outlines.editable_curves import Run, artwork_pieces, outline_runs, path_data
from core.outlines.path_data import read_path_data
from core.outlines.piece_shape import load_outline

from ..designs import make_piece

KOI = Path(__file__).parents[3] / "assets" / "koi-pond"
PETAL = "M 0 0 C 10 20 30 20 40 0 L 20 -10 Z"


def svg(tmp_path, body: str):
    (tmp_path / "art.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">{body}</svg>'
    )
    return tmp_path


def shape_of(outline, folder=Path()):
    return load_outline(replace(make_piece("a", PathOutline("M0 0")), outline=outline), folder).shape


def test_a_path_is_its_own_curves_and_text():
    (run,) = outline_runs(PathOutline(PETAL), Path())
    assert run.straight.tolist() == [False, True, True]
    assert path_data([run]) == PETAL


@given(st.lists(st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)), min_size=4, max_size=30, unique=True))
def test_written_path_data_read_back_as_the_same_curves(points):
    cubics = np.array(points[: len(points) // 4 * 4]).reshape(-1, 4, 2)
    cubics[1:, 0] = cubics[:-1, 3]
    (run,) = outline_runs(PathOutline(path_data([curved(cubics)])), Path())
    moved = np.any(cubics[:, 0] != cubics[:, 3], axis=1)
    assert run.cubics[: moved.sum()] == pytest.approx(cubics[moved], rel=1e-12, abs=1e-9)


def curved(cubics):
    return Run(cubics, np.zeros(len(cubics), bool), True)


def test_polygons_with_holes_become_straight_rings():
    outline = PolygonOutline(((0, 0), (80, 0), (80, 60), (0, 60)), (((20, 20), (30, 20), (30, 30)),))
    runs = outline_runs(outline, Path())
    assert [len(run.cubics) for run in runs] == [4, 3]
    assert all(run.straight.all() and run.closed for run in runs)
    assert path_data(runs) == "M 0 0 L 80 0 L 80 60 L 0 60 Z M 20 20 L 30 20 L 30 30 Z"


def test_a_line_stays_open():
    (run,) = outline_runs(LineOutline(((0, 0), (5, 5), (9, 0)), 3.0), Path())
    assert not run.closed
    assert run.cubics[:, 0].tolist() == [[0, 0], [5, 5]]


@pytest.mark.parametrize("element", ["body", "tail", "eyes", "fin-left", "white-1"])
def test_artwork_keeps_its_curves(element):
    """The koi's elements: the curves' path fills what the artwork fills."""
    outline = SvgOutline("koi-showa.svg", element)
    drawn = PathOutline(path_data(outline_runs(outline, KOI)))
    wanted, found = shape_of(outline, KOI), shape_of(drawn)
    assert shapely.area(shapely.symmetric_difference(wanted, found)) < 1e-6 * wanted.area
    assert "C" in drawn.data


def test_an_even_odd_hole_is_turned_so_that_a_path_has_it_too(tmp_path):
    square = "M10 10H90V90H10Z M30 30H70V70H30Z M40 40H60V60H40Z"
    folder = svg(tmp_path, f'<path id="a" fill-rule="evenodd" d="{square}"/>')
    runs = outline_runs(SvgOutline("art.svg", "a"), folder)
    assert len(runs) == 3
    assert shape_of(PathOutline(path_data(runs))).area == pytest.approx(6400 - 1600 + 400)


def test_shapes_whose_last_side_is_left_to_be_closed_keep_all_their_corners(tmp_path):
    folder = svg(tmp_path, '<rect id="a" x="60" y="60" width="20" height="10"/><path id="b" d="M0 0 V9 H9 V0"/>')
    rectangle, square = (outline_runs(SvgOutline("art.svg", name), folder) for name in "ab")
    assert path_data(rectangle) == "M 60 30 L 80 30 L 80 40 L 60 40 Z"
    assert shape_of(PathOutline(path_data(square))).area == pytest.approx(81)


def test_shapes_that_overlap_become_the_outline_of_both(tmp_path):
    folder = svg(tmp_path, '<g id="a"><circle cx="40" cy="50" r="20"/><circle cx="60" cy="50" r="20"/></g>')
    outline = SvgOutline("art.svg", "a")
    runs = outline_runs(outline, folder)
    wanted = shape_of(outline, folder)
    assert shapely.area(shapely.symmetric_difference(shape_of(PathOutline(path_data(runs))), wanted)) < 1e-3 * 400


def test_each_filled_shape_of_a_file_is_a_piece_by_its_nearest_id(tmp_path):
    folder = svg(
        tmp_path,
        '<g id="fish"><path id="body" d="M0 0H9V9Z"/><g id="eye"><circle cx="20" cy="20" r="3"/></g></g>'
        '<rect x="50" y="50" width="9" height="9"/><rect id="line" fill="none" stroke="red" width="5" height="5"/>',
    )
    found = artwork_pieces(folder, "art.svg")
    assert [name for name, _ in found] == ["body", "eye", ""]
    assert [len(read_path_data(path_data(runs))) for _, runs in found] == [1, 1, 1]
