"""How long a picture will take, told by the pictures that this machine has rendered before.

The work of a picture is counted in megasamples. What one of them takes is not typed in here: it is learnt from the
earlier picture whose work was the nearest: of the same design and view where there is one, else of the same view.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

from .. import memory

RENDERS = "renders"
MOST_KEPT = 60

# Shares of the work that are no samples, measured on the koi pond's finished view on two cores of a CPU, 3 to 20
# samples at 0.26 and 1.02 megapixels: they only tell how to scale from one picture to another.
SETTING_UP = 0.3
"""Work before the first sample, as so many megasamples."""
DENOISING = 6.0
"""Smoothing a pixel takes as long as so many samples of it."""


ALIKE = 8
"""From a picture with so many times more or less work the time is told only roughly."""


@dataclass(frozen=True)
class Work:
    """One picture to render, or one frame of a film."""

    design: str
    """The name of its file."""
    view: str
    megapixels: float
    samples: int
    denoised: bool

    @property
    def megasamples(self) -> float:
        """How much it is, counted in samples."""
        return SETTING_UP + self.megapixels * (self.samples + DENOISING * self.denoised)


@dataclass(frozen=True)
class Render:
    """One that was rendered, and the seconds that it took."""

    device: str
    seconds: float
    work: Work


@dataclass(frozen=True)
class Estimate:
    """Seconds, and whether a picture tells them that was much like this one."""

    seconds: float
    alike: bool

    def times(self, count: int) -> Estimate:
        """Time of so many pictures."""
        return Estimate(self.seconds * count, self.alike)


def estimate(work: Work, renders: Iterable[Render], device: str | None = None) -> Estimate | None:
    """How long the work takes on a device, or on the one used last; None before anything was rendered there."""
    kept = list(renders)
    device = device or (kept[-1].device if kept else None)
    known = [render for render in kept if render.device == device]
    same_view = [render for render in known if render.work.view == work.view]
    alike = [render for render in same_view if render.work.design == work.design]
    if not known:
        return None
    # The latest of equals: machine and design may have changed.
    nearest = min(reversed(alike or same_view or known), key=lambda render: abs(math.log(ratio(work, render))))
    more = ratio(work, nearest)
    return Estimate(nearest.seconds * more, bool(alike) and 1 / ALIKE <= more <= ALIKE)


def ratio(work: Work, render: Render) -> float:
    """How much more the work is than what was rendered."""
    return work.megasamples / render.work.megasamples


def learn(render: Render) -> None:
    """Remember how long a picture took."""
    kept = [*_remembered(), {"device": render.device, "seconds": render.seconds, **asdict(render.work)}]
    memory.remember(RENDERS, kept[-MOST_KEPT:])


def learnt() -> list[Render]:
    """The pictures remembered, the latest last."""
    return [
        Render(kept["device"], kept["seconds"], Work(*(kept[key] for key in Work.__dataclass_fields__)))
        for kept in _remembered()
    ]


def _remembered() -> list[dict[str, Any]]:
    """Those that can be read; someone may have written into the file."""
    number = (int, float)
    wanted: dict[str, type | tuple[type, ...]] = {"device": str, "design": str, "view": str, "denoised": bool}
    wanted |= {"seconds": number, "megapixels": number, "samples": int}
    kept = memory.recall(RENDERS)
    return [
        each
        for each in (kept if isinstance(kept, list) else [])
        if isinstance(each, dict)
        and all(isinstance(each.get(key), kind) for key, kind in wanted.items())
        and min(each["seconds"], each["megapixels"], each["samples"]) > 0
    ]


def in_words(seconds: float) -> str:
    """A time as people say it: 4 s, 40 s, 3 min, 1.5 h."""
    if seconds < 1:
        return "1 s"
    if seconds < 10:
        return f"{seconds:.0f} s"
    if seconds < 57.5:
        return f"{5 * round(seconds / 5)} s"
    if seconds < 57.5 * 60:
        return f"{max(1, round(seconds / 60))} min"
    return f"{round(2 * seconds / 3600) / 2:g} h"
