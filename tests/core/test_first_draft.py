"""The koi pond as first drawn: each mistake that was planted is found, nothing else is, and every remedy works.

The mistakes are the plan of assets/koi-pond/README.md, written down before the findings were built.
"""

from __future__ import annotations

import copy
import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from core.findings.all_findings import Finding, find_all
from core.stack.loading import load_stack

POND = Path(__file__).parents[2] / "assets" / "koi-pond"
PLANTED = {
    ("short-grain", "kohaku-tail", None),
    ("thin-neck", "showa-body", None),  # what is left of it beside showa-red
    ("thin-skin", "showa-white-1", "showa-body"),
    ("strip-bend", "reed-2", None),
    ("thin-wall", "ripple-2", "ripple-1"),
    ("floor-too-thin", "lotus-heart", None),
    ("meeting-edges", "pad-3", "pad-1"),
}
Key = tuple[str, str | None, str | None]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the pond's folder."""
    return Path(shutil.copytree(POND, tmp_path / "pond"))


@pytest.fixture
def draft() -> dict[str, Any]:
    return read("first-draft")


def read(name: str) -> dict[str, Any]:
    document: dict[str, Any] = json.loads((POND / f"{name}.panel.json").read_text(encoding="utf-8"))
    return document


def piece_of(design: dict[str, Any], name: str) -> dict[str, Any]:
    return next(piece for piece in design["pieces"] if piece["id"] == name)


TOO_DEEP_TOO: Key = ("slender-cutter", "lotus-heart", None)
"""The pocket that leaves too thin a floor is too deep for its cutter too; cutting it shallower mends both."""


def grave(design: dict[str, Any], folder: Path) -> dict[Key, Finding]:
    """Errors and warnings of a design that is saved among the pond's drawings; one of a kind for each piece."""
    path = folder / "changed.panel.json"
    path.write_text(json.dumps(design), encoding="utf-8")
    found = [finding for finding in find_all(load_stack(path)) if finding.level != "note"]
    by_key = {(finding.code, finding.piece, finding.other): finding for finding in found}
    assert len(by_key) == len(found)
    by_key.pop(TOO_DEEP_TOO, None)
    return by_key


def by_step(design: dict[str, Any], finding: Finding) -> None:
    """The remedy that is data."""
    assert finding.step is not None
    piece_of(design, finding.step.piece)[finding.step.key] = finding.step.value


def patch_moved(design: dict[str, Any], finding: Finding) -> None:
    assert "Move showa-red so that 1.00 mm of wood is left" in finding.remedy
    piece_of(design, "showa-red")["at"] = piece_of(read("koi-pond"), "showa-red")["at"]


def line_redrawn(design: dict[str, Any], finding: Finding) -> None:
    assert "Draw the line to a radius of 243.57 mm or more" in finding.remedy
    piece_of(design, "reed-2")["outline"] = piece_of(read("koi-pond"), "reed-2")["outline"]


BY_HAND: dict[str, Callable[[dict[str, Any], Finding], None]] = {"thin-neck": patch_moved, "strip-bend": line_redrawn}


def test_every_planted_mistake_is_found_and_nothing_else(draft: dict[str, Any], folder: Path) -> None:
    found = grave(draft, folder)
    assert set(found) == PLANTED
    assert {finding.level for finding in found.values()} == {"warning"}


@pytest.mark.parametrize("planted", sorted(PLANTED, key=str), ids=lambda planted: planted[0])
def test_its_remedy_removes_a_finding_and_brings_no_other(planted: Key, draft: dict[str, Any], folder: Path) -> None:
    mended = copy.deepcopy(draft)
    BY_HAND.get(planted[0], by_step)(mended, grave(draft, folder)[planted])
    assert set(grave(mended, folder)) == PLANTED - {planted}


def test_all_remedies_together_leave_nothing(draft: dict[str, Any], folder: Path) -> None:
    for (code, *_), finding in grave(draft, folder).items():
        BY_HAND.get(code, by_step)(draft, finding)
    assert grave(draft, folder) == {}


def test_the_finished_pond_is_sound_and_of_the_same_pieces(draft: dict[str, Any], folder: Path) -> None:
    finished = read("koi-pond")
    assert grave(finished, folder) == {}
    assert [piece["id"] for piece in draft["pieces"]] == [piece["id"] for piece in finished["pieces"]]
    changed = [p["id"] for p, q in zip(draft["pieces"], finished["pieces"], strict=True) if p != q]
    assert changed == [
        "reed-2", "kohaku-tail", "showa-red", "showa-white-1", "pad-3", "lotus-heart", "ripple-2"
    ]  # fmt: skip
    for key in ("panel", "workshop"):
        assert draft[key] == finished[key]
