"""Films: what moves, what is written, and that nothing of them stays in the scene."""

from dataclasses import replace

import bpy
import pytest
from grainstack.blender_addon.entry import headless
from grainstack.blender_addon.pictures import film, render
from grainstack.blender_addon.pictures.film import Track
from grainstack.blender_addon.studio import hanging, sheet
from grainstack.blender_addon.views import views

from .test_rendering import names, output


@pytest.fixture
def short(opened, tmp_path, monkeypatch):
    """The coaster, tiny, and an assembly of four frames."""
    settings = opened.grainstack
    settings.picture_width, settings.picture_height, settings.folder = 65, 41, str(tmp_path / "films")
    long = film.FILMS["assembly"]
    monkeypatch.setitem(film.FILMS, "assembly", replace(long, seconds=4 / film.FPS))
    opened.cycles.samples = 1
    return opened


def state(scene) -> tuple:
    """All that a film might leave in the scene."""
    marks = [(item.name, item.hide_render) for item in scene.objects]
    animated = [action.name for action in bpy.data.actions], scene.animation_data and scene.animation_data.action
    return (*output(scene), scene.grainstack.explosion, marks, animated)


def clip(path) -> tuple:
    """Size, frames and rate of a film, as Blender reads it."""
    read = bpy.data.movieclips.load(str(path))
    facts = (*read.size, read.frame_duration, round(read.fps))
    bpy.data.movieclips.remove(read)
    return facts


def test_a_film_is_written_and_nothing_of_it_stays_in_the_scene(short, tmp_path):
    short.grainstack.view = "exploded"
    short.grainstack.explosion = 0.25
    before = state(short)
    assert bpy.ops.grainstack.render_film() == {"FINISHED"}
    assert names(tmp_path / "films") == ["coaster-assembly.mp4"]
    assert clip(tmp_path / "films" / "coaster-assembly.mp4") == (64, 40, 4, 24)  # the codec wants even sizes
    assert state(short) == before


def test_names_that_mean_something_to_blender_stand_as_they_are(short, tmp_path):
    short.grainstack.folder = str(tmp_path / "no #1 {x}")
    bpy.ops.grainstack.render_film()
    assert names(tmp_path / "no #1 {x}") == ["coaster-assembly.mp4"]
    assert clip(tmp_path / "no #1 {x}" / "coaster-assembly.mp4")[2] == 4


def test_the_film_shows_its_own_view(short):
    assert short.grainstack.shown == "finished"
    bpy.ops.grainstack.render_film()
    assert short.grainstack.shown == "exploded"


def test_the_inserts_come_down_batch_by_batch_with_their_numbers(short, tmp_path):
    short.grainstack.view, short.grainstack.unfolding = "exploded", "batches"
    opened = views.design_of(short)
    first, last = (
        opened.stack.pieces[batch[0]].piece.id for batch in (opened.stack.batches[0], opened.stack.batches[-1])
    )
    inserts = {item.grainstack.id: item for item in short.objects if item.grainstack.kind == "insert"}
    heights, hidden = {first: [], last: []}, []
    with film.rolling(short, film.FILMS["assembly"], opened, tmp_path / "film.mp4"):
        for frame in range(short.frame_start, short.frame_end + 1):
            short.frame_set(frame)
            graph = bpy.context.evaluated_depsgraph_get()
            for name, seen in heights.items():
                seen.append(inserts[name].evaluated_get(graph).matrix_world.translation.z)
            hidden.append({bool(item[sheet.LAYER]) for item in sheet.sheets_of(short) if item.hide_render})
    assert hidden == [set(), set(), set(), {True}]  # the list stays, numbers leave the finished panel free
    assert {"Batch 1", "Batch 2"} <= set(sheet.words_on(short))
    for seen in heights.values():
        assert len(seen) == 4
        assert seen == sorted(seen, reverse=True)
        assert seen[0] > 0.02
        assert seen[-1] == pytest.approx(0, abs=1e-6)
    down = {name: seen[1] / seen[0] for name, seen in heights.items()}
    assert down[first] < down[last] == pytest.approx(1)


def test_the_film_goes_batch_by_batch_whatever_the_maker_chose_and_leaves_the_choice(short, monkeypatch):
    short.grainstack.view, short.grainstack.unfolding = "exploded", "pieces"
    during = []
    real = render.render

    def noted(scene, take, *more):
        during.append(scene.grainstack.unfolding)
        return real(scene, take, *more)

    monkeypatch.setattr(render, "render", noted)
    bpy.ops.grainstack.render_film()
    assert during == ["batches"]
    assert short.grainstack.unfolding == "pieces"
    assert short.grainstack.shown == "exploded"


def test_what_the_maker_animated_comes_back(short):
    short.grainstack.view = "exploded"
    short.grainstack.explosion = 0.5
    short.keyframe_insert("grainstack.explosion", frame=7)
    mine = short.animation_data.action
    bpy.ops.grainstack.render_film()
    assert short.animation_data.action == mine
    assert list(bpy.data.actions) == [mine]
    short.frame_set(7)
    assert short.grainstack.explosion == pytest.approx(0.5)


def test_a_film_that_is_stopped_leaves_neither_file_nor_keyframes(short, tmp_path, monkeypatch):
    short.grainstack.view = "exploded"
    before = state(short)

    def stopped(**_):
        raise KeyboardInterrupt

    monkeypatch.setattr(render, "_blender_renders", stopped)
    take = render.Take(
        tmp_path / "films" / "coaster-assembly.mp4", views.design_of(short), "exploded", film.FILMS["assembly"]
    )
    with pytest.raises(KeyboardInterrupt):
        render.render(short, take)
    assert state(short) == before
    assert not (tmp_path / "films").exists()


def test_a_track_may_move_one_number_of_a_vector(opened):
    item = next(item for item in opened.objects if item.type == "LIGHT")
    before = tuple(item.location)
    track = Track(item, "location", lambda moment: 1 + moment, index=0)
    with film._keyed(track, 11):
        opened.frame_set(6)
        assert item.location[0] == pytest.approx(1.5)
        assert item.location[1] == pytest.approx(before[1])
    assert tuple(item.location) == before
    assert item.animation_data is None


def test_light_sweeps_across_the_framed_panel_and_the_lights_are_as_before(short, tmp_path, monkeypatch):
    settings = short.grainstack
    settings.view, settings.film = "listing", "light"
    light = film.FILMS["light"]
    assert light.frames == 72
    lights = hanging.sweep_of(short)
    window, start = lights.window.data.energy, lights.lamp.location.x
    seen = []
    brief = replace(light, seconds=5 / film.FPS)
    with film.rolling(short, brief, views.design_of(short), tmp_path / "light.mp4"):
        for frame in range(1, 6):
            short.frame_set(frame)
            seen.append((lights.lamp.location.x, lights.lamp.data.energy, lights.window.data.energy))
    places, strips, windows = zip(*seen, strict=True)
    assert list(places) == sorted(places)
    assert places[0] == pytest.approx(start)
    assert places[-1] - start == pytest.approx(lights.reach, rel=1e-5)
    assert strips[0] == pytest.approx(0, abs=1e-6) == strips[-1]
    assert strips[2] == pytest.approx(lights.power)
    assert windows[2] == pytest.approx(hanging.DIMMED * window)
    after = (lights.window.data.energy, lights.lamp.data.energy, lights.lamp.location.x)
    assert after == pytest.approx((window, 0.0, start))


def test_motion_starts_and_stops_gently():
    assert [film.eased(share) for share in (-1, 0, 0.5, 1, 2)] == [0, 0, 0.5, 1, 1]
    assert film.eased(0.1) < 0.1 < 0.9 < film.eased(0.9)


@pytest.mark.usefixtures("short")
def test_the_command_renders_a_film_and_prints_its_path(coaster, save, tmp_path, capfd):
    path = str(save(coaster))
    options = ["--out", str(tmp_path / "out"), "--size", "64x40", "--samples", "1"]
    assert headless.main(["render", path, "--film", "assembly", *options]) == 0
    printed = capfd.readouterr()
    assert printed.out.splitlines()[-1] == str(tmp_path / "out" / "coaster-assembly.mp4")
    assert "assembly: rendered in" in printed.err
    assert names(tmp_path / "out") == ["coaster-assembly.mp4"]
