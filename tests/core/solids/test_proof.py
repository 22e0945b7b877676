"""Solids are proved before anyone relies on them; hairs are dust; what cannot be proved is refused."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

import core.solids.panel_solids as panel_solids
from core.commands import main
from core.design import Segment, Strip
from core.errors import UnusableInput
from core.findings.all_findings import find_all, refuse_if_unusable
from core.measures.all_measures import Measures
from core.solids.panel_solids import build_solids
from core.solids.proof import faults, refuse_if_open
from core.solids.volumes import measure_volumes
from core.stack.stack import build_stack
from tests.core.designs import POINT_CUTTER, make_design, make_panel, make_piece, rectangle
from tests.core.oracles import assert_closed

SHARP = {"cutter_diameter": POINT_CUTTER, "side_clearance": 0.0}


def tiles(gap=0.0, **changes):
    """Two rectangles side by side, turned by 15°."""
    one = make_piece("one", rectangle(20, 30), at=(40, 20), turn=15.0, **(SHARP | changes))
    return build_stack(make_design([one, replace(one, id="other", outline=shifted(20 + gap))], make_panel()))


def shifted(x):
    return make_piece("any", rectangle(20, 30, x, 0)).outline


def broken(monkeypatch, change):
    """Every mesh of upright walls is made wrong from here on."""
    right = panel_solids.extrude
    monkeypatch.setattr(panel_solids, "extrude", lambda *args: [change(mesh) for mesh in right(*args)])


def without_a_triangle(mesh):
    return replace(mesh, triangles=mesh.triangles[1:], surface=mesh.surface[1:])


def squeezed(mesh):
    return replace(mesh, vertices=mesh.vertices * [1.0, 1.0, 0.999])


@pytest.mark.parametrize("gap", [0.0, 1e-13, 1e-10, 3e-9, 1e-6, 1e-3, 0.009, -1e-12, -1e-7, -1e-4])
@pytest.mark.parametrize("taper", [0.0, 3.0])
def test_tiles_that_share_an_edge_stay_whole(gap, taper):
    stack = tiles(gap, taper=taper, side_clearance=0.0)
    solids = build_solids(stack)
    for solid in solids:
        assert_closed(solid)
    volumes = measure_volumes(stack, solids)
    assert abs(volumes.error) < 1e-9
    assert faults(stack, solids, volumes) == []


@pytest.mark.parametrize("width", [0.002, 0.009])
def test_a_hair_between_two_pockets_is_dust_down_to_their_floor(width):
    """Three squares in a row leave two closed hairs between them where a fourth and a fifth close their ends."""
    row = [make_piece(f"p{i}", rectangle(20, 20, 20 + i * (20 + width), 20), **SHARP) for i in range(2)]
    across = [make_piece(f"q{i}", rectangle(60, 5, 10, y), **SHARP) for i, y in enumerate((19.0, 38.0))]
    stack = build_stack(make_design([*row, *across]))
    (background,) = [solid for solid in build_solids(stack) if solid.kind == "background"]
    assert background.dust == pytest.approx(width * 14.0 * 6.0, rel=1e-6)  # from y = 24 to 38, 6 mm deep
    assert abs(measure_volumes(stack).error) < 1e-9


def test_wood_a_little_thicker_than_a_hair_stays():
    row = [make_piece(f"p{i}", rectangle(20, 20, 20 + i * 20.011, 20), **SHARP) for i in range(2)]
    across = [make_piece(f"q{i}", rectangle(60, 5, 10, y), **SHARP) for i, y in enumerate((19.0, 38.0))]
    solids = build_solids(build_stack(make_design([*row, *across])))
    assert all(solid.dust == 0.0 for solid in solids)


def test_a_piece_of_which_only_a_hair_is_left_is_all_dust():
    one = make_piece("one", rectangle(20, 30, 20, 20), **SHARP)
    stack = build_stack(make_design([one, replace(one, id="other", outline=shifted(0.0), at=(20.004, 20.0))]))
    solids = build_solids(stack)
    assert [solid.name for solid in solids] == ["background-1-1", "other"]
    assert abs(measure_volumes(stack, solids).error) < 1e-9


def test_a_hair_along_a_joint_is_not_cut_down_to_the_bottom():
    """A pocket reaches 0.004 mm into the next strip: there too it is just as deep as it is, no deeper."""
    strips = (Strip(40.0, (Segment(80.0, "holly"),)), Strip(80.0, (Segment(80.0, "cherry"),)))
    panel = make_panel(strips=strips, wood=None)
    stack = build_stack(make_design([make_piece("one", rectangle(20, 30, 20.004, 20), **SHARP)], panel))
    solids = {solid.name: solid for solid in build_solids(stack)}
    assert solids["background-2-1"].volume == pytest.approx(80 * 80 * 19 - 0.004 * 30 * 6, rel=1e-12)
    assert abs(measure_volumes(stack).error) < 1e-9


def test_an_open_solid_is_found_and_named(monkeypatch):
    stack = tiles()
    broken(monkeypatch, without_a_triangle)
    found = faults(stack, solids := build_solids(stack), measure_volumes(stack, solids))
    assert {fault.block.name for fault in found} == {"background-1-1", "one", "other"}
    with pytest.raises(UnusableInput, match="background-1-1: the surface of its solid is not closed"):
        refuse_if_open(stack, solids)


def test_a_wrong_volume_is_found_and_named(monkeypatch):
    stack = tiles()
    solids = [replace(s, vertices=s.vertices * [1, 1, 0.999]) if s.name == "one" else s for s in build_solids(stack)]
    (fault,) = faults(stack, solids, measure_volumes(stack, solids))
    assert (fault.block.name, fault.why) == ("one", "its volume is not that of its shape")


def test_what_no_single_solid_explains_is_told_all_the_same():
    stack = tiles()
    solids = build_solids(stack)
    volumes = measure_volumes(stack, solids)
    (fault,) = faults(stack, solids, replace(volumes, gap=volumes.gap + 1.0))
    assert fault.block is None
    assert fault.why.startswith("volumes differ from the panel's by 5.5e-06")  # 1 mm³ of 120 × 80 × 19


def test_an_unsound_solid_is_an_error_with_which_nothing_is_shown(monkeypatch):
    broken(monkeypatch, squeezed)
    stack = tiles()
    findings = [finding for finding in find_all(stack, Measures(stack)) if finding.code == "unsound"]
    assert {finding.piece for finding in findings} == {None, "one", "other"}
    assert all(finding.level == "error" for finding in findings)
    with pytest.raises(UnusableInput, match="unsound"):
        refuse_if_unusable(stack, findings)


def test_check_ends_with_1_and_solids_with_2_where_a_solid_is_unsound(monkeypatch, tmp_path, capsys):
    file = tmp_path / "tiles.panel.json"
    polygon = {"polygon": rectangle(20, 30)}
    piece = {"id": "one", "wood": "holly", "outline": polygon, "at": [40, 20], "turn": 15}
    panel = {"width": 120, "height": 80, "thickness": 19, "wood": "sapele"}
    file.write_text(json.dumps({"format": "grainstack-panel/1", "panel": panel, "pieces": [piece]}))
    assert main(["check", str(file)]) == 0
    broken(monkeypatch, without_a_triangle)
    monkeypatch.setattr("core.measures.all_measures._last_solids", [])
    capsys.readouterr()
    assert main(["check", str(file), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert "unsound" in {finding["code"] for finding in told["findings"]}
    assert main(["solids", str(file), "--out", str(tmp_path / "out")]) == 2
    assert "unsound" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_solids_that_are_the_same_are_proved_once():
    stack = tiles()
    solids = build_solids(stack)
    assert faults(stack, solids, measure_volumes(stack, solids)) == []
    assert np.shares_memory(build_solids(stack, previous=solids)[0].triangles, solids[0].triangles)
