"""Solids as they are cut: inserts whole, and the panel before and after a batch."""

from __future__ import annotations

import json

import pytest
import shapely

from core.commands import main
from core.lines.as_cut import sawn_inserts, up_to_batch
from core.solids.panel_solids import build_solids
from core.stack.stack import build_stack
from tests.core.designs import disc, make_design, make_piece, rectangle, star, total_volume
from tests.core.oracles import assert_closed

PANEL = {"width": 120, "height": 80, "thickness": 19, "wood": "sapele"}


def overlapping():
    return build_stack(
        make_design(
            [
                make_piece("below", rectangle(50, 30), at=(20, 20), pocket_depth=4.0),
                make_piece("edge", rectangle(30, 20), at=(-10, 50)),
                make_piece("over", disc(12, count=120), at=(45, 35), pocket_depth=6.0),
                make_piece("drawn", star(5, 14, 7), at=(95, 30), fit="as-drawn"),
                make_piece("leaning", disc(10, count=90), at=(95, 60), taper=2.0, floor_gap=0.3, side_clearance=-0.05),
            ]
        )
    )


def test_an_insert_as_sawn_is_whole_whatever_later_pockets_take_of_it():
    stack = overlapping()
    solids = {solid.name: solid for solid in sawn_inserts(stack)}
    for placed in stack.pieces:
        solid = solids[placed.piece.id]
        assert_closed(solid)
        if not placed.piece.taper:  # upright: area of the sawn outline times thickness
            assert solid.volume == pytest.approx(shapely.area(placed.insert) * placed.piece.insert_thickness, rel=1e-9)
    proud = {solid.name: solid for solid in build_solids(stack, "proud")}
    assert proud["below"].volume < 0.8 * solids["below"].volume
    assert proud["edge"].volume < 0.7 * solids["edge"].volume  # the panel ends there, the insert does not


def test_a_leaning_insert_as_sawn_is_a_frustum():
    """Volume of a prismatoid by Simpson's rule, exact where sections are quadratic in height."""
    stack = overlapping()
    placed = stack.pieces[-1]
    solid = next(solid for solid in sawn_inserts(stack) if solid.name == "leaning")
    from core.cutter.taper import section_at

    heights = (placed.top, (placed.top + placed.bottom) / 2, placed.bottom)
    top, middle, bottom = (shapely.area(section_at(placed.insert, 2.0, -z)) for z in heights)
    assert solid.volume == pytest.approx((top + 4 * middle + bottom) / 6 * placed.piece.insert_thickness, rel=1e-9)


def test_before_and_after_a_batch_are_one_batch_apart(tmp_path, capsys):
    design = tmp_path / "a.panel.json"
    pieces = [
        {"id": "a", "wood": "holly", "outline": {"polygon": [[0, 0], [40, 0], [40, 30], [0, 30]]}, "at": [20, 20]},
        {
            "id": "b",
            "wood": "wenge",
            "outline": {"polygon": [[0, 0], [30, 0], [30, 20]]},
            "at": [40, 30],
            "after": ["a"],
        },
    ]
    design.write_text(json.dumps({"format": "grainstack-panel/1", "panel": PANEL, "pieces": pieces}))
    assert main(["solids", str(design), "--out", str(tmp_path / "o"), "--batch", "1"]) == 0
    assert len(capsys.readouterr().out.split()) == 2
    names = {side: {path.name for path in (tmp_path / "o" / side).iterdir()} for side in ("before", "after")}
    assert names == {
        "before": {"background-1-1.ply", "solids.json"},
        "after": {"background-1-1.ply", "a.ply", "solids.json"},
    }
    assert main(["solids", str(design), "--out", str(tmp_path / "o"), "--batch", "2"]) == 0
    assert (tmp_path / "o" / "before" / "a.ply").exists()
    assert not (tmp_path / "o" / "before" / "b.ply").exists()
    assert main(["solids", str(design), "--out", str(tmp_path / "o"), "--batch", "3"]) == 2
    assert main(["solids", str(design), "--out", str(tmp_path / "o"), "--batch", "1", "--state", "raw"]) == 2
    assert main(["solids", str(design), "--out", str(tmp_path / "s"), "--state", "as-sawn"]) == 0
    said = json.loads((tmp_path / "s" / "solids.json").read_text())
    assert said["state"] == "as-sawn"
    assert [solid["name"] for solid in said["solids"]] == ["a", "b"]


def test_after_the_last_batch_the_panel_is_whole():
    stack = overlapping()
    whole = total_volume(build_solids(stack, "proud"))
    assert total_volume(build_solids(up_to_batch(stack, len(stack.batches)), "proud")) == pytest.approx(
        whole, rel=1e-12
    )
    bare = build_solids(up_to_batch(stack, 0), "proud")
    assert total_volume(bare) == pytest.approx(120 * 80 * 19)
