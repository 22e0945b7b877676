"""Nothing half-made is left, nothing is overwritten unasked, and everything is as before afterwards."""

import os
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import bpy
import pytest
from grainstack.blender_addon import memory
from grainstack.blender_addon.pictures import devices, estimates, film, picture_operators, render
from grainstack.blender_addon.views import views
from grainstack.core.errors import UnusableInput

from .bench import document, rest, scene, step
from .test_panels import Layout


@pytest.fixture
def small(opened, tmp_path):
    """The coaster, set to a tiny picture in a folder that is not there yet."""
    settings = opened.grainstack
    settings.picture_width, settings.picture_height, settings.folder = 64, 40, str(tmp_path / "pictures")
    opened.cycles.samples = 1
    return opened


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def output(scene) -> tuple:
    """All that says where and how the scene renders."""
    render, cycles = scene.render, scene.cycles
    keys = ("filepath", "use_file_extension", "resolution_x", "resolution_y", "fps", "use_lock_interface")
    image = (render.image_settings.file_format, render.image_settings.color_mode)
    frames = (scene.frame_start, scene.frame_end, scene.frame_step, scene.frame_current)
    device = (cycles.device, cycles.denoising_use_gpu, cycles.samples)
    return (*(getattr(render, key) for key in keys), *image, *frames, *device)


# --- Files ------------------------------------------------------------------------------------------------


def test_a_file_takes_its_name_only_when_it_is_complete(tmp_path):
    path = tmp_path / "new" / "folder" / "picture.png"
    with render.unfinished(path) as part:
        assert part.exists()
        assert not path.exists()
        assert part.parent == path.parent
        assert part.suffix == ".png"
        part.write_text("picture")
    assert path.read_text() == "picture"
    assert names(path.parent) == ["picture.png"]


def stop_halfway(path: Path, reason: BaseException) -> None:
    with render.unfinished(path) as part:
        part.write_text("half a pic")
        raise reason


@pytest.mark.parametrize("reason", [render.Stopped(), UnusableInput("", "", "no", "yes"), KeyboardInterrupt()])
def test_what_is_stopped_leaves_neither_file_nor_folder(tmp_path, reason):
    with pytest.raises(type(reason)):
        stop_halfway(tmp_path / "new" / "folder" / "picture.png", reason)
    assert names(tmp_path) == []


def test_what_is_stopped_leaves_the_older_file_alone(tmp_path):
    path = tmp_path / "picture.png"
    path.write_text("older")
    with pytest.raises(render.Stopped):
        stop_halfway(path, render.Stopped())
    assert path.read_text() == "older"
    assert names(tmp_path) == ["picture.png"]


def test_a_folder_that_cannot_be_written_to_is_told_before_anything_is_rendered(tmp_path, monkeypatch):
    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "touch", refuse)
    with pytest.raises(UnusableInput, match=r"picture.png: it cannot be written \(Permission denied\)"):
        stop_halfway(tmp_path / "picture.png", AssertionError("rendered for nothing"))
    assert names(tmp_path) == []


def test_the_next_free_name_is_numbered(tmp_path):
    path = tmp_path / "pond-finished.png"
    assert render.free_path(path) == path
    path.touch()
    assert render.free_path(path).name == "pond-finished-2.png"
    (tmp_path / "pond-finished-2.png").touch()
    assert render.free_path(path).name == "pond-finished-3.png"


# --- The button -------------------------------------------------------------------------------------------


def test_a_picture_is_saved_and_everything_is_as_before(small, tmp_path):
    before, actions = output(small), len(bpy.data.actions)
    assert bpy.ops.grainstack.render_view() == {"FINISHED"}
    assert names(tmp_path / "pictures") == ["coaster-finished.png"]
    assert output(small) == before
    assert len(bpy.data.actions) == actions


def test_a_picture_changes_nothing_that_undo_could_take_back(small):
    bpy.ops.ed.undo_push(message="before")
    before = document()
    bpy.ops.grainstack.render_view("EXEC_DEFAULT", True)
    assert document() == before
    assert small.grainstack.shown == "finished"
    bpy.ops.ed.undo_push(message="after")
    bpy.ops.ed.undo()
    assert document() == before


def test_what_is_there_already_is_kept_unless_asked_otherwise(small, tmp_path):
    folder = tmp_path / "pictures"
    folder.mkdir()
    mine = folder / "coaster-finished.png"
    mine.write_text("mine")
    bpy.ops.grainstack.render_view()
    assert mine.read_text() == "mine"
    assert names(folder) == ["coaster-finished-2.png", "coaster-finished.png"]
    bpy.ops.grainstack.render_view(existing="replace")
    assert mine.read_bytes()[:4] == b"\x89PNG"
    assert names(folder) == ["coaster-finished-2.png", "coaster-finished.png"]


def test_names_that_mean_something_to_blender_stand_as_they_are(small, tmp_path):
    small.grainstack.folder = str(tmp_path / "no #1 {x} %d")
    bpy.ops.grainstack.render_view()
    assert names(tmp_path / "no #1 {x} %d") == ["coaster-finished.png"]


@pytest.mark.skipif(os.name != "posix", reason="full devices are files only there")
def test_a_disk_that_is_full_is_told_and_leaves_nothing(small, tmp_path, monkeypatch):
    """The picture goes to a device that is always full."""
    (tmp_path / "pictures").mkdir()

    def to_full_disk(part, *_):
        Path("/dev/full").write_bytes(part.read_bytes())

    monkeypatch.setattr(render, "FINISHERS", [to_full_disk])
    with pytest.raises(RuntimeError, match="No space left on device"):
        bpy.ops.grainstack.render_view()
    assert names(tmp_path / "pictures") == []


def test_blender_that_cannot_write_is_told_and_leaves_nothing(small, tmp_path, monkeypatch):
    saved = render._save_picture
    monkeypatch.setattr(render, "_save_picture", lambda scene, path: saved(scene, path / "picture.png"))
    with pytest.raises(RuntimeError, match="cannot be written"):
        bpy.ops.grainstack.render_view()
    assert not (tmp_path / "pictures").exists()


def test_finishing_touches_see_the_complete_picture_before_it_has_its_name(small, tmp_path, monkeypatch):
    seen = []

    def touch(part, opened, view):
        seen.append((part.read_bytes()[:4], opened.title, view, (tmp_path / "pictures/coaster-finished.png").exists()))

    monkeypatch.setattr(render, "FINISHERS", [touch])
    bpy.ops.grainstack.render_view()
    assert seen == [(b"\x89PNG", "Coaster", "finished", False)]


def test_the_view_that_was_chosen_is_shown_first_in_a_step_of_its_own(small, tmp_path):
    step("before")
    small.grainstack.shown = ""  # as after a size that could not be framed
    bpy.ops.grainstack.render_view()
    assert scene().grainstack.shown == "finished"
    assert names(tmp_path / "pictures") == ["coaster-finished.png"]
    assert not views.marks_are_old(scene())


def test_without_a_design_the_button_is_grey(addon):
    assert not bpy.ops.grainstack.render_view.poll()
    assert not bpy.ops.grainstack.render_film.poll()


def test_while_blender_renders_the_button_is_grey(small, monkeypatch):
    monkeypatch.setattr(bpy, "app", _Rendering(bpy.app))
    assert not bpy.ops.grainstack.render_view.poll()


class _Rendering:
    """Blender's application while it renders."""

    def __init__(self, app) -> None:
        self._app = app

    def __getattr__(self, name):
        return getattr(self._app, name)

    def is_job_running(self, kind) -> bool:
        return kind == "RENDER"


def test_a_panel_never_saved_goes_to_the_folder_used_last_and_without_one_is_refused(bench, tmp_path):
    settings = bench.grainstack
    settings.picture_width, settings.picture_height = 64, 40
    bench.cycles.samples = 1
    with pytest.raises(RuntimeError, match="no folder to save in yet"):
        bpy.ops.grainstack.render_view()
    memory.remember("folder", str(tmp_path / "last"))
    memory.forget_all()
    bpy.ops.grainstack.render_view()
    assert names(tmp_path / "last") == ["untitled-finished.png"]


def test_the_folder_is_remembered_for_other_files(small, tmp_path):
    bpy.ops.grainstack.render_view()
    assert memory.recall("folder") == str(tmp_path / "pictures")


# --- While the window lives on: as far as it can be tried without one --------------------------------------


@pytest.fixture
def take(small, tmp_path):
    return render.Take(tmp_path / "new" / "picture.png", views.design_of(small), "finished")


def test_a_job_that_is_complete_has_its_file_and_everything_is_as_before(small, take, monkeypatch):
    monkeypatch.setattr(render, "_blender_renders", lambda *_, **options: bpy.ops.render.render(**options))
    before = output(small)
    job = render.Job(small, take)
    assert not job.is_running
    assert not take.path.exists()
    assert job.finish().path == take.path
    assert names(take.path.parent) == ["picture.png"]
    assert output(small) == before
    assert job._note_end not in bpy.app.handlers.render_complete


@pytest.mark.parametrize("rolled", [None, film.FILMS["assembly"]])
def test_a_job_that_is_stopped_leaves_nothing(small, take, monkeypatch, tmp_path, rolled):
    monkeypatch.setattr(render, "_blender_renders", lambda *_, **__: {"RUNNING_MODAL"})
    before, handlers = output(small), list(bpy.app.handlers.render_complete)
    job = render.Job(small, replace(take, film=rolled))
    assert take.path.parent.exists()
    assert output(small) != before or rolled is None
    with pytest.raises(render.Stopped):
        job.finish()
    assert not take.path.parent.exists()
    assert output(small) == before
    assert list(bpy.app.handlers.render_complete) == handlers
    assert not bpy.data.actions
    assert estimates.learnt() == []


@pytest.mark.parametrize("answer", [{"CANCELLED"}, RuntimeError("Error: Cannot render, no camera.")])
def test_a_job_that_blender_refuses_is_told_and_leaves_nothing(small, take, monkeypatch, answer):
    def refuse(*_, **__):
        if isinstance(answer, Exception):
            raise answer
        return answer

    monkeypatch.setattr(render, "_blender_renders", refuse)
    before = output(small)
    with pytest.raises(UnusableInput, match="cannot be rendered"):
        render.Job(small, take)
    assert not take.path.parent.exists()
    assert output(small) == before


# --- Sizes, quality, time ---------------------------------------------------------------------------------


def test_a_size_is_chosen_by_its_use_and_own_sizes_are_called_custom(opened):
    settings = opened.grainstack
    assert settings.picture_size == "screen"
    settings.picture_size = "square"
    assert (settings.picture_width, settings.picture_height) == (1600, 1600)
    assert settings.picture_size == "square"
    assert (opened.render.resolution_x, opened.render.resolution_y) == (1600, 1600)
    assert settings.shown == "finished"
    settings.picture_height = 900
    assert settings.picture_size == "custom"
    assert opened.render.resolution_y == 900
    settings.picture_size = "4k"
    assert (opened.render.resolution_x, opened.render.resolution_y) == (3840, 2160)


def test_a_quality_sets_the_samples_of_the_view_and_stays_with_the_next_view(opened):
    settings = opened.grainstack
    good = opened.cycles.samples
    settings.quality = "best"
    assert opened.cycles.samples == 6 * good
    settings.view = "overlap"
    flat = opened.cycles.samples
    settings.quality = "good"
    assert flat == 6 * opened.cycles.samples
    settings.view = "finished"  # as it was left, but for the quality
    assert opened.cycles.samples == good


def test_after_one_picture_another_one_takes_about_as_long_as_is_said(small):
    """Within a factor of three, though the machine may be busy: what was measured tells, not a number typed in."""
    small.grainstack.picture_width, small.grainstack.picture_height = 160, 100
    small.cycles.samples = 8
    bpy.ops.grainstack.render_view()  # the first one also loads the renderer
    bpy.ops.grainstack.render_view()
    small.grainstack.picture_width, small.grainstack.picture_height = 240, 150
    small.cycles.samples = 12
    said = estimates.estimate(render.work_of(small, "finished"), estimates.learnt()).seconds
    bpy.ops.grainstack.render_view()
    took = estimates.learnt()[-1].seconds
    assert took / 3 < said < 3 * took


# --- Devices ----------------------------------------------------------------------------------------------


@pytest.fixture
def failing_gpu(monkeypatch):
    """A GPU that Cycles offers, and that is out of memory whatever it is to render."""
    gpu = devices.Device("OPTIX", ("card",))
    monkeypatch.setattr(devices, "choose", lambda wish, _: devices.CPU if wish == "cpu" else gpu)
    monkeypatch.setattr(devices, "_turn_on", lambda *_: None)
    rendered = bpy.ops.render.render
    tried = []

    def render_now(*arguments, **options):
        tried.append(bpy.context.scene.cycles.device)
        if tried[-1] == "GPU":
            raise RuntimeError("Error: Out of memory in optix.")
        return rendered(*arguments, **options)

    monkeypatch.setattr(render, "_blender_renders", render_now)
    return tried


def test_a_gpu_that_fails_is_replaced_by_the_cpu_with_one_line(small, failing_gpu, tmp_path):
    told = []
    take = render.Take(tmp_path / "picture.png", views.design_of(small), "finished")
    done = render.render(small, take, told.append)
    assert failing_gpu == ["GPU", "CPU"]
    assert told == ["The GPU cannot render this, so the CPU does (Out of memory in optix)"]
    assert done.device.kind == "CPU"
    assert done.path.is_file()
    assert [known.device for known in estimates.learnt()] == ["CPU"]


def test_a_new_gpus_first_picture_teaches_nothing_about_time(small, failing_gpu, tmp_path, monkeypatch):
    monkeypatch.setattr(render, "_blender_renders", bpy.ops.render.render)  # Cycles falls back by itself here
    take = render.Take(tmp_path / "picture.png", views.design_of(small), "finished")
    render.render(small, take)
    assert estimates.learnt() == []
    render.render(small, take)
    assert [known.device for known in estimates.learnt()] == ["OPTIX card"]


def test_the_wood_is_up_to_date_after_a_picture(small):
    bpy.ops.grainstack.render_view()
    rest()
    assert scene().grainstack.trouble == ""


def test_the_question_about_an_existing_file_names_it(small):
    drawn, said = [], []
    layout = Layout(drawn)
    layout.__dict__["label"] = lambda *, text, **_: said.append(text)
    asked = SimpleNamespace(
        layout=layout,
        wanted_path=lambda _: Path("coaster-finished.png"),
        bl_rna=bpy.ops.grainstack.render_view.get_rna_type(),
        existing="keep",
    )
    picture_operators.GRAINSTACK_OT_render_view.draw(asked, bpy.context)
    assert said == ["coaster-finished.png is there already"]
    assert drawn == ["existing"]
