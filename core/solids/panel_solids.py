"""The solids of a panel: one closed mesh per background piece and per insert.

Every solid has its own small planar arrangement: its outline and the later pockets that touch it, each
face labelled with its own top. Solids whose shapes did not change since an earlier call are taken over.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..areas import EMPTY, all_without_noise
from ..stack.stack import Stack, seated
from .arrangement import Faces, arrange
from .closed_mesh import ClosedMesh, Surface, extrude, volume
from .crowded import Block, uncrowded
from .dust import sweep_dust
from .inner_points import inner_points
from .leaning_mesh import mesh_between
from .leaning_walls import Terrain, terrain
from .softened_edges import soften_top

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
State = Literal["raw", "proud", "finished"]

AT_ONCE = 200
"""Outlines in one pass over whole arrays: many enough for few calls, few enough to stay in the processor's cache."""
ROOM = 5.0
"""mm round a footprint that its solid stays within, tapered and proud as it may be."""
BEYOND = 0.01
"""How far lines run beyond the footprint that they cut, mm."""


@dataclass(frozen=True)
class Recipe:
    """What else a solid's mesh depends on."""

    region: BaseGeometry
    clip: Polygon | None
    soften: float


@dataclass(frozen=True)
class Solid:
    """One closed body of wood, mm, with what a picture needs to know of it."""

    name: str
    kind: Literal["background", "insert"]
    wood: str
    grain: float
    piece: int | None
    """Index into the stack's pieces; None for the background."""
    batch: int
    vertices: Array
    triangles: npt.NDArray[np.int32]
    surface: npt.NDArray[np.uint8]
    centre_line: Array | None
    source: Block
    recipe: Recipe
    dust: float = 0.0
    """mm³ of hair-thin wood that was left out of it."""

    @property
    def mesh(self) -> ClosedMesh:
        """Its surface alone."""
        return ClosedMesh(self.vertices, self.triangles, self.surface, self.dust)

    @property
    def volume(self) -> float:
        """mm^3"""
        return volume(self.mesh)


def build_solids(
    stack: Stack,
    state: State = "raw",
    *,
    clip: Polygon | None = None,
    soften: float = 0.0,
    previous: Iterable[Solid] = (),
    draft: bool = False,
) -> list[Solid]:
    """Every solid of the panel, background first, then inserts in design order; empty ones are left out.

    Args:
        stack: the stack.
        state: "raw" is all wood below the face, untrimmed; "proud" as glued, before trimming; "finished" after
            both trims.
        clip: keep only what lies over this polygon (the section view); its cut faces are exact.
        soften: for display only: a chamfer of so many mm round each solid's highest top face.
        previous: solids of an earlier state of the design. Where nothing that shapes a solid has changed its
            arrays are taken over as they are: after one piece moved these are all but that piece, the earlier
            pieces that it overlapped before or after, and the strips that it touches.
        draft: leave what is made anew sharp, to be quick while a hand moves; a later call softens it.
    """
    blocks = panel_blocks(stack, state)
    whole = Recipe(_region(stack, state, None), None, soften)
    if clip is None:
        return _built(blocks, whole, previous, draft)
    clear, across = _by_clip(blocks, clip)
    made = _built(clear, whole, previous, draft)
    made += _built(across, replace(whole, region=_region(stack, state, clip), clip=clip), previous, draft)
    place = {block.name: number for number, block in enumerate(blocks)}
    return sorted(made, key=lambda solid: place[solid.name])


def _by_clip(blocks: Sequence[Block], clip: Polygon) -> tuple[list[Block], list[Block]]:
    """The blocks that a clip leaves whole, which are the same without it, and those that it cuts."""
    room = np.array([-ROOM, -ROOM, ROOM, ROOM])
    bounds = shapely.bounds([block.footprint for block in blocks]).reshape(-1, 4) + room
    boxes = shapely.box(*bounds.T)
    inside, touched = shapely.covers(clip, boxes), shapely.intersects(clip, boxes)
    clear = [block for block, whole in zip(blocks, inside, strict=True) if whole]
    return clear, [block for block, cut in zip(blocks, touched & ~inside, strict=True) if cut]


def _built(blocks: Sequence[Block], final: Recipe, previous: Iterable[Solid], draft: bool) -> list[Solid]:
    """Solids after one recipe; those of an earlier state that are still right are taken over."""
    recipe = replace(final, soften=0.0) if draft else final
    known = {s.source.key: (s.mesh, s.recipe) for s in previous if s.recipe in (recipe, final)}
    fresh = [block for block in blocks if block.key not in known]
    made = _finish(build_meshes(fresh, recipe.region), recipe)
    meshes = known | {block.key: (mesh, recipe) for block, mesh in zip(fresh, made, strict=True)}
    solids = [_solid(block, *meshes[block.key]) for block in blocks]
    return [solid for solid in solids if len(solid.triangles)]


def _finish(meshes: list[ClosedMesh], recipe: Recipe) -> list[ClosedMesh]:
    if recipe.clip is not None:
        meshes = [_mark_cut(mesh, recipe.clip) for mesh in meshes]
    if recipe.soften > 0:
        meshes = [soften_top(mesh, recipe.soften) for mesh in meshes]
    return meshes


def panel_blocks(stack: Stack, state: State = "raw") -> list[Block]:
    """The blocks of all solids; a stack of one changed piece has equal blocks but where it matters."""
    trim = stack.design.panel.face_trim
    face = {"raw": 0.0, "proud": np.inf, "finished": -trim}[state]
    boxes = np.array([b.box for b in stack.background], dtype=object)
    pockets = np.array([p.pocket if p.sound else EMPTY for p in stack.pieces], dtype=object)
    strip, cutter = shapely.STRtree(pockets).query(boxes, predicate="intersects")
    blocks = []
    for i, background in enumerate(stack.background):
        cutters = tuple(stack.pieces[j] for j in np.sort(cutter[strip == i]))
        top = min(0.0, face)
        blocks.append(
            Block(background.name, background.box, -stack.design.panel.thickness, top, cutters, None, background)
        )
    for placed in stack.pieces:
        if placed.sound:
            cutters = tuple(stack.pieces[j] for j in placed.cut_by)
            footprint = seated(placed.insert, placed.pocket, placed.piece)
            top = min(placed.top, face)
            blocks.append(Block(placed.piece.id, footprint, placed.bottom, top, cutters, placed, None))
    return blocks


def build_meshes(blocks: Sequence[Block], region: BaseGeometry) -> list[ClosedMesh]:
    """The closed meshes of some blocks over a region of the plane (the raw panel, the trimmed one, a part of it)."""
    # Last first: of pieces in one heap each is cut by one pocket more than the next.
    blocks = [uncrowded(block) for block in reversed(blocks)][::-1]
    upright = [block for block in blocks if not block.leans]
    meshes: dict[int, ClosedMesh] = {}
    for some in _portions(upright):
        meshes.update(zip(map(id, some), _upright_meshes(some, region), strict=True))
    return [meshes[id(block)] if id(block) in meshes else _leaning_mesh(block, region) for block in blocks]


def _portions(blocks: Sequence[Block]) -> Iterator[list[Block]]:
    """The blocks, as many at a time as have about `AT_ONCE` outlines, their own and those of their cutters."""
    portion: list[Block] = []
    outlines = 0
    for block in blocks:
        portion.append(block)
        outlines += 1 + len(block.cutters)
        if outlines >= AT_ONCE:
            yield portion
            portion, outlines = [], 0
    if portion:
        yield portion


def _upright_meshes(blocks: Sequence[Block], region: BaseGeometry) -> list[ClosedMesh]:
    """Blocks with upright walls only, all at once."""
    if not blocks:
        return []
    footprints = _within([b.footprint for b in blocks], region)
    owner = np.repeat(np.arange(len(blocks)), [len(b.cutters) for b in blocks])
    pockets = {id(c.pocket): c.pocket for b in blocks for c in b.cutters}
    edges = dict(zip(pockets, shapely.boundary(list(pockets.values())), strict=True))
    lines = _cut_lines([edges[id(c.pocket)] for b in blocks for c in b.cutters], footprints[owner])
    faces = arrange(footprints, lines, owner)
    bottom = np.array([b.bottom for b in blocks], dtype=float)
    tops, dust = sweep_dust(faces, bottom, _tops(faces, blocks, footprints))
    meshes = extrude(faces, bottom, tops)
    return [replace(mesh, dust=swept) if swept else mesh for mesh, swept in zip(meshes, dust.tolist(), strict=True)]


def _leaning_mesh(block: Block, region: BaseGeometry) -> ClosedMesh:
    """A block with leaning walls, its own or those of a later pocket."""
    bottom: float | Terrain = block.bottom
    lines: list[BaseGeometry] = []
    shape = block.footprint
    if block.piece is not None and block.piece.piece.taper:
        bottom = terrain(shape, block.piece.piece.taper, block.top, block.bottom)
        lines, shape = [bottom.lines()], bottom.region
    cutters = [c for c in block.cutters if -c.depth < block.top]
    flat = [(c.pocket, -c.depth) for c in cutters if not c.piece.taper]
    leaning = [terrain(c.pocket, c.piece.taper, block.top, -c.depth) for c in cutters if c.piece.taper]
    lines += [shapely.boundary(pocket) for pocket, _ in flat] + [wall.lines() for wall in leaning]
    footprint = _within([shape], region)[0]
    around = np.full(len(lines), footprint, dtype=object)
    return mesh_between(footprint, bottom, block.top, flat, leaning, _cut_lines(lines, around))


def _within(shapes: Sequence[BaseGeometry], region: BaseGeometry) -> npt.NDArray[np.object_]:
    """Shapes clipped to a region, without lines where they only touch its edge; those inside stay the same objects."""
    array = np.array(shapes, dtype=object)
    shapely.prepare(region)
    outside = ~shapely.covers(region, shapely.envelope(array))
    array[outside] = all_without_noise(shapely.intersection(array[outside], region))
    return array


def _cut_lines(lines: Sequence[BaseGeometry], footprints: npt.NDArray[np.object_]) -> npt.NDArray[np.object_]:
    """Lines round about their footprints.

    They run a little beyond: a line clipped just at the footprint's edge may stop a rounding error short of it, and
    then parts nothing.
    """
    boxes = shapely.bounds(footprints).reshape(-1, 4) + np.array([-BEYOND, -BEYOND, BEYOND, BEYOND])
    clipped = np.empty(len(lines), dtype=object)
    clipped[:] = EMPTY
    for i in np.flatnonzero(~shapely.is_empty(footprints)).tolist():
        clipped[i] = shapely.clip_by_rect(lines[i], *boxes[i].tolist())
    return clipped


def _tops(faces: Faces, blocks: Sequence[Block], footprints: npt.NDArray[np.object_]) -> Array:
    """z of each face's top: the block's own, or the floor of the deepest later pocket over it; void outside."""
    points = inner_points(faces)
    top = np.full(faces.count, -np.inf)
    shapely.prepare(footprints)
    inside = shapely.contains_xy(footprints[faces.block], points[:, 0], points[:, 1])
    top[inside] = np.array([b.top for b in blocks])[faces.block[inside]]
    face_of_block = np.split(np.arange(faces.count), np.searchsorted(faces.block, np.arange(1, len(blocks))))
    pair_face = [face_of_block[b] for b, block in enumerate(blocks) for _ in block.cutters]
    cutters = [c for block in blocks for c in block.cutters]
    if cutters:
        face = np.concatenate(pair_face)
        which = np.repeat(np.arange(len(cutters)), [len(f) for f in pair_face])
        pockets = np.array([c.pocket for c in cutters], dtype=object)
        shapely.prepare(pockets)
        hit = shapely.contains_xy(pockets[which], points[face, 0], points[face, 1])
        floors = np.array([-c.depth for c in cutters])
        np.minimum.at(top, face[hit], floors[which[hit]])
    return top


def _region(stack: Stack, state: State, clip: Polygon | None) -> BaseGeometry:
    region = stack.finished_box if state == "finished" else stack.box
    return region if clip is None else shapely.intersection(region, clip)


def _mark_cut(mesh: ClosedMesh, clip: Polygon) -> ClosedMesh:
    """Walls that lie along the clip's boundary are cut faces."""
    walls = np.flatnonzero(mesh.surface == Surface.WALL)
    middle = mesh.vertices[mesh.triangles[walls]].mean(axis=1)
    boundary = shapely.boundary(clip)
    shapely.prepare(boundary)
    on = shapely.distance(boundary, shapely.points(middle[:, :2])) < 1e-6
    surface = mesh.surface.copy()
    surface[walls[on]] = Surface.CUT
    return replace(mesh, surface=surface)


def _solid(block: Block, mesh: ClosedMesh, recipe: Recipe) -> Solid:
    placed, strip = block.piece, block.background
    kind: Literal["background", "insert"] = "insert" if placed else "background"
    wood, grain = (placed.piece.wood, placed.grain) if placed else (strip.wood, strip.grain) if strip else ("", 0.0)
    return Solid(
        name=block.name,
        kind=kind,
        wood=wood,
        grain=grain,
        piece=placed.index if placed else None,
        batch=placed.batch if placed else 0,
        vertices=mesh.vertices,
        triangles=mesh.triangles,
        surface=mesh.surface,
        centre_line=placed.centre_line if placed else None,
        source=block,
        recipe=recipe,
        dust=mesh.dust,
    )
