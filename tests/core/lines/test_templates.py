"""The templates: labels and arrows hide no line that is traced or sawn."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from core.design import LineOutline
from core.findings.check import load_stack
from core.lines.cuts import insert_cuts
from core.lines.labels import Room, arrow_place
from core.lines.marked import Shown
from core.lines.paper import Sheets
from core.lines.slanting import slanting
from core.lines.templates import SLIVER, insert_parts, pocket_words, tile_lines, tile_marks
from core.stack.stack import build_stack
from core.views.exploded import glue_numbers
from tests.core.designs import disc, make_design, make_panel, make_piece, rectangle

KOI_POND = Path(__file__).parents[3] / "assets/koi-pond/koi-pond.panel.json"


def tiles_of(stack):
    """For each sheet of pockets: its tile, its lines as one geometry, and what is marked on it."""
    sheets, numbers = Sheets("a4", "test"), glue_numbers(stack)
    for batch in stack.batches:
        for tile in sheets.tiles(stack.design.panel.width, stack.design.panel.height):
            box = shapely.box(*tile.box)
            here = [
                Shown(stack.pieces[i], numbers[i], part)
                for i in batch
                for part in shapely.get_parts(shapely.intersection(stack.pieces[i].pocket, box))
                if part.area > SLIVER
            ]
            lines = tile_lines(sheets, stack, here, tile)
            yield (
                tile,
                shapely.multilinestrings([*map(shapely.linestrings, lines)]),
                tile_marks(sheets, stack, here, tile),
            )


@pytest.fixture(scope="module")
def tiles():
    """Sheets of the pond, and of a panel that is made to be hard."""
    return {"pond": list(tiles_of(load_stack(KOI_POND))), "crowded": list(tiles_of(crowded()))}


def crowded():
    """Wide, narrow, tiny and two-part pieces, a groove and a piece with an island, close together over two sheets."""
    rows = [make_piece(f"tiny-{n}", disc(2.2, count=40), at=(20 + 9 * n, 150)) for n in range(12)]
    ring = make_piece("ring", disc(30, count=100), at=(180, 60))
    groove = make_piece("reed", LineOutline(((20, 20), (150, 120), (300, 130)), 3.175))
    wide = make_piece("wide-piece-with-a-long-name", rectangle(60, 14), at=(200, 150), grain=90.0)
    sliver = make_piece("sliver", rectangle(50, 4), at=(30, 170), grain=0.0)
    return build_stack(make_design([*rows, ring, groove, wide, sliver], make_panel(400, 300)))


@pytest.mark.parametrize("design", ["pond", "crowded"])
def test_no_label_meets_a_line_of_its_sheet_or_another_label(design, tiles):
    count = 0
    for tile, lines, signs in tiles[design]:
        boxes = [shapely.box(*one.spot.box) for one in signs]  # each has its place
        count += len(boxes)
        assert not shapely.intersects(lines, boxes).any()
        assert shapely.covers(shapely.box(*tile.box), boxes).all()
        meet = np.array([[one.intersects(other) for other in boxes] for one in boxes])
        assert meet.sum() == len(boxes)  # each meets itself alone
    assert count > (60 if design == "pond" else 15)


def test_every_piece_has_its_label_on_a_sheet_of_its_batch(tiles):
    for design, count in (("pond", 64), ("crowded", 16)):
        pieces = {one.shown.placed.index for _, _, signs in tiles[design] for one in signs}
        assert len(pieces) == count


@pytest.mark.parametrize("design", ["pond", "crowded"])
def test_a_label_lies_in_its_piece_or_outside_all_and_its_leader_ends_in_its_piece(design, tiles):
    for _, _, signs in tiles[design]:
        for one in signs:
            box = shapely.box(*one.spot.box)
            if one.spot.leader is None:
                assert one.shown.shape.buffer(1e-6).covers(box)
                continue
            assert not any(other.shown.placed.pocket.intersects(box) for other in signs)
            line = shapely.linestrings(one.spot.leader)
            assert shapely.Point(one.spot.leader[1]).distance(one.shown.shape) < 0.05
            others = [s.shown.shape for s in signs if s.shown.placed is not one.shown.placed]
            assert not shapely.intersects(line, others).any()


def test_grain_arrows_lie_along_the_grain_inside_their_pieces_or_clear_of_all_edges(tiles):
    for _, _, signs in tiles["pond"]:
        edges = shapely.union_all(shapely.boundary([one.shown.placed.pocket for one in signs]))
        for one in signs:
            if one.shown.placed.piece.is_groove:
                assert not one.arrow
                continue
            shaft = one.arrow[0][1] - one.arrow[0][0]
            angle = np.degrees(np.arctan2(shaft[1], shaft[0]))
            assert (angle - one.shown.placed.grain + 90) % 180 == pytest.approx(90, abs=1e-6)
            assert not edges.intersects(shapely.multilinestrings([*map(shapely.linestrings, one.arrow)]))


def test_an_arrow_gets_shorter_where_its_piece_is_narrow_and_is_none_where_it_is_too_narrow():
    bar = shapely.box(0, 0, 6.0, 40)
    middle, length = arrow_place(bar, 0.0, 9.0, 1.1, (3.0, 20.0))
    assert length < 6.0
    assert middle.tolist() == [3.0, 20.0]
    assert arrow_place(bar, np.pi / 2, 9.0, 1.1, (3.0, 20.0))[1] == 9.0
    assert arrow_place(shapely.box(0, 0, 2.0, 2.0), 0.0, 9.0, 1.1, (1.0, 1.0)) is None


def test_a_sheet_says_of_how_many_pieces_it_has_no_room_for_the_words():
    crowd = [
        make_piece(f"piece-{x}-{y}", disc(2.6, count=40), at=(15 + 7 * x, 15 + 7 * y))
        for x in range(12)
        for y in range(12)
    ]
    ((tile, lines, signs),) = tiles_of(build_stack(make_design(crowd, make_panel(110, 110))))
    placed = [one for one in signs if one.spot is not None]
    missing = len(signs) - len(placed)
    assert len(signs) == 144
    assert missing > 50
    assert f"No room for the words of {missing} pieces" in pocket_words(tile, signs)
    assert not shapely.intersects(lines, [shapely.box(*one.spot.box) for one in placed]).any()


def test_a_full_sheet_leaves_no_place():
    lines = [np.array([[0.0, y], [100.0, y]]) for y in range(0, 100, 3)]
    room = Room((0.0, 0.0, 100.0, 100.0), lines)
    assert room.inside(shapely.box(0, 0, 100, 100), (10.0, 2.4), (50.0, 50.0)) is None
    assert room.beside(shapely.box(40, 40, 60, 60), (10.0, 2.4)) is None


def test_hatching_leaves_out_what_a_ring_in_a_shape_bounds():
    outer, inner = (shapely.get_coordinates(shapely.box(*box)) for box in ((0, 0, 40, 40), (10, 10, 30, 20)))
    strokes = shapely.linestrings(slanting([outer, inner], 3.0))
    assert len(strokes) > 20
    assert not shapely.intersects(strokes, shapely.box(10.01, 10.01, 29.99, 19.99)).any()


def test_a_leaning_insert_is_drawn_by_its_upper_side_as_it_is_cut():
    """At the raw face it would be smaller by its proud times the tangent of its taper."""
    leaning = make_piece("leaning", disc(20), at=(60, 40), taper=5.0, pocket_depth=6.0, insert_thickness=8.0)
    stack = build_stack(make_design([leaning, make_piece("upright", rectangle(20, 20), at=(5, 5))]))
    for cut in insert_cuts(stack, 1):
        (part,) = insert_parts(Shown(cut.placed, 1, cut.placed.pocket))
        assert part.shape.equals(cut.shape)
    leans = stack.pieces[0]
    assert insert_parts(Shown(leans, 1, leans.pocket))[0].shape.area > leans.insert.area + 1
