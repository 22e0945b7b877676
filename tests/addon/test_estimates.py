"""The time that a picture is said to take, what is remembered of it, and what it is counted in."""

import json

import pytest
from grainstack.blender_addon import memory
from grainstack.blender_addon.pictures import estimates
from grainstack.blender_addon.pictures.estimates import Render, Work, estimate
from grainstack.blender_addon.studio import picture_choices, studio

WORK = Work("pond", "finished", 1.6, 10, True)


def took(seconds: float, work: Work = WORK, device: str = "CPU") -> Render:
    return Render(device, seconds, work)


def test_before_the_first_picture_nothing_is_claimed():
    assert estimate(WORK, []) is None
    assert estimate(WORK, [took(20)], device="OPTIX") is None


def test_the_same_picture_is_said_to_take_what_it_took():
    found = estimate(WORK, [took(20)])
    assert found.seconds == pytest.approx(20)
    assert found.alike


def test_more_pixels_and_more_samples_take_longer_in_proportion_to_the_work():
    four_times = Work("pond", "finished", 6.4, 10, True)
    assert 3 * 20 < estimate(four_times, [took(20)]).seconds <= 4 * 20
    best = Work("pond", "finished", 1.6, 60, True)
    assert 2 * 20 < estimate(best, [took(20)]).seconds < 6 * 20  # denoising takes no longer


def test_the_nearest_picture_tells_and_the_latest_of_equals():
    small, large = Work("pond", "finished", 0.4, 10, True), Work("pond", "finished", 8.3, 10, True)
    renders = [took(900, large), took(3, small), took(6, small)]
    assert estimate(Work("pond", "finished", 0.5, 10, True), renders).seconds < 10
    assert estimate(large, renders).seconds == pytest.approx(900)
    assert estimate(small, renders).seconds == pytest.approx(6)


def test_a_picture_of_quite_another_size_tells_only_roughly():
    tiny = Work("pond", "finished", 0.01, 1, True)
    assert not estimate(WORK, [took(1, tiny)]).alike
    assert estimate(WORK, [took(1, tiny), took(20)]).alike


def test_other_views_tell_only_where_this_one_is_unknown():
    other = Work("pond", "proud", 1.6, 10, True)
    found = estimate(WORK, [took(50, other)])
    assert (found.seconds, found.alike) == (pytest.approx(50), False)
    assert estimate(WORK, [took(50, other), took(20)]).seconds == pytest.approx(20)


def test_other_designs_tell_only_where_this_one_is_unknown():
    other = Work("coaster", "finished", 1.6, 10, True)
    found = estimate(WORK, [took(5, other), took(50, Work("pond", "proud", 1.6, 10, True))])
    assert (found.seconds, found.alike) == (pytest.approx(5), False)
    assert estimate(WORK, [took(20), took(5, other)]).seconds == pytest.approx(20)


def test_each_device_has_its_own_times_and_the_last_used_is_meant():
    renders = [took(100), took(5, device="OPTIX card")]
    assert estimate(WORK, renders).seconds == pytest.approx(5)
    assert estimate(WORK, renders, device="CPU").seconds == pytest.approx(100)


def test_what_was_learnt_outlives_the_session():
    estimates.learn(took(20))
    memory.forget_all()
    assert estimates.learnt() == [took(20)]


def test_only_the_latest_are_kept():
    for number in range(estimates.MOST_KEPT + 5):
        estimates.learn(took(float(number + 1)))
    assert len(estimates.learnt()) == estimates.MOST_KEPT
    assert estimates.learnt()[-1].seconds == estimates.MOST_KEPT + 5


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[1]",
        '{"renders": 7}',
        '{"renders": [{"device": "CPU"}, 3]}',
        json.dumps({"renders": [{"device": "CPU", "seconds": -1.0, **vars(WORK)}]}),
    ],
)
def test_a_spoilt_memory_counts_as_empty(remembered, text):
    (remembered / memory.FILE).write_text(text)
    assert estimates.learnt() == []
    estimates.learn(took(20))
    memory.forget_all()
    assert estimates.learnt() == [took(20)]


def test_a_memory_that_cannot_be_written_still_serves_the_session(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setattr(memory, "folder", lambda: tmp_path / "file" / "folder")
    estimates.learn(took(20))
    assert estimates.learnt() == [took(20)]


def test_memory_is_one_readable_file(remembered):
    memory.remember("folder", "/pictures")
    assert json.loads((remembered / memory.FILE).read_text()) == {"folder": "/pictures"}
    assert [path.name for path in remembered.iterdir()] == [memory.FILE]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.2, "1 s"), (4.4, "4 s"), (43, "45 s"), (58, "1 min"), (170, "3 min"), (3500, "1 h"), (9000, "2.5 h")],
)
def test_times_are_told_as_people_say_them(seconds, words):
    assert estimates.in_words(seconds) == words


def test_good_is_the_views_own_number_of_samples_and_draft_at_least_one():
    for name, setting in studio.SETTINGS.items():
        assert studio.samples_of(name, "good") == setting.samples
        assert 1 <= studio.samples_of(name, "draft") < setting.samples < studio.samples_of(name, "best")
    assert picture_choices.samples(1, "draft") == 1
