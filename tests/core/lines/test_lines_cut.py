"""The cut files cut in simulation: what each batch's lines take and leave, batch by batch, is core's finished panel.

On a raster: the cutter's middle may be wherever its disc stays on its side of the lines, and takes all that its disc
reaches. Distances are scipy's, the inside of lines is counted along each row, the lines are read back from the SVG.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import reduce
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import Phase, assume, given, settings
from scipy.ndimage import distance_transform_edt, maximum_filter, minimum_filter

from core.findings.check import load_stack
from core.lines.cuts import all_cuts
from core.lines.drawing import drawings
from core.lines.write import Choices, write_lines
from core.stack.stack import build_stack
from tests.core.designs import designs, make_design, make_piece, rectangle
from tests.core.oracles import inside_even_odd, rings_of, slab_depths

from .test_lines import KOI_POND, svg_lines

VOID = -1
FINER = 3
"""The cutter is swept on a raster so many times as fine, since its middle falls between pixels."""


@dataclass
class Raster:
    """The panel in layers: who owns each pixel at each of some depths."""

    stack: object
    step: float
    depths: list

    def __post_init__(self):
        panel = self.stack.design.panel
        self.xs = np.arange(self.step / 2, panel.width, self.step)
        self.ys = np.arange(self.step / 2, panel.height, self.step)
        self.layers = np.full((len(self.depths), len(self.ys), len(self.xs)), VOID, np.int16)
        for number, body in enumerate(self.stack.background):
            left, bottom, right, top = body.box.bounds
            where = (self.ys[:, None] > bottom) & (self.ys[:, None] < top) & (self.xs > left) & (self.xs < right)
            self.layers[:, where] = len(self.stack.pieces) + number

    def window(self, lines, room, finer=1):
        """Pixels round some lines, in and beyond the panel: their middles, and where they lie in the layers.

        With `finer` each is cut up into so many times as many: of them the middle one lies where the pixel's middle is.
        """
        points = np.concatenate(lines)
        low = np.floor((points.min(axis=0) - room) / self.step).astype(int)
        high = np.ceil((points.max(axis=0) + room) / self.step).astype(int)
        share = (np.arange(finer) + 0.5) / finer
        xs, ys = (((np.arange(a, b)[:, None] + share) * self.step).ravel() for a, b in zip(low, high, strict=True))
        x0, y0 = np.maximum(low, 0)
        x1, y1 = np.minimum(high, [len(self.xs), len(self.ys)])
        inner = (slice(y0 - low[1], max(y1, y0) - low[1]), slice(x0 - low[0], max(x1, x0) - low[0]))
        return xs, ys, (slice(y0, max(y1, y0)), slice(x0, max(x1, x0))), inner

    def paint(self, shape, depth, value):
        """What core says: a shape at a depth."""
        rings = rings_of(shape)
        if not shape.is_empty:
            xs, ys, place, inner = self.window(rings, 1.0)
            self.layers[depth][place][inside_even_odd(rings, xs, ys)[inner]] = value


def away(mask, step):
    """Distance of each pixel's middle from the nearest one in a mask, mm; the mask's edge lies half a pixel nearer."""
    return distance_transform_edt(~mask) * step if mask.any() else np.full(mask.shape, np.inf)


def cut_and_filled(raster, pockets, inserts):
    """All batches cut along lines (by piece: rings on the panel), their inserts cut from theirs and put in."""
    step = raster.step / FINER
    core = slice(FINER // 2, None, FINER)
    for batch in raster.stack.batches:
        for index in batch:
            placed = raster.stack.pieces[index]
            piece, tan = placed.piece, math.tan(math.radians(placed.piece.taper))
            lines = pockets[index]
            radius = piece.cutter_diameter / 2
            room = 2 * radius + (placed.depth + max(placed.top, 0)) * tan + 1
            xs, ys, place, inner = raster.window(lines, room, FINER)
            slack = 0.75 * step  # a slot as wide as the cutter would vanish between pixels
            if piece.is_groove:
                from_path = away_from_line(lines[0], xs, ys)
                reach = radius
            else:
                inside = inside_even_odd(lines, xs, ys)
                middles = distance_transform_edt(inside) * step - step / 2 >= radius - slack
                from_path, reach = away(middles, step), radius - slack
            if not piece.is_groove:
                of_insert = inside_even_odd(inserts[index], xs, ys)
                outside = away(of_insert, step) - step / 2 >= radius - slack
                from_outside = away(outside, step)
            for number, depth in enumerate(raster.depths):
                if depth >= placed.depth:
                    continue
                cleared = from_path <= reach + (piece.pocket_depth - depth) * tan
                layer = raster.layers[number][place]
                layer[cleared[core, core][inner]] = VOID
                if placed.bottom < -depth <= placed.top:
                    if piece.is_groove:
                        left = inside_even_odd(rings_of(placed.insert), xs, ys)
                    else:
                        left = from_outside > radius - slack + (placed.top + depth) * tan
                    layer[(cleared & left)[core, core][inner]] = index


def away_from_line(line, xs, ys):
    """Distance of each pixel from an open line, mm; only near it, and endless elsewhere."""
    best = np.full((len(ys), len(xs)), np.inf)
    step, room = xs[1] - xs[0], 3.0
    for start, end in pairwise(line):
        low, high = np.minimum(start, end) - room, np.maximum(start, end) + room
        x0, y0 = np.maximum(np.floor((low - [xs[0], ys[0]]) / step), 0).astype(int)
        x1, y1 = np.ceil((high - [xs[0], ys[0]]) / step).astype(int)
        x, y = np.meshgrid(xs[x0:x1], ys[y0:y1])
        along = end - start
        share = ((x - start[0]) * along[0] + (y - start[1]) * along[1]) / max(along @ along, 1e-12)
        share = np.clip(share, 0, 1)
        part = best[y0:y1, x0:x1]
        np.minimum(part, np.hypot(x - start[0] - share * along[0], y - start[1] - share * along[1]), out=part)
    return best


def finished(stack, step, depths):
    """The panel as core says it: at each depth pieces in their order, each pocket through all before it."""
    raster = Raster(stack, step, depths)
    for number, depth in enumerate(depths):
        for placed in stack.pieces:
            if placed.sound and depth < placed.depth:
                raster.paint(placed.pocket_at(depth), number, VOID)
                raster.paint(placed.insert_at(depth), number, placed.index)
    return raster.layers


def read_lines(stack, folder):
    """For each piece the rings of its pocket, and of its insert brought back to the panel, from the SVG files."""
    write_lines(stack, folder, Choices(("svg",)), findings=())
    batches = all_cuts(stack)
    pockets, inserts = {}, {}
    for drawing in drawings(stack, batches):
        kinds = {}
        number = int(drawing.name.split("-")[1])
        cuts = batches[number - 1].pockets if drawing.name.endswith("pockets") else batches[number - 1].inserts
        owner = {id(line.source): cut.placed.index for cut in cuts for line in cut.lines}
        for line in drawing.lines:
            if line.layer not in kinds:
                kinds[line.layer] = iter(svg_lines(folder / f"{drawing.name}.svg", line.layer))
            points = np.array(next(kinds[line.layer]).coords)
            there = (points - line.shift) @ line.turn  # a turn or mirror image: its transpose undoes it
            rings = pockets if drawing.name.endswith("pockets") else inserts
            rings.setdefault(owner[id(line.source)], []).append(there)
    return pockets, inserts


def assert_cut_as_core_says(stack, step, folder, room=1):
    """Both panels differ at most `room` pixels from an edge."""
    __tracebackhide__ = True
    events = slab_depths(stack)
    trim = stack.design.panel.face_trim
    depths = [float(d) for d in (events[:-1] + events[1:]) / 2 if d > trim]
    raster = Raster(stack, step, depths)
    cut_and_filled(raster, *read_lines(stack, folder))
    wanted = finished(stack, step, depths)
    left, bottom, right, top = stack.finished_box.bounds
    trimmed = (raster.ys[:, None] > bottom) & (raster.ys[:, None] < top) & (raster.xs > left) & (raster.xs < right)
    trimmed[:room], trimmed[-room:], trimmed[:, :room], trimmed[:, -room:] = (False,) * 4  # an edge may lie just beyond
    assert trimmed.any()
    for depth, got, said in zip(depths, raster.layers, wanted, strict=True):
        size = 2 * room + 1
        edge = maximum_filter(said, size) != minimum_filter(said, size)
        wrong = (got != said) & ~edge & trimmed
        assert not wrong.any(), (depth, int(wrong.sum()), np.argwhere(wrong)[:3] * step)
    return wanted


def as_readable(design):
    """The design with clearances that a design file may say: below the cutter's radius."""
    pieces = (replace(p, side_clearance=min(p.side_clearance, p.cutter_radius / 2)) for p in design.pieces)
    return replace(design, pieces=tuple(pieces))


@given(design=designs(most=3, tapers=(0.0, 0.0, 2.0)))
@settings(max_examples=5, phases=[Phase.generate])  # shrinking takes minutes
def test_random_panels_cut_along_their_lines_are_core_s_finished_panels(design, tmp_path_factory):
    stack = build_stack(as_readable(design))
    assume(stack.batches)
    assert_cut_as_core_says(stack, 0.05, tmp_path_factory.mktemp("cut"))


@pytest.fixture(scope="module")
def pond():
    return load_stack(KOI_POND)


@pytest.fixture(scope="module")
def pond_lines(pond, tmp_path_factory):
    return read_lines(pond, tmp_path_factory.mktemp("pond"))


def test_the_koi_pond_cut_along_its_lines_is_core_s_finished_panel(pond, pond_lines):
    """As on a raster of 0.05 mm, on which so large a panel would take many minutes and gigabytes, but with shapes."""
    depths = shown_depths(pond)
    cutter = Cutter(pond, *pond_lines)
    for depth in depths:
        got, said = exactly_cut(cutter, depth), exactly_said(pond, depth)
        assert got.keys() == said.keys()
        assert len(got) > 60 or depth > depths[0]
        assert not wrong_owners(pond, got, said), depth


def test_a_pond_with_one_line_a_tenth_of_a_millimetre_off_is_not_core_s(pond, pond_lines):
    pockets, inserts = pond_lines
    index = pond.batches[0][-1]
    moved = {**pockets, index: [ring + np.array([0.1, 0.0]) for ring in pockets[index]]}
    depth = shown_depths(pond)[0]
    assert wrong_owners(pond, exactly_cut(Cutter(pond, moved, inserts), depth), exactly_said(pond, depth))


# --- With shapes instead of pixels ----------------------------------------------------------------------------------

PIXEL = 0.05
"""Two owners of the panel's wood may differ along their edges nowhere wider than this, mm."""
FINE = 24
"""Segments to the quarter circle: within 0.002 mm at the largest cutter of the pond."""

SLACK = 0.003
"""Radii are taken smaller by this, mm: 0.001 as core does, and 0.002 for the fitted curve."""


def shown_depths(stack):
    """A depth in each slab in which nothing begins or ends, below what the face is trimmed by."""
    events = slab_depths(stack)
    return [float(d) for d in (events[:-1] + events[1:]) / 2 if d > stack.design.panel.face_trim]


def enclosed(rings):
    """What lies inside an odd number of rings."""
    parts = [shapely.simplify(shapely.polygons(ring), 0.0005) for ring in rings]
    return reduce(shapely.symmetric_difference, parts)


class Cutter:
    """What the cutter clears and leaves along the lines of each piece, each shape made once for all depths."""

    def __init__(self, stack, pockets, inserts):
        self.stack, self.pockets, self.inserts = stack, pockets, inserts
        self._kept = {}

    def _once(self, key, make):
        if key not in self._kept:
            self._kept[key] = make()
        return self._kept[key]

    def cleared(self, placed, depth):
        piece, index = placed.piece, placed.index
        radius = piece.cutter_diameter / 2
        if piece.is_groove:
            line = shapely.linestrings(self.pockets[index][0])
            return self._once(("cleared", index), lambda: shapely.buffer(line, radius, quad_segs=FINE))
        radius -= SLACK
        middles = self._once(
            ("in", index), lambda: shapely.buffer(enclosed(self.pockets[index]), -radius, quad_segs=FINE)
        )
        wider = (piece.pocket_depth - depth) * math.tan(math.radians(piece.taper))
        return self._once(("cleared", index, wider), lambda: shapely.buffer(middles, radius + wider, quad_segs=FINE))

    def left(self, placed, depth):
        piece, index = placed.piece, placed.index
        if piece.is_groove:
            return placed.insert
        radius = piece.cutter_diameter / 2 - SLACK
        middles = self._once(
            ("out", index), lambda: shapely.buffer(enclosed(self.inserts[index]), radius, quad_segs=FINE)
        )
        wider = (placed.top + depth) * math.tan(math.radians(piece.taper))
        return self._once(("left", index, wider), lambda: shapely.buffer(middles, -radius - wider, quad_segs=FINE))


def exactly_cut(cutter, depth):
    """Who owns the panel at a depth once all batches are cut along the lines and filled: shapes by number."""
    owners = bare(cutter.stack)
    for batch in cutter.stack.batches:
        for placed in (cutter.stack.pieces[index] for index in batch):
            if depth < placed.depth:
                cleared = cutter.cleared(placed, depth)
                taken(owners, cleared)
                if placed.bottom < -depth <= placed.top:
                    owners[placed.index] = shapely.intersection(cutter.left(placed, depth), cleared)
    return owners


def exactly_said(stack, depth):
    """Parts as core says them, pieces in their order."""
    owners = bare(stack)
    for placed in stack.pieces:
        if depth < placed.depth:
            taken(owners, placed.pocket_at(depth))
            if not placed.insert_at(depth).is_empty:
                owners[placed.index] = placed.insert_at(depth)
    return owners


def bare(stack):
    return {len(stack.pieces) + number: body.box for number, body in enumerate(stack.background)}


def taken(owners, pocket):
    shapely.prepare(pocket)
    for owner, shape in owners.items():
        if shapely.intersects(pocket, shape):
            owners[owner] = shapely.difference(shape, pocket)


def wrong_owners(stack, got, said):
    """Whose wood differs somewhere by more than a pixel along its edge, inside the edge trim."""
    off = {}
    for owner, wanted in said.items():
        if wanted.is_empty and got.get(owner, wanted).is_empty:
            continue
        both = shapely.symmetric_difference(got.get(owner, shapely.Point()), wanted)
        wide = shapely.buffer(shapely.intersection(both, stack.finished_box), -PIXEL / 2)
        if not wide.is_empty:
            off[owner] = wide.representative_point().coords[0]
    return off


def test_a_panel_cut_along_lines_of_another_size_is_not_core_s(tmp_path):
    stack = build_stack(make_design([make_piece("a", rectangle(30, 20), at=(40, 30))]))
    pockets, inserts = read_lines(stack, tmp_path)
    depths = [1.0]
    raster = Raster(stack, 0.05, depths)
    cut_and_filled(raster, {0: [ring * 1.01 for ring in pockets[0]]}, inserts)
    wanted = finished(stack, 0.05, depths)
    edge = maximum_filter(wanted[0], 3) != minimum_filter(wanted[0], 3)
    with pytest.raises(AssertionError):
        assert not ((raster.layers[0] != wanted[0]) & ~edge).any()
