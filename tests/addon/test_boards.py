"""Boards from photos, glued-up blanks and book-matches, as pictures show them and as a design keeps them.

The photos are made here: their colours, places and scale are known. What is seen is measured in rendered pictures, lit
evenly by four suns, from straight above, in the Standard view transform.
"""

import json

import bpy
import numpy as np
import pytest
from grainstack.blender_addon import versions
from grainstack.blender_addon.scene import objects as scenes
from grainstack.blender_addon.studio import studio
from grainstack.blender_addon.views import live, views
from grainstack.core.design_file.writing import design_text
from grainstack.core.woods import colour
from PIL import Image, ImageDraw

WIDTH, HEIGHT = 160, 120
PIXELS = 2
"""Pixels of the picture for each mm of the panel."""
BROWN, RED, GREEN = (150, 104, 66), (190, 40, 30), (40, 120, 60)
SCALE = 0.25


@pytest.fixture
def photo(tmp_path):
    """A board of 100 x 75 mm: brown, with a red disc of 3 mm radius at (70, 30) mm and a green one at (30, 55)."""
    picture = Image.new("RGB", (400, 300), BROWN)
    for (x, y), paint in (((70, 30), RED), ((30, 55), GREEN)):
        left, top = x / SCALE, 300 - y / SCALE
        ImageDraw.Draw(picture).ellipse((left - 12, top - 12, left + 12, top + 12), fill=paint)
    picture.save(tmp_path / "plank.png")
    return picture


def design(**piece):
    return {
        "format": "grainstack-panel/1",
        "title": "Boards",
        "woods": [{"name": "plank", "photo": "plank.png", "species": "cherry", "mm_per_pixel": SCALE}],
        "panel": {"width": WIDTH, "height": HEIGHT, "thickness": 19, "wood": "holly"},
        "pieces": [{"id": "a", "wood": "plank", "grain": 0, "board_at": [50, 37.5], "at": [80, 60],
                    "outline": {"polygon": [[-40, -30], [40, -30], [40, 30], [-40, 30]]}} | piece],
    }  # fmt: skip


@pytest.fixture
def see(addon, save, tmp_path):
    """Opens a design, and gives its picture from above: encoded sRGB, rows upwards, `PIXELS` for each mm."""

    def see(document):
        bpy.ops.grainstack.open_design(filepath=str(save(document, "boards")))
        scene = bpy.context.scene
        box = ((0, 0, -19), (WIDTH, HEIGHT, 0))
        camera = studio.set_up(scene, "findings", box, box, (WIDTH * PIXELS, HEIGHT * PIXELS), samples=6)
        camera.data.ortho_scale = WIDTH / 1000
        camera.location = (WIDTH / 2000, HEIGHT / 2000, 1.0)
        versions.standard_view(scene, 0.0)
        scene.cycles.use_denoising = False
        scene.grainstack.finish = "bare"
        scene.render.filepath = str(tmp_path / "seen.png")
        bpy.ops.render.render(write_still=True)
        return np.asarray(Image.open(scene.render.filepath).convert("RGB"), float)[::-1] / 255

    return see


def mean_lab(seen, x0, y0, x1, y1):
    patch = seen[y0 * PIXELS : y1 * PIXELS, x0 * PIXELS : x1 * PIXELS]
    return colour.lab_from_linear(colour.linear_from_srgb(patch).mean(axis=(0, 1)))


def lab_of(rgb):
    return colour.lab_from_linear(colour.linear_from_srgb(np.array(rgb) / 255))


def middle_of(seen, rgb):
    """Where a colour is seen, mm: the middle of the pixels nearer to it than half its way to the board's brown."""
    away = colour.difference(colour.lab_from_linear(colour.linear_from_srgb(seen)), lab_of(rgb))
    rows, columns = np.nonzero(away < colour.difference(lab_of(rgb), lab_of(BROWN)) / 2)
    assert len(rows) > 50
    return [(columns.mean() + 0.5) / PIXELS, (rows.mean() + 0.5) / PIXELS]


def test_a_board_shows_its_own_colour(photo, see):
    seen = see(design())
    assert colour.difference(mean_lab(seen, 45, 35, 75, 55), lab_of(BROWN)) < 1.0


def test_a_place_of_the_board_is_seen_where_the_insert_is_laid_on_it(photo, see):
    """The insert's middle (80, 60) lies at (50, 37.5) on the board: the red disc at (70, 30) is seen at (100, 52.5)."""
    seen = see(design())
    assert middle_of(seen, RED) == pytest.approx([100, 52.5], abs=0.25)
    assert middle_of(seen, GREEN) == pytest.approx([60, 77.5], abs=0.25)


@pytest.mark.parametrize(
    ("keys", "red"),
    [
        ({"board_turn": 180}, [60, 67.5]),
        ({"board_mirror": True}, [100, 67.5]),
        ({"taper": 4}, [100, 67.5]),
        ({"at": [85, 64]}, [105, 56.5]),
    ],
)
def test_turned_mirrored_and_moved(photo, see, keys, red):
    """Turned half round about its middle; tapered inserts are sawn face down; moved, it takes its figure along."""
    assert middle_of(see(design(**keys)), RED) == pytest.approx(red, abs=0.25)


@pytest.mark.parametrize("cast", [(1.25, 1.0, 0.7), (0.8, 1.0, 1.2)])
def test_a_grey_card_takes_a_cast_away(tmp_path, see, cast):
    """A brown board under tinted light, with a card of 18 %; balanced it shows within dE2000 2 as under white light."""
    linear = colour.linear_from_srgb(np.array(BROWN) / 255)
    shown = [colour.srgb_from_linear(np.minimum(each * np.array(cast), 1)) for each in (linear, np.full(3, 0.18))]
    board, card = (tuple(np.rint(255 * each).astype(int).tolist()) for each in shown)
    picture = Image.new("RGB", (400, 320), board)
    picture.paste(card, (0, 300, 400, 320))
    picture.save(tmp_path / "plank.png")
    document = design()
    document["woods"][0] |= {"crop": [0, 0, 400, 300], "grey": [200, 310], "grey_reflectance": 0.18}
    seen = see(document)
    assert colour.difference(mean_lab(seen, 45, 35, 75, 55), lab_of(BROWN)) < 2.0
    assert colour.difference(lab_of(board), lab_of(BROWN)) > 4


def test_beyond_the_board_its_mirror_image_goes_on(photo, see):
    """With its middle 5 mm from the board's left edge: the green disc at 30, and its mirror image at -30."""
    seen = see(design(board_at=[5, 37.5]))
    away = colour.difference(colour.lab_from_linear(colour.linear_from_srgb(seen)), lab_of(GREEN))
    columns = (np.nonzero(away < 10)[1] + 0.5) / PIXELS
    assert columns[columns < 75].mean() == pytest.approx(80 - 35, abs=0.3)
    assert columns[columns > 75].mean() == pytest.approx(80 + 25, abs=0.3)


def test_a_missing_photo_is_told_and_the_species_stands_in(see):
    seen = see(design())
    scene = bpy.context.scene
    assert any("plank.png" in finding.text for finding in scene.grainstack.findings)
    item = scenes.wood_objects(scene)["a"]
    assert not any(node.type == "TEX_IMAGE" for node in item.data.materials[0].node_tree.nodes)
    cherry = colour.lab_from_linear(colour.settled("#c79d83", "#a56a4f"))
    assert colour.difference(mean_lab(seen, 45, 35, 115, 85), cherry) < 25


def test_a_photo_that_comes_back_is_shown(photo, see, tmp_path):
    (tmp_path / "plank.png").rename(tmp_path / "away.png")
    see(design())
    (tmp_path / "away.png").rename(tmp_path / "plank.png")
    bpy.ops.grainstack.reload_design()
    item = scenes.wood_objects(bpy.context.scene)["a"]
    assert any(node.type == "TEX_IMAGE" for node in item.data.materials[0].node_tree.nodes)


def test_a_changed_photo_is_shown_anew(photo, see, tmp_path):
    see(design())
    Image.new("RGB", (400, 300), (60, 60, 160)).save(tmp_path / "plank.png")
    seen = see(design())
    assert colour.difference(mean_lab(seen, 45, 35, 115, 85), lab_of((60, 60, 160))) < 1.5


def test_an_own_wood_shows_its_own_colour(see):
    document = design(wood="plum")
    document["woods"] = [{"name": "plum", "looks_like": "pear",
                          "colours": {"cut": "#9a5a78", "settled": "#804858", "aged": "#703828"}}]  # fmt: skip
    seen = see(document)
    assert colour.difference(mean_lab(seen, 42, 32, 118, 88), colour.lab_from_hex("#804858")) < 4


def test_stripes_are_seen_where_they_lie(see):
    """Ebony and holly in turn, 20 mm each, an ebony one in the middle: its edges at 50 and 70 mm."""
    stripes = [{"wood": "ebony", "width": 20}, {"wood": "holly", "width": 20}]
    seen = see(design(wood="holly", blank={"stripes": stripes}))
    lightness = [mean_lab(seen, 60, y, 100, y + 8)[0] for y in (34, 56, 78)]
    assert lightness[1] < 45 < min(lightness[0], lightness[2])
    item = scenes.wood_objects(bpy.context.scene)["a"]
    assert [material.name.split()[1] for material in item.data.materials] == ["African", "American", "glue"]


def test_a_glued_up_insert_is_one_closed_solid_in_solids(photo, see):
    see(design(wood="holly", blank={"stripes": [{"wood": "ebony", "width": 9}, {"wood": "holly", "width": 5}]}))
    opened = views.design_of(bpy.context.scene)
    (solid,) = [each for each in opened.solids("raw") if each.kind == "insert"]
    assert solid.wood == "holly"
    ends = np.sort(solid.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    assert set(np.unique(ends, axis=0, return_counts=True)[1].tolist()) == {2}


def test_all_of_it_is_saved_as_it_was_said(addon, photo, save, tmp_path):
    document = design(cut="quarter", board=4, board_turn=180, board_mirror=True)
    document["pieces"].append(document["pieces"][0] | {"id": "b", "blank": {"shift": 1.5, "stripes": [
        {"wood": "ebony", "width": 9}, {"wood": "holly", "width": 5.25}]}})  # fmt: skip
    document["panel"] = {"width": WIDTH, "height": HEIGHT, "thickness": 19, "strips": [
        {"width": 60, "wood": "plank", "cut": "rift", "board": 2},
        {"width": 100, "segments": [{"length": 50, "wood": "ash", "board": 1}, {"length": 70, "wood": "ash"}]},
    ]}  # fmt: skip
    path = tmp_path / "kept.panel.json"
    path.write_text(design_text(document), encoding="utf-8")
    before = path.read_bytes()
    bpy.ops.grainstack.open_design(filepath=str(path))
    bpy.ops.grainstack.save_design()
    assert path.read_bytes() == before
    assert json.loads(before)["woods"]


def test_glue_is_seen_in_the_gap_in_its_colour_in_finished_views_alone(photo, see):
    """A gap of 1 mm round the insert, filled with white glue in dark wood; in the exploded view there is none."""
    document = design(wood="wenge", side_clearance=1.0)
    document["panel"]["wood"] = "wenge"
    document["workshop"] = {"glue_colour": "#f4f0e6"}
    seen = see(document)
    assert mean_lab(seen, 60, 30, 100, 31)[0] > 70
    assert mean_lab(seen, 60, 32, 100, 34)[0] < 45
    scene = bpy.context.scene
    assert not scenes.glue_object(scene).hide_render
    scene.grainstack.view = "exploded"
    assert scenes.glue_object(scene).hide_render
    scene.grainstack.shows_glue = False
    assert scenes.glue_object(scene) is None
    scene.grainstack.view = "finished"
    scene.grainstack.shows_glue = True
    assert len(scenes.glue_object(scene).data.polygons) > 8
    assert scene.grainstack.trouble == ""


def test_a_blend_that_is_opened_where_the_photo_is_gone_shows_the_species(photo, save, addon, tmp_path):
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "boards.blend"))
    bpy.ops.grainstack.open_design(filepath=str(save(design(), "boards")))
    (image,) = [each for each in bpy.data.images if each.source == "FILE"]
    assert image.filepath == "//plank.png"
    bpy.ops.wm.save_mainfile()
    (tmp_path / "plank.png").unlink()
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "boards.blend"))
    assert live.catch_up()
    scene = bpy.context.scene
    item = scenes.wood_objects(scene)["a"]
    assert not any(node.type == "TEX_IMAGE" for node in item.data.materials[0].node_tree.nodes)
    assert any("plank.png" in finding.text for finding in scene.grainstack.findings)
