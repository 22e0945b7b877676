"""Makes our solids with general mesh booleans: manifold3d, and the solvers of Blender's boolean modifier.

Each peer gets what helps it: upright prisms, already culled (a pocket is taken only from the solids that it
touches), all of a solid's pockets in one batch. Its result counts as done when the meshes are there to be read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
import shapely

from core.solids.closed_mesh import ClosedMesh, volume
from core.solids.panel_solids import panel_blocks
from core.stack.stack import Stack

Array = npt.NDArray[np.float64]
ABOVE = 1.0
"""How far a pocket's prism reaches above the face, mm, so that no two faces coincide there."""


@dataclass(frozen=True)
class Prism:
    """An upright prism over one ring."""

    ring: Array
    """(n, 2) counter-clockwise, not closed, mm."""
    bottom: float
    top: float


@dataclass(frozen=True)
class Booleans:
    """What every peer is given: bodies, and the pockets to take from each."""

    names: tuple[str, ...]
    bodies: tuple[Prism, ...]
    pockets: tuple[Prism, ...]
    cuts: tuple[tuple[int, ...], ...]
    """For each body, the indices of the pockets that are cut from it."""


def booleans_of(stack: Stack) -> Booleans:
    """The raw panel's solids as differences of prisms."""
    blocks = panel_blocks(stack)
    return Booleans(
        names=tuple(block.name for block in blocks),
        bodies=tuple(_prism(block.footprint, block.bottom, block.top) for block in blocks),
        pockets=tuple(_prism(placed.pocket, -placed.depth, ABOVE) for placed in stack.pieces),
        cuts=tuple(tuple(cutter.index for cutter in block.cutters) for block in blocks),
    )


def _prism(shape: Any, bottom: float, top: float) -> Prism:
    if shape.geom_type != "Polygon" or shape.interiors:
        raise ValueError("The scene's shapes are single rings")
    return Prism(shapely.get_coordinates(shapely.orient_polygons(shape))[:-1], bottom, top)


def volume_of(vertices: Array, triangles: npt.NDArray[Any]) -> float:
    """mm^3, by the same formula for all."""
    return volume(ClosedMesh(vertices, triangles, np.empty(0, np.uint8)))


class Peer(Protocol):
    """A maker of the same solids."""

    name: str

    def prepare(self, booleans: Booleans) -> None:
        """Build the prisms."""

    def cut(self) -> None:
        """Take the pockets from the bodies, up to meshes that can be read."""

    def volumes(self) -> dict[str, float]:
        """Volume of each solid after `cut`, mm^3."""


class Manifold:
    """manifold3d: batch booleans in double precision."""

    name = "manifold3d"

    def prepare(self, booleans: Booleans) -> None:
        """Build the prisms."""
        self.names, self.cuts = booleans.names, booleans.cuts
        self.bodies = [self._extruded(prism) for prism in booleans.bodies]
        self.pockets = [self._extruded(prism) for prism in booleans.pockets]

    @staticmethod
    def _extruded(prism: Prism) -> Any:
        import manifold3d

        solid = manifold3d.CrossSection([prism.ring]).extrude(prism.top - prism.bottom)
        solid = solid.translate((0.0, 0.0, prism.bottom))
        solid.num_tri()  # works it out now, not in the first cut
        return solid

    def cut(self) -> None:
        """Take the pockets from the bodies, up to meshes that can be read."""
        from manifold3d import Manifold, OpType

        results = [
            Manifold.batch_boolean([body, *(self.pockets[p] for p in cuts)], OpType.Subtract) if cuts else body
            for body, cuts in zip(self.bodies, self.cuts, strict=True)
        ]
        self.meshes = [result.to_mesh64() for result in results]

    def volumes(self) -> dict[str, float]:
        """Volume of each solid after `cut`, mm^3."""
        return {
            name: volume_of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))
            for name, mesh in zip(self.names, self.meshes, strict=True)
        }


class Blender:
    """One solver of Blender's boolean modifier, each solid's pockets in one collection."""

    def __init__(self, solver: str) -> None:
        self.solver = solver
        self.name = f"Blender, {solver.lower()}"

    def prepare(self, booleans: Booleans) -> None:
        """Build the prisms."""
        import bpy

        bpy.ops.wm.read_factory_settings(use_empty=True)
        scene = bpy.context.scene.collection
        pockets = [self._object(f"pocket-{i}", prism) for i, prism in enumerate(booleans.pockets)]
        self.bodies = []
        for name, prism, cuts in zip(booleans.names, booleans.bodies, booleans.cuts, strict=True):
            body = self._object(name, prism)
            scene.objects.link(body)
            self.bodies.append(body)
            if cuts:
                some = bpy.data.collections.new(name)
                for p in cuts:
                    some.objects.link(pockets[p])
                modifier = body.modifiers.new("cut", "BOOLEAN")
                modifier.operation, modifier.solver = "DIFFERENCE", self.solver
                modifier.operand_type, modifier.collection = "COLLECTION", some
                modifier.show_viewport = False
        self._evaluate()

    @staticmethod
    def _object(name: str, prism: Prism) -> Any:
        import bpy

        count = len(prism.ring)
        lower, upper = np.arange(count), np.arange(count) + count
        sides = np.stack([lower, np.roll(lower, -1), np.roll(upper, -1), upper], axis=1)
        heights = np.repeat([prism.bottom, prism.top], count)
        vertices = np.column_stack([np.tile(prism.ring, (2, 1)), heights])
        mesh = bpy.data.meshes.new(name)
        mesh.from_pydata(vertices.tolist(), [], [lower[::-1].tolist(), upper.tolist(), *sides.tolist()])
        return bpy.data.objects.new(name, mesh)

    @staticmethod
    def _evaluate() -> Any:
        import bpy

        graph = bpy.context.evaluated_depsgraph_get()
        graph.update()
        return graph

    def cut(self) -> None:
        """Take the pockets from the bodies, up to meshes that can be read."""
        for body in self.bodies:
            for modifier in body.modifiers:
                modifier.show_viewport = True
            body.update_tag(refresh={"DATA"})  # or Blender would keep what it made the time before
        graph = self._evaluate()
        self.meshes = [body.evaluated_get(graph).data for body in self.bodies]

    def volumes(self) -> dict[str, float]:
        """Volume of each solid after `cut`, mm^3."""
        found = {}
        for body, mesh in zip(self.bodies, self.meshes, strict=True):
            mesh.calc_loop_triangles()
            vertices = np.empty(len(mesh.vertices) * 3, np.float32)
            triangles = np.empty(len(mesh.loop_triangles) * 3, np.int32)
            mesh.vertices.foreach_get("co", vertices)
            mesh.loop_triangles.foreach_get("vertices", triangles)
            found[body.name] = volume_of(vertices.reshape(-1, 3).astype(float), triangles.reshape(-1, 3))
        return found
