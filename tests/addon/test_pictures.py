"""Pictures from the sidebar's button and from the command line."""

import io
import subprocess
import sys
from pathlib import Path

import bpy
import grainstack
import numpy as np
import pytest
from bpy_extras.object_utils import world_to_camera_view
from grainstack.blender_addon.entry import command_line, headless
from grainstack.blender_addon.pictures import devices, render
from grainstack.blender_addon.studio import studio
from grainstack.blender_addon.views import overlap_view, views
from grainstack.core.woods import colour, finish
from grainstack.core.woods.species import find_wood
from mathutils import Vector

DONE = render.Done(Path("picture.png"), 1.0, devices.CPU)
SMALL = ["--size", "96x60", "--samples", "1"]
AS_BLENDERS_COMMAND = """
import os
import sys
from grainstack.blender_addon.entry import command_line
status = command_line.run(sys.argv[1:])
sys.stdout.flush()
os._exit(status)
"""


def size_of(path) -> tuple:
    image = bpy.data.images.load(str(path))
    size = tuple(image.size)
    bpy.data.images.remove(image)
    return size


def test_the_button_saves_the_view_and_restores_the_output(opened, tmp_path):
    settings = opened.grainstack
    settings.picture_width, settings.picture_height = 96, 60
    opened.cycles.samples = 1
    settings.folder = str(tmp_path / "new folder")
    opened.render.filepath = "/tmp/mine"
    bpy.ops.grainstack.render_view()
    assert size_of(tmp_path / "new folder" / "coaster-finished.png") == (96, 60)
    assert opened.render.filepath == "/tmp/mine"


PLACES = {"hard maple": (30, 48), "padauk": (80, 38), "black walnut": (12, 15), "cherry": (100, 12), "sapele": (80, 65)}
"""Where each wood of the coaster is seen, mm on the panel."""


def pixel(scene, path, point_mm) -> np.ndarray:
    """Encoded sRGB of the picture where a point of the panel's finished face is seen."""
    x, y, _ = world_to_camera_view(scene, scene.camera, Vector((*point_mm, -0.5)) / 1000)
    image = bpy.data.images.load(str(path))
    width, height = image.size
    pixels = np.array(image.pixels[:]).reshape(height, width, 4)
    bpy.data.images.remove(image)
    row, column = int(y * height), int(x * width)
    return pixels[row - 1 : row + 2, column - 1 : column + 2, :3].mean(axis=(0, 1))


def lab(srgb) -> np.ndarray:
    return colour.lab_from_linear(colour.linear_from_srgb(srgb))


def test_each_piece_is_seen_in_its_own_wood(opened, tmp_path):
    """The pixel where a piece lies is nearer to its wood's settled colour, oiled, than to any other's."""
    settings = opened.grainstack
    settings.picture_width, settings.picture_height, settings.folder = 240, 150, str(tmp_path)
    opened.cycles.samples = 8
    bpy.ops.grainstack.render_view()
    species = {wood: find_wood(wood) for wood in PLACES}
    table = {wood: lab_of(found) for wood, found in species.items()}
    for wood, place in PLACES.items():
        seen = lab(pixel(opened, tmp_path / "coaster-finished.png", place))
        assert min(table, key=lambda other: np.linalg.norm(table[other] - seen)) == wood, (wood, seen, table)


def lab_of(species) -> np.ndarray:
    bare = colour.settled(species.fresh_colour, species.aged_colour)
    return colour.lab_from_linear(finish.finished(bare, finish.FINISHES["oil"]))


def test_the_overlap_map_shows_exactly_the_colours_of_its_key(opened, tmp_path):
    settings = opened.grainstack
    settings.view = "overlap"
    settings.picture_width, settings.picture_height, settings.folder = 240, 150, str(tmp_path)
    bpy.ops.grainstack.render_view()
    words = {text: hex_colour for hex_colour, text in overlap_view.key(views.design_of(opened).regions)}
    assert set(words) == {"background", "1 layer, 6.00", "1 layer, 9.00", "2 layers, 9.00"}
    for text, place in {
        "background": (12, 15),
        "1 layer, 6.00": (30, 40),
        "1 layer, 9.00": (80, 38),
        "2 layers, 9.00": (54, 38),
    }.items():
        seen = pixel(opened, tmp_path / "coaster-overlap.png", place)
        assert seen == pytest.approx(colour.srgb_from_hex(words[text]), abs=1.5 / 255), text


def test_a_folder_that_cannot_be_made_is_refused_in_words(opened, tmp_path):
    (tmp_path / "file").write_text("")
    opened.grainstack.folder = str(tmp_path / "file" / "folder")
    with pytest.raises(RuntimeError, match="Choose another folder"):
        bpy.ops.grainstack.render_view()


@pytest.mark.usefixtures("empty_file")
def test_the_command_renders_each_view_and_prints_its_path(coaster, save, tmp_path, capfd):
    out = tmp_path / "out"
    command = ["render", str(save(coaster)), "--view", "finished,exploded", "--out", str(out), *SMALL]
    assert headless.main(command) == 0
    printed = capfd.readouterr().out.split()  # Blender's module talks between them in this process
    assert printed[-2:] == [str(out / "coaster-finished.png"), str(out / "coaster-exploded.png")]
    assert [size_of(path) for path in printed[-2:]] == [(96, 60), (96, 60)]


@pytest.mark.usefixtures("empty_file")
def test_a_listing_has_a_jpeg_beside_it(coaster, save, tmp_path, capfd):
    assert headless.main(["render", str(save(coaster)), "--view", "listing", "--out", str(tmp_path), *SMALL]) == 0
    assert capfd.readouterr().out.split()[-1] == str(tmp_path / "coaster-listing.png")
    assert [size_of(tmp_path / f"coaster-listing.{kind}") for kind in ("png", "jpg")] == [(96, 60), (96, 60)]


@pytest.mark.usefixtures("empty_file")
def test_a_picture_of_a_batch_has_only_its_pieces(coaster, save, tmp_path, monkeypatch):
    seen = []
    monkeypatch.setattr(
        headless.render,
        "render",
        lambda scene, take, *_: seen.append({o.grainstack.id for o in scene.objects}) or DONE,
    )
    coaster["pieces"][1]["pocket_depth"] = 15  # a finding with a remedy, about a piece that is not there yet
    path = str(save(coaster))
    assert headless.main(["render", path, "--view", "proud", "--batch", "1", "--out", str(tmp_path)]) == 0
    assert "moon" in seen[0]
    assert "bar" not in seen[0]


@pytest.mark.usefixtures("empty_file")
def test_a_command_leaves_no_scene_and_no_objects(coaster, save, tmp_path):
    before = ([s.name for s in bpy.data.scenes], len(bpy.data.objects), len(bpy.data.meshes))
    headless.main(["render", str(save(coaster)), "--view", "finished", "--out", str(tmp_path), *SMALL])
    assert ([s.name for s in bpy.data.scenes], len(bpy.data.objects), len(bpy.data.meshes)) == before


def unusable(design, save):
    return str(save(design))


@pytest.mark.parametrize(
    ("change", "options", "words"),
    [
        ({"title": 7}, [], "title"),
        ({}, ["--batch", "3"], "0 to 2"),
        ({}, ["--view", "sideways"], "sideways"),
        ({}, ["--size", "large"], "1600x1000"),
        ({}, ["--colour"], "--colour"),
    ],
)
def test_unusable_input_is_one_line_and_status_2(coaster, save, tmp_path, capfd, change, options, words):
    path = str(save({**coaster, **change}))
    assert headless.main(["render", path, "--view", "finished", "--out", str(tmp_path / "out"), *options]) == 2
    captured = capfd.readouterr()
    assert captured.out == ""
    assert len(captured.err.splitlines()) == 1
    assert words in captured.err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("wood", ["unobtainium"])
def test_a_piece_that_cannot_be_made_is_refused(coaster, save, tmp_path, capfd, wood):
    coaster["pieces"][0]["wood"] = wood
    assert headless.main(["render", str(save(coaster)), "--view", "finished", "--out", str(tmp_path)]) == 2
    assert wood in capfd.readouterr().err


@pytest.mark.usefixtures("empty_file")
def test_other_errors_are_rendered_and_told_by_status_1(coaster, save, tmp_path):
    coaster["pieces"][1]["pocket_depth"] = 30  # through the panel
    status = headless.main(["render", str(save(coaster)), "--view", "finished", "--out", str(tmp_path), *SMALL])
    assert status == 1
    assert (tmp_path / "coaster-finished.png").is_file()


def test_the_module_runs_as_a_program_with_a_clean_stdout(coaster, save, tmp_path):
    stage = Path(grainstack.__file__).parents[1]
    command = [sys.executable, "-m", "grainstack.blender_addon.entry.headless", "render", str(save(coaster))]
    options = ["--view", "finished", "--out", str(tmp_path), *SMALL]
    done = subprocess.run([*command, *options], cwd=stage, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout == f"{tmp_path / 'coaster-finished.png'}\n"
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("argv", [[], ["paint"]])
def test_blenders_command_names_all_of_ours(argv, capfd):
    assert command_line.run(argv) == 2
    assert capfd.readouterr().err.splitlines() == [
        "There is no such command. Write: blender --command grainstack check|solids|render|card|page DESIGN [options]"
    ]


def test_blenders_command_checks(coaster, save, capfd):
    assert command_line.run(["check", str(save(coaster)), "--json"]) == 0
    assert '"format": "grainstack-check/1"' in capfd.readouterr().out


@pytest.mark.parametrize("command", ["render", "card", "page"])
def test_help_is_printed_where_results_go(command):
    results = io.StringIO()
    assert headless.main([command, "--help"], results) == 0
    said = results.getvalue()
    assert f"usage: grainstack {command if command == 'render' else 'card|page'} DESIGN" in said
    assert all(option in said for option in ("--out DIR", "--size", "--quality", "--device"))


@pytest.mark.parametrize("how", [["-m", "grainstack.blender_addon.entry.headless"], ["-c", AS_BLENDERS_COMMAND]])
def test_help_reaches_the_terminal_past_blenders_own_chatter(how):
    """As `build.py render --help` and as `blender --command grainstack render --help` run it: a process of its own."""
    stage = Path(grainstack.__file__).parents[1]
    command = [sys.executable, *how, "render", "--help"]
    done = subprocess.run(command, cwd=stage, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    said = done.stdout[done.stdout.index("usage:") :] if how[0] == "-c" else done.stdout  # a new Blender talks first
    assert said.startswith("usage: grainstack render DESIGN --view ")


def test_the_command_in_blender_tells_what_it_takes(capsys):
    assert command_line.run(["--help"]) == 0
    assert capsys.readouterr().out.startswith(command_line.USAGE)


@pytest.mark.usefixtures("empty_file")
def test_size_quality_and_device_are_chosen_on_the_command_line(coaster, save, tmp_path, capfd, monkeypatch):
    seen = []

    def look(scene, take, *_):
        cycles = scene.cycles.samples
        seen.append((scene.render.resolution_x, scene.render.resolution_y, cycles, take.wish))
        return DONE

    monkeypatch.setattr(headless.render, "render", look)
    command = ["render", str(save(coaster)), "--view", "finished", "--out", str(tmp_path)]
    good = studio.SETTINGS["finished"].samples
    for options in (
        [],
        ["--size", "square", "--quality", "draft", "--device", "cpu"],
        ["--size", "320x200", "--quality", "best", "--samples", "7"],
    ):
        assert headless.main([*command, *options]) == 0
    assert seen == [
        (1600, 1000, good, "auto"),
        (1600, 1600, studio.samples_of("finished", "draft"), "cpu"),
        (320, 200, 7, "auto"),
    ]
    assert "finished: rendered in 1.0 s on CPU" in capfd.readouterr().err


@pytest.mark.usefixtures("empty_file")
def test_without_a_gpu_the_processor_renders_and_one_line_says_so(coaster, save, tmp_path, capfd):
    if devices.choose_now("gpu").is_gpu:
        pytest.skip("this machine has a GPU")
    command = ["render", str(save(coaster)), "--view", "finished", "--out", str(tmp_path), "--device", "gpu", *SMALL]
    assert headless.main(command) == 0
    told = [line for line in capfd.readouterr().err.splitlines() if "GPU" in line]
    assert told == ["finished: Cycles offers no GPU here, so the CPU renders"]


def test_a_command_that_names_neither_view_nor_film_is_refused(coaster, save, tmp_path, capfd):
    assert headless.main(["render", str(save(coaster)), "--out", str(tmp_path)]) == 2
    assert "Give --view or --film" in capfd.readouterr().err


@pytest.mark.usefixtures("empty_file")
def test_the_command_replaces_an_older_picture_once_the_new_one_is_complete(coaster, save, tmp_path):
    older = tmp_path / "coaster-finished.png"
    older.write_text("older")
    assert headless.main(["render", str(save(coaster)), "--view", "finished", "--out", str(tmp_path), *SMALL]) == 0
    assert size_of(older) == (96, 60)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["coaster-finished.png", "coaster.panel.json"]
