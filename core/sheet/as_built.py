"""The panel as it is being built: what is cut and glued, with the depths that the maker told, held against the design.

Each problem comes as a finding, with the repairs that were tried on a copy of the design and are good.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import shapely
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from ..areas import without_noise
from ..design import Piece
from ..findings.finding import LEVELS, Finding, Level, listed, xy
from ..stack.stack import Stack, build_stack
from ..witness import inside
from .content import cut_as, same_shape, within
from .lengths import mm_text
from .plan import PieceWork, Plan
from .repairs import LEAST_SEEN, MOST_NAMED, Repair, deeper_pocket, found_about, near, patch, put_back
from .told import SIDES, Told, last_mm
from .tracking import CLOSE, Bench, Done, done_now, holding


@dataclass(frozen=True)
class Problem:
    """Something at the bench that the design did not foresee."""

    finding: Finding
    recut: tuple[str, ...] = ()
    """What must be cut again: such as "pocket of koi-1"."""
    touched: tuple[str, ...] = ()
    """Other pieces that it touches, those that are glued in already first."""
    repairs: tuple[Repair, ...] = ()


def problems(plan: Plan, bench: Bench) -> tuple[Problem, ...]:
    """All that is wrong between bench and design, the worst first."""
    found = [*_changes(plan, bench), *_gone(plan, bench), *_out_of_order(plan, bench), *_told(plan, bench)]
    return tuple(sorted(found, key=lambda problem: LEVELS.index(problem.finding.level)))


def as_told(plan: Plan, bench: Bench) -> Stack:
    """The panel with the depths and thicknesses that the maker told.

    An insert that is not cut yet follows its pocket: it stands as proud as it was to.
    """
    work = {piece.id: piece for piece in plan.pieces}
    changed: dict[str, Piece] = {}
    for name, done in bench.pieces.items():
        if name not in work or holding(done, work[name]) != done.steps:
            continue
        depth, thickness = last_mm(done.told, "depth"), last_mm(done.told, "thickness")
        if depth is None and thickness is None:
            continue
        piece = work[name].placed.piece
        deep = piece.pocket_depth if depth is None else depth
        if thickness is None:
            proud = 0.0 if "insert" in done.steps else deep - piece.pocket_depth
            thickness = round(piece.insert_thickness + proud, 6)
        # The outline stays: it is cut already, whatever radius another depth would ask for.
        radius = piece.corner_radius
        changed[name] = replace(piece, pocket_depth=deep, insert_thickness=thickness, corner_radius=radius)
    if not changed:
        return plan.stack
    pieces = tuple(changed.get(piece.id, piece) for piece in plan.stack.design.pieces)
    return build_stack(replace(plan.stack.design, pieces=pieces), previous=plan.stack)


def _finding(level: Level, code: str, name: str | None, shape: BaseGeometry, words: str, repairs: tuple[Repair, ...],
             instead: str, other: str | None = None) -> Finding:  # fmt: skip
    at = inside(shape) if not shape.is_empty else (0.0, 0.0)
    said = [repair.words for repair in repairs] or [instead]
    text = f"{name} at {xy(at)}: {words}"
    return Finding(level, code, name, other, at, text, "; or ".join(said))


def _touched(plan: Plan, bench: Bench, name: str, shape: BaseGeometry) -> tuple[str, ...]:
    """Other pieces that a cut touches, those glued in first."""
    glued = {other for other, steps in done_now(bench, plan).items() if "glued" in steps}
    others = [other for other in near(plan.stack, shape) if other != name]
    return tuple(sorted(others, key=lambda other: other not in glued))


def _touched_words(plan: Plan, bench: Bench, touched: tuple[str, ...]) -> str:
    if not touched:
        return ""
    done = done_now(bench, plan)
    said = [other + (" (glued in)" if "glued" in done.get(other, ()) else "") for other in touched[:MOST_NAMED]]
    more = len(touched) - len(said)
    return f". It touches {listed(said)}" + (f" and {more} more" if more else "")


# --- The design has changed ---------------------------------------------------------------------------------------


def _changes(plan: Plan, bench: Bench) -> Iterator[Problem]:
    """Pieces that are cut, and that the design now has in another form."""
    work = {piece.id: piece for piece in plan.pieces}
    for name, done in bench.pieces.items():
        if name in work and holding(done, work[name]) != done.steps:
            yield _changed(plan, bench, work[name], done)


def _changed(plan: Plan, bench: Bench, work: PieceWork, done: Done) -> Problem:
    held, glued = holding(done, work), "glued" in done.steps
    lost: list[str] = [step for step in ("pocket", "insert") if step in done.steps and step not in held]
    if glued and not lost:
        lost = ["insert"]
    old = work.placed.pocket if done.cut is None else done.cut.shape
    depth = work.placed.piece.pocket_depth if done.cut is None else last_mm(done.told, "depth") or done.cut.depth
    both = shapely.union(old, work.placed.pocket)
    touched = _touched(plan, bench, work.id, both)
    repairs = tuple(_repairs_of_change(plan, bench, work, lost, old, depth))
    recut = tuple(f"{step} of {work.id}" for step in _recut(lost, glued, work, old, depth))
    how = ", ".join(_differences(done, work)) or "its numbers have changed"
    state = "glued in" if glued else " and ".join(f"{step} cut" for step in lost)
    words = f"it is {state}, and the design has changed since ({how}). "
    words += f"To cut again: {listed(recut)}" if recut else "Nothing that was cut can be cut again"
    words += _touched_words(plan, bench, touched)
    instead = "Undo the change of the design: no change of numbers and no patch mends it without doing harm"
    finding = _finding("warning", "changed-after-cutting", work.id, both, words, repairs, instead)
    return Problem(finding, recut, touched, repairs)


def _recut(lost: list[str], glued: bool, work: PieceWork, old: BaseGeometry, depth: float) -> list[str]:
    """What has to be cut anew, if the design stays as it is now."""
    if glued:  # the insert comes out only with its pocket
        return ["pocket", "insert"]
    if "pocket" in lost and not _takes_all(work, old, depth):
        return [*lost]
    return lost


def _takes_all(work: PieceWork, old: BaseGeometry, depth: float) -> bool:
    """Whether the pocket as it is planned now takes all of an older one."""
    return work.placed.piece.pocket_depth >= depth - CLOSE and within(old, work.placed.pocket)


def _repairs_of_change(
    plan: Plan, bench: Bench, work: PieceWork, lost: list[str], old: BaseGeometry, depth: float
) -> Iterator[Repair]:
    done = bench.pieces[work.id]
    piece, cut = work.placed.piece, done.cut
    if cut is not None:
        back = put_back(plan.stack, piece, cut, depth, last_mm(done.told, "thickness") or cut.thickness)
        if back is not None:
            yield back
    glued = "glued" in done.steps
    if lost == ["insert"] and not glued:
        yield Repair("recut-insert", f"Saw the insert of {work.id} anew, as it is planned now")
    if "pocket" in lost and not glued and _takes_all(work, old, depth):
        yield Repair("recut-pocket", f"Cut the pocket of {work.id} again as it is planned now: it takes all of the old")
    if glued:
        yield from _deeper(plan, bench, plan.stack, work, old, depth)
    mistake = without_noise(shapely.difference(old, shapely.buffer(work.placed.pocket, 0.02)))
    if cut is not None and "pocket" in lost and shapely.area(mistake) > LEAST_SEEN:
        covered = patch(plan.stack, work.id, _in_sight(plan.stack, work.placed.index, mistake), cut, depth)
        if covered is not None:
            yield covered


def _deeper(
    plan: Plan, bench: Bench, stack: Stack, work: PieceWork, old: BaseGeometry, depth: float
) -> Iterator[Repair]:
    """A deeper pocket for a new insert, unless it would take what later pieces have glued in since."""
    done = done_now(bench, plan)
    later = [stack.pieces[i].piece.id for i in stack.pieces[work.placed.index].under]
    if not any({"pocket", "glued"} & {*done.get(name, ())} for name in later):
        deeper = deeper_pocket(stack, stack.pieces[work.placed.index].piece, old, depth)
        if deeper is not None:
            yield deeper


def _in_sight(stack: Stack, index: int, shape: BaseGeometry) -> BaseGeometry:
    """What no later piece takes of a place."""
    later = [p.pocket_at(stack.design.panel.face_trim) for p in stack.pieces[index + 1 :] if p.sound]
    return without_noise(shapely.difference(shape, shapely.union_all(later)))


def _differences(done: Done, work: PieceWork) -> Iterator[str]:
    """What of a piece is otherwise now, in words."""
    cut, now = done.cut, cut_as(work.placed)
    if cut is None:
        return
    depth, thickness = last_mm(done.told, "depth") or cut.depth, last_mm(done.told, "thickness") or cut.thickness
    if not same_shape(cut.shape, now.shape):
        yield "its outline lies otherwise"
    for name, was, will in (("pocket depth", depth, now.depth), ("insert thickness", thickness, now.thickness),
                            ("clearance", cut.clearance, now.clearance)):  # fmt: skip
        if abs(was - will) > CLOSE:
            yield f"{name} {mm_text(was)}, now {mm_text(will)}"
    for name, old, new in (("taper", cut.taper, now.taper), ("grain", cut.grain, now.grain)):
        if old != new:
            yield f"{name} {old:.3g}°, now {new:.3g}°"
    if cut.woods != now.woods:
        yield f"{' + '.join(cut.woods)}, now {' + '.join(now.woods)}"


def _gone(plan: Plan, bench: Bench) -> Iterator[Problem]:
    """Pieces whose pocket is cut, and that the design no longer has."""
    there = {piece.id for piece in plan.pieces}
    for name, done in bench.pieces.items():
        if name in there or "pocket" not in done.steps:
            continue
        cut = done.cut
        shape = shapely.Polygon() if cut is None else cut.shape
        touched = _touched(plan, bench, name, shape)
        seen = _in_sight(plan.stack, -1, shape)
        depth = 0.0 if cut is None else last_mm(done.told, "depth") or cut.depth
        covered = None if cut is None else patch(plan.stack, name, seen, cut, depth)
        repairs = () if covered is None else (covered,)
        words = "it is cut, and the design no longer has it" + _touched_words(plan, bench, touched)
        if cut is not None and shapely.area(seen) < LEAST_SEEN:
            finding = _finding("note", "gone-after-cutting", name, shape, words + ". Other pieces cover all of it", (),
                               "Fill the pocket to its edge before the piece that covers it is cut")  # fmt: skip
        else:
            instead = "Put the piece back into the design"
            finding = _finding("warning", "gone-after-cutting", name, shape, words, repairs, instead)
        yield Problem(finding, (), touched, repairs)


def _out_of_order(plan: Plan, bench: Bench) -> Iterator[Problem]:
    """Pieces that are cut before those that their pockets were to cut into."""
    done, number = done_now(bench, plan), {piece.number: piece for piece in plan.pieces}
    for work in plan.pieces:
        if "pocket" not in done.get(work.id, ()):
            continue
        missing = [number[n].id for n in work.waits_for if "glued" not in done.get(number[n].id, ())]
        if missing:
            words = f"its pocket is cut, but {listed(missing)} that it cuts into or follows {_is(missing)} not glued in"
            instead = (
                f"Cut and glue {listed(missing)} in now, then cut this pocket again, to the same depth; or list "
                f"{listed(missing)} after it, if {'it' if len(missing) == 1 else 'they'} may lie over it"
            )
            yield Problem(
                _finding("warning", "out-of-order", work.id, work.placed.pocket, words, (), instead, missing[0]),
                touched=tuple(missing),
            )


def _is(names: list[str]) -> str:
    return "is" if len(names) == 1 else "are"


# --- What the maker told ------------------------------------------------------------------------------------------


def _told(plan: Plan, bench: Bench) -> Iterator[Problem]:
    """What follows from all that was told."""
    work = {piece.id: piece for piece in plan.pieces}
    built = as_told(plan, bench)
    for name, done in bench.pieces.items():
        if name not in work or holding(done, work[name]) != done.steps:
            continue
        for told in done.told:
            if told.what in ("depth", "thickness"):
                yield _other_depth(plan, bench, built, work[name], told)
            elif told.what == "broke":
                yield _broke(plan, bench, work[name], told)
            else:
                yield _gap(plan, bench, built, work[name], told)
        if any(told.what in ("depth", "thickness") for told in done.told):
            yield from _follows(plan, built, work[name])


def _other_depth(plan: Plan, bench: Bench, built: Stack, work: PieceWork, told: Told) -> Problem:
    """A depth or thickness other than planned: what the other of the two has to be, and what can be done."""
    done = bench.pieces[work.id]
    piece, now = work.placed.piece, built.pieces[work.placed.index].piece
    planned = piece.pocket_depth if told.what == "depth" else piece.insert_thickness
    more = (told.mm or 0.0) - planned
    words = f"{told.words}, {mm_text(abs(more))} {'more' if more > 0 else 'less'} than planned"
    repairs: list[Repair] = []
    if "insert" not in done.steps and told.what == "depth":
        words += f"; its insert has to be {mm_text(now.insert_thickness)} thick to stand as proud as planned"
        repairs.append(Repair("recut-insert", f"Saw the insert {mm_text(now.insert_thickness)} thick"))
    elif "glued" not in done.steps:
        if told.what == "depth" and more < 0:
            repairs.append(Repair("recut-pocket", f"Cut the pocket {mm_text(-more)} deeper, as planned"))
        thick = round((now.pocket_depth if told.what == "depth" else piece.pocket_depth)
                      + piece.insert_thickness - piece.pocket_depth, 3)  # fmt: skip
        repairs.append(Repair("recut-insert", f"Saw the insert of {work.id} anew, {mm_text(thick)} thick"))
    elif "glued" in done.steps:
        cut = replace(cut_as(work.placed), depth=now.pocket_depth)
        repairs += _deeper(plan, bench, built, work, cut.shape, now.pocket_depth)
    kept = tuple(repairs)
    instead = "Leave it, if no other finding speaks of it"
    return Problem(
        _finding("note", f"other-{told.what}", work.id, work.placed.pocket, words, kept, instead), (), (), kept
    )


def _follows(plan: Plan, built: Stack, work: PieceWork) -> Iterator[Problem]:
    """Findings that come with what was told, and were not there as planned."""
    place = work.placed.pocket
    was = {(f.code, f.piece, f.other, f.level) for f in found_about(plan.stack, place)}
    for finding in found_about(built, place):
        if finding.level != "note" and (finding.code, finding.piece, finding.other, finding.level) not in was:
            yield Problem(finding, touched=tuple(n for n in (finding.piece, finding.other) if n and n != work.id))


def _broke(plan: Plan, bench: Bench, work: PieceWork, told: Told) -> Problem:
    """A break: glued back it holds, if later pockets are cut with care; a lost part is cut anew or covered."""
    stack, index = plan.stack, work.placed.index
    later = tuple(stack.pieces[i].piece.id for i in stack.pieces[index].under)
    left = [name for name in later if "pocket" not in done_now(bench, plan).get(name, ())]
    cuts = f"; {listed(left[:MOST_NAMED])} will be cut through it" if left else ""
    if told.glued_back:
        remedy = (
            "Leave the clamps on for the whole time that the glue's label gives; see that no edge stands off the floor"
        )
        if left:
            remedy += ". Cut later pockets in shallow passes there, so that the cutter does not lift the part"
        finding = _finding(
            "note", "broke", work.id, work.placed.pocket, f"it broke and was glued back{cuts}", (), remedy
        )
        return Problem(finding, (), later)
    repairs: list[Repair | None] = []
    recut: tuple[str, ...] = (f"insert of {work.id}",)
    cut = cut_as(work.placed)
    if "glued" not in bench.pieces[work.id].steps:
        repairs.append(Repair("recut-insert", f"Saw the insert of {work.id} anew, from the spare blank"))
    else:
        recut = (f"pocket of {work.id}", *recut)
        repairs += _deeper(plan, bench, stack, work, cut.shape, cut.depth)
        repairs.append(patch(stack, work.id, _in_sight(stack, index, work.placed.pocket), cut, cut.depth))
    words = f"it broke and a part is lost{cuts}"
    instead = "Cut a piece of your own over it, or clear the pocket and saw the insert anew"
    kept = tuple(repair for repair in repairs if repair)
    finding = _finding("warning", "broke", work.id, work.placed.pocket, words, kept, instead)
    return Problem(finding, recut, later, kept)


def gap_of(work: PieceWork, told: Told) -> BaseGeometry:
    """The open place that an insert leaves in its pocket which ends a little short of one side."""
    assert told.mm is not None
    assert told.side is not None
    across = SIDES[told.side]
    short = translate(work.placed.pocket, -told.mm * across[0], -told.mm * across[1])
    return without_noise(shapely.difference(work.placed.pocket, short))


def _gap(plan: Plan, bench: Bench, built: Stack, work: PieceWork, told: Told) -> Problem:
    """A gap: what later pieces cover of it is none; the rest is cut anew or covered."""
    gap = gap_of(work, told)
    trimmed = shapely.intersection(gap, built.finished_box)
    seen = without_noise(_in_sight(built, work.placed.index, trimmed))
    cover = [built.pieces[i].piece.id for i in work.placed.under if shapely.intersects(built.pieces[i].pocket, gap)]
    touched = _touched(plan, bench, work.id, gap)
    words = f"{told.words} of its pocket"
    if shapely.area(seen) < LEAST_SEEN:
        by = f": {listed(cover)} will take its place" if cover else ": it goes with the trimmed edge"
        instead = "Leave it; fill it with glue and wood, so that the later cutter finds no loose edge"
        return Problem(_finding("note", "gap", work.id, gap, words + by, (), instead), (), touched)
    words += f", {shapely.area(seen):.0f} mm² of it in sight" + _touched_words(plan, bench, touched)
    cut = replace(cut_as(work.placed), depth=built.pieces[work.placed.index].piece.pocket_depth)
    repairs: list[Repair | None] = []
    recut: tuple[str, ...] = (f"insert of {work.id}",)
    if "glued" not in bench.pieces[work.id].steps:
        repairs.append(Repair("recut-insert", f"Saw the insert of {work.id} anew, from the spare blank"))
    else:
        recut = (f"pocket of {work.id}", *recut)
        repairs += _deeper(plan, bench, built, work, cut.shape, cut.depth)
    repairs.append(patch(built, work.id, seen, cut, cut.depth))
    kept = tuple(repair for repair in repairs if repair)
    instead = "Fill it with wood of the same colour, grain along it"
    return Problem(_finding("warning", "gap", work.id, seen, words, kept, instead), recut, touched, kept)
