"""The lines to cut along, written by the button."""

import json

import bpy
import numpy as np
import pytest
from grainstack.blender_addon.views import cutter_proof


def test_the_button_writes_the_lines_into_a_folder_beside_the_design(opened, tmp_path):
    bpy.ops.grainstack.write_lines(formats="svg", paper="letter")
    folder = tmp_path / "coaster-lines"
    assert {path.name for path in folder.iterdir()} == {
        *(f"batch-{number:02}-{what}.svg" for number in (1, 2) for what in ("pockets", "inserts")),
        "templates.pdf",
        "lines.json",
    }
    opened.grainstack.folder = str(tmp_path / "elsewhere")
    bpy.ops.grainstack.write_lines(coupon=True, formats="dxf")
    coupon = tmp_path / "elsewhere" / "coaster-lines" / "coupon"
    assert (coupon / "coupon.panel.json").is_file()
    assert (coupon / "batch-01-pockets.dxf").is_file()


@pytest.mark.usefixtures("addon")
def test_a_design_with_an_error_writes_no_lines_and_says_why(coaster, save, tmp_path):
    coaster["pieces"][1]["pocket_depth"] = 25
    bpy.ops.grainstack.open_design(filepath=str(save(coaster)))
    with pytest.raises(RuntimeError, match="floor-too-thin"):
        bpy.ops.grainstack.write_lines()
    assert not (tmp_path / "coaster-lines").exists()


@pytest.mark.usefixtures("addon")
def test_the_workshop_s_depth_error_is_a_field_that_may_be_below_zero(coaster, save):
    bpy.ops.grainstack.open_design(filepath=str(save(coaster)))
    settings = bpy.context.scene.grainstack
    settings.shop_depth_error = -0.0002
    assert json.loads(settings.document)["workshop"]["depth_error"] == pytest.approx(-0.2)


@pytest.mark.usefixtures("opened")
def test_the_cutter_run_along_a_batch_is_drawn_where_its_pockets_lie():
    """The moon is a disc of radius 20 round (40, 40): the edge that is left lies there, and discs lie inside."""
    bpy.ops.grainstack.prove_lines(batch=1)
    proof = cutter_proof.Shown.proof
    assert proof.fingerprint == bpy.context.scene.grainstack.fingerprint
    assert (proof.count, proof.findings) == (1, ())
    away = np.hypot(*(proof.left[:, :2] * 1000 - 40).T)
    assert np.abs(away - 20).max() < 0.01
    assert np.hypot(*(proof.taken[:, :2] * 1000 - 40).T).max() < 20.01
    assert not len(proof.wrong)
    with pytest.raises(RuntimeError, match="there is no batch 3"):
        bpy.ops.grainstack.prove_lines(batch=3)
    bpy.ops.grainstack.hide_proof()
    assert cutter_proof.Shown.proof is None


@pytest.mark.usefixtures("addon")
def test_a_line_that_differs_from_the_solids_is_told_and_drawn_red(coaster, save):
    """A notch that a leaning cutter fills, since its insert stands so proud."""
    notched = [[0, 0], [40, 0], [40, 30], [24, 30], [20, 12], [16, 30], [0, 30]]
    coaster["pieces"] = [
        {"id": "a", "wood": "holly", "outline": {"polygon": notched}, "at": [30, 20], "taper": 5,
         "pocket_depth": 4, "insert_thickness": 14}
    ]  # fmt: skip
    bpy.ops.grainstack.open_design(filepath=str(save(coaster)))
    with pytest.raises(RuntimeError, match="line-differs"):
        bpy.ops.grainstack.prove_lines(batch=1, what="inserts")
    assert len(cutter_proof.Shown.proof.wrong)


@pytest.mark.usefixtures("opened")
def test_a_simulated_cut_says_how_well_the_lines_agree_with_the_design(capfd):
    bpy.ops.grainstack.prove_lines(batch=1)
    assert "Batch 1, pockets: the line agrees with the design to 0.00" in capfd.readouterr().out
    bpy.ops.grainstack.hide_proof()
