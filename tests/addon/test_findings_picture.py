"""The findings view: what it marks, where, and what its key says."""

import bpy
import numpy as np
import pytest
from grainstack.blender_addon.findings import findings_picture
from grainstack.blender_addon.studio import sheet
from grainstack.blender_addon.studio.sheet import PAPER
from grainstack.blender_addon.views import views
from grainstack.core.findings.causes import Group
from grainstack.core.woods import colour

WIDTH, HEIGHT = 800, 500
UNIT = 0.019 * HEIGHT
"""Height of a line of text, pixels."""


words_of = sheet.words_on


def show(design, save) -> bpy.types.Scene:
    bpy.ops.grainstack.open_design(filepath=str(save(design)))
    scene = bpy.context.scene
    scene.grainstack.picture_width, scene.grainstack.picture_height = WIDTH, HEIGHT
    scene.grainstack.view = "findings"
    return scene


def rendered(scene, folder) -> np.ndarray:
    """Encoded sRGB (height, width, 3), the lowest row first."""
    scene.grainstack.folder, scene.cycles.samples, scene.cycles.use_denoising = str(folder), 4, False
    bpy.ops.grainstack.render_view()
    image = bpy.data.images.load(str(folder / "coaster-findings.png"))
    pixels = np.array(image.pixels[:]).reshape(HEIGHT, WIDTH, 4)[:, :, :3]
    bpy.data.images.remove(image)
    return pixels


def pixel_of(at) -> np.ndarray:
    """Where a place of the coaster is seen: its raw panel, 120 x 80 mm, fills the picture but for margins and key."""
    share = 1 - 2 * 0.02 - 0.35
    scale = WIDTH * share / 120
    return np.array([0.02 * WIDTH + at[0] * scale, HEIGHT / 2 + (at[1] - 40) * scale])


def near(pixels, hex_colour, within=0.04) -> np.ndarray:
    """Places (n, 2), x first, that have a colour."""
    wanted = colour.srgb_from_hex(hex_colour)
    return np.argwhere((np.abs(pixels - wanted) < within).all(axis=2))[:, ::-1] + 0.5


def ring_at(pixels, place, radius) -> float:
    """How much of a circle round a place is paper-coloured."""
    angles = np.radians(np.arange(0, 360, 5))
    x, y = (place + radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)).astype(int).T
    return float((np.abs(pixels[y, x] - colour.srgb_from_hex(PAPER)) < 0.35).all(axis=1).mean())


@pytest.mark.usefixtures("addon")
def test_a_warning_is_ringed_at_its_place_and_its_plate_stands_aside(coaster, save, tmp_path):
    coaster["pieces"][1]["pocket_depth"] = 15  # of 19 mm
    coaster.setdefault("workshop", {})["cutter_length"] = 20
    scene = show(coaster, save)
    ((finding,),) = (group.findings for group in findings_picture.shown(views.design_of(scene).findings))
    assert (finding.code, finding.level) == ("floor-too-thin", "warning")
    pixels, place = rendered(scene, tmp_path), pixel_of(finding.at)

    ring = findings_picture.RING * UNIT
    assert ring_at(pixels, place, ring) > 0.8
    assert ring_at(pixels, pixel_of((20, 60)), ring) < 0.1
    x, y = place.astype(int)
    padauk = pixels[y, x]  # the fault itself is not covered
    assert padauk[0] > 1.3 * padauk[1]

    plates = near(pixels, findings_picture.LOOKS["warning"].fill)
    beside = plates[plates[:, 0] < 0.65 * WIDTH]
    assert len(beside) > 20
    apart = np.hypot(*(beside - place).T)
    assert apart.min() > ring
    assert apart.max() < ring + 4 * UNIT
    assert (plates[:, 0] > 0.65 * WIDTH).sum() > 20  # and once more in the key


@pytest.mark.usefixtures("addon")
def test_an_error_comes_first_and_in_a_shape_of_its_own(coaster, save, tmp_path):
    coaster["pieces"][0]["pocket_depth"] = 15
    coaster["pieces"][1]["pocket_depth"] = 30
    scene = show(coaster, save)
    levels = [group.level for group in findings_picture.shown(views.design_of(scene).findings)]
    assert levels[0] == "error"
    assert "warning" in levels
    words = words_of(scene)
    assert "Floor too thin: bar" in words
    assert "1 error" in words
    assert findings_picture.LOOKS["error"].sides == 4
    assert findings_picture.LOOKS["warning"].sides > 20
    assert len(near(rendered(scene, tmp_path), findings_picture.LOOKS["error"].fill)) > 20


@pytest.mark.usefixtures("addon")
def test_no_red_square_stands_beside_no_errors(coaster, save, tmp_path):
    coaster["pieces"][1]["pocket_depth"] = 15
    scene = show(coaster, save)
    assert "no errors" in words_of(scene)
    assert not len(near(rendered(scene, tmp_path), findings_picture.LOOKS["error"].fill))


@pytest.mark.usefixtures("addon")
def test_each_number_stands_on_the_panel_and_in_the_key(coaster, save):
    coaster["pieces"][0]["pocket_depth"] = coaster["pieces"][1]["pocket_depth"] = 15
    scene = show(coaster, save)
    told = findings_picture.shown(views.design_of(scene).findings)
    words = words_of(scene)
    assert len(told) >= 2
    for number in range(1, len(told) + 1):
        assert words.count(str(number)) == 2
    assert "Cut the pocket at most 14.00 mm deep" in " ".join(words)


def test_a_sound_design_says_so_and_only_then_shows_its_notes(opened):
    opened.grainstack.view = "findings"
    words = words_of(opened)
    assert "Sound: no errors, no warnings" in words
    assert "Corners rounded: bar" in words


@pytest.mark.usefixtures("addon")
def test_where_there_is_something_to_mend_notes_are_left_out(coaster, save):
    coaster["pieces"][1]["pocket_depth"] = 15
    scene = show(coaster, save)
    assert not any("Corners rounded" in words for words in words_of(scene))


@pytest.mark.parametrize("count", [1, 8, 30, 200])
def test_the_key_holds_what_there_is_room_for_and_counts_the_rest(opened, count):
    finding = next(f for f in views.design_of(opened).findings)
    opened.grainstack.view = "findings"
    sheet = findings_picture.Sheet(opened)
    key = findings_picture.Key(sheet, 0.65 * sheet.width, [Group((finding,))] * count)
    assert key.height <= key.room
    assert len(key.entries) == count or len(key.entries) > 15
    assert all(entry.heading for entry in key.entries)
    if count <= 8:
        assert all(entry.words for entry in key.entries)
    if count == 1:
        assert key.entries[0].remedy


@pytest.mark.parametrize(
    ("words", "lines", "held"),
    [
        ("Cut it 14.00 mm deep at most, or take a thicker panel", 1, "Cut it 14.00 mm deep at most"),
        ("Cut it 14.00 mm deep at most, or take another", 2, "Cut it 14.00 mm deep at most, or take another"),
        ("Unbreakablewords go on without any clause that could end", 1, "Unbreakablewords go on without any …"),
    ],
)
def test_remedies_are_cut_at_clauses(words, lines, held):
    assert " ".join(findings_picture.lines_of(words, 38, lines)) == held
