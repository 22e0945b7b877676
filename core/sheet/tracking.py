"""How far along the work is: the file NAME.bench.json, which tells what is done of each piece and of the shared work.

It lies beside the design and outside of it. Each piece is written down with what it was cut as (`content`), so that a
file of another design, or of an older state of it, is told apart and never taken blindly. The page of the sheet reads
and writes the same file.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any

from ..design_file.json_values import Doubled, json_object
from ..errors import UnusableInput
from ..folders import read_file
from ..whole_files import replace_file
from .content import HALF, CutAs, cut_as, is_outline, same_shape
from .contents import STEPS
from .plan import PieceWork, Plan
from .shared_work import shared_work
from .told import MOST_TOLD, Told, last_mm, told_entry, told_from, with_told

FORMAT = "grainstack-bench/1"
SUFFIX = ".bench.json"
CLOSE = 0.005
"""Depths and thicknesses that differ by less are one, mm."""
_REMEDY = "It was left as it is: mend it, or name another file"


@dataclass(frozen=True)
class Done:
    """What is done of one piece."""

    content: str
    """What the piece was cut as."""
    steps: tuple[str, ...]
    """Some of `STEPS`, in their order."""
    cut: CutAs | None = None
    """What it was cut as in numbers, where the file has them."""
    told: tuple[Told, ...] = ()
    """What came out otherwise."""


@dataclass(frozen=True)
class Bench:
    """A tracking file."""

    design: str
    """The name of the design's file, without its ending."""
    pieces: Mapping[str, Done]
    shared: Mapping[str, str] = field(default_factory=dict)
    """Shared work that is done, by its key: what it was done as."""


@dataclass(frozen=True)
class Compared:
    """A tracking file held against the plan of a design."""

    same: Mapping[str, Done]
    """What may be taken over: these pieces are cut as they are planned now, or as the maker told."""
    changed: tuple[str, ...]
    """Pieces that the design now has in another form: not all that was ticked holds for them."""
    gone: tuple[str, ...]
    """Pieces that the design no longer has."""
    shared: tuple[str, ...] = ()
    """Keys of shared work that is done and still holds."""


def bench_path(design: Path) -> Path:
    """Where a design's tracking file lies."""
    return design.with_name(design.name.removesuffix(".json").removesuffix(".panel") + SUFFIX)


def bench_of(
    plan: Plan,
    done: Mapping[str, tuple[str, ...]],
    told: Mapping[str, tuple[Told, ...]] | None = None,
    shared: Iterable[str] = (),
) -> Bench:
    """A tracking file that says for some pieces, by their ids, which steps are done and what came out otherwise."""
    told = told or {}
    work = {piece.id: piece for piece in plan.pieces}
    pieces = {
        name: Done(
            work[name].content, in_order(done.get(name, ())), cut_as(work[name].placed), tuple(told.get(name, ()))
        )
        for name in dict.fromkeys((*done, *told))
    }
    jobs = {job.key: job.content for job in shared_work(plan)}
    return Bench(plan.name, pieces, {key: jobs[key] for key in shared})


# --- Read and written ---------------------------------------------------------------------------------------------


def read_bench(path: Path) -> Bench:
    """Read a tracking file.

    Raises:
        UnusableInput: it cannot be read or is damaged; the file stays as it is.
    """
    try:
        return bench_from(read_file(path))
    except UnusableInput as refused:
        raise UnusableInput(str(path), refused.place, refused.problem, refused.remedy) from None


def bench_from(data: bytes) -> Bench:
    """The tracking file in these bytes.

    Raises:
        UnusableInput: it is damaged.
    """
    try:
        value = json.loads(data.decode("utf-8-sig"), object_pairs_hook=json_object)
    except (ValueError, RecursionError):
        raise UnusableInput("", "", "this is not a whole JSON file", _REMEDY) from None
    if not isinstance(value, dict) or value.get("format") != FORMAT:
        raise UnusableInput("", "format", f'this is no tracking file of the format "{FORMAT}"', _REMEDY)
    pieces, shared = value.get("pieces"), value.get("shared", {})
    if set(value) - {"shared"} != {"format", "design", "pieces"} or not isinstance(value["design"], str):
        raise UnusableInput("", "", "its keys are not format, design, pieces and shared", _REMEDY)
    if not isinstance(pieces, dict) or isinstance(pieces, Doubled):
        raise UnusableInput("", "pieces", "this is not a list of pieces in which each stands once", _REMEDY)
    if not isinstance(shared, dict) or isinstance(shared, Doubled) or not all(map(_is_content, shared.values())):
        raise UnusableInput("", "shared", "this is no list of work, each with its 16 digits", _REMEDY)
    return Bench(value["design"], {name: _done(entry, f'pieces "{name}"') for name, entry in pieces.items()}, shared)


def _is_content(content: object) -> bool:
    return isinstance(content, str) and len(content) == 2 * HALF and not set(content) - set("0123456789abcdef")


def _done(entry: Any, place: str) -> Done:
    if not isinstance(entry, dict) or set(entry) - {"cut", "told"} != {"content", "done"} or isinstance(entry, Doubled):
        raise UnusableInput("", place, "its keys are not content, done, cut and told", _REMEDY)
    content, steps, told = entry["content"], entry["done"], entry.get("told", [])
    if not _is_content(content):
        raise UnusableInput("", f"{place}.content", "this is not 16 digits of 0 to 9 and a to f", _REMEDY)
    if not isinstance(steps, list) or any(not isinstance(step, str) or step not in STEPS for step in steps):
        raise UnusableInput("", f"{place}.done", f"its steps are not all of {', '.join(STEPS)}", _REMEDY)
    if len(set(steps)) < len(steps):
        raise UnusableInput("", f"{place}.done", "a step stands there twice", _REMEDY)
    said = [told_from(each) for each in told] if isinstance(told, list) and len(told) <= MOST_TOLD else [None]
    if None in said:
        raise UnusableInput("", f"{place}.told", "this is nothing that can be told of a piece", _REMEDY)
    cut = _cut(entry["cut"], f"{place}.cut") if "cut" in entry else None
    return Done(content, in_order(tuple(steps)), cut, tuple(each for each in said if each))


_CUT_KEYS = tuple(each.name for each in fields(CutAs))
_CUT_NUMBERS = tuple(name for name in _CUT_KEYS if name not in ("outline", "woods"))


def _cut(entry: Any, place: str) -> CutAs:
    if not isinstance(entry, dict) or isinstance(entry, Doubled) or set(entry) != set(_CUT_KEYS):
        raise UnusableInput("", place, f"its keys are not {', '.join(_CUT_KEYS)}", _REMEDY)
    numbers = [entry[name] for name in _CUT_NUMBERS]
    whole = all(isinstance(n, (int, float)) and not isinstance(n, bool) and math.isfinite(n) for n in numbers)
    woods = entry["woods"]
    if not whole or not isinstance(woods, list) or not all(isinstance(wood, str) for wood in woods):
        raise UnusableInput("", place, "a number or a wood in it is none", _REMEDY)
    if not is_outline(entry["outline"]):
        raise UnusableInput("", f"{place}.outline", "this is no outline", _REMEDY)
    return CutAs(**(entry | {"woods": tuple(woods)}))


def in_order(steps: Iterable[str]) -> tuple[str, ...]:
    """Steps in the order of work."""
    there = set(steps)
    return tuple(step for step in STEPS if step in there)


def cut_entry(cut: CutAs) -> dict[str, Any]:
    """What a piece is cut as, for a file."""
    return {name: getattr(cut, name) for name in _CUT_KEYS} | {"woods": list(cut.woods)}


def _entry(done: Done) -> dict[str, Any]:
    entry: dict[str, Any] = {"content": done.content, "done": list(done.steps)}
    if done.cut is not None:
        entry["cut"] = cut_entry(done.cut)
    if done.told:
        entry["told"] = [told_entry(each) for each in done.told]
    return entry


def bench_text(bench: Bench) -> str:
    """The file as text, a line for each piece."""
    head = f'{{\n "format": {json.dumps(FORMAT)},\n "design": {json.dumps(bench.design)},\n'
    shared = f' "shared": {json.dumps(dict(bench.shared))},\n' if bench.shared else ""
    lines = (f"  {json.dumps(name)}: {json.dumps(_entry(done))}" for name, done in bench.pieces.items())
    return head + shared + ' "pieces": {\n' + ",\n".join(lines) + "\n }\n}\n"


def write_bench(path: Path, bench: Bench) -> None:
    """Write a tracking file in place of an older one, whole or not at all.

    Raises:
        UnusableInput: what lies there is damaged or of another design, and stays; or the file cannot be written.
    """
    if path.exists():
        there = read_bench(path)
        if there.design != bench.design:
            problem = f'it tracks another design, "{there.design}", not "{bench.design}"'
            raise UnusableInput(str(path), "design", problem, "Name another file")
    try:
        replace_file(path, bench_text(bench).encode())
    except OSError as error:
        problem = f"the file cannot be written ({error.strerror or error})"
        raise UnusableInput(str(path), "", problem, "Choose another folder, or close the file") from None


# --- Held against a plan ------------------------------------------------------------------------------------------


def holding(done: Done, work: PieceWork) -> tuple[str, ...]:
    """The steps ticked of a piece that hold for what it is planned as now.

    Where only its pocket is as it was, only the pocket is still cut, and so for the insert; a changed piece is
    neither fitted nor glued.
    """
    if done.content == work.content:
        return done.steps
    pocket = done.content[:HALF] == work.content[:HALF]
    insert = done.content[HALF:] == work.content[HALF:]
    if done.cut is not None:  # the maker may have told of a cut what the design says only now
        pocket, insert = pocket or pocket_holds(done, work), insert or insert_holds(done, work)
    if pocket and insert:
        return done.steps
    return tuple(step for step, kept in (("pocket", pocket), ("insert", insert)) if kept and step in done.steps)


def pocket_holds(done: Done, work: PieceWork) -> bool:
    """Whether the pocket that was cut is the one that is planned, by its numbers."""
    cut, placed = done.cut, work.placed
    if cut is None:
        return False
    depth = last_mm(done.told, "depth") or cut.depth
    near = abs(depth - placed.piece.pocket_depth) <= CLOSE and cut.taper == placed.piece.taper
    return near and same_shape(cut.shape, placed.pocket)


def insert_holds(done: Done, work: PieceWork) -> bool:
    """Whether the insert that was cut is the one that is planned, by its numbers."""
    cut = done.cut
    if cut is None:
        return False
    thickness = last_mm(done.told, "thickness") or cut.thickness
    now = cut_as(work.placed)
    near = abs(thickness - now.thickness) <= CLOSE and cut.taper == now.taper and cut.grain == now.grain
    return near and cut.woods == now.woods and cut.clearance == now.clearance and same_shape(cut.shape, now.shape)


def compared(bench: Bench, plan: Plan, *, beside: bool = False) -> Compared:
    """What of a tracking file holds for a plan.

    Args:
        bench: the file.
        plan: the work as it is planned now.
        beside: it lies beside the design, under its name. Where it knows pieces of the design, all of which have
            changed since, that is no other file: each of them is changed then, and nothing of it holds.

    Raises:
        UnusableInput: none of its pieces does: it belongs to another design, or to another state of this one.
    """
    work = {piece.id: piece for piece in plan.pieces}
    gone = tuple(name for name in bench.pieces if name not in work)
    there = {name: done for name, done in bench.pieces.items() if name in work}
    same = {name: done for name, done in there.items() if holding(done, work[name]) == done.steps}
    if bench.pieces and not same and not (beside and there and bench.design == plan.name):
        problem = f'not one of its pieces is cut as in "{plan.name}": it belongs to "{bench.design}" or an older state'
        raise UnusableInput("", "pieces", problem, "No tick was taken over: choose the file of this design")
    jobs = {job.key: job.content for job in shared_work(plan)}
    shared = tuple(key for key, content in bench.shared.items() if jobs.get(key) == content)
    return Compared(same, tuple(name for name in there if name not in same), gone, shared)


def done_now(bench: Bench, plan: Plan) -> dict[str, tuple[str, ...]]:
    """The steps that hold, by the ids of pieces of which any does."""
    work = {piece.id: piece for piece in plan.pieces}
    held = {name: holding(done, work[name]) for name, done in bench.pieces.items() if name in work}
    return {name: steps for name, steps in held.items() if steps}


# --- Ticked -------------------------------------------------------------------------------------------------------

_TOLD_OF = {"depth": "pocket", "thickness": "insert", "broke": "insert", "gap": "insert"}
"""The step that what is told belongs to: it is done, and told no longer once it is undone."""


def ticked(bench: Bench, work: PieceWork, step: str, on: bool) -> Bench:
    """A step of a piece ticked or unticked.

    Raises:
        UnusableInput: its pocket was cut as something else, and is not the one that is ticked now.
    """
    done = bench.pieces.get(work.id)
    held = set(holding(done, work)) if done else set()
    if done and "pocket" in {*done.steps} - held and step != "pocket":
        problem = "its pocket was cut for another state of the piece, which would be forgotten"
        remedy = "Undo the change, or cut the pocket as it is now and tick that first"
        raise UnusableInput("", work.id, problem, remedy)
    steps = held | {step} if on else held - {step}
    told = tuple(each for each in (done.told if done else ()) if _TOLD_OF[each.what] in held & steps)
    return _with(bench, work, Done(work.content, in_order(steps), cut_as(work.placed), told))


def with_news(bench: Bench, work: PieceWork, told: Told) -> Bench:
    """What came out otherwise; what it tells of is done with that.

    Raises:
        UnusableInput: as `ticked`.
    """
    bench = ticked(bench, work, _TOLD_OF[told.what], True)
    done = bench.pieces[work.id]
    return _with(bench, work, replace(done, told=with_told(done.told, told)[-MOST_TOLD:]))


def without_news(bench: Bench, name: str) -> Bench:
    """All that was told of a piece taken back."""
    return replace(bench, pieces={**bench.pieces, name: replace(bench.pieces[name], told=())})


def shared_ticked(bench: Bench, plan: Plan, key: str, on: bool) -> Bench:
    """Shared work ticked or unticked."""
    content = next(job.content for job in shared_work(plan) if job.key == key)
    rest = {name: said for name, said in bench.shared.items() if name != key}
    return replace(bench, shared=rest | {key: content} if on else rest)


def _with(bench: Bench, work: PieceWork, done: Done) -> Bench:
    return replace(bench, pieces={**bench.pieces, work.id: done})
