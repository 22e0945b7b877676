"""Pictures of how the panel reads, from the command line."""

import numpy as np
import pytest
from grainstack.blender_addon.entry import headless
from grainstack.core.pages.reading_sheet import pixels_of
from PIL import Image

SMALL = ["--size", "240x150", "--samples", "1"]


@pytest.mark.usefixtures("empty_file")
def test_the_command_renders_how_it_reads(coaster, save, tmp_path, capfd):
    path = str(save(coaster))
    views = "reading,greyscale,thumbnail,finished"
    assert headless.main(["render", path, "--view", views, "--out", str(tmp_path), *SMALL]) == 0
    names = [f"coaster-{view}.png" for view in views.split(",")]
    assert capfd.readouterr().out.split()[-4:] == [str(tmp_path / name) for name in names]
    sheet, grey, small, finished = (pixels_of(tmp_path / name) for name in names)
    assert [each.shape[1::-1] for each in (sheet, grey, small, finished)] == [
        (240, 150),
        (240, 150),
        (200, 125),
        (240, 150),
    ]
    assert (grey == grey[..., :1]).all()
    assert np.ptp(finished.astype(int), axis=-1).max() > 60
    with Image.open(tmp_path / names[0]) as picture:
        assert "When cut" not in picture.text["Description"]
        assert "when cut and when aged" in picture.text["Description"]
        assert "A rendering, not a photograph" in picture.text["Description"]


@pytest.mark.usefixtures("empty_file")
def test_cut_and_aged_differ_on_the_sheet(coaster, save, tmp_path):
    headless.main(["render", str(save(coaster)), "--view", "reading", "--out", str(tmp_path), *SMALL])
    sheet = pixels_of(tmp_path / "coaster-reading.png").astype(int)
    cut, aged = sheet[:40, :120], sheet[:40, 120:]
    assert np.abs(cut.mean(axis=(0, 1)) - aged.mean(axis=(0, 1))).max() > 3
