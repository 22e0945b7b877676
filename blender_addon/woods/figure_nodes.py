"""The features of procedural wood at a place in its log: rings, pores, rays, bands, veins, ribbons, as shader nodes.

All lengths are millimetres. Each feature is a mask with a contrast and a mean, so that the mean can be taken out again.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from .node_maths import (
    Quantity,
    Value,
    clamp,
    combine,
    floor,
    fract,
    hypotenuse,
    noise,
    separate,
    sine,
    triangle,
    white,
)
from .species_looks import Bands, Look, Pores, Rays, Tint, pale

TAPER = 0.010
"""A trunk's ring radius grows by this much along the fibre: it draws the arches of a flat-sawn face."""
SHEAR = (0.0, 0.69, 0.41)
"""Per mm across the fibre, how far stretched noise is shifted along it: unsheared, its cells end side by side, and a
faint lattice shows from afar."""
RIBBON = 1.1
"""Turned fibres also scatter more or less of the light: stripes are seen from where none of them shines."""


Masks = dict[str, tuple[Value, Tint, float]]
"""Features by name: mask, contrast and mean."""


def figure(look: Look, log: Value) -> tuple[Masks, Value]:
    """The features at a place in the log, and how far the fibre tilts out."""
    x, y, z = separate(log)
    warp = noise(log.vector("MULTIPLY", log, (1 / 320, 1 / 42, 1 / 42)))
    shear = log.vector("DOT_PRODUCT", log, SHEAR, output="Value")
    streak = noise(log.vector("MULTIPLY_ADD", log, (1 / 22, 1 / 0.9, 1 / 0.9), shear), octaves=2)

    radius = hypotenuse(y, z) + x * TAPER + warp * (2.6 * look.wander) + streak * 0.35
    uneven = noise(radius * (1 / (2.6 * look.ring)), dimensions="1D")
    phase = radius * (1 / look.ring) + uneven * (3 * look.jitter)
    ring, along_ring = floor(phase), fract(phase)
    shade = white(ring)
    edge = white(ring + 0.5)

    means = _means(look)
    masks: Masks = {
        "late": (_latewood(look, along_ring, shade, edge), look.late, means["late"]),
        "streak": (streak, _thrice(look.streak), 0.5),
        "drift": (warp, _thrice(look.drift), 0.5),
    }
    if look.veins:
        level = noise(radius * (1 / 9.0) + warp * 3.0, dimensions="1D")
        masks["vein"] = (_vein(level), (-0.9 * look.veins, -look.veins, -1.05 * look.veins), means["vein"])
    if look.pores:
        early = _earlywood(look.pores, along_ring)
        masks["pore"] = (_pores(look.pores, y, z, streak, early), look.pores.contrast, means["pore"])
        if any(look.early):
            masks["early"] = (early, look.early, means["early"])
    if look.rays:
        masks["ray"] = (_rays(look.rays, (x, y, z), radius, warp, streak), look.rays.contrast, means["ray"])
    if look.bands:
        wave = triangle((radius + streak * look.bands.wobble + uneven * look.ring) * (1 / look.bands.spacing))
        lens: Value | float = 0.5
        if look.bands.drift:
            lens = noise(log.vector("MULTIPLY_ADD", log, (1 / 45, 1 / 2.6, 1 / 2.6), shear * (0.9 / 2.6)))
        masks["band"] = (_band(look.bands, wave, lens), look.bands.contrast, means["band"])

    tilt = (streak - 0.5) * 0.25
    if look.curl:
        ripple = noise(log.vector("MULTIPLY", log, (1 / 7.0, 1 / 34, 1 / 34)))
        tilt = tilt + (ripple - 0.5) * (5.0 * look.curl)
    if look.ribbon:
        ribbon = sine(radius * (np.pi / 5) + uneven * 5.0 + warp * 6.0)
        tilt = tilt + ribbon * look.ribbon
        masks["ribbon"] = (ribbon, pale(look.ribbon * RIBBON), 0.0)
    return masks, tilt


def _pores(pores: Pores, y: Value, z: Value, streak: Value, early: Value) -> Value:
    """Tubes along the fibre; the fibre noise carries them in and out of a face, so that they become dashes there."""
    tree, scale = y.tree, 1 / pores.cell
    cells = combine(tree, (y + streak * 0.9) * scale, (z + streak * 0.55) * scale, 0.0)
    corner = cells.vector("FLOOR", cells)
    chance = white(corner, "2D", "Color")
    centre = corner.vector("MULTIPLY_ADD", chance, (0.5, 0.5, 0.0), (0.25, 0.25, 0.0))
    distance = cells.vector("DISTANCE", cells.vector("FRACTION", cells), centre, output="Value")
    return _pore(pores, distance, separate(chance)[2], early)


def _rays(rays: Rays, place: tuple[Value, Value, Value], radius: Value, warp: Value, streak: Value) -> Value:
    """Sheets through the pith, each of torn ellipses."""
    x, y, z = place
    sheet = y.maths("ARCTAN2", y, z) * (110 / rays.spacing) + warp * (6.0 / rays.spacing)
    sheet = sheet + streak * (1.2 * rays.thickness / rays.spacing)
    which = floor(sheet)
    level = x * (1 / rays.height) + white(which) * 17.0 + radius * (0.35 / rays.height)
    size = white(combine(x.tree, which, floor(level), 0.0), "2D")
    torn = noise(x * (2.6 / rays.height) + radius * 1.9 + which * 7.3, dimensions="1D")
    return _ray(rays, triangle(sheet), triangle(level), size, torn)


# Masks from 0 to about 1. They take shader values as well as arrays: `_means` integrates the very same formulas.


def _latewood(look: Look, along_ring: Quantity, random_shade: Quantity, random_edge: Quantity) -> Quantity:
    """Darkens slowly through a ring and stops abruptly: it is this sawtooth that reads as a growth ring."""
    sharpness = 1.6 / look.late_share
    return along_ring ** (random_edge * (0.9 * sharpness) + 0.55 * sharpness) * (random_shade * 1.5 + 0.25)


def _earlywood(pores: Pores, along_ring: Quantity) -> Quantity:
    """1 at the start of a ring, 0 from `early_share` on."""
    return clamp(2.0 - along_ring * (2.0 / pores.early_share))


def _pore(pores: Pores, distance: Quantity, random_size: Quantity, earlywood: Quantity) -> Quantity:
    """A round hole in its cell; distance from its centre in cells."""
    radius = earlywood * ((pores.early - pores.late) / 2 / pores.cell) + pores.late / 2 / pores.cell
    return clamp((radius * (random_size + 0.5) - distance) * (pores.cell / 0.03))


def _ray(rays: Rays, across: Quantity, along: Quantity, random_size: Quantity, ragged: Quantity) -> Quantity:
    """An ellipse in its cell, `across` and `along` from 0 to 1 between cells; ragged is noise about 0.5.

    Few are large and many small, their outlines torn: equal ones look like a zip, smooth ones like dots.
    """
    wide = (1.0 - across) * (rays.spacing / rays.thickness / 2)
    size = random_size * random_size * 1.7 + (ragged * 2.4 - 1.3)
    return clamp((size - hypotenuse(wide, 1.0 - along)) * 2.5)


def _band(bands: Bands, wave: Quantity, drift: Quantity | float) -> Quantity:
    """Bands whose share of the wood drifts with a noise about 0.5: even ones look like corduroy."""
    return clamp((wave - (1 - bands.share) + (drift - 0.5) * (3.0 * bands.drift)) * bands.edge + 0.5)


def _vein(level: Quantity) -> Quantity:
    return clamp((level - 0.56) * 7.0)


@cache
def _means(look: Look) -> dict[str, float]:
    """Mean of each mask, by Monte Carlo with a fixed seed.

    Noise is taken for a sum of three even numbers with the spread 0.115 that was measured in Cycles.
    """
    random = np.random.default_rng(7).random((8, 200_000))
    ring, shade, edge, x, y, centre_x, centre_y, size = random
    soft = 0.5 + 0.23 * (centre_x + centre_y + shade - 1.5)
    means = {"late": _latewood(look, ring, shade, edge).mean(), "vein": _vein(soft).mean()}
    if look.pores:
        early = _earlywood(look.pores, ring)
        distance = np.hypot(x - 0.25 - centre_x / 2, y - 0.25 - centre_y / 2)
        means |= {"early": early.mean(), "pore": _pore(look.pores, distance, size, early).mean()}
    if look.rays:
        means["ray"] = _ray(look.rays, triangle(x), triangle(y), size, soft).mean()
    if look.bands:
        means["band"] = _band(look.bands, triangle(x), soft).mean()
    return {name: float(mean) for name, mean in means.items()}


def _thrice(amount: float) -> Tint:
    """Contrast of a soft noise: its swing is about a third of a mask's; extractives take more blue than red."""
    return (2.6 * amount, 3.0 * amount, 3.4 * amount)
