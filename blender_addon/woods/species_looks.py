"""What each species looks like: figures in millimetres for the procedural wood, no Blender.

Ring width, contrasts and sheen are set by eye against descriptions of the woods; pore and ray sizes of maple,
walnut, cherry, padauk, purpleheart, yellowheart, wenge and red oak lean on published anatomy, those of the others
are from memory.
Colours are not here: they come from the species table. A contrast is how much a feature adds to the base colour,
as a share of it, in linear red, green, blue: negative darkens.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

Tint = tuple[float, float, float]
NONE: Tint = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Pores:
    """Vessels: tubes along the fibre, one in each cell of a grid `cell` mm wide."""

    early: float
    """Mean diameter at the start of a ring."""
    late: float
    cell: float
    early_share: float = 1.0
    """Share of the ring over which early pores shrink to late ones; 1 for diffuse-porous woods."""
    contrast: Tint = (-0.2, -0.2, -0.2)


@dataclass(frozen=True)
class Rays:
    """Sheets of cells that run from the pith outwards: lines on end grain, flecks on a quarter-sawn face.

    They cost more than any other feature, so only woods whose flecks are seen have them.
    """

    spacing: float
    height: float
    thickness: float
    contrast: Tint


@dataclass(frozen=True)
class Bands:
    """Bands of pale (or dark) tissue that follow the rings."""

    spacing: float
    share: float
    contrast: Tint
    wobble: float
    drift: float = 0.0
    """How far the share drifts from place to place; costs a noise."""
    edge: float = 6.0
    """Steepness of their borders."""


@dataclass(frozen=True)
class Look:
    """All that the procedural wood needs to know of a species but its colour."""

    ring: float
    """Mean ring width."""
    late_share: float
    late: Tint
    """Contrast of latewood, that of the dark line at a ring's end."""
    early: Tint = NONE
    """Contrast of a ring-porous wood's spongy first layer."""
    pores: Pores | None = None
    rays: Rays | None = None
    bands: Bands | None = None
    wander: float = 4.0
    """How far rings stray from circles, as mm of noise."""
    jitter: float = 0.65
    """Unevenness of ring widths, below 0.85."""
    streak: float = 0.06
    """Fine streaks along the fibre."""
    drift: float = 0.10
    """Slow change of colour through the log."""
    veins: float = 0.0
    """Dark veins that follow the rings, several rings apart; negative for pale ones."""
    sheen: float = 0.18
    """Weight of the coloured highlight of the fibres."""
    curl: float = 0.0
    """Waviness of the fibre along the grain; costs a noise, so most woods do without."""
    ribbon: float = 0.0
    """Interlocked grain: stripes of turned fibre on a quarter-sawn face."""


def dark(amount: float) -> Tint:
    """A darkening that takes more blue than red, as extractives do."""
    return (-0.85 * amount, -amount, -1.1 * amount)


def pale(amount: float) -> Tint:
    """The reverse: paler, more so in blue."""
    return (0.8 * amount, amount, 1.15 * amount)


# fmt: off
LOOKS: dict[str, Look] = {
    "hard maple": Look(
        2.4, 0.10, (-0.20, -0.28, -0.36), pores=Pores(0.07, 0.07, 0.25, contrast=dark(0.18)),
        rays=Rays(0.16, 1.5, 0.045, (-0.10, -0.14, -0.18)), streak=0.04, drift=0.06, sheen=0.14, curl=0.05,
    ),
    "black walnut": Look(
        3.6, 0.60, (-0.34, -0.38, -0.40), pores=Pores(0.28, 0.12, 0.55, 0.55, dark(0.55)),
        streak=0.09, drift=0.26, veins=0.40, sheen=0.22, wander=5.0,
    ),
    "black cherry": Look(
        2.8, 0.25, (-0.25, -0.35, -0.40), pores=Pores(0.12, 0.07, 0.30, 0.4, dark(0.25)),
        rays=Rays(0.2, 2.0, 0.055, (0.13, 0.19, 0.22)), streak=0.07, drift=0.12, sheen=0.20, curl=0.04,
    ),
    "African padauk": Look(
        7.0, 0.5, (-0.36, -0.54, -0.56), pores=Pores(0.30, 0.30, 0.85, contrast=dark(0.7)),
        bands=Bands(1.6, 0.25, (0.14, 0.26, 0.26), 1.6, 0.7, 2.5),
        streak=0.15, drift=0.15, sheen=0.18, ribbon=0.08,
    ),
    "purpleheart": Look(
        5.0, 0.4, (-0.26, -0.34, -0.26), pores=Pores(0.11, 0.11, 0.32, contrast=(-0.5, -0.5, -0.45)),
        streak=0.09, drift=0.12, sheen=0.28, ribbon=0.12,
    ),
    "yellowheart": Look(
        4.0, 0.3, (-0.11, -0.17, -0.32), pores=Pores(0.12, 0.12, 0.40, contrast=(-0.15, -0.2, -0.3)),
        streak=0.05, drift=0.08, sheen=0.26, ribbon=0.10,
    ),
    "wenge": Look(
        9.0, 0.3, dark(0.15), pores=Pores(0.30, 0.30, 0.90, contrast=dark(0.7)),
        bands=Bands(1.5, 0.34, (1.0, 0.95, 0.85), 1.2, 0.9, 3.0), streak=0.16, drift=0.12, sheen=0.12,
    ),
    "northern red oak": Look(
        2.6, 0.55, (-0.05, -0.07, -0.10), (0.04, 0.03, 0.02), Pores(0.36, 0.07, 0.36, 0.36, dark(0.58)),
        Rays(1.8, 12.0, 0.13, (-0.20, -0.27, -0.33)), streak=0.07, drift=0.08, sheen=0.16,
    ),
    "white oak": Look(
        2.4, 0.55, dark(0.10), (0.04, 0.03, 0.03), Pores(0.32, 0.05, 0.34, 0.34, dark(0.50)),
        Rays(1.7, 20.0, 0.17, pale(0.26)), streak=0.07, drift=0.08, sheen=0.17,
    ),
    "white ash": Look(
        3.2, 0.55, dark(0.14), (0.0, -0.02, -0.04), Pores(0.30, 0.06, 0.34, 0.32, dark(0.50)),
        streak=0.05, drift=0.08, sheen=0.17,
    ),
    "mockernut hickory": Look(
        2.2, 0.5, dark(0.16), pores=Pores(0.28, 0.10, 0.48, 0.4, dark(0.42)), streak=0.07, drift=0.16, sheen=0.15,
    ),
    "osage orange": Look(
        3.0, 0.5, (-0.16, -0.26, -0.36), (0.10, 0.08, 0.0), Pores(0.22, 0.08, 0.40, 0.35, (-0.15, -0.25, -0.35)),
        streak=0.07, drift=0.12, sheen=0.24,
    ),
    "teak": Look(
        4.0, 0.35, dark(0.26), pores=Pores(0.28, 0.12, 0.55, 0.35, dark(0.5)), streak=0.09, drift=0.20, veins=0.2,
        sheen=0.13,
    ),
    "zebrawood": Look(
        9.0, 0.3, dark(0.1), pores=Pores(0.20, 0.20, 0.75, contrast=dark(0.5)),
        bands=Bands(5.0, 0.36, (-0.60, -0.68, -0.72), 2.2, 0.5, 4.0), streak=0.12, drift=0.10, wander=3.0,
        sheen=0.16, ribbon=0.06,
    ),
    "sapele": Look(
        6.0, 0.4, dark(0.14), pores=Pores(0.15, 0.15, 0.38, contrast=dark(0.45)),
        streak=0.09, drift=0.10, sheen=0.26, ribbon=0.16,
    ),
    "American mahogany": Look(
        5.0, 0.35, dark(0.12), (0.12, 0.16, 0.18), Pores(0.22, 0.20, 0.60, contrast=dark(0.55)),
        streak=0.08, drift=0.12, sheen=0.24, ribbon=0.08,
    ),
    "jatoba": Look(
        7.0, 0.45, dark(0.26), pores=Pores(0.20, 0.20, 0.80, contrast=dark(0.5)), streak=0.10, drift=0.14, veins=0.25,
        sheen=0.18, ribbon=0.05,
    ),
    "bubinga": Look(
        6.0, 0.45, (-0.30, -0.40, -0.34), pores=Pores(0.16, 0.16, 0.60, contrast=dark(0.4)), streak=0.10, drift=0.12,
        veins=0.45, sheen=0.22, ribbon=0.08, wander=5.0,
    ),
    "koa": Look(
        5.0, 0.5, dark(0.26), pores=Pores(0.18, 0.14, 0.55, contrast=dark(0.45)), streak=0.10, drift=0.22, veins=0.4,
        sheen=0.28, curl=0.08, ribbon=0.03,
    ),
    "redheart": Look(
        5.0, 0.35, dark(0.16), pores=Pores(0.07, 0.07, 0.28, contrast=dark(0.25)), streak=0.07, drift=0.16, sheen=0.20,
    ),
    "bloodwood": Look(
        7.0, 0.4, dark(0.16), pores=Pores(0.15, 0.15, 0.70, contrast=dark(0.4)), streak=0.08, drift=0.10, sheen=0.28,
        ribbon=0.08,
    ),
    "American holly": Look(
        1.8, 0.12, dark(0.05), pores=Pores(0.05, 0.04, 0.20, contrast=dark(0.10)),
        streak=0.025, drift=0.03, sheen=0.12, curl=0.02,
    ),
    "African ebony": Look(
        5.0, 0.4, dark(0.2), pores=Pores(0.11, 0.11, 0.45, contrast=(0.5, 0.45, 0.4)), streak=0.15, drift=0.12,
        veins=-0.3, sheen=0.14,
    ),
    "yellow-poplar": Look(
        4.0, 0.15, dark(0.14), pores=Pores(0.07, 0.06, 0.22, contrast=dark(0.15)), streak=0.05, drift=0.28, sheen=0.13,
    ),
    "basswood": Look(
        3.2, 0.12, dark(0.09), pores=Pores(0.06, 0.05, 0.20, contrast=dark(0.12)), streak=0.03, drift=0.06, sheen=0.10,
    ),
    "American beech": Look(
        2.8, 0.20, dark(0.13), pores=Pores(0.07, 0.05, 0.20, contrast=dark(0.18)),
        rays=Rays(0.7, 3.0, 0.09, (-0.20, -0.27, -0.33)), streak=0.04, drift=0.06, sheen=0.14,
    ),
    "yellow birch": Look(
        3.0, 0.14, dark(0.18), pores=Pores(0.12, 0.10, 0.40, contrast=dark(0.28)), streak=0.05, drift=0.12, sheen=0.18,
        curl=0.06,
    ),
    "American sycamore": Look(
        2.8, 0.15, dark(0.10), pores=Pores(0.08, 0.06, 0.22, contrast=dark(0.18)),
        rays=Rays(0.9, 4.0, 0.20, (-0.16, -0.23, -0.30)), streak=0.04, drift=0.07, sheen=0.16,
    ),
    "red alder": Look(
        3.6, 0.15, dark(0.09), pores=Pores(0.08, 0.06, 0.25, contrast=dark(0.18)),
        rays=Rays(2.4, 14.0, 0.10, dark(0.15)), streak=0.05, drift=0.08, sheen=0.14,
    ),
    "pear": Look(
        2.4, 0.18, dark(0.08), pores=Pores(0.05, 0.04, 0.18, contrast=dark(0.12)), streak=0.03, drift=0.06, sheen=0.15,
    ),
}
# fmt: on

_BY_PORES = {
    "ring": LOOKS["white ash"],
    "semi-ring": replace(LOOKS["teak"], veins=0.0),
    "diffuse": replace(LOOKS["pear"], pores=Pores(0.10, 0.09, 0.32, contrast=dark(0.28)), drift=0.10),
}


def look_for(wood: str, pores: str = "diffuse") -> Look:
    """The look of a species by its common name; another wood gets a plain one after its pores ("ring", ...)."""
    return LOOKS.get(wood) or _BY_PORES.get(pores.split(" ")[0], _BY_PORES["diffuse"])
