"""Faults of our own in Blender: operators report one line, the timer goes on, the sidebar tells."""

from pathlib import Path

import bpy
import pytest
from grainstack.blender_addon import guards
from grainstack.blender_addon.entry import registration
from grainstack.blender_addon.views import live, views
from grainstack.core import faults

from .bench import piece, rest, scene


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(faults, "folder", lambda: tmp_path / "faults")


def boom(*_, **__):
    raise ZeroDivisionError("no length")


def test_an_operator_reports_a_fault_in_one_line(bench, monkeypatch):
    monkeypatch.setattr(views, "show", boom)
    with pytest.raises(RuntimeError) as told:
        bpy.ops.grainstack.show_view("EXEC_DEFAULT", True)
    words = str(told.value).strip()
    assert "Refresh View: a fault of Grainstack's own, not of your design (ZeroDivisionError: no length)" in words
    assert "Traceback" not in words
    assert len(words.splitlines()) == 1


def test_every_operator_is_guarded_with_the_arguments_that_blender_counts():
    for cls in registration.CLASSES:
        if issubclass(cls, bpy.types.Operator):
            for name, count in (("execute", 2), ("invoke", 3), ("modal", 3)):
                method = getattr(cls, name, None)
                if hasattr(method, "__code__"):
                    assert method.guarded
                    assert method.__code__.co_argcount == count


def test_the_timer_tells_a_fault_once_and_follows_again_when_it_is_gone(bench, monkeypatch, capsys):
    bpy.ops.grainstack.add_piece("EXEC_DEFAULT", True, shape="leaf", size=0.08)
    rest()
    with monkeypatch.context() as broken:
        broken.setattr(views, "refill", boom)
        for x in (0.1, 0.11):
            piece("leaf").location.x = x
            live.schedule()
            assert live.catch_up() is True
        told = scene().grainstack.trouble
        assert "a fault of Grainstack's own" in told
        assert Path(told.split("Details are in ")[1].split("; please")[0]).is_file()
    assert capsys.readouterr().err.count("a fault of Grainstack's own") == 1
    piece("leaf").location.x = 0.12
    rest()
    assert scene().grainstack.trouble == ""


def test_a_timer_sleeps_after_a_fault(capsys):
    assert guards.timer("testing")(boom)() is None
    assert "testing: a fault of Grainstack's own" in capsys.readouterr().err
    assert guards.timer("testing")(lambda: 0.5)() == 0.5
