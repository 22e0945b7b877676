"""Procedural wood: one solid volume per species, in millimetres, that every piece is cut from at its own place.

The geometry carries where each vertex was in its log (see `core.boards.log_space`), the material turns that place into
rings, pores, rays and fibre direction. So faces, walls, ends and section cuts agree without any mapping, and nothing
stretches or repeats. All features are added to the species' base colour with zero mean, so that the average colour
of a face is that of the species table.

The highlight follows Marschner et al. 2005 (finished wood shines from fibres below the surface): a coloured
anisotropic lobe about a normal that tilts with the fibre, under a clear coat that keeps the plain one. The volume
follows the idea of Liu et al. 2016: rings, pores, rays and drift of colour share one distortion.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.design import OwnWood
from ...core.woods import finish
from ...core.woods.species import find_wood
from .. import versions
from ..meshes import FIBRE, LOG, TONE
from . import eyes
from .figure_nodes import Masks, figure
from .node_maths import Value, absolute, arrange, node, separate
from .species_looks import Look, look_for

AGE = "grainstack.age"
"""The scene's slider, read by all materials as it is, so that keyframes on it show."""
STATE = "grainstack_wood"
"""Property of a scene that all materials read: (age - 0.5, depth and amber of the finish, gloss); see `show_as`."""
SHARED = "Grainstack time and finish"
AGES = 5
"""Colours of a species from cut to aged, between which its ramp runs straight."""

UNKNOWN_WOOD = "#89807a"
END_GRAIN = (0.22, 0.28, 0.36)
"""How much darker end grain is, in linear red, green, blue: it drinks more of the finish."""


Colours = tuple[str, str, str | None]
"""Colours of bare wood as #rrggbb: just cut, aged, and settled where that is not halfway."""


def material_for(wood_name: str, own: Sequence[OwnWood] = ()) -> bpy.types.Material:
    """The material of a wood, by any of its names; made on first use. An unknown wood is a plain grey-brown.

    Age and finish are the scene's, see `show_as`: one material serves all scenes. `own`: the maker's own woods.
    """
    species = find_wood(wood_name, own)
    name = f"Grainstack {species.common_name if species else wood_name}"
    if species is not None and species.looks_like:
        name += f" {short_digest(species)}"
    made = bpy.data.materials.get(name)
    if made is not None and made.library is None:
        return made
    if species is None:
        return _make(name, look_for(wood_name), (UNKNOWN_WOOD, UNKNOWN_WOOD, None))
    look = look_for(species.kind, species.pores)
    return _make(name, look, (species.fresh_colour, species.aged_colour, species.settled_colour))


def short_digest(*values: object) -> str:
    """A few letters that tell these values from others."""
    return hashlib.blake2b(repr(values).encode(), digest_size=4).hexdigest()


def show_as(scene: bpy.types.Scene, age: float = finish.SETTLED, finish_name: str = "oil") -> None:
    """Show all wood of a scene at an age (0 cut, 0.5 settled, 1 aged) and under a finish of `finish.FINISHES`.

    No material is made or changed: they look the scene's property up. A scene without it shows settled bare wood.
    """
    chosen = finish.FINISHES[finish_name]
    scene[STATE] = (age - finish.SETTLED, chosen.depth, chosen.amber, chosen.gloss)
    scene.update_tag()


def _make(name: str, look: Look, colours: Colours) -> bpy.types.Material:
    material = bpy.data.materials.new(name)
    tree = versions.empty_material_tree(material)
    material.diffuse_color = (*_bare(colours, finish.SETTLED), 1.0)
    volume = _volume_group(f"{name} volume", look, colours)

    log, (fibre, normal) = stored(tree, LOG), fibre_and_normal(tree)
    tone = node(tree, "ShaderNodeAttribute", output=2, attribute_name=TONE, attribute_type="GEOMETRY")
    wood = tree.nodes.new("ShaderNodeGroup")
    wood.node_tree = volume
    for socket, value in {"Log": log, "Fibre": fibre, "Tone": tone, "Normal": normal}.items():
        tree.links.new(value.socket, wood.inputs[socket])
    out = {socket.name: Value(tree, socket) for socket in wood.outputs}
    shade(tree, look, out, fibre, normal)
    return material


def stored(tree: bpy.types.ShaderNodeTree, attribute: str) -> Value:
    """A vector that a mesh carries."""
    return node(tree, "ShaderNodeAttribute", output=1, attribute_name=attribute, attribute_type="GEOMETRY")


def fibre_and_normal(tree: bpy.types.ShaderNodeTree) -> tuple[Value, Value]:
    """The fibre's direction and the surface's normal in the world."""
    spaces = {"vector_type": "VECTOR", "convert_from": "OBJECT", "convert_to": "WORLD"}
    fibre = node(tree, "ShaderNodeVectorTransform", {versions.TURNED_VECTOR: stored(tree, FIBRE)}, **spaces)
    return fibre, node(tree, "ShaderNodeNewGeometry", output="Normal")


def shade(tree: bpy.types.ShaderNodeTree, look: Look, out: dict[str, Value], fibre: Value, normal: Value) -> None:
    """Finished wood as the material's surface, of these outputs of a volume; the end of every wood's tree."""
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


def _volume_group(name: str, look: Look, colours: Colours) -> bpy.types.ShaderNodeTree:
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
    state = scene_state(tree)
    masks, tilt = figure(look, given["Log"])
    bare = _ramp(state["Age"], colours)
    base, steepness = shown_colour(look, bare, state), _steepness(bare, state)
    gloss = state["Gloss"]
    result = {
        "Colour": _colour(base, steepness, masks, given["Tone"], along_fibre),
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


def scene_state(tree: bpy.types.ShaderNodeTree) -> dict[str, Value]:
    """Age and finish of the scene that is rendered, from the one group that all species share."""
    shared = bpy.data.node_groups.get(SHARED) or _state_group()
    group = tree.nodes.new("ShaderNodeGroup")
    group.node_tree = shared
    return {socket.name: Value(tree, socket) for socket in group.outputs}


def _state_group() -> bpy.types.ShaderNodeTree:
    tree = bpy.data.node_groups.new(SHARED, "ShaderNodeTree")
    leave = tree.nodes.new("NodeGroupOutput")
    given = node(tree, "ShaderNodeAttribute", attribute_name=STATE, attribute_type="VIEW_LAYER")
    told, depth, amber = separate(given)
    gloss = Value(tree, given.socket.node.outputs["Alpha"])
    slider = node(tree, "ShaderNodeAttribute", output=2, attribute_name=AGE, attribute_type="VIEW_LAYER")
    found = Value(tree, slider.socket.node.outputs["Alpha"])  # 0 in a Blender without the add-on
    age = slider + (told + finish.SETTLED) * (1.0 - found)
    for name, value in {"Age": age, "Depth": depth, "Amber": amber, "Gloss": gloss}.items():
        tree.interface.new_socket(name, in_out="OUTPUT", socket_type="NodeSocketFloat")
        tree.links.new(value.socket, leave.inputs[name])
    arrange(tree)
    return tree


def _bare(colours: Colours, age: float) -> NDArray[np.float64]:
    fresh, aged, settled = colours
    return finish.at_age(fresh, aged, age, settled)


def _ramp(age: Value, colours: Colours) -> Value:
    """The species' bare colour at an age."""
    ramp = age.node("ShaderNodeValToRGB", (age,))
    stops = ramp.socket.node.color_ramp.elements
    for number, at in enumerate(np.linspace(0, 1, AGES)):
        stop = stops.new(at) if 0 < number < AGES - 1 else stops[-1 if number else 0]
        stop.color = (*_bare(colours, at), 1.0)
    return ramp


def _colour(base: Value, steepness: Value, masks: Masks, tone: Value, along_fibre: Value) -> Value:
    """Base colour times (1 + contrast of each feature), never below a tenth, darker on end grain."""
    total: Value | Sequence[float] = [-sum(tint[i] * mean for _, tint, mean in masks.values()) for i in range(3)]
    for mask, tint, _ in masks.values():
        if any(tint):
            total = mask.vector("MULTIPLY_ADD", mask, tint, total)
    total = tone.vector("MULTIPLY_ADD", total, steepness, (1.0, 1.0, 1.0))
    total = tone.vector("MULTIPLY", tone.vector("MAXIMUM", total, (0.1, 0.1, 0.1)), base)
    drunk = tone.vector("MULTIPLY_ADD", along_fibre * along_fibre, tuple(-w for w in END_GRAIN), (1.0, 1.0, 1.0))
    return tone.vector("MULTIPLY", tone.vector("MULTIPLY", total, tone), drunk)


def _steepness(bare: Value, state: dict[str, Value]) -> Value:
    """How much more a finish changes light and dark features than the base: d log finished / d log bare.

    With it the finish is worked out for the base alone, once before rendering, and not at every point of a face.
    """
    back, depth, ones = finish.THROWN_BACK, state["Depth"], (1.0, 1.0, 1.0)
    left = bare.vector("MULTIPLY_ADD", bare, (-back,) * 3, ones)
    wetted, dry = bare.vector("DIVIDE", depth * (1 - back), left), 1.0 - depth
    slope = bare.vector("ADD", bare.vector("DIVIDE", wetted, left), dry)
    return bare.vector("DIVIDE", slope, bare.vector("ADD", wetted, dry))


def shown_colour(look: Look, bare: Value, state: dict[str, Value]) -> Value:
    """The base colour that shows `finish.finished` of a bare colour: the same formula, arranged for few nodes.

    A metallic lobe returns less in flat light, by a factor that was fitted to renders. What only depends on the
    scene is worked out once, before rendering.
    """
    back, shown = finish.THROWN_BACK, 1 / (0.97 - 0.41 * look.sheen)
    film = bare.vector("MULTIPLY_ADD", state["Amber"], tuple(-shown * finish.AMBER), (shown,) * 3)
    left = bare.vector("MULTIPLY_ADD", bare, (-back,) * 3, (1.0,) * 3)
    wetted = bare.vector("DIVIDE", state["Depth"] * (1 - back), left)
    kept = bare.vector("ADD", wetted, 1.0 - state["Depth"])
    return eyes.seen(bare.vector("MULTIPLY", bare.vector("MULTIPLY", bare, film), kept))


def _tilted(normal: Value, fibre: Value, tilt: Value) -> Value:
    leaning = normal.vector("MULTIPLY_ADD", fibre, tilt, normal)
    return normal.vector("NORMALIZE", leaning)
