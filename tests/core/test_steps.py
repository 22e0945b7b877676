"""Remedies that are one step: taken as it says, the finding is gone and no other came."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from core.findings.check import check_design

Document = dict[str, Any]


def document(*pieces: Document, workshop: Mapping[str, Any] | None = None, **panel: Any) -> Document:
    plain = {"width": 200, "height": 120, "thickness": 19, "face_trim": 0.5, "wood": "sapele"}
    if "strips" in panel:
        del plain["wood"]
    return {
        "format": "grainstack-panel/1",
        "panel": plain | panel,
        "workshop": dict(workshop or {}),
        "pieces": [{"wood": "holly"} | piece for piece in pieces],
    }


def box(name: str, x: float, y: float, width: float, height: float, **keys: Any) -> Document:
    corners = [[x, y], [x + width, y], [x + width, y + height], [x, y + height]]
    return {"id": name, "outline": {"polygon": corners}} | keys


def bone(name: str, neck: float, **keys: Any) -> Document:
    low, high = 10 - neck / 2, 10 + neck / 2
    points = [[0, 0], [20, 0], [20, low], [40, low], [40, 0], [60, 0]]
    points += [[60, 20], [40, 20], [40, high], [20, high], [20, 20], [0, 20]]
    return {"id": name, "outline": {"polygon": points}, "at": [40, 40]} | keys


def ring(name: str, outer: float, inner: float, **keys: Any) -> Document:
    def circle(r: float, sweep: int) -> str:
        return f"M {-r} 0 A {r} {r} 0 0 {sweep} {r} 0 A {r} {r} 0 0 {sweep} {-r} 0 Z"

    return {"id": name, "outline": {"path": f"{circle(outer, 0)} {circle(inner, 1)}"}, "at": [80, 60]} | keys


LONG = {"cutter_length": 30}
"""With a cutter that is long enough, floors alone are wrong."""
JOINT = [{"width": 80, "wood": "ash"}, {"width": 120, "wood": "sapele"}]
CASES: dict[str, tuple[str, Document]] = {
    "a wood spelt wrong": ("unknown-wood", document(box("a", 20, 20, 30, 30, wood="paduk"))),
    "a floor too thin": ("floor-too-thin", document(box("a", 20, 20, 30, 30, pocket_depth=15), workshop=LONG)),
    "no floor": ("floor-too-thin", document(box("a", 20, 20, 30, 30, pocket_depth=19), workshop=LONG)),
    "an insert too thin": ("not-proud", document(box("a", 20, 20, 30, 30, insert_thickness=5))),
    "a corner that binds": ("binds", document(box("a", 20, 20, 30, 30, fit="as-drawn"))),
    "two pieces that nearly meet": ("meeting-edges", document(box("a", 20, 20, 30, 30), box("b", 50.3, 25, 30, 20))),
    "a thin wall": ("thin-wall", document(box("a", 20, 20, 30, 30), box("b", 51.5, 25, 30, 20))),
    "a hair of skin": (
        "thin-skin",
        document(box("a", 20, 20, 60, 60, pocket_depth=6), box("b", 30, 30, 20, 20, pocket_depth=5.7)),
    ),
    "a hair of skin over a thin floor": (
        "thin-skin",
        document(box("a", 20, 20, 60, 60, pocket_depth=6), box("b", 30, 30, 20, 20, pocket_depth=5.7), thickness=11),
    ),
    "a neck across the grain": ("short-grain", document(bone("a", 5, grain=90))),
    "a neck that the cutter cannot pass": (
        "cutter-too-big",
        document(bone("a", 3.1), workshop={"min_neck": 2}),
    ),
    "a hole that is filled": (
        "notch-filled",
        document(ring("a", 20, 1.5, pocket_depth=2.5), workshop={"min_island": 2}),
    ),
    "an island in a deep pocket": ("fragile-island", document(ring("a", 20, 2.5))),
    "a joint beside an edge": ("joint-under-edge", document(box("a", 80.4, 20, 30, 30), strips=JOINT)),
    "a joint inside an edge": ("joint-under-edge", document(box("a", 79.6, 20, 30, 30), strips=JOINT)),
    "a cutter that is short": (
        "too-deep-for-cutter",
        document(box("a", 20, 20, 30, 30), workshop={"cutter_length": 7}),
    ),
    "a blank as wide as two boards": ("blank-too-narrow", document(box("a", 10, 20, 170, 30, grain=90))),
}


def checked(folder: Path, content: Document) -> list[Document]:
    path = folder / "sample.panel.json"
    path.write_text(json.dumps(content), encoding="utf-8")
    return [finding for finding in check_design(path)["findings"] if finding["level"] != "note"]


@pytest.mark.parametrize("name", CASES)
def test_a_step_taken_removes_its_finding_and_brings_no_other(name: str, tmp_path: Path) -> None:
    code, content = CASES[name]
    before = checked(tmp_path, content)
    finding = next(f for f in before if f["code"] == code)
    step = finding["step"]
    assert step is not None
    piece = next(entry for entry in content["pieces"] if entry["id"] == step["piece"])
    mended = [entry | {step["key"]: step["value"]} if entry is piece else entry for entry in content["pieces"]]
    assert checked(tmp_path, content | {"pieces": mended}) == [f for f in before if f["code"] != code]
