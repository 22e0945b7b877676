"""The check: findings and measures of a design, as the object that `check --json` prints and as a report to read."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import shapely

from .design_file import read_design
from .errors import UnusableInput
from .findings import LEVELS, Finding, find_all
from .stack import PlacedPiece, Stack, build_stack
from .volumes import Volumes, measure_volumes

FORMAT = "grainstack-check/1"


def load_stack(path: Path | str) -> Stack:
    """The stack of a design file.

    Raises:
        UnusableInput: the file, artwork that it names, or the order that it asks for cannot be used.
    """
    try:
        return build_stack(read_design(path))
    except UnusableInput as refused:
        if refused.file:
            raise
        raise UnusableInput(str(path), refused.place, refused.problem, refused.remedy) from None


def check_design(path: Path | str) -> dict[str, Any]:
    """The check object of a design file.

    Raises:
        UnusableInput: the file, or artwork that it names, cannot be used at all.
    """
    return check_stack(load_stack(path))


def check_stack(stack: Stack, findings: Sequence[Finding] | None = None) -> dict[str, Any]:
    """The check object: areas in mm², volumes in mm³ of the raw panel below z = 0, all unrounded.

    Numbers and batch of a piece whose outline or fit cannot be used are None.
    """
    panel = stack.design.panel
    volumes = measure_volumes(stack)
    deepest = max((placed.depth for placed in stack.pieces if placed.sound), default=0.0)
    return {
        "format": FORMAT,
        "title": stack.design.title,
        "panel": {
            "volume": volumes.panel,
            "background_volume": volumes.background,
            "gap_volume": volumes.gap,
            "floor_min": panel.thickness - deepest,
        },
        "batches": [[stack.pieces[i].piece.id for i in batch] for batch in stack.batches],
        "pieces": [_piece(stack, placed, volumes) for placed in stack.pieces],
        "findings": [_finding(finding) for finding in (find_all(stack) if findings is None else findings)],
    }


def _piece(stack: Stack, placed: PlacedPiece, volumes: Volumes) -> dict[str, Any]:
    measures: dict[str, float | int | None] = {
        "batch": placed.batch,
        "outline_area": float(shapely.area(placed.outline)),
        "fit_area": float(shapely.area(placed.pocket)),
        "insert_area": float(shapely.area(placed.insert)),
        "visible_area": float(shapely.area(stack.remnants[placed.index])),
        "pocket_volume": volumes.pockets[placed.index],
        "insert_volume": volumes.inserts[placed.index],
        "remnant_parts": _parts(stack, placed),
    }
    if not placed.sound:
        measures = dict.fromkeys(measures)
    return {
        "id": placed.piece.id,
        "wood": placed.piece.wood,
        **measures,
        "over": [stack.pieces[i].piece.id for i in placed.over],
        "notes": list(placed.notes),
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
    }


# --- The report -----------------------------------------------------------------------------------------------------


def check_text(stack: Stack, check: dict[str, Any]) -> str:
    """The check as a report for the bench; lengths have two decimals."""
    return "\n".join([*_panel_lines(stack, check), "", *_piece_lines(check), *_finding_lines(check)])


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
    ]


def _piece_lines(check: dict[str, Any]) -> list[str]:
    """One row per piece, batch after batch; pieces that count as absent come last."""
    pieces = sorted(check["pieces"], key=lambda piece: piece["batch"] or len(check["pieces"]) + 1)
    if not pieces:
        return ["No pieces."]
    rows = [("batch", "piece", "wood", "outline mm²", "seen mm²", "parts", "over")]
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
    notes = [f"{piece['id']}: {', '.join(piece['notes'])}" for piece in pieces if piece["notes"]]
    return [*_table(rows, "><<>>><"), *([""] if notes else []), *notes]


def _shown(value: float | None, form: str) -> str:
    return "-" if value is None else format(value, form)


def _table(rows: Sequence[Sequence[str]], sides: str) -> list[str]:
    widths = [max(len(row[column]) for row in rows) for column in range(len(sides))]
    cells = [[f"{cell:{side}{width}}" for cell, side, width in zip(row, sides, widths, strict=True)] for row in rows]
    return ["  ".join(row).rstrip() for row in cells]


def _finding_lines(check: dict[str, Any]) -> list[str]:
    findings = check["findings"]
    lines = ["", count_words(findings)]
    for finding in findings:
        lines += textwrap.wrap(
            f"{finding['level']} {finding['code']}: {finding['text']}. {finding['remedy'].rstrip('?.')}"
            + ("?" if finding["remedy"].endswith("?") else "."),
            width=110,
            subsequent_indent="    ",
            break_long_words=False,
            break_on_hyphens=False,
        )
    return lines


def count_words(findings: Sequence[dict[str, Any]]) -> str:
    """How many findings of each level, such as "no errors, 1 warning, 2 notes"."""
    counts = {level: sum(finding["level"] == level for finding in findings) for level in LEVELS}
    words = [f"{count or 'no'} {level}{'' if count == 1 else 's'}" for level, count in counts.items()]
    return ", ".join(words)
