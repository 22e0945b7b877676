"""What renders: a graphics processor (GPU) where Cycles offers one, else the CPU; told in one line."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

import bpy

from .. import memory

Wish = Literal["auto", "cpu", "gpu"]
WISHES: tuple[Wish, ...] = ("auto", "cpu", "gpu")
KINDS = ("OPTIX", "CUDA", "HIP", "METAL", "ONEAPI")
"""Ways in which Cycles can use a GPU, the quickest first."""
SEEN = "gpus"
CACHE_SIZE = 4 * 2**30
"""Bytes that a driver may keep of what it has compiled."""
COMPILING = (
    "The first picture on this GPU may take ten minutes more, while its driver compiles Cycles and seems to hang; "
    "later pictures start at once"
)


@dataclass(frozen=True)
class Device:
    """What renders; `kind` is "CPU" or one of KINDS."""

    kind: str
    names: tuple[str, ...] = ()
    note: str = ""
    """What the maker should know before it starts; "" for nothing."""

    @property
    def label(self) -> str:
        """Such as CPU, or OPTIX and the names of the cards; estimates go by it."""
        return " ".join((self.kind, *self.names))

    @property
    def is_gpu(self) -> bool:
        """Whether it is no CPU."""
        return self.kind != "CPU"

    @property
    def is_new(self) -> bool:
        """Whether nothing has been rendered on it yet, as far as we remember."""
        return self.is_gpu and self.label not in (memory.recall(SEEN) or [])


CPU = Device("CPU")


def choose(wish: Wish, preferences: Any) -> Device:
    """The device for a wish.

    preferences: of Cycles, or something like them. Where the user has chosen a kind there, it stands.
    """
    if wish == "cpu":
        return CPU
    kinds = [kind for kind, *_ in preferences.get_device_types(bpy.context) if kind in KINDS]
    chosen = preferences.compute_device_type
    for kind in [chosen] if chosen in KINDS else sorted(kinds, key=KINDS.index):
        cards = [found for found in preferences.get_devices_for_type(kind) if found.type == kind]
        names = tuple(card.name for card in cards if card.use or kind != chosen)
        if names:
            device = Device(kind, names)
            return Device(kind, names, COMPILING) if device.is_new else device
    return Device("CPU", note="Cycles offers no GPU here, so the CPU renders" if wish == "gpu" else "")


def choose_now(wish: Wish) -> Device:
    """The device for a wish, here and now."""
    preferences = _preferences()
    return CPU if preferences is None else choose(wish, preferences)


@contextlib.contextmanager
def used(scene: bpy.types.Scene, wish: Wish) -> Iterator[Device]:
    """Let the scene render on the device for a wish; scene and preferences are as before afterwards."""
    preferences = _preferences()
    if preferences is None:
        yield CPU
        return
    name, cycles = scene.name, scene.cycles  # the name, since undo may make a new scene meanwhile
    before = (cycles.device, cycles.denoising_use_gpu, preferences.compute_device_type)
    device = choose(wish, preferences)
    try:
        if device.is_gpu:
            _turn_on(preferences, device)
        cycles.device, cycles.denoising_use_gpu = ("GPU", True) if device.is_gpu else ("CPU", False)
        yield device
    finally:
        if preferences.compute_device_type != before[2]:
            preferences.compute_device_type = before[2]
        if scene := bpy.data.scenes.get(name):
            scene.cycles.device, scene.cycles.denoising_use_gpu = before[:2]


def was_used(device: Device) -> None:
    """A picture has been rendered on it: what its driver compiled is kept from now on."""
    if device.is_new:
        memory.remember(SEEN, [*(memory.recall(SEEN) or []), device.label])


def keep_compiled() -> None:
    """Let drivers keep what they compile, in our folder unless the user has said where; before their first use."""
    folder = memory.folder() / "compiled"
    with contextlib.suppress(OSError):
        for variable, place in (("CUDA_CACHE_PATH", "cuda"), ("OPTIX_CACHE_PATH", "optix")):
            if variable not in os.environ:
                (folder / place).mkdir(parents=True, exist_ok=True)
                os.environ[variable] = str(folder / place)
        os.environ.setdefault("CUDA_CACHE_MAXSIZE", str(CACHE_SIZE))


def _preferences() -> Any | None:
    cycles = bpy.context.preferences.addons.get("cycles")
    return cycles.preferences if cycles else None


def _turn_on(preferences: Any, device: Device) -> None:
    """Where the user has chosen the kind, the cards that are turned on stand too."""
    if preferences.compute_device_type == device.kind:
        return
    preferences.compute_device_type = device.kind
    for found in preferences.get_devices_for_type(device.kind):
        found.use = found.type == device.kind
