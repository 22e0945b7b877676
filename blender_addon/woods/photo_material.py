"""A board's photo as wood: the picture at its true scale where `core.boards.figure` puts it, white as the card says.

The photo shows bare wood as it is; it takes the scene's finish like all woods, but no age.
"""

from __future__ import annotations

import contextlib
from dataclasses import replace

import bpy

from ...core.boards.place_on_photo import PhotoBoard
from ...core.boards.white_balance import balance_of
from ...core.errors import UnusableInput
from ...core.woods.species import Species
from .. import versions
from ..meshes import PHOTO
from .node_maths import Value, absolute, combine, separate
from .species_looks import look_for
from .wood_material import END_GRAIN, fibre_and_normal, scene_state, shade, short_digest, shown_colour, stored

SHEEN = 0.06
"""Weight of the fibres' coloured highlight: little, since the photo shows them as the light fell on them."""


def photo_material(species: Species, board: PhotoBoard) -> bpy.types.Material:
    """The material of a board from a photo; made on first use, and anew for another photo, scale or card."""
    name = f"Grainstack {species.common_name} {short_digest(board)}"
    made = bpy.data.materials.get(name)
    if made is not None and made.library is None:
        return made
    material = bpy.data.materials.new(name)
    tree = versions.empty_material_tree(material)
    look = replace(look_for(species.kind, species.pores), sheen=SHEEN)
    fibre, normal = fibre_and_normal(tree)
    along_fibre = absolute(fibre.vector("DOT_PRODUCT", fibre, normal, output="Value"))
    photo = _photo(stored(tree, PHOTO), board)
    white = photo.vector("MULTIPLY", photo, _balance(board))
    drunk = white.vector("MULTIPLY_ADD", along_fibre * along_fibre, tuple(-w for w in END_GRAIN), (1.0, 1.0, 1.0))
    state = scene_state(tree)
    out = {
        "Colour": shown_colour(look, white.vector("MULTIPLY", white, drunk), state),
        "Fibre Normal": normal,
        "Anisotropy": 0.75 - along_fibre * 0.75,
        "Coat": state["Gloss"],
        "Coat Roughness": 0.36 - state["Gloss"] * 0.22,
    }
    shade(tree, look, out, fibre, normal)
    return material


def _photo(place: Value, board: PhotoBoard) -> Value:
    """The photo's colour, linear light, at a place on the board; beyond its edge goes on the photo's mirror image."""
    left, top, right, bottom = board.crop
    x, y, _ = separate(place)
    inside = combine(place.tree, x.maths("PINGPONG", x, 1.0), y.maths("PINGPONG", y, 1.0), 0.0)
    size = ((right - left) / board.width, (bottom - top) / board.height, 0.0)
    corner = (left / board.width, 1.0 - bottom / board.height, 0.0)
    picture = place.tree.nodes.new("ShaderNodeTexImage")
    picture.image, picture.extension = _image(board), "EXTEND"
    place.tree.links.new(inside.vector("MULTIPLY_ADD", inside, size, corner).socket, picture.inputs["Vector"])
    return Value(place.tree, picture.outputs["Color"])


def _image(board: PhotoBoard) -> bpy.types.Image:
    """The photo, named from the .blend where that was saved, and read anew where its file has changed."""
    image = bpy.data.images.load(str(board.path), check_existing=True)
    if bpy.data.is_saved:
        with contextlib.suppress(ValueError):  # it lies on another drive
            image.filepath = bpy.path.relpath(str(board.path))
    image.reload()
    image.colorspace_settings.name, image.alpha_mode = "sRGB", "NONE"
    return image


def _balance(board: PhotoBoard) -> tuple[float, float, float]:
    """White as the grey card says; where it says nothing a finding tells so, and colours stay as photographed."""
    try:
        return balance_of(board)
    except UnusableInput:
        return 1.0, 1.0, 1.0
