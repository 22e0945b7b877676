"""The sample sheet of the manual."""

import bpy
import pytest
from grainstack.core.boards.log_space import board_for
from grainstack.core.woods.species import species_table

from manual import samples


@pytest.mark.usefixtures("empty_file")
def test_a_sheet_is_drawn_and_leaves_no_scene(tmp_path, monkeypatch):
    monkeypatch.setitem(samples.studio.SETTINGS, samples.VIEW, samples.replace(samples.SETTING, samples=1))
    scenes = list(bpy.data.scenes)
    made = samples.sample_sheet(tmp_path / "sheet.png", ["holly", "African ebony"], columns=2, scale=0.2)
    assert list(bpy.data.scenes) == scenes
    image = bpy.data.images.load(str(made))
    width, height = image.size
    pixels = image.pixels[:]
    bpy.data.images.remove(image)
    middles = [4 * (width * int(height * 0.62) + int(width * share)) for share in (0.25, 0.75)]
    pale, dark = (sum(pixels[at : at + 3]) / 3 for at in middles)
    assert pale > 0.6 > 0.3 > dark


@pytest.mark.parametrize("wood", species_table())
def test_samples_are_flat_sawn(wood):
    assert abs(board_for(samples.flat_sawn(wood)).cut) <= samples.FLATTEST
