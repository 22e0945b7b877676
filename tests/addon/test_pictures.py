"""Pictures from the sidebar's button and from the command line."""

import subprocess
import sys
from pathlib import Path

import bpy
import grainstack
import pytest
from grainstack import headless

SMALL = ["--size", "96x60", "--samples", "1"]


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
def test_a_picture_of_a_batch_has_only_its_pieces(coaster, save, tmp_path, monkeypatch):
    seen = []
    monkeypatch.setattr(
        headless.render,
        "render_picture",
        lambda scene, path, progress: seen.append({o.grainstack.id for o in scene.objects}) or path,
    )
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
        ({}, ["--batch", "3"], "1 to 2"),
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
    command = [sys.executable, "-m", "grainstack.headless", "render", str(save(coaster))]
    options = ["--view", "finished", "--out", str(tmp_path), *SMALL]
    done = subprocess.run([*command, *options], cwd=stage, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout == f"{tmp_path / 'coaster-finished.png'}\n"
    assert "Traceback" not in done.stderr
