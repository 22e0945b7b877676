"""The card and the views page, from the command line and by the button."""

import bpy
import pytest
from grainstack.blender_addon.entry import headless
from grainstack.blender_addon.pictures import page_commands
from grainstack.core.pages.picture_files import RENDERING

from .test_hanging import show

QUICK = ["--samples", "1", "--size", "96x60"]


@pytest.mark.usefixtures("empty_file")
def test_the_card_command_writes_picture_and_card_and_prints_the_cards_paths(coaster, save, tmp_path, capfd):
    assert headless.main(["card", str(save(coaster)), "--out", str(tmp_path / "out"), "--paper", "letter", *QUICK]) == 0
    out = tmp_path / "out"
    assert capfd.readouterr().out.split()[-2:] == [str(out / "coaster-card.html"), str(out / "coaster-card.pdf")]
    assert {path.name for path in out.iterdir()} == {
        "coaster-listing.png",
        "coaster-listing.jpg",
        "coaster-card.html",
        "coaster-card.pdf",
    }
    assert RENDERING.encode() in (out / "coaster-listing.png").read_bytes()
    assert RENDERING.encode() in (out / "coaster-listing.jpg").read_bytes()


@pytest.mark.usefixtures("empty_file")
def test_the_page_command_shows_six_views_of_which_cut_and_aged_differ(coaster, save, tmp_path, capfd):
    assert headless.main(["page", str(save(coaster)), "--out", str(tmp_path), *QUICK]) == 0
    assert capfd.readouterr().out.split()[-2:] == [
        str(tmp_path / "coaster-views.html"),
        str(tmp_path / "coaster-views.pdf"),
    ]
    text = (tmp_path / "coaster-views.html").read_text("utf-8")
    for shot in page_commands.PAGES["page"].shots:
        assert f'src="coaster-{shot.name}.png"' in text
        assert (tmp_path / f"coaster-{shot.name}.png").is_file()
    assert (tmp_path / "coaster-cut.png").read_bytes() != (tmp_path / "coaster-aged.png").read_bytes()


@pytest.mark.usefixtures("empty_file")
def test_a_wrong_option_is_one_line(coaster, save, tmp_path, capfd):
    assert headless.main(["card", str(save(coaster)), "--out", str(tmp_path), "--paper", "napkin"]) == 2
    assert "napkin" in capfd.readouterr().err


def test_the_button_writes_the_card_beside_the_picture(opened, tmp_path):
    show(opened, "listing", (96, 80))
    opened.cycles.samples = 1
    opened.grainstack.folder = str(tmp_path)
    with pytest.raises(RuntimeError, match="Render the listing view first"):
        bpy.ops.grainstack.write_card()
    bpy.ops.grainstack.render_view()
    bpy.ops.grainstack.write_card(paper="letter")
    assert "coaster-listing.png" in (tmp_path / "coaster-card.html").read_text("utf-8")
    assert (tmp_path / "coaster-card.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "coaster-listing.jpg").is_file()
