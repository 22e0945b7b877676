"""The manual's close-ups of findings: the place is ringed in the middle, a cut has its depths told, little is left."""

import bpy
import numpy as np
import pytest
from grainstack.blender_addon.findings.findings_picture import LOOKS
from grainstack.blender_addon.studio.sheet import PAPER
from grainstack.core.woods import colour
from PIL import Image

from manual import finding_pictures
from manual.finding_designs import EXAMPLES


def shown(path) -> np.ndarray:
    """Encoded sRGB (height, width, 3), the uppermost row first."""
    with Image.open(path) as image:
        assert image.size == finding_pictures.SIZE
        return np.asarray(image.convert("RGB"), float) / 255


def near(pixels, hex_colour, within) -> np.ndarray:
    """Places (n, 2), x first, of about a colour."""
    return np.argwhere((np.abs(pixels - colour.srgb_from_hex(hex_colour)) < within).all(axis=2))[:, ::-1]


@pytest.mark.usefixtures("empty_file")
def test_a_place_seen_from_above_is_ringed_and_a_cut_has_its_depths(tmp_path, monkeypatch):
    monkeypatch.setattr(finding_pictures, "SAMPLES", 2)
    scenes = len(bpy.data.scenes)
    above, cut = finding_pictures.finding_pictures(tmp_path, ["meeting-edges", "floor-too-thin"])
    assert (EXAMPLES["meeting-edges"].seen, EXAMPLES["floor-too-thin"].seen) == ("above", "cut")
    ring = near(shown(above), LOOKS["warning"].fill, 0.12)
    assert len(ring) > 100
    assert ring.mean(axis=0) == pytest.approx(np.array(finding_pictures.SIZE) / 2, abs=6)
    plate = near(shown(cut), PAPER, 0.05)
    assert len(plate) > 1000  # the words' plate, below the panel
    assert plate[:, 1].mean() > finding_pictures.SIZE[1] / 2
    assert max(path.stat().st_size for path in (above, cut)) < 40_000
    assert len(bpy.data.scenes) == scenes
