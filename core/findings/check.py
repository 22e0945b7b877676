"""The check: findings and measures of a design, as the object that `check --json` prints and as a report to read."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import shapely

from ..cutter.sizes import diameter_text, suggest_for
from ..cutter.taper import edge_shift, stands_proud
from ..measures.all_measures import Measures
from ..measures.blanks import Blank, blanks, leaves
from ..measures.cautions import BENCH_IN_SHORT, UsedWood, harmful_woods, woods_used
from ..measures.grooves import strip_length
from ..measures.movement import panel_movement
from ..measures.skins_and_floors import thinnest_floor
from ..solids.volumes import Volumes
from ..stack.batch_reasons import BatchReason, batch_reasons
from ..stack.loading import load_stack
from ..stack.stack import PlacedPiece, Stack
from .all_findings import LEVELS, Finding, Step, find_all
from .bench_plan import bench_plan, offer_lines, offers, plan_lines
from .causes import Group, grouped
from .report_notes import ended, note_lines, wrapped

FORMAT = "grainstack-check/1"
_WHY = {"overlap": "cuts into", "after": "must be cut after"}
_MOST_WAITS = 7
"""The report names so many pieces of a chain that wait for each other."""


def check_design(path: Path | str) -> dict[str, Any]:
    """The check object of a design file.

    Raises:
        UnusableInput: the file, or artwork that it names, cannot be used at all.
    """
    return check_stack(load_stack(path))


def check_stack(
    stack: Stack,
    findings: Sequence[Finding] | None = None,
    measures: Measures | None = None,
    *,
    suggest_cutters: bool = False,
    plan: bool = False,
) -> dict[str, Any]:
    """The check object: areas in mm², volumes in mm³ of the raw panel below z = 0, all unrounded.

    Numbers and batch of a piece whose outline or fit cannot be used are None. Findings and measures of the stack
    save taking them again; with `suggest_cutters` each piece also says which one would do, and with `plan` changes
    that save thicknesses and glue days are tried on copies of the design.
    """
    panel = stack.design.panel
    measures = Measures(stack) if measures is None else measures
    findings = find_all(stack, measures) if findings is None else findings
    volumes = measures.volumes
    floor = thinnest_floor(stack)
    deepest = max((placed.depth for placed in stack.pieces if placed.sound), default=0.0)
    found = {
        "format": FORMAT,
        "title": stack.design.title,
        "panel": {
            "volume": volumes.panel,
            "background_volume": volumes.background,
            "gap_volume": volumes.gap,
            "floor_min": panel.thickness - deepest,
            "floor_min_at": None if floor is None else list(floor.at),
        },
        "movement": _movement(stack),
        "batches": [[stack.pieces[i].piece.id for i in batch] for batch in stack.batches],
        "batch_reasons": [_reason(stack, reason) for reason in batch_reasons(stack)],
        "pieces": _pieces(measures, volumes, suggest_cutters),
        "woods": [_wood(used) for used in woods_used(stack)],
        "findings": [_finding(f) for f in findings if f.accepted is None],
        "accepted": [_finding(f) | {"why": f.accepted} for f in findings if f.accepted is not None],
        "work": bench_plan(stack),
    }
    return found | {"plan": offers(measures)} if plan else found


def _wood(used: UsedWood) -> dict[str, Any]:
    """What to beware of in a wood."""
    wood = used.species
    return {
        "name": used.name,
        "species": wood.kind,
        "trade": wood.trade,
        "dust": wood.dust_cautions,
        "skin": wood.skin_cautions,
        "cautions": wood.cautions,
    }


def _movement(stack: Stack) -> dict[str, Any] | None:
    """What the seasons do to the trimmed panel's width and height; None where a wood of its background is unknown."""
    moved = panel_movement(stack)
    if moved is None:
        return None
    air = moved.climate
    return {
        "humidity": [air.humidity_low, air.humidity_high],
        "temperature": air.temperature,
        "moisture": [air.dry, air.damp],
        "size": list(moved.size),
        "quarter_sawn": list(moved.quarter_sawn),
        "flat_sawn": list(moved.flat_sawn),
        "frame_room": list(moved.frame_room),
    }


def _reason(stack: Stack, reason: BatchReason) -> dict[str, Any]:
    """Why a piece is not in an earlier batch."""
    placed, first = stack.pieces[reason.piece], stack.pieces[reason.waits_for]
    why = "overlap" if reason.overlap else "after"
    return {"piece": placed.piece.id, "batch": placed.batch, "waits_for": first.piece.id, "because": why}


def _pieces(measures: Measures, volumes: Volumes, suggest_cutters: bool) -> list[dict[str, Any]]:
    stack = measures.stack
    wood: dict[int, list[Blank]] = {}
    for blank in blanks(stack):
        wood.setdefault(blank.piece, []).append(blank)
    pieces = []
    for placed in stack.pieces:
        numbers = {**_measures(stack, placed, volumes), **_work(measures, placed, wood.get(placed.index, []))}
        if suggest_cutters:
            cutter = suggest_for(placed.outline, placed.piece, stack.design.workshop.detail)
            numbers["suggested_cutter"] = None if cutter is None else cutter.diameter
        pieces.append(
            {
                "id": placed.piece.id,
                "wood": placed.piece.wood,
                **(numbers if placed.sound else dict.fromkeys(numbers)),
                "over": [stack.pieces[i].piece.id for i in placed.over],
                "notes": list(placed.notes),
            }
        )
    return pieces


def _measures(stack: Stack, placed: PlacedPiece, volumes: Volumes) -> dict[str, Any]:
    return {
        "batch": placed.batch,
        "outline_area": float(shapely.area(placed.outline)),
        "fit_area": float(shapely.area(placed.pocket)),
        "insert_area": float(shapely.area(placed.insert)),
        "visible_area": float(shapely.area(stack.remnants[placed.index])),
        "pocket_volume": volumes.pockets[placed.index],
        "insert_volume": volumes.inserts[placed.index],
        "remnant_parts": _parts(stack, placed),
    }


def _work(measures: Measures, placed: PlacedPiece, own: Sequence[Blank]) -> dict[str, Any]:
    """What the bench wants to know; a groove's strip has its grain along the line."""
    piece, panel = placed.piece, measures.panel
    return {
        "suggested_grain": measures.suggested_grain.get(placed.index),
        "strip_length": strip_length(placed) if piece.is_groove and placed.sound else None,
        "stands_proud": stands_proud(-piece.side_clearance, piece.taper),
        "edge_shift": edge_shift(piece.taper, panel.face_trim),
        "blanks": [
            {
                "along": blank.along,
                "across": blank.across,
                "thickness": blank.thickness,
                "grain": blank.grain,
                "mirrored": blank.mirrored,
                "leaves": leaves(blank, measures.workshop.board_width),
            }
            for blank in own
        ],
    }


def _parts(stack: Stack, placed: PlacedPiece) -> int:
    remnant = stack.remnants[placed.index]
    return 0 if remnant.is_empty else int(shapely.get_num_geometries(remnant))


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "level": finding.level,
        "code": finding.code,
        "piece": finding.piece,
        "other": finding.other,
        "at": list(finding.at),
        "text": finding.text,
        "remedy": finding.remedy,
        "step": _step(finding.step),
        "value": finding.value,
        "cause": finding.cause,
        "tried": finding.tried,
    }


def _step(step: Step | None) -> dict[str, Any] | None:
    """The remedy as one change of the design file: that key of that piece gets that value."""
    if step is None:
        return None
    value = list(step.value) if isinstance(step.value, tuple) else step.value
    return {"piece": step.piece, "key": step.key, "value": value}


# --- The report -----------------------------------------------------------------------------------------------------


def check_text(stack: Stack, check: dict[str, Any]) -> str:
    """The check as a report for the bench; lengths have two decimals."""
    return "\n".join(
        [
            *_panel_lines(stack, check),
            "",
            *_piece_lines(check),
            *_reason_lines(check),
            *_caution_lines(stack),
            *_finding_lines(check),
            *(offer_lines(check["plan"], check["work"]) if "plan" in check else []),
        ]
    )


def _panel_lines(stack: Stack, check: dict[str, Any]) -> list[str]:
    panel, measures = stack.design.panel, check["panel"]
    left, right, bottom, top = panel.edge_trim
    inserts = sum(piece["insert_volume"] or 0.0 for piece in check["pieces"])
    return [
        check["title"] or Path(stack.design.file).name,
        f"  raw panel       {panel.width:.2f} × {panel.height:.2f} × {panel.thickness:.2f} mm",
        f"  trimmed         face {panel.face_trim:.2f} mm; left {left:.2f}, right {right:.2f}, "
        f"bottom {bottom:.2f}, top {top:.2f} mm",
        f"  thinnest floor  {measures['floor_min']:.2f} mm",
        f"  volumes         background {measures['background_volume'] / 1000:.2f} cm³, "
        f"inserts {inserts / 1000:.2f} cm³, gaps {measures['gap_volume'] / 1000:.2f} cm³",
        *_movement_lines(check["movement"]),
        *plan_lines(check["work"]),
        "  places          (right, up) in mm from the lower left corner of the raw panel, face up",
    ]


def _movement_lines(movement: dict[str, Any] | None) -> list[str]:
    """How much room a frame leaves, which is what flat-sawn boards need."""
    if movement is None:
        return []
    (low, high), (width, height) = movement["humidity"], movement["frame_room"]
    return wrapped(
        f"  moves           {width:.2f} mm in width, {height:.2f} mm in height from {low:g} to {high:g} % humidity: "
        "leave this much room in the frame in all, both sides together"
    )


def _piece_lines(check: dict[str, Any]) -> list[str]:
    """One row per piece, batch after batch; pieces that count as absent come last."""
    pieces = sorted(check["pieces"], key=lambda piece: piece["batch"] or len(check["pieces"]) + 1)
    if not pieces:
        return ["No pieces."]
    cutters = "suggested_cutter" in pieces[0]
    rows: list[tuple[str, ...]] = [("batch", "piece", "wood", "outline mm²", "seen mm²", "parts seen", "cuts into")]
    rows += [
        (
            _shown(piece["batch"], "d"),
            piece["id"],
            piece["wood"],
            _shown(piece["outline_area"], ".2f"),
            _shown(piece["visible_area"], ".2f"),
            _shown(piece["remnant_parts"], "d"),
            ", ".join(piece["over"]),
        )
        for piece in pieces
    ]
    if cutters:
        suggested = [piece["suggested_cutter"] for piece in pieces]
        column = ["cutter", *("-" if size is None else diameter_text(size) for size in suggested)]
        rows = [(*row[:-1], cutter, row[-1]) for row, cutter in zip(rows, column, strict=True)]
    notes = [f"{piece['id']}: {', '.join(piece['notes'])}" for piece in pieces if piece["notes"]]
    return [*_table(rows, "><<>>>><" if cutters else "><<>>><"), *([""] if notes else []), *notes]


def _reason_lines(check: dict[str, Any]) -> list[str]:
    """A chain of pieces that makes so many batches necessary: each must wait for the next."""
    reasons = {reason["piece"]: reason for reason in check["batch_reasons"]}
    if not reasons:
        return []
    first = piece = check["batches"][-1][0]
    waits: list[str] = []
    while piece in reasons:
        reason = reasons[piece]
        waits.append(f"{_WHY[reason['because']]} {reason['waits_for']}")
        piece = reason["waits_for"]
    more = f", and so on down to {piece}" if len(waits) > _MOST_WAITS else ""
    return ["", *wrapped(f"{len(waits) + 1} batches: {first} {', which '.join(waits[:_MOST_WAITS])}{more}.")]


def _caution_lines(stack: Stack) -> list[str]:
    """What to beware of at the bench, and in the woods of this panel."""
    harmful = harmful_woods(woods_used(stack))
    lines = [line for words in (*BENCH_IN_SHORT, *([harmful] if harmful else [])) for line in wrapped(f"  {words}")]
    return ["", "Before you cut:", *lines]


def _shown(value: float | None, form: str) -> str:
    return "-" if value is None else format(value, form)


def _table(rows: Sequence[Sequence[str]], sides: str) -> list[str]:
    widths = [max(len(row[column]) for row in rows) for column in range(len(sides))]
    cells = [[f"{cell:{side}{width}}" for cell, side, width in zip(row, sides, widths, strict=True)] for row in rows]
    return ["  ".join(row).rstrip() for row in cells]


def _finding_lines(check: dict[str, Any]) -> list[str]:
    """How many there are, one entry for each cause, and notes in short."""
    groups = _groups(check["findings"])
    notes = [group for group in groups if group.level == "note"]
    shown = "; of each kind of note, the worst place:" if len(notes) > 1 else ""
    lines = ["", *wrapped(count_words(check["findings"]) + _accepted_words(check) + shown)]
    for group in groups:
        if group.level != "note":
            worst = group.worst
            lines += wrapped(f"{worst.level} {worst.code}: {ended(group.text)} {ended(worst.remedy)}")
    return lines + note_lines(notes)


def _accepted_words(check: dict[str, Any]) -> str:
    accepted = check["accepted"]
    return f"; {len(accepted)} accepted" if accepted else ""


def _groups(findings: Sequence[dict[str, Any]]) -> list[Group]:
    keys = ("level", "code", "piece", "other", "at", "text", "remedy", "value", "cause")
    facts: list[dict[str, Any]] = [{key: finding.get(key) for key in keys} for finding in findings]
    for known in facts:
        known["value"] = known["value"] or 0.0  # from a file that says none
    return grouped(Finding(**known) for known in facts)


def count_words(findings: Sequence[dict[str, Any]]) -> str:
    """How many of each level there are, those of one cause counted once: "no errors, 9 warnings at 18 places"."""
    words = []
    groups = _groups(findings)
    for level in LEVELS:
        count = sum(group.level == level for group in groups)
        places = sum(finding["level"] == level for finding in findings)
        more = f" at {places} places" if places > count else ""
        words.append(f"{count or 'no'} {level}{'' if count == 1 else 's'}{more}")
    return ", ".join(words)
