"""How far along the work is: the file NAME.bench.json, which tells what is done of each piece.

It lies beside the design and outside of it. Each piece is written down with what it was cut as (`content`), so that a
file of another design, or of an older state of it, is told apart and never taken blindly. The page of the sheet reads
and writes the same file.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..design_file.json_values import Doubled, json_object
from ..errors import UnusableInput
from ..folders import read_file
from ..whole_files import replace_file
from .contents import STEPS
from .plan import PieceWork, Plan

FORMAT = "grainstack-bench/1"
_REMEDY = "It was left as it is: mend it, or name another file"


@dataclass(frozen=True)
class Done:
    """What is done of one piece."""

    content: str
    """What the piece was cut as."""
    steps: tuple[str, ...]
    """Some of `STEPS`, in their order."""


@dataclass(frozen=True)
class Bench:
    """A tracking file."""

    design: str
    """The name of the design's file, without its ending."""
    pieces: Mapping[str, Done]


@dataclass(frozen=True)
class Compared:
    """A tracking file held against the plan of a design."""

    same: Mapping[str, Done]
    """What may be taken over: these pieces are cut as they were."""
    changed: tuple[str, ...]
    """Pieces that the design now has in another form: what was ticked does not hold for them."""
    gone: tuple[str, ...]
    """Pieces that the design no longer has."""


def bench_of(plan: Plan, done: Mapping[str, tuple[str, ...]]) -> Bench:
    """A tracking file that says for some pieces, by their ids, which steps are done."""
    content = {piece.id: piece.content for piece in plan.pieces}
    return Bench(plan.name, {name: Done(content[name], _in_order(steps)) for name, steps in done.items()})


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
    pieces = value.get("pieces")
    if set(value) != {"format", "design", "pieces"} or not isinstance(value["design"], str):
        raise UnusableInput("", "", "its keys are not format, design and pieces", _REMEDY)
    if not isinstance(pieces, dict) or isinstance(pieces, Doubled):
        raise UnusableInput("", "pieces", "this is not a list of pieces in which each stands once", _REMEDY)
    return Bench(value["design"], {name: _done(entry, f'pieces "{name}"') for name, entry in pieces.items()})


def _done(entry: Any, place: str) -> Done:
    if not isinstance(entry, dict) or set(entry) != {"content", "done"} or isinstance(entry, Doubled):
        raise UnusableInput("", place, "its keys are not content and done", _REMEDY)
    content, steps = entry["content"], entry["done"]
    if not isinstance(content, str) or len(content) != 16 or set(content) - set("0123456789abcdef"):
        raise UnusableInput("", f"{place}.content", "this is not 16 digits of 0 to 9 and a to f", _REMEDY)
    if not isinstance(steps, list) or any(not isinstance(step, str) or step not in STEPS for step in steps):
        raise UnusableInput("", f"{place}.done", f"its steps are not all of {', '.join(STEPS)}", _REMEDY)
    if len(set(steps)) < len(steps):
        raise UnusableInput("", f"{place}.done", "a step stands there twice", _REMEDY)
    return Done(content, _in_order(tuple(steps)))


def _in_order(steps: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(step for step in STEPS if step in steps)


def bench_text(bench: Bench) -> str:
    """The file as text."""
    pieces = {name: {"content": done.content, "done": list(done.steps)} for name, done in bench.pieces.items()}
    return json.dumps({"format": FORMAT, "design": bench.design, "pieces": pieces}, indent=1) + "\n"


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


def compared(bench: Bench, plan: Plan) -> Compared:
    """What of a tracking file holds for a plan.

    Raises:
        UnusableInput: none of its pieces does: it belongs to another design, or to another state of this one.
    """
    content = {piece.id: piece.content for piece in plan.pieces}
    gone = tuple(name for name in bench.pieces if name not in content)
    changed = tuple(name for name, done in bench.pieces.items() if content.get(name, done.content) != done.content)
    same = {name: done for name, done in bench.pieces.items() if content.get(name) == done.content}
    if bench.pieces and not same:
        problem = f'not one of its pieces is cut as in "{plan.name}": it belongs to "{bench.design}" or an older state'
        raise UnusableInput("", "pieces", problem, "No tick was taken over: choose the file of this design")
    return Compared(same, changed, gone)


def next_steps(plan: Plan, done: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[int, ...]]:
    """For each step the numbers of the pieces with which it can be done next.

    A pocket is cut when all that it waits for is glued in; an insert may be sawn at any time; a piece is fitted dry
    when both are cut, and glued when it fits.
    """
    glued = {piece.number for piece in plan.pieces if "glued" in done.get(piece.id, ())}

    def ready(piece: PieceWork, step: str) -> bool:
        steps = done.get(piece.id, ())
        if step in steps or "glued" in steps:
            return False
        before = {"pocket": (), "insert": (), "fit": ("pocket", "insert"), "glued": ("fit",)}[step]
        return set(before) <= set(steps) and (step != "pocket" or set(piece.waits_for) <= glued)

    return {step: tuple(piece.number for piece in plan.pieces if ready(piece, step)) for step in STEPS}
