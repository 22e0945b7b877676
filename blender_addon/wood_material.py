"""Procedural wood: one solid volume per species, in millimetres, that every piece is cut from at its own place.

The geometry carries where each vertex was in its log (see `core.log_space`), the material turns that place into rings,
pores, rays and fibre direction. So faces, walls, ends and section cuts agree without any mapping, and nothing
stretches or repeats. All features are added to the species' base colour with zero mean, so that the average colour
of a face is that of the species table.

The highlight follows Marschner et al. 2005 (finished wood shines from fibres below the surface): a coloured
anisotropic lobe about a normal that tilts with the fibre, under a clear coat that keeps the plain one. The volume
follows the idea of Liu et al. 2016: rings, pores, rays and drift of colour share one distortion.
"""

from __future__ import annotations

from functools import cache

import bpy
import numpy as np

from . import versions
from .core import colour, finish, log_space
from .core.woods import find_wood
from .node_maths import (
    Value,
    absolute,
    arrange,
    clamp,
    combine,
    floor,
    fract,
    hypotenuse,
    node,
    noise,
    separate,
    sine,
    triangle,
    white,
)
from .wood_species import Look, Tint, look_for, pale

STATE = "grainstack_wood"
"""Property of a scene that all materials read: (age - 0.5, depth and amber of the finish, gloss); see `show_as`."""
SHARED = "Grainstack time and finish"
AGES = 5
"""Colours of a species from cut to aged, between which its ramp runs straight."""

LOG, FIBRE, TONE = "log_position", "fibre", "board_tone"
"""Point attributes: log coordinates in mm, fibre direction in the object's space, lightness of the board."""

UNKNOWN_WOOD = "#89807a"
END_GRAIN = (0.22, 0.28, 0.36)
"""How much darker end grain is, in linear red, green, blue: it drinks more of the finish."""
TAPER = 0.010
"""A trunk's ring radius grows by this much along the fibre: it draws the arches of a flat-sawn face."""
SHEAR = (0.0, 0.69, 0.41)
"""Per mm across the fibre, how far stretched noise is shifted along it: unsheared, its cells end side by side, and a
faint lattice shows from afar."""
RIBBON = 1.1
"""Turned fibres also scatter more or less of the light: stripes are seen from where none of them shines."""
FIBRE_LIFT = 0.035
"""The stored fibre leans about 2 degrees, so that it is never exactly the normal of an end and has a tangent there."""


def material_for(wood_name: str) -> bpy.types.Material:
    """The material of a species, by any of its names; made on first use. An unknown wood is a plain grey-brown.

    Age and finish are the scene's, see `show_as`: one material serves all scenes.
    """
    species = find_wood(wood_name)
    name = f"Grainstack {species.common_name if species else wood_name}"
    made = bpy.data.materials.get(name)
    if made is not None and made.library is None:
        return made
    if species is None:
        return _make(name, look_for(wood_name), (UNKNOWN_WOOD, UNKNOWN_WOOD))
    look = look_for(species.common_name, species.pores)
    return _make(name, look, (species.fresh_colour, species.aged_colour))


def show_as(scene: bpy.types.Scene, age: float = finish.SETTLED, finish_name: str = "oil") -> None:
    """Show all wood of a scene at an age (0 cut, 0.5 settled, 1 aged) and under a finish of `finish.FINISHES`.

    No material is made or changed: they look the scene's property up. A scene without it shows settled bare wood.
    """
    chosen = finish.FINISHES[finish_name]
    scene[STATE] = (age - finish.SETTLED, chosen.depth, chosen.amber, chosen.gloss)
    scene.update_tag()


def state_expressions() -> tuple[str, str, str, str]:
    """What `show_as` writes, as expressions of `age` and the number of `finish` for drivers: so keyframes work."""
    kinds = list(finish.FINISHES.values())

    def chosen(values: list[float]) -> str:
        choices = [f"{value:g} if finish == {number} else" for number, value in enumerate(values[:-1])]
        return " ".join([*choices, f"{values[-1]:g}"])

    return (
        f"age - {finish.SETTLED:g}",
        chosen([kind.depth for kind in kinds]),
        chosen([kind.amber for kind in kinds]),
        chosen([kind.gloss for kind in kinds]),
    )


def store_wood_coordinates(
    mesh: bpy.types.Mesh,
    points_mm: np.ndarray,
    grain_degrees: float,
    seed: str,
    centre_line: np.ndarray | None = None,
    *,
    anchor: tuple[float, float] | None = None,
) -> None:
    """Write where each vertex of a filled mesh lies in its log.

    points_mm (n, 3): the vertices in panel coordinates, before any lifting. seed: the piece's id or the background
    piece's name; it alone picks the board. centre_line (m, 2): the grain follows it. anchor: the place of the panel
    that sits at the board's middle (None: the middle of the points); give one that moves with the piece and does not
    change when it is cut, such as the middle of its outline, or its figure shifts with every cut.
    """
    points = np.asarray(points_mm, float)
    if len(points) == 0:
        return
    board = log_space.board_for(seed)
    if centre_line is not None and len(centre_line) > 1:
        straight, fibre = log_space.lay_along(points, np.asarray(centre_line, float))
    else:
        if anchor is None:
            low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
            anchor = tuple((low + high) / 2)
        straight, fibre = log_space.lay_straight(points, grain_degrees, anchor)
    leaning = fibre + FIBRE_LIFT * np.column_stack([-fibre[:, 1], fibre[:, 0], np.full(len(points), 0.7)])
    _store(mesh, LOG, "FLOAT_VECTOR", "vector", log_space.log_from_board(straight, board))
    _store(mesh, FIBRE, "FLOAT_VECTOR", "vector", leaning)
    _store(mesh, TONE, "FLOAT", "value", np.full(len(points), board.tone))


def _store(mesh: bpy.types.Mesh, name: str, kind: str, field: str, values: np.ndarray) -> None:
    attribute = mesh.attributes.get(name) or mesh.attributes.new(name, kind, "POINT")
    attribute.data.foreach_set(field, np.ascontiguousarray(values, np.float32).ravel())


# Masks from 0 to about 1. They take shader values as well as arrays: `_means` integrates the very same formulas.


def _latewood(look: Look, along_ring, random_shade, random_edge):
    """Darkens slowly through a ring and stops abruptly: it is this sawtooth that reads as a growth ring."""
    sharpness = 1.6 / look.late_share
    return along_ring ** (random_edge * (0.9 * sharpness) + 0.55 * sharpness) * (random_shade * 1.5 + 0.25)


def _earlywood(look: Look, along_ring):
    """1 at the start of a ring, 0 from `early_share` on."""
    return clamp(2.0 - along_ring * (2.0 / look.pores.early_share))


def _pore(look: Look, distance, random_size, earlywood):
    """A round hole in its cell; distance from its centre in cells."""
    pores = look.pores
    radius = earlywood * ((pores.early - pores.late) / 2 / pores.cell) + pores.late / 2 / pores.cell
    return clamp((radius * (random_size + 0.5) - distance) * (pores.cell / 0.03))


def _ray(look: Look, across, along, random_size, ragged=0.5):
    """An ellipse in its cell, `across` and `along` from 0 to 1 between cells; ragged is noise about 0.5.

    Few are large and many small, their outlines torn: equal ones look like a zip, smooth ones like dots.
    """
    wide = (1.0 - across) * (look.rays.spacing / look.rays.thickness / 2)
    size = random_size * random_size * 1.7 + (ragged * 2.4 - 1.3)
    return clamp((size - hypotenuse(wide, 1.0 - along)) * 2.5)


def _band(look: Look, wave, drift=0.5):
    """Bands whose share of the wood drifts with a noise about 0.5: even ones look like corduroy."""
    return clamp((wave - (1 - look.bands.share) + (drift - 0.5) * (3.0 * look.bands.drift)) * look.bands.edge + 0.5)


def _vein(level):
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
        early = _earlywood(look, ring)
        distance = np.hypot(x - 0.25 - centre_x / 2, y - 0.25 - centre_y / 2)
        means |= {"early": early.mean(), "pore": _pore(look, distance, size, early).mean()}
    if look.rays:
        means["ray"] = _ray(look, triangle(x), triangle(y), size, soft).mean()
    if look.bands:
        means["band"] = _band(look, triangle(x), soft).mean()
    return {name: float(mean) for name, mean in means.items()}


def _make(name: str, look: Look, colours: tuple[str, str]) -> bpy.types.Material:
    material = bpy.data.materials.new(name)
    tree = versions.empty_material_tree(material)
    material.diffuse_color = (*colour.settled(*colours), 1.0)
    volume = _volume_group(f"{name} volume", look, colours)

    log, fibre = (
        node(tree, "ShaderNodeAttribute", output=1, attribute_name=attribute, attribute_type="GEOMETRY")
        for attribute in (LOG, FIBRE)
    )
    tone = node(tree, "ShaderNodeAttribute", output=2, attribute_name=TONE, attribute_type="GEOMETRY")
    fibre = node(
        tree, "ShaderNodeVectorTransform", (fibre,), vector_type="VECTOR", convert_from="OBJECT", convert_to="WORLD"
    )
    normal = node(tree, "ShaderNodeNewGeometry", output="Normal")
    wood = tree.nodes.new("ShaderNodeGroup")
    wood.node_tree = volume
    for socket, value in {"Log": log, "Fibre": fibre, "Tone": tone, "Normal": normal}.items():
        tree.links.new(value.socket, wood.inputs[socket])
    out = {socket.name: Value(tree, socket) for socket in wood.outputs}
    surface = node(
        tree,
        "ShaderNodeBsdfPrincipled",
        {
            "Base Color": out["Colour"],
            "Metallic": look.sheen,
            "Roughness": 0.42,
            "Specular IOR Level": 0.0,
            "Anisotropic": out["Anisotropy"],
            "Tangent": fibre,
            "Normal": out["Fibre Normal"],
            "Coat Weight": out["Coat"],
            "Coat Roughness": out["Coat Roughness"],
            "Coat IOR": 1.5,
            "Coat Normal": normal,
        },
    )
    output = tree.nodes.new("ShaderNodeOutputMaterial")
    tree.links.new(surface.socket, output.inputs["Surface"])
    arrange(tree)
    return material


def _volume_group(name: str, look: Look, colours: tuple[str, str]) -> bpy.types.ShaderNodeTree:
    tree = bpy.data.node_groups.new(name, "ShaderNodeTree")
    for socket in ("Log", "Fibre", "Normal"):
        tree.interface.new_socket(socket, in_out="INPUT", socket_type="NodeSocketVector")
    tree.interface.new_socket("Tone", in_out="INPUT", socket_type="NodeSocketFloat")
    for socket in ("Colour", "Fibre Normal", "Anisotropy", "Coat", "Coat Roughness"):
        kind = {"Colour": "Color", "Fibre Normal": "Vector"}.get(socket, "Float")
        tree.interface.new_socket(socket, in_out="OUTPUT", socket_type=f"NodeSocket{kind}")
    entry = tree.nodes.new("NodeGroupInput")
    given = {socket.name: Value(tree, socket) for socket in entry.outputs if socket.name}
    leave = tree.nodes.new("NodeGroupOutput")

    along_fibre = absolute(given["Fibre"].vector("DOT_PRODUCT", given["Fibre"], given["Normal"], output="Value"))
    state = _state(tree)
    masks, tilt = _figure(look, given["Log"])
    bare = _colour(_ramp(state["Age"], colours), masks, given["Tone"], along_fibre)
    gloss = state["Gloss"]
    result = {
        "Colour": _finished(look, bare, state),
        "Fibre Normal": _tilted(given["Normal"], given["Fibre"], tilt),
        "Anisotropy": 0.75 - along_fibre * 0.75,
        "Coat": gloss * (1.0 - masks["pore"][0] * 0.75) if "pore" in masks else gloss,
        "Coat Roughness": 0.36 - gloss * 0.22,
    }
    for socket, value in result.items():
        if isinstance(value, Value):
            tree.links.new(value.socket, leave.inputs[socket])
        else:
            leave.inputs[socket].default_value = value
    arrange(tree)
    return tree


def _figure(look: Look, log: Value) -> tuple[dict[str, tuple[Value, Tint, float]], Value]:
    """The features at a place in the log as {name: (mask, contrast, mean)}, and how far the fibre tilts out."""
    tree = log.tree
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
    masks = {
        "late": (_latewood(look, along_ring, shade, edge), look.late, means["late"]),
        "streak": (streak, _thrice(look.streak), 0.5),
        "drift": (warp, _thrice(look.drift), 0.5),
    }
    if look.veins:
        level = noise(radius * (1 / 11.0) + warp * 3.0, octaves=2, dimensions="1D")
        masks["vein"] = (_vein(level), tuple(-look.veins * w for w in (0.9, 1.0, 1.05)), means["vein"])
    if look.pores:
        scale = 1 / look.pores.cell
        cells = combine(tree, (y + streak * 0.9) * scale, (z + streak * 0.55) * scale, 0.0)
        corner = cells.vector("FLOOR", cells)
        chance = white(corner, "2D", "Color")
        centre = corner.vector("MULTIPLY_ADD", chance, (0.5, 0.5, 0.0), (0.25, 0.25, 0.0))
        away = cells.vector("SUBTRACT", cells.vector("SUBTRACT", cells, corner), centre)
        distance = away.vector("LENGTH", away.vector("MULTIPLY", away, (1.0, 1.0, 0.0)), output="Value")
        size = separate(chance)[2]
        early = _earlywood(look, along_ring)
        masks["pore"] = (_pore(look, distance, size, early), look.pores.contrast, means["pore"])
        if any(look.early):
            masks["early"] = (early, look.early, means["early"])
    if look.rays:
        rays = look.rays
        sheet = y.maths("ARCTAN2", y, z) * (110 / rays.spacing) + warp * (6.0 / rays.spacing)
        sheet = sheet + streak * (1.2 * rays.thickness / rays.spacing)
        which = floor(sheet)
        level = x * (1 / rays.height) + white(which) * 17.0 + radius * (0.35 / rays.height)
        size = white(combine(tree, which, floor(level), 0.0), "2D")
        torn = noise(x * (2.6 / rays.height) + radius * 1.9 + which * 7.3, dimensions="1D")
        masks["ray"] = (_ray(look, triangle(sheet), triangle(level), size, torn), rays.contrast, means["ray"])
    if look.bands:
        wave = triangle((radius + streak * look.bands.wobble + uneven * look.ring) * (1 / look.bands.spacing))
        lens = 0.5
        if look.bands.drift:
            lens = noise(log.vector("MULTIPLY_ADD", log, (1 / 45, 1 / 2.6, 1 / 2.6), shear * (0.9 / 2.6)))
        masks["band"] = (_band(look, wave, lens), look.bands.contrast, means["band"])

    tilt = (streak - 0.5) * 0.25
    if look.curl:
        ripple = noise(log.vector("MULTIPLY", log, (1 / 7.0, 1 / 34, 1 / 34)))
        tilt = tilt + (ripple - 0.5) * (5.0 * look.curl)
    if look.ribbon:
        ribbon = sine(radius * (np.pi / 5) + uneven * 5.0 + warp * 6.0)
        tilt = tilt + ribbon * look.ribbon
        masks["ribbon"] = (ribbon, pale(look.ribbon * RIBBON), 0.0)
    return masks, tilt


def _state(tree: bpy.types.ShaderNodeTree) -> dict[str, Value]:
    """Age and finish of the scene that is rendered, from the one group that all species share."""
    shared = bpy.data.node_groups.get(SHARED) or _state_group()
    group = tree.nodes.new("ShaderNodeGroup")
    group.node_tree = shared
    return {socket.name: Value(tree, socket) for socket in group.outputs}


def _state_group() -> bpy.types.ShaderNodeTree:
    tree = bpy.data.node_groups.new(SHARED, "ShaderNodeTree")
    leave = tree.nodes.new("NodeGroupOutput")
    given = node(tree, "ShaderNodeAttribute", attribute_name=STATE, attribute_type="VIEW_LAYER")
    age, depth, amber = separate(given)
    gloss = Value(tree, given.socket.node.outputs["Alpha"])
    for name, value in {"Age": age + finish.SETTLED, "Depth": depth, "Amber": amber, "Gloss": gloss}.items():
        tree.interface.new_socket(name, in_out="OUTPUT", socket_type="NodeSocketFloat")
        tree.links.new(value.socket, leave.inputs[name])
    arrange(tree)
    return tree


def _ramp(age: Value, colours: tuple[str, str]) -> Value:
    """The species' bare colour at an age."""
    ramp = age.node("ShaderNodeValToRGB", (age,))
    stops = ramp.socket.node.color_ramp.elements
    for number, at in enumerate(np.linspace(0, 1, AGES)):
        stop = stops.new(at) if 0 < number < AGES - 1 else stops[-1 if number else 0]
        stop.color = (*finish.at_age(*colours, at), 1.0)
    return ramp


def _colour(base: Value, masks, tone: Value, along_fibre: Value) -> Value:
    """Base colour times (1 + contrast of each feature), never below a tenth, darker on end grain."""
    level = tuple(1 - sum(tint[i] * mean for _, tint, mean in masks.values()) for i in range(3))
    total: Value | Tint = level
    for mask, tint, _ in masks.values():
        if any(tint):
            total = mask.vector("MULTIPLY_ADD", mask, tint, total)
    total = tone.vector("MULTIPLY", tone.vector("MAXIMUM", total, (0.1, 0.1, 0.1)), base)
    drunk = tone.vector("MULTIPLY_ADD", along_fibre * along_fibre, tuple(-w for w in END_GRAIN), (1.0, 1.0, 1.0))
    return tone.vector("MULTIPLY", tone.vector("MULTIPLY", total, tone), drunk)


def _finished(look: Look, bare: Value, state: dict[str, Value]) -> Value:
    """The base colour that shows `finish.finished` of a bare colour: the same formula, arranged for few nodes.

    A metallic lobe returns less in flat light, by a factor that was fitted to renders. What only depends on the
    scene is worked out once, before rendering.
    """
    back, shown = finish.THROWN_BACK, 1 / (0.97 - 0.41 * look.sheen)
    film = bare.vector("MULTIPLY_ADD", state["Amber"], tuple(-shown * finish.AMBER), (shown,) * 3)
    left = bare.vector("MULTIPLY_ADD", bare, (-back,) * 3, (1.0,) * 3)
    wetted = bare.vector("DIVIDE", state["Depth"] * (1 - back), left)
    return bare.vector(
        "MULTIPLY", bare.vector("MULTIPLY", bare, film), bare.vector("ADD", wetted, 1.0 - state["Depth"])
    )


def _tilted(normal: Value, fibre: Value, tilt: Value) -> Value:
    leaning = normal.vector("MULTIPLY_ADD", fibre, tilt, normal)
    return normal.vector("NORMALIZE", leaning)


def _thrice(amount: float) -> Tint:
    """Contrast of a soft noise: its swing is about a third of a mask's; extractives take more blue than red."""
    return (2.6 * amount, 3.0 * amount, 3.4 * amount)
