"""The manual's little designs: each shows its finding and nothing worse, and is cured as its remedy says."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from core.findings.all_findings import FINDINGS
from core.findings.check import check_design
from manual.finding_designs import EXAMPLES, WITHOUT_PICTURE

TOLD_WITHOUT = {"unsound", "board-photo", "off-board"}
"""These have no little design: a fault of the program, and photos."""
CURED_AT_THE_BENCH = {"corners-rounded", "colour-bleed", "moisture-play"}
"""No change of the design takes them away: nothing need be done, or with sealer and patience."""


PLAIN = re.compile(r"[a-z]{2,}(?:-[a-z]+)?")
JOINTS = re.compile(r"; and |; |, or |, and |, | or | and ")
"""What stands between two clauses of a remedy, each of which says one thing to do."""
NO_DEED = {
    "such",  # such as one of 1.00 mm
    "did",
    "more",
    "less",
    "nothing",
    "one",
    "off",
    "glue",
    "panel",
    "insert",
    "on",
    "of",
    "clearance",
    "it",
    "which",
    "well",
}
"""Words that may begin a clause or a part of one, and tell of nothing to do."""
MANUAL = (Path(__file__).parents[1] / "docs" / "findings.md").read_text(encoding="utf-8")


def told(folder: Path, design: dict[str, Any], code: str) -> list[dict[str, Any]]:
    """Errors and warnings, and the finding itself where it is only a note."""
    path = folder / "little.panel.json"
    path.write_text(json.dumps(design), encoding="utf-8")
    return [
        finding for finding in check_design(path)["findings"] if finding["level"] != "note" or finding["code"] == code
    ]


def test_every_finding_has_its_design() -> None:
    assert set(FINDINGS) - TOLD_WITHOUT == set(EXAMPLES)


@pytest.mark.parametrize("code", EXAMPLES)
def test_a_design_shows_just_its_finding_and_its_remedy_cures_it(code: str, tmp_path: Path) -> None:
    example = EXAMPLES[code]
    finding, *more = told(tmp_path, example.design, code)
    assert {each["code"] for each in (finding, *more)} == {code}  # such as each corner that binds
    if code in CURED_AT_THE_BENCH:
        assert (finding["level"], finding["step"], example.cured) == ("note", None, None)
        return
    cured = example.cured
    if cured is None:
        step = finding["step"]
        pieces = [
            piece | {step["key"]: step["value"]} if piece["id"] == step["piece"] else piece
            for piece in example.design["pieces"]
        ]
        cured = example.design | {"pieces": pieces}
    assert told(tmp_path, cured, code) == []


@pytest.mark.parametrize("code", EXAMPLES)
def test_the_manual_says_what_to_do_as_the_finding_does(code: str, tmp_path: Path) -> None:
    """Each thing that the printed remedy says to do stands under the finding's heading."""
    chapter = MANUAL.partition(f"### {code.replace('-', ' ').capitalize()}\n")[2].partition("\n### ")[0]
    written = set(PLAIN.findall(chapter.partition("- What to do: ")[2].lower()))
    first = [
        PLAIN.match(clause.lower()) for clause in JOINTS.split(told(tmp_path, EXAMPLES[code].design, code)[0]["remedy"])
    ]
    deeds = {match[0] for match in first if match} - NO_DEED
    assert deeds - written == set()


def test_the_manual_tells_of_every_finding_and_shows_those_that_have_a_design() -> None:
    root = Path(__file__).parents[1]
    text = (root / "docs" / "findings.md").read_text(encoding="utf-8")
    for code in FINDINGS:
        assert f"### {code.replace('-', ' ').capitalize()}\n" in text
        assert f"- `{code}`, a" in text
    sizes = []
    for code in EXAMPLES.keys() - WITHOUT_PICTURE:
        assert f"](../assets/pictures/findings/{code}.jpg)" in text
        sizes.append((root / "assets" / "pictures" / "findings" / f"{code}.jpg").stat().st_size)
    assert max(sizes) < 40_000
    assert sum(sizes) < 1_000_000
