"""Which device renders: with stand-ins for machines that have GPUs, and really on this one."""

import os
from types import SimpleNamespace

import bpy
import pytest
from grainstack.blender_addon import memory
from grainstack.blender_addon.pictures import devices


class Preferences:
    """Stands in for those of Cycles, on a machine with these cards by kind."""

    def __init__(self, cards: dict[str, list[str]], chosen: str = "NONE", unused: tuple[str, ...] = ()) -> None:
        self.compute_device_type = chosen
        self.cards = {
            kind: [SimpleNamespace(name=name, type=kind, use=name not in unused) for name in names]
            for kind, names in cards.items()
        }

    def get_device_types(self, context):
        return [("NONE", "None", "", 0), *((kind, kind, "", 1) for kind in self.cards)]

    def get_devices_for_type(self, kind):
        processor = SimpleNamespace(name="processor", type="CPU", use=True)  # Cycles lists it too
        return [*self.cards[kind], processor] if self.cards[kind] else []


@pytest.mark.parametrize(
    ("cards", "kind"),
    [
        ({"CUDA": ["card"], "OPTIX": ["card"]}, "OPTIX"),
        ({"CUDA": ["card"], "OPTIX": []}, "CUDA"),
        ({"CUDA": [], "OPTIX": [], "HIP": ["card"]}, "HIP"),
        ({"METAL": ["card"]}, "METAL"),
        ({"ONEAPI": ["card"]}, "ONEAPI"),
    ],
)
def test_the_quickest_way_to_a_card_is_chosen(cards, kind):
    for wish in ("auto", "gpu"):
        found = devices.choose(wish, Preferences(cards))
        assert (found.kind, found.names) == (kind, ("card",))
        assert found.label == f"{kind} card"


def test_the_cpu_is_chosen_when_asked_for():
    assert devices.choose("cpu", Preferences({"OPTIX": ["card"]})) == devices.CPU


def test_without_a_card_the_cpu_renders_and_who_asked_for_one_is_told():
    none = Preferences({"CUDA": [], "OPTIX": []})
    assert devices.choose("auto", none) == devices.CPU
    told = devices.choose("gpu", none)
    assert told.kind == "CPU"
    assert "no GPU" in told.note


def test_what_the_user_has_chosen_in_the_preferences_stands():
    both = {"CUDA": ["card", "other"], "OPTIX": ["card", "other"]}
    found = devices.choose("auto", Preferences(both, chosen="CUDA", unused=("other",)))
    assert found.label == "CUDA card"
    assert devices.choose("auto", Preferences(both, chosen="CUDA", unused=("card", "other"))).kind == "CPU"


def test_a_new_card_is_told_to_take_its_time_once():
    machine = Preferences({"OPTIX": ["card"]})
    first = devices.choose("auto", machine)
    assert "ten minutes" in first.note
    assert "\n" not in first.note
    devices.was_used(first)
    memory.forget_all()
    second = devices.choose("auto", machine)
    assert second.note == ""
    assert not second.is_new


@pytest.fixture
def machine(monkeypatch, empty_file):
    """A machine with a card, as far as the preferences of Cycles say."""
    preferences = Preferences({"OPTIX": ["card", "other"]}, unused=("card", "other"))
    monkeypatch.setattr(devices, "_preferences", lambda: preferences)
    return preferences


def test_scene_and_preferences_are_as_before_afterwards(machine):
    cycles = bpy.context.scene.cycles
    before = cycles.denoising_use_gpu
    with devices.used(bpy.context.scene, "auto") as device:
        assert device.is_gpu
        assert (cycles.device, cycles.denoising_use_gpu) == ("GPU", True)
        assert machine.compute_device_type == "OPTIX"
        assert all(card.use for card in machine.cards["OPTIX"])
    assert (cycles.device, cycles.denoising_use_gpu, machine.compute_device_type) == ("CPU", before, "NONE")


def test_this_machine_has_an_answer_for_every_wish(empty_file):
    for wish in devices.WISHES:
        with devices.used(bpy.context.scene, wish) as device:
            assert device.kind in ("CPU", *devices.KINDS)
            assert (bpy.context.scene.cycles.device == "GPU") == device.is_gpu
    assert not devices.choose_now("cpu").is_gpu


def test_a_drivers_cache_is_kept_only_where_the_user_has_not_said_where(remembered, monkeypatch):
    monkeypatch.setenv("CUDA_CACHE_PATH", "/mine")
    for variable in ("OPTIX_CACHE_PATH", "CUDA_CACHE_MAXSIZE"):
        monkeypatch.setenv(variable, "")
        monkeypatch.delenv(variable)
    devices.keep_compiled()
    assert os.environ["CUDA_CACHE_PATH"] == "/mine"
    assert os.environ["OPTIX_CACHE_PATH"] == str(remembered / "compiled" / "optix")
    assert (remembered / "compiled" / "optix").is_dir()
    assert os.environ["CUDA_CACHE_MAXSIZE"] == "4294967296"
