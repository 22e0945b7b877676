"""Sizes and qualities of pictures that a maker chooses by their use."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Size:
    """A size by its use, in pixels. `number` is its value in saved files: never reuse one."""

    name: str
    label: str
    number: int
    width: int
    height: int
    use: str

    @property
    def description(self) -> str:
        """What it is for."""
        return f"{self.use}: {self.width} × {self.height} pixels"


CUSTOM = "custom"
SIZES = {
    size.name: size
    for size in (
        Size("screen", "Screen", 1, 1600, 1000, "Look at it on the screen"),
        Size("small", "Small", 2, 800, 500, "See quickly how it will look"),
        Size("auction", "Auction Page", 3, 1600, 1280, "Show it on a page that offers it for sale"),
        Size("square", "Square", 4, 1600, 1600, "Show it where pictures are cut to squares"),
        Size("portrait", "Portrait 4:5", 5, 1280, 1600, "Fill the screen of a telephone"),
        Size("photo", "Photo 3:2", 6, 1800, 1200, "Print it as a photograph, 15 by 10 cm"),
        Size("wide", "Wide 16:9", 7, 1920, 1080, "Fill a wide screen"),
        Size("4k", "4K", 8, 3840, 2160, "Print it large, or zoom into it"),
    )
}


@dataclass(frozen=True)
class Quality:
    """How long light is followed: a factor on the view's own samples."""

    name: str
    label: str
    number: int
    factor: float
    description: str


QUALITIES = {
    quality.name: quality
    for quality in (
        Quality("draft", "Draft", 0, 0.3, "Render quickly, for a first look; fine grain is smoothed over"),
        Quality("good", "Good", 1, 1.0, "Render clear grain in a moderate time"),
        Quality("best", "Best", 2, 6.0, "Render the finest grain and the softest shadows, which takes long"),
    )
}
GOOD = "good"


def samples(base: int, quality: str) -> int:
    """Samples per pixel of a view that has `base` of them in good quality."""
    return max(1, round(base * QUALITIES[quality].factor))


def size_called(width: int, height: int) -> str:
    """The name of a size; "custom" where it has none."""
    return next((size.name for size in SIZES.values() if (size.width, size.height) == (width, height)), CUSTOM)
