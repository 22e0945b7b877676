"""Between the design's JSON and Blender's data, both ways: units and control points, nothing else.

A piece is a curve object. It keeps what the file said of the piece (`entry`, `outline`), and what it says now is that
with Blender's own data laid over it: a number of the file stands until its single-precision image in Blender has
changed. So nothing has to be written back when the maker moves or edits something, and undo needs no help.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.design import Design, OutlineSource, Piece, Workshop
from ...core.design_file.reading import design_of, piece_of
from ...core.errors import UnusableInput
from ...core.folders import beside
from ...core.outlines.curves import line_cubics
from ...core.outlines.editable_curves import Run, bent, corner_points, line_run, outline_runs, path_data, run_of
from ...core.outlines.place_matrix import Placement, matrix_of, placement_of, shortest, turned_grain
from ..units import METRES

RADIANS = math.pi / 180
UNSAVED = "untitled.panel.json"
TILT = 1e-4
"""An outline whose axes rise more than this is tilted out of the panel."""
SINGLE = 4e-7
"""What single precision blurs, as a share of a coordinate, doubled for safety."""
VECTOR = 2
"""Blender's number for a handle that points along a straight line."""

Entry = dict[str, Any]


@dataclass(frozen=True)
class PieceText:
    """What a piece says now: its entry in the file, in two texts, since most of it is its outline."""

    id: str
    entry: str
    outline: str

    def value(self) -> Entry:
        """The entry as one JSON value."""
        return {"id": self.id, **json.loads(self.entry), "outline": json.loads(self.outline)}


@dataclass(frozen=True)
class SceneText:
    """What a scene says: the whole design, back to front."""

    head: str
    pieces: tuple[PieceText, ...]
    path: Path

    @property
    def content(self) -> str:
        """A fingerprint: equal for equal designs with equal photos."""
        digest = hashlib.blake2b(self.head.encode(), digest_size=16)
        for photo in _photos(self.head):
            digest.update(_file_stamp(self.path.parent, photo).encode())
        for piece in self.pieces:
            digest.update(f"\n{piece.id}\n{piece.entry}\n{piece.outline}".encode())
        return digest.hexdigest()

    def document(self) -> dict[str, Any]:
        """The design file's JSON value."""
        return {**json.loads(self.head), "pieces": [piece.value() for piece in self.pieces]}

    def design(self) -> Design:
        """The design as records; pieces that were read before are not read again.

        Raises:
            UnusableInput: it breaks a rule of the format.
        """
        plain = head_design(self.head, self.path)
        pieces = [piece_record(each, plain.workshop, self.path.parent) for each in self.pieces]
        return replace(design_of(json.loads(self.head), self.path, pieces), panel=plain.panel)


@lru_cache(maxsize=64)
def _photos(head: str) -> tuple[str, ...]:
    """The photos that a document names."""
    woods = json.loads(head).get("woods", [])
    return tuple(wood["photo"] for wood in woods if "photo" in wood)


def _file_stamp(folder: Path, file: str) -> str:
    """Another where the file has changed, gone or come back."""
    try:
        found = (folder / file).stat()
    except (OSError, ValueError):
        return "none"
    return f"{found.st_mtime_ns} {found.st_size}"


@lru_cache(maxsize=64)
def head_design(head: str, path: Path) -> Design:
    """The design without its pieces.

    Raises:
        UnusableInput: it breaks a rule of the format.
    """
    return design_of({**json.loads(head), "pieces": []}, path)


@lru_cache(maxsize=8192)
def piece_record(text: PieceText, workshop: Workshop, folder: Path) -> Piece:
    """The piece with all that it takes from the workshop.

    Raises:
        UnusableInput: it breaks a rule of the format.
    """
    return piece_of(text.value(), workshop, folder, f'piece "{text.id}"')


# --- Scenes -----------------------------------------------------------------------------------------------


def piece_objects(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The scene's pieces, back to front."""
    found = [item for item in scene.objects if item.grainstack.kind == "outline"]
    return sorted(found, key=_place_in_order)


def _place_in_order(item: bpy.types.Object) -> tuple[int, bool, tuple[tuple[int, str], ...]]:
    """Copies have the number of what they were copied from, and come just behind it, the tenth after the ninth."""
    mark, name = item.grainstack, item.name
    return mark.order, name != mark.id, _ranked(name)


@lru_cache(maxsize=8192)
def _ranked(name: str) -> tuple[tuple[int, str], ...]:
    """For names to be sorted by, numbers in them as numbers."""
    return tuple((int(part), "") if part.isdigit() else (0, part) for part in re.split(r"(\d+)", name))


def read_scene(scene: bpy.types.Scene, path: Path | None = None) -> SceneText:
    """What the scene says now; for a file at `path`, where it is to be saved elsewhere.

    Artwork that does not lie beside that file is said by its curves.

    Raises:
        UnusableInput: a piece lies or is drawn so that it cannot be one.
    """
    path = path_of(scene) if path is None else path
    items = piece_objects(scene)
    pieces = tuple(
        replace(read_piece(item, path.parent), id=name) for item, name in zip(items, ids_of(items), strict=True)
    )
    return SceneText(scene.grainstack.document, pieces, path)


def ids_of(items: Sequence[bpy.types.Object]) -> list[str]:
    """The pieces' ids; a copy, which still has the id of what it was copied from, is called by the next free one."""
    given = [item.grainstack.id for item in items]
    taken: set[str] = set()
    ids: list[str] = []
    for name in given:
        ids.append(name if name.lower() not in taken else free_id(name, {*given, *ids}))
        taken.add(ids[-1].lower())
    return ids


def free_id(wanted: str, taken: Iterable[str]) -> str:
    """The id itself, or with the first free number behind it."""
    used = {name.lower() for name in taken}
    if wanted.lower() not in used:
        return wanted
    stem = re.sub(r"-\d+$", "", wanted)[:56]
    return next(name for number in range(2, 100_000) if (name := f"{stem}-{number}").lower() not in used)


def path_of(scene: bpy.types.Scene) -> Path:
    """The design file that the scene was opened from or saved to last; a bare name where it never was."""
    return Path(bpy.path.abspath(scene.grainstack.design_path) or UNSAVED)


def head_of(document: Mapping[str, Any]) -> str:
    """All of a document but its pieces, as a scene keeps it."""
    return json.dumps({key: value for key, value in document.items() if key != "pieces"}, ensure_ascii=False)


# --- Pieces -----------------------------------------------------------------------------------------------


def new_piece(value: Entry, folder: Path) -> bpy.types.Object:
    """A curve object for an entry of the design file; it is in no collection yet.

    Raises:
        UnusableInput: its outline cannot be read.
    """
    entry = dict(value)
    name, outline = entry.pop("id"), entry.pop("outline")
    runs = _runs(json.dumps(outline), folder)
    curve = bpy.data.curves.new(name, "CURVE")
    curve.dimensions, curve.fill_mode, curve.resolution_u = "2D", "NONE", 24
    draw(curve, runs)
    item = bpy.data.objects.new(name, curve)
    item.show_in_front, item.hide_render = True, True
    item.lock_location[2] = item.lock_rotation[0] = item.lock_rotation[1] = True
    mark = item.grainstack
    mark.kind, mark.id = "outline", name
    mark.entry, mark.outline = entry_text(entry), json.dumps(outline)
    mark.drawn = _fingerprint(_drawn(curve))
    place(item, entry)
    return item


def place(item: bpy.types.Object, entry: Entry) -> None:
    """Put a piece where its entry says."""
    x, y = entry.get("at", (0, 0))
    scale = entry.get("scale", 1)
    item.rotation_mode = "XYZ"
    item.location = (x * METRES, y * METRES, item.location.z)
    item.rotation_euler = (0, 0, math.radians(entry.get("turn", 0)))
    item.scale = (-scale if entry.get("mirror") else scale, scale, scale)


def read_piece(item: bpy.types.Object, folder: Path) -> PieceText:
    """What a piece says now.

    Raises:
        UnusableInput: it lies or is drawn so that it cannot be a piece.
    """
    mark = item.grainstack
    if item.type != "CURVE":
        raise _refuse(item, "it is no longer a curve", "Undo that, or delete it and add a new piece")
    entry, residue = _placed(item, json.loads(mark.entry))
    outline = _outline(item, residue, folder)
    return PieceText(mark.id, entry_text(entry), outline)


def read_entry(item: bpy.types.Object) -> Entry:
    """A piece's entry as it is now, without id and outline.

    Raises:
        UnusableInput: it lies so that it cannot be a piece.
    """
    return _placed(item, json.loads(item.grainstack.entry))[0]


def entry_text(entry: Entry) -> str:
    """An entry as a piece keeps it."""
    return json.dumps(entry, ensure_ascii=False)


def _refuse(item: bpy.types.Object, problem: str, remedy: str) -> UnusableInput:
    return UnusableInput("", f'piece "{item.grainstack.id}"', problem, remedy)


# --- Places -----------------------------------------------------------------------------------------------


def _placed(item: bpy.types.Object, entry: Entry) -> tuple[Entry, NDArray[np.float64] | None]:
    """The entry with Blender's place laid over it, and the stretch that is left to the outline."""
    at, matrix = _seen(item)
    made = dict(entry)
    before = [float(value) for value in entry.get("at", (0, 0))]
    now = [
        value if np.float32(value * METRES) == np.float32(seen) else shortest(seen, METRES)
        for value, seen in zip(before, at, strict=True)
    ]
    if now != before:
        made["at"] = [_number(value) for value in now]
    if _same_turn(item, entry, matrix):
        return made, None
    placement = placement_of(matrix)
    if placement is None:
        raise _refuse(item, "it is flattened to a line", "Give it a scale above 0")
    turn = placement.turn
    if _plain(item) and abs((turn - math.degrees(item.rotation_euler.z) + 180) % 360 - 180) < 1e-3:
        turn = item.rotation_euler.z / RADIANS  # as it was typed, whole turns and all
    _write_placement(made, entry, replace(placement, turn=turn))
    return made, placement.outline


def _same_turn(item: bpy.types.Object, entry: Entry, matrix: NDArray[np.float64]) -> bool:
    """Whether turn, scale and mirror are the entry's: to the last bit, or nearly where a parent is at work."""
    turn, scale, mirror = entry.get("turn", 0), entry.get("scale", 1), entry.get("mirror", False)
    if not _plain(item):
        return bool(np.allclose(matrix, matrix_of(turn, scale, mirror), rtol=0, atol=2 * SINGLE * scale))
    wanted = np.array((math.radians(turn), -scale if mirror else scale, scale), np.float32)
    return bool(np.array_equal(np.array((item.rotation_euler.z, *item.scale[:2]), np.float32), wanted))


def _write_placement(made: Entry, entry: Entry, placement: Placement) -> None:
    """Turn, scale and mirror into the entry; what was left out and still holds stays out. The grain turns along."""
    values = {
        "turn": _number(shortest(math.radians(placement.turn), RADIANS)),
        "scale": _number(shortest(placement.scale)),
        "mirror": placement.mirror,
    }
    for key, default in (("turn", 0), ("scale", 1), ("mirror", False)):
        if values[key] != entry.get(key, default):
            made[key] = values[key]
    if entry.get("grain") is not None:
        before = entry.get("turn", 0), entry.get("mirror", False)
        grain = turned_grain(entry["grain"], before, (values["turn"], placement.mirror))
        made["grain"] = _number(round(grain, 6))


def _plain(item: bpy.types.Object) -> bool:
    """Whether its own location, rotation about z and scale say all of its place."""
    turned = item.rotation_mode == "XYZ" and item.rotation_euler.x == 0 and item.rotation_euler.y == 0
    delta = any(item.delta_location) or any(item.delta_rotation_euler) or tuple(item.delta_scale) != (1, 1, 1)
    return turned and not delta and item.parent is None and not item.constraints


def _seen(item: bpy.types.Object) -> tuple[tuple[float, float], NDArray[np.float64]]:
    """Where it lies, metres, and its (2, 2) matrix in the panel's plane."""
    if _plain(item):
        matrix = matrix_of(math.degrees(item.rotation_euler.z), 1.0, False) @ np.diag(item.scale[:2])
        return (item.location.x, item.location.y), matrix
    world = item.matrix_world if item.parent or item.constraints else item.matrix_basis
    m = np.array(world, np.float64)
    if np.abs(m[2, :2]).max() > TILT * np.abs(m[:2, :2]).max():
        raise _refuse(item, "it is tilted out of the panel", "Set its X and Y rotation to 0 (Alt R clears all)")
    return (m[0, 3], m[1, 3]), m[:2, :2]


def _number(value: float) -> float:
    """A whole number as such: the file says 12, not 12.0."""
    return int(value) if value == round(value) else value


# --- Outlines ---------------------------------------------------------------------------------------------


@lru_cache(maxsize=2048)
def _source(outline: str, folder: Path) -> OutlineSource:
    """The outline's record, checked by itself."""
    entry = {"id": "outline", "wood": "any", "outline": json.loads(outline)}
    return piece_of(entry, Workshop(), folder, "piece").outline


@lru_cache(maxsize=2048)
def _runs(outline: str, folder: Path) -> tuple[Run, ...]:
    return outline_runs(_source(outline, folder), folder)


def _outline(item: bpy.types.Object, residue: NDArray[np.float64] | None, folder: Path) -> str:
    """The outline as JSON text: the file's own while its curve is as it was drawn from it."""
    mark = item.grainstack
    drawn = _drawn(item.data)
    same = _fingerprint(drawn) == mark.drawn
    if same and residue is None and not _is_missing(mark.outline, folder):
        return mark.outline
    bend = None if residue is None else tuple(residue.ravel().tolist())
    try:
        return _edited(mark.outline, folder, drawn, bend)
    except ValueError as problem:
        raise _refuse(item, *problem.args) from None


@lru_cache(maxsize=2048)
def _edited(outline: str, folder: Path, drawn: tuple[Drawn, ...], bend: tuple[float, ...] | None) -> str:
    """Raises ValueError(problem, remedy)."""
    before = json.loads(outline)
    runs = [_run(spline, _known(outline, folder)) for spline in drawn if len(spline.points) > 1]
    if not runs:
        raise ValueError("nothing is left of its outline", "Draw one, or delete the piece")
    if bend is not None:
        runs = list(bent(runs, np.array(bend).reshape(2, 2)))
    if "line" not in before:
        if not all(run.closed for run in runs):
            raise ValueError("its outline is open", "Close it: in Edit Mode, Curve > Toggle Cyclic")
        return json.dumps({"path": path_data(runs)})
    if len(runs) > 1:
        raise ValueError("its line is in several parts", "Keep one of them, and make pieces of the others")
    points = corner_points(runs[0])
    if runs[0].closed and not np.array_equal(points[0], points[-1]):
        points = np.vstack([points, points[:1]])
    made = {**before, "line": [[_number(v) for v in point] for point in points.tolist()]}
    if not runs[0].straight.all():
        made.pop("smooth", None)  # its curve is drawn, not made through points
    if bend is not None:
        made["width"] = _number(round(before["width"] * math.sqrt(abs(np.linalg.det(np.reshape(bend, (2, 2))))), 6))
    return json.dumps(made)


@lru_cache(maxsize=2048)
def _is_missing(outline: str, folder: Path) -> bool:
    """Whether it is artwork whose file is not there (any more): then its curve stands for it."""
    file = json.loads(outline).get("svg") if '"svg"' in outline else None
    if file is None:
        return False
    try:
        return not beside(folder, file, "").is_file()
    except UnusableInput:
        return True


@dataclass(frozen=True)
class Drawn:
    """A spline as Blender has it, single precision, metres."""

    kind: str
    closed: bool
    data: bytes
    """Points (n, 3, 2): left handle, point, right handle; handles of straight segments lie in their point."""
    straight: bytes = b""
    """(n,) of Bézier curves: whether the segment behind each point is straight, by the kind of its handles."""

    @property
    def points(self) -> NDArray[np.float32]:
        """(n, 3, 2)"""
        return np.frombuffer(self.data, np.float32).reshape(-1, 3, 2)


def _drawn(curve: bpy.types.Curve) -> tuple[Drawn, ...]:
    return tuple(_spline(spline) for spline in curve.splines)


def _spline(spline: bpy.types.Spline) -> Drawn:
    if spline.type != "BEZIER":
        points = np.empty(4 * len(spline.points), np.float32)
        spline.points.foreach_get("co", points)
        return Drawn(spline.type, spline.use_cyclic_u, points.reshape(-1, 4)[:, None, :2].repeat(3, axis=1).tobytes())
    values = np.empty((3, len(spline.bezier_points), 3), np.float32)
    kinds = np.empty((2, len(spline.bezier_points)), np.int32)
    for row, name in zip(values, ("handle_left", "co", "handle_right"), strict=True):
        spline.bezier_points.foreach_get(name, row.reshape(-1))
    for row, name in zip(kinds, ("handle_left_type", "handle_right_type"), strict=True):
        spline.bezier_points.foreach_get(name, row)
    straight = (kinds[1] == VECTOR) & (np.roll(kinds[0], -1) == VECTOR)
    values[2, straight] = values[1, straight]
    values[0, np.roll(straight, 1)] = values[1, np.roll(straight, 1)]
    data = np.ascontiguousarray(values[:, :, :2].transpose(1, 0, 2))
    return Drawn("BEZIER", spline.use_cyclic_u, data.tobytes(), straight.tobytes())


def _fingerprint(drawn: Iterable[Drawn]) -> str:
    digest = hashlib.blake2b(digest_size=16)
    for spline in drawn:
        digest.update(spline.kind.encode() + bytes([spline.closed]) + spline.data + spline.straight)
    return digest.hexdigest()


@lru_cache(maxsize=2048)
def _known(outline: str, folder: Path) -> Mapping[float, float]:
    """The file's coordinates by their images in Blender."""
    try:
        runs = _runs(outline, folder)
    except UnusableInput:  # artwork that is gone
        return {}
    values = np.unique(np.concatenate([run.cubics.ravel() for run in runs]))
    return dict(zip((values * METRES).astype(np.float32).tolist(), values.tolist(), strict=True))


def _run(spline: Drawn, known: Mapping[float, float]) -> Run:
    """The spline in millimetres; coordinates that still have the image of one in the file are that one."""
    if spline.kind not in ("BEZIER", "POLY"):
        raise ValueError("its outline is a NURBS curve", "In Edit Mode, Curve > Set Spline Type > Bezier")
    stored = spline.points.astype(np.float64)
    flat = [known[v] if v in known else shortest(v, METRES) for v in stored.ravel().tolist()]
    points = np.array(flat).reshape(-1, 3, 2)
    if spline.kind == "POLY":
        return line_run(points[:, 1], spline.closed)
    after = np.roll(points, -1, axis=0)
    cubics = np.stack([points[:, 1], points[:, 2], after[:, 0], after[:, 1]], axis=1)
    straight = np.frombuffer(spline.straight, np.bool_)
    cubics[straight] = line_cubics(cubics[straight][:, [0, 3]].reshape(-1, 2))[::2]
    return run_of(cubics if spline.closed else cubics[:-1], spline.closed, SINGLE * float(np.abs(points).max()))


def draw(curve: bpy.types.Curve, runs: Sequence[Run]) -> None:
    """Replace a curve's splines by these runs."""
    curve.splines.clear()
    for run in runs:
        (_draw_poly if run.straight.all() else _draw_bezier)(curve, run)


def _draw_poly(curve: bpy.types.Curve, run: Run) -> None:
    points = corner_points(run)
    if run.closed and np.array_equal(points[0], points[-1]):
        points = points[:-1]
    spline = curve.splines.new("POLY")
    spline.points.add(len(points) - 1)
    co = np.zeros((len(points), 4), np.float32)
    co[:, :2], co[:, 3] = points * METRES, 1
    spline.points.foreach_set("co", co.ravel())
    spline.use_cyclic_u = run.closed


def _draw_bezier(curve: bpy.types.Curve, run: Run) -> None:
    cubics, straight = run.cubics, run.straight
    if run.closed and not np.array_equal(cubics[0, 0], cubics[-1, 3]):
        closing = line_run(np.array([cubics[-1, 3], cubics[0, 0]]), False)
        cubics, straight = np.vstack([cubics, closing.cubics]), np.append(straight, True)
    points, right = cubics[:, 0], cubics[:, 1]
    left = np.roll(cubics[:, 2], 1, axis=0)
    kinds_right, kinds_left = VECTOR * straight, VECTOR * np.roll(straight, 1)
    if not run.closed:
        end = cubics[-1]
        points, right = np.vstack([points, end[3:]]), np.vstack([right, end[3:]])
        left = np.vstack([points[:1], cubics[:, 2]])
        kinds_right, kinds_left = np.append(VECTOR * straight, 0), np.append(0, VECTOR * straight)
    spline = curve.splines.new("BEZIER")
    spline.bezier_points.add(len(points) - 1)
    for name, values in (("co", points), ("handle_left", left), ("handle_right", right)):
        co = np.zeros((len(points), 3), np.float32)
        co[:, :2] = values * METRES
        spline.bezier_points.foreach_set(name, co.ravel())
    spline.bezier_points.foreach_set("handle_left_type", kinds_left.astype(np.int32))
    spline.bezier_points.foreach_set("handle_right_type", kinds_right.astype(np.int32))
    spline.use_cyclic_u = run.closed


def forget_all() -> None:
    """Free what is kept, and look at artwork anew."""
    for kept in (head_design, piece_record, _photos, _source, _runs, _edited, _known, _is_missing):
        kept.cache_clear()
