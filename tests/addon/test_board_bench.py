"""The maker's own woods and boards on the bench: buttons, fields, undo, and what is refused."""

import bpy
import pytest
from grainstack.blender_addon.scene import objects as scenes
from PIL import Image

from .bench import document, entry, piece, rest, scene, select, step


@pytest.fixture
def photo(tmp_path):
    """A photo of 600 x 400 pixels that lies elsewhere."""
    folder = tmp_path / "camera"
    folder.mkdir()
    Image.new("RGB", (600, 400), (150, 104, 66)).save(folder / "plum-3.png")
    return folder / "plum-3.png"


@pytest.fixture
def saved(bench, tmp_path):
    """The bench with a leaf on it, saved: its photos have a folder."""
    bpy.ops.grainstack.add_piece(shape="leaf")
    (tmp_path / "design").mkdir()
    bpy.ops.grainstack.save_design_as(filepath=str(tmp_path / "design" / "bench.panel.json"))
    step("saved")
    return tmp_path / "design"


def add_board(photo, **values):
    return bpy.ops.grainstack.add_board("EXEC_DEFAULT", True, filepath=str(photo), mm_per_pixel=0.5, **values)


def wood():
    return scene().grainstack.woods[scene().grainstack.active_wood]


def materials(name):
    return [material.name for material in scenes.wood_objects(scene())[name].data.materials]


def test_a_photo_from_elsewhere_is_copied_beside_the_design_and_becomes_a_wood(saved, photo):
    assert add_board(photo, species="pear") == {"FINISHED"}
    assert document()["woods"] == [
        {"name": "plum 3", "photo": "boards/plum-3.png", "species": "pear", "mm_per_pixel": 0.5}
    ]
    assert (saved / "boards" / "plum-3.png").read_bytes() == photo.read_bytes()
    piece("leaf").grainstack.wood = "plum 3"
    rest()
    assert materials("leaf")[0].startswith("Grainstack plum 3 ")
    assert scene().grainstack.trouble == ""


def test_a_photo_beside_the_design_is_named_from_there(saved, photo):
    (saved / "deep").mkdir()
    photo.rename(saved / "deep" / "a.png")
    add_board(saved / "deep" / "a.png")
    assert document()["woods"][0]["photo"] == "deep/a.png"


def test_what_is_no_photo_is_refused_and_nothing_is_changed(saved, tmp_path):
    (saved / "a.png").write_bytes(b"none")
    before = document()
    for file in (saved / "a.png", saved / "gone.png"):
        with pytest.raises(RuntimeError, match=r"picture|no such photo"):
            add_board(file)
    assert document() == before


def test_an_unsaved_design_says_why_it_takes_no_photo(bench):
    assert not bpy.ops.grainstack.add_board.poll()


def test_scale_grain_card_and_species_have_fields(saved, photo):
    add_board(photo)
    wood().mm_per_pixel = 0.25
    wood().grain = 0.1
    wood().like = "cherry"
    wood().has_card = True
    wood().card = (30, 40)
    wood().reflectance = 0.18
    made = document()["woods"][0]
    assert (made["mm_per_pixel"], made["species"], made["grey"]) == (0.25, "cherry", [30, 40])
    assert made["grey_reflectance"] == pytest.approx(0.18)
    assert made["grain"] == pytest.approx(5.72958, abs=1e-4)
    assert tuple(wood().card) == (30, 40)
    wood().has_card = False
    assert "grey" not in document()["woods"][0]


def test_a_board_is_measured_by_two_points(saved, photo):
    """From (0, 0) to (300, 400) are 500 pixels: 100 mm make 0.2 mm a pixel."""
    add_board(photo)
    bpy.ops.grainstack.measure_board("EXEC_DEFAULT", True, start=(0, 0), end=(300, 400), length=0.1)
    assert document()["woods"][0]["measured"] == {"from": [0, 0], "to": [300, 400], "mm": 100}
    assert wood().mm_per_pixel == pytest.approx(0.2)
    with pytest.raises(RuntimeError, match="both points are the same"):
        bpy.ops.grainstack.measure_board("EXEC_DEFAULT", True, start=(5, 5), end=(5, 5), length=0.1)


@pytest.mark.parametrize("inside", [True, False])
def test_an_upright_photo_from_a_phone_is_used_as_a_turned_copy(saved, tmp_path, inside):
    """Its pixels lie on their side; a mark (tag 274 of EXIF 2.3, MEMORY) says that it is shown turned."""
    photo = (saved if inside else tmp_path) / "phone.jpg"
    mark = Image.Exif()
    mark[274] = 6
    Image.new("RGB", (600, 400), (150, 100, 60)).save(photo, exif=mark)
    assert add_board(photo, species="pear") == {"FINISHED"}
    name = document()["woods"][0]["photo"]
    assert name == ("phone-upright.jpg" if inside else "boards/phone-upright.jpg")
    with Image.open(saved / name) as copy:
        assert copy.size == (400, 600)
    assert scene().grainstack.trouble == ""


def test_a_wood_of_its_own_has_colours_and_figures(bench):
    bpy.ops.grainstack.add_wood("EXEC_DEFAULT", True, name="Quince", looks_like="pear")
    wood().colour_cut = (0.5, 0.25, 0.125)
    wood().density = 720
    wood().shrinkage_radial = 4.5
    made = document()["woods"][0]
    assert made["colours"]["cut"] == "#804020"
    assert made["colours"]["aged"].startswith("#")
    assert (made["density"], made["shrinkage_radial"]) == (720, 4.5)
    assert scene().grainstack.trouble == ""


def test_renaming_and_removing_a_wood_takes_all_that_is_of_it_along(bench):
    bpy.ops.grainstack.add_wood("EXEC_DEFAULT", True, name="Quince", looks_like="pear")
    bpy.ops.grainstack.add_piece(shape="leaf", wood="quince")
    scene().grainstack.strips[1].wood = "Quince"
    wood().name_wood = "Old Quince"
    assert entry("leaf")["wood"] == document()["panel"]["strips"][1]["wood"] == "Old Quince"
    assert document()["woods"][0]["name"] == "Old Quince"
    step("renamed")
    bpy.ops.grainstack.remove_wood("EXEC_DEFAULT", True)
    assert entry("leaf")["wood"] == document()["panel"]["strips"][1]["wood"] == "pear"
    assert "woods" not in document()
    assert len(scene().grainstack.woods) == 0
    bpy.ops.ed.undo()
    assert entry("leaf")["wood"] == "Old Quince"
    assert len(scene().grainstack.woods) == 1


def test_two_woods_cannot_have_one_name(bench):
    for _ in range(2):
        bpy.ops.grainstack.add_wood("EXEC_DEFAULT", True, name="Quince", looks_like="pear")
    assert [each["name"] for each in document()["woods"]] == ["Quince", "Quince 2"]
    wood().name_wood = "quince"
    assert "another wood has that name" in scene().grainstack.trouble
    assert [each["name"] for each in document()["woods"]] == ["Quince", "Quince 2"]


def test_a_piece_has_a_cut_a_board_and_a_place_on_it(bench):
    bpy.ops.grainstack.add_piece(shape="leaf")
    mark = piece("leaf").grainstack
    mark.cut, mark.board, mark.board_mirror = "quarter", 3, True
    mark.own_board_at = True
    mark.board_at = (0.012, -0.0035)
    mark.board_turn = 3.14159265
    made = entry("leaf")
    assert (made["cut"], made["board"], made["board_mirror"], made["board_at"]) == ("quarter", 3, True, [12, -3.5])
    assert made["board_turn"] == pytest.approx(180, abs=1e-4)
    mark.cut, mark.board, mark.board_mirror, mark.own_board_at, mark.board_turn = "any", 0, False, False, 0
    assert not {"cut", "board", "board_mirror", "board_at", "board_turn"} & set(entry("leaf"))


def test_strips_and_segments_have_a_cut_and_a_board(bench):
    settings = scene().grainstack
    settings.strips[0].cut, settings.strips[0].board = "rift", 7
    strip = document()["panel"]["strips"][0]
    assert (strip["cut"], strip["board"]) == ("rift", 7)
    settings.strips[0].wood = "koa"
    assert document()["panel"]["strips"][0]["board"] == 7
    settings.active_strip = 1
    bpy.ops.grainstack.split_strip(count=2)
    settings.strips[1].segments[1].board = 4
    assert [segment.get("board") for segment in document()["panel"]["strips"][1]["segments"]] == [None, 4]
    assert settings.trouble == ""


def test_a_blank_is_glued_up_and_undone(bench):
    bpy.ops.grainstack.add_piece(shape="leaf", wood="holly")
    select("leaf")
    step("leaf")
    bpy.ops.grainstack.glue_blank(
        "EXEC_DEFAULT", True, wood="holly", width=0.01, second_wood="wenge", second_width=0.003
    )
    assert entry("leaf")["blank"] == {"stripes": [{"wood": "holly", "width": 10}, {"wood": "wenge", "width": 3}]}
    assert len(materials("leaf")) == 3
    assert piece("leaf").grainstack.stripes == 2
    bpy.ops.ed.undo()
    assert len(materials("leaf")) == 1
    bpy.ops.ed.redo()
    assert len(materials("leaf")) == 3
    bpy.ops.grainstack.plain_blank("EXEC_DEFAULT", True)
    assert "blank" not in entry("leaf")
    assert len(materials("leaf")) == 1


def test_leaves_show_at_once(bench):
    bpy.ops.grainstack.add_piece(shape="leaf", wood="holly")
    piece("leaf").grainstack.leaves = 2
    rest()
    assert materials("leaf")[1].startswith("Grainstack glue")
    assert scene().grainstack.trouble == ""
