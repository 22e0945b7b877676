"""The coupon shows the clearances that it claims; what is measured on it reaches the findings."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

from core.commands import main
from core.design import Workshop
from core.design_file.reading import design_of
from core.findings.all_findings import find_all
from core.findings.check import check_stack, load_stack
from core.lines.coupon import clearances, coupon_document
from core.lines.cuts import all_cuts
from core.lines.drawing import drawings
from core.stack.stack import build_stack
from tests.core.designs import make_design, make_panel, make_piece, rectangle

PANEL = {"width": 200, "height": 100, "thickness": 19, "wood": "sapele"}

MEANT = {"odd-clearance", "slender-cutter"}
"""Five clearances are tried on scrap, 0 among them, at the depth and with the cutter that the maker has."""


def design_with(**workshop):
    document = {"format": "grainstack-panel/1", "panel": PANEL, "workshop": workshop, "pieces": []}
    return design_of(document, Path("a.panel.json"))


def coupon_of(**workshop):
    return build_stack(design_of(coupon_document(design_with(**workshop)), Path("coupon.panel.json")))


def test_the_default_workshop_s_coupon_put_through_check_shows_the_clearances_that_it_claims(tmp_path, capsys):
    """A round-cornered shape drawn in by c loses perimeter x c less pi c² (Steiner's formula)."""
    design = tmp_path / "a.panel.json"
    design.write_text(json.dumps({"format": "grainstack-panel/1", "panel": PANEL, "pieces": []}))
    assert main(["lines", str(design), "--out", str(tmp_path), "--coupon"]) == 0
    capsys.readouterr()
    coupon = tmp_path / "coupon" / "coupon.panel.json"
    assert main(["check", str(coupon), "--json"]) == 0
    check = json.loads(capsys.readouterr().out)
    graver = [(finding["code"], finding["piece"]) for finding in check["findings"] if finding["level"] != "note"]
    assert graver == [("odd-clearance", "gap-0")]  # as it is meant: to be tried on scrap
    pockets = {placed.piece.id: placed.pocket for placed in load_stack(coupon).pieces}
    claimed = {}
    for piece in check["pieces"]:
        if piece["id"].startswith("gap-"):
            lost, around = piece["fit_area"] - piece["insert_area"], pockets[piece["id"]].length
            claimed[piece["id"]] = (around - math.sqrt(around**2 - 4 * math.pi * lost)) / (2 * math.pi)
    assert claimed == pytest.approx(
        {"gap-0": 0.0, "gap-0-05": 0.05, "gap-0-1": 0.1, "gap-0-15": 0.15, "gap-0-2": 0.2}, abs=0.001
    )
    assert (tmp_path / "coupon" / "batch-01-pockets.dxf").exists()


@pytest.mark.parametrize(
    "workshop",
    [
        {},
        {"cutter_diameter": 1.0, "side_clearance": 0.02},
        {"cutter_diameter": 6.35, "side_clearance": 0.25, "min_wall": 8, "min_neck": 6},
        {"taper": 3.0, "side_clearance": -0.05, "pocket_depth": 4},
        {"cutter_length": 5, "pocket_depth": 6},
        {"corner_radius": 3.0, "floor_gap": 0.5},
        {"depth_error": 0.4},
    ],
)
def test_each_workshop_s_coupon_is_sound_and_has_every_part(workshop):
    stack = coupon_of(**workshop)
    graver = [finding for finding in find_all(stack) if finding.level != "note"]
    assert {finding.code for finding in graver} <= MEANT
    assert [finding.piece for finding in graver if finding.code == "odd-clearance"] in ([], ["gap-0"])
    assert len(stack.batches) == 1
    ids = [placed.piece.id for placed in stack.pieces]
    assert [name for name in ids if not name.startswith("gap-")] == ["inside-corner", "leaning", "groove"]
    assert len(ids) == len(set(ids)) == 8
    for placed in stack.pieces:
        if placed.piece.id.startswith("gap-"):
            gap = shapely.distance(shapely.boundary(placed.insert), shapely.boundary(placed.pocket))
            assert gap == pytest.approx(placed.piece.side_clearance, abs=1e-6)
    assert next(p for p in stack.pieces if p.piece.id == "leaning").piece.taper > 0
    assert next(p for p in stack.pieces if p.piece.id == "groove").piece.is_groove


def test_clearances_lie_round_the_workshop_s_own_and_stay_below_the_cutter_s_radius():
    assert clearances(Workshop()) == pytest.approx([0, 0.05, 0.1, 0.15, 0.2])
    assert clearances(Workshop(side_clearance=0.3)) == pytest.approx([0.2, 0.25, 0.3, 0.35, 0.4])
    tight = clearances(Workshop(cutter_diameter=0.2, side_clearance=0.09))
    assert min(tight) >= 0
    assert max(tight) < 0.1


# --- How far pockets come out of the depth that was set ------------------------------------------------------------


def stack_with(error, pieces, **panel):
    design = make_design(pieces, make_panel(**panel))
    return build_stack(replace(design, workshop=Workshop(depth_error=error)))


def told(stack):
    return {(finding.code, finding.piece): finding for finding in find_all(stack) if finding.level != "note"}


def test_a_floor_is_thinner_by_what_pockets_come_out_deeper():
    deep = [make_piece("a", rectangle(30, 20), at=(20, 20), pocket_depth=6.0)]
    assert not told(stack_with(0.0, deep, thickness=11.2))
    finding = told(stack_with(0.3, deep, thickness=11.2))["floor-too-thin", "a"]
    assert "floor of 4.90 mm" in finding.text
    assert "0.30 mm deeper" in finding.text
    assert finding.step.value == pytest.approx(5.9)


def test_a_pocket_that_comes_out_through_the_panel_is_an_error():
    deep = [make_piece("a", rectangle(30, 20), at=(20, 20), pocket_depth=6.0)]
    assert told(stack_with(0.3, deep, thickness=6.2))["floor-too-thin", "a"].level == "error"


def test_an_insert_sinks_by_what_its_pocket_comes_out_deeper():
    flush = [make_piece("a", rectangle(30, 20), at=(20, 20), pocket_depth=6.0, insert_thickness=6.2)]
    assert not told(stack_with(0.0, flush))
    finding = told(stack_with(0.3, flush))["not-proud", "a"]
    assert "0.10 mm below" in finding.text


def test_a_pocket_that_comes_out_shallower_may_be_trimmed_away():
    shallow = [make_piece("a", rectangle(30, 20), at=(20, 20), pocket_depth=1.0, insert_thickness=3.0)]
    assert ("trimmed-away", "a") not in told(stack_with(0.0, shallow, face_trim=0.8))
    assert ("trimmed-away", "a") in told(stack_with(-0.3, shallow, face_trim=0.8))


@pytest.mark.parametrize("error", [0.3, -0.3])
def test_a_skin_is_thinner_by_the_error_either_way_since_zero_is_set_anew_for_each_batch(error):
    pair = [
        make_piece("a", rectangle(40, 30), at=(20, 20), pocket_depth=6.0),
        make_piece("b", rectangle(20, 15), at=(30, 27), pocket_depth=4.8),
    ]
    assert not told(stack_with(0.0, pair))
    finding = told(stack_with(error, pair))["thin-skin", "b"]
    assert "0.90 mm thick" in finding.text
    cured = [pair[0], replace(pair[1], pocket_depth=finding.step.value, insert_thickness=finding.step.value + 1.5)]
    assert not told(stack_with(error, cured))


def test_the_error_changes_neither_solids_nor_volumes():
    pair = [make_piece("a", rectangle(40, 30), at=(20, 20))]
    plain, off = (check_stack(stack_with(error, pair)) for error in (0.0, 0.2))
    assert plain["panel"] == off["panel"]
    assert plain["pieces"] == off["pieces"]


@pytest.mark.parametrize(("error", "words"), [(0.12, "0.12 deeper"), (-0.3, "0.30 shallower"), (0.0, "")])
def test_the_pocket_file_says_by_how_much_pockets_come_out_of_the_depth_that_was_set(error, words):
    stack = stack_with(error, [make_piece("a", rectangle(30, 20), at=(20, 20))])
    pockets, inserts = drawings(stack, all_cuts(stack))
    said = " ".join(each.text for each in pockets.words)
    assert "Depth 6.00, cutter 3.175 mm: a" in said  # as designed
    assert ("depth_error" in said) == bool(error)
    assert words in said
    assert "depth_error" not in " ".join(each.text for each in inserts.words)
