"""Findings that the maker accepts: counted and not shown, and back when they get worse or turn up in more places."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from core.design import Accepted
from core.design_file.reading import ONLY_ERRORS, design_of
from core.design_file.writing import design_text
from core.errors import UnusableInput
from core.findings.accepted import accepting, with_accepted, with_entries
from core.findings.all_findings import find_all
from core.findings.causes import grouped
from core.findings.check import check_stack, check_text
from core.findings.finding import Finding
from core.stack.stack import build_stack


def document(gap: float = 1.0, **keys: Any) -> dict[str, Any]:
    def box(name: str, x: float) -> dict[str, Any]:
        corners = [[x, 20], [x + 20, 20], [x + 20, 50], [x, 50]]
        return {"id": name, "wood": "holly", "outline": {"polygon": corners}}

    panel = {"width": 120, "height": 80, "thickness": 19, "wood": "black walnut"}
    return {
        "format": "grainstack-panel/1", "panel": panel, "pieces": [box("one", 20), box("two", 40 + gap)], **keys,
    }  # fmt: skip


def checked(value: dict[str, Any]) -> tuple[dict[str, Any], str]:
    stack = build_stack(design_of(value, Path("sample.panel.json")))
    found = check_stack(stack)
    return found, check_text(stack, found)


WALL = {"code": "thin-wall", "piece": "two", "other": "one", "value": -1.0, "why": "oak holds it"}


@pytest.mark.parametrize(("gap", "shown"), [(1.0, False), (1.1, False), (0.99, True)])
def test_an_accepted_finding_comes_back_when_it_gets_worse(gap: float, shown: bool) -> None:
    found, text = checked(document(gap, accepted=[WALL]))
    assert [f["code"] for f in found["findings"] if f["level"] == "warning"] == (["thin-wall"] if shown else [])
    assert [(f["code"], f["why"]) for f in found["accepted"]] == ([] if shown else [("thin-wall", "oak holds it")])
    assert ("; 1 accepted" in text) is not shown
    assert ("warning thin-wall" in text) is shown


def told(value: float, **changes: Any) -> Finding:
    plain = Finding("warning", "thin-neck", "one", None, (0.0, 0.0), "text", "remedy", value=value)
    return replace(plain, **changes)


@pytest.mark.parametrize(("count", "back"), [(1, False), (2, False), (3, True)])
def test_it_comes_back_when_there_are_more_places(count: int, back: bool) -> None:
    accepted = [Accepted("thin-neck", "one", None, -2.0, "it is thick", places=2)]
    marked = with_accepted([told(-2.0 - i) for i in range(count)], accepted)
    assert [finding.accepted for finding in marked] == [None if back else "it is thick"] * count
    assert len(grouped(marked)) == (count if back else 0)


def test_other_pieces_and_codes_are_told_as_before() -> None:
    accepted = [Accepted("thin-neck", "one", None, 0.0, "why", places=9)]
    others = [told(-1.0, piece="two"), told(-1.0, code="short-grain"), told(-1.0, other="two")]
    assert with_accepted(others, accepted) == others


def test_errors_cannot_be_accepted() -> None:
    error = told(-1.0, level="error", code="floor-too-thin")
    assert with_accepted([error], [Accepted("floor-too-thin", "one", None, 9.0, "why")]) == [error]
    for code in ONLY_ERRORS:
        with pytest.raises(UnusableInput, match="error, which cannot be accepted"):
            design_of(document(accepted=[{"code": code, "piece": "one", "value": 1, "why": "why"}]), Path("x"))


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"code": 3}, "code"),
        ({"code": "Thin Wall"}, "code"),
        ({"value": "much"}, "value"),
        ({"why": " "}, "why"),
        ({"places": 0}, "places"),
        ({"piece": "no id"}, "piece"),
        ({"reason": "x"}, "reason"),
    ],
)
def test_entries_are_read_strictly(change: dict[str, Any], place: str) -> None:
    with pytest.raises(UnusableInput) as refused:
        design_of(document(accepted=[{**WALL, **change}]), Path("x"))
    assert "accepted[0]" in refused.value.place
    assert place in str(refused.value)


def test_a_missing_word_why_is_refused() -> None:
    entry = {key: value for key, value in WALL.items() if key != "why"}
    with pytest.raises(UnusableInput, match="why"):
        design_of(document(accepted=[entry]), Path("x"))


def test_entries_are_written_back_in_order() -> None:
    value = document(accepted=[dict(reversed(WALL.items()))])
    again = json.loads(design_text(value))
    assert again == value
    assert list(again["accepted"][0]) == ["code", "piece", "other", "value", "why"]


def test_accepting_writes_one_entry_for_each_piece_or_pair_with_its_worst_value() -> None:
    entries = accepting([told(-2.0), told(-1.23456), told(-3.0, piece="two", other="one")], "good")
    assert entries == [
        {"code": "thin-neck", "piece": "one", "value": -1.2346, "places": 2, "why": "good"},
        {"code": "thin-neck", "piece": "two", "other": "one", "value": -3.0, "why": "good"},
    ]
    assert with_entries({"accepted": [{**entries[0], "value": -9}]}, entries) == {"accepted": entries}


def test_what_was_accepted_is_what_the_same_design_finds() -> None:
    """Through the file: all warnings of a design accepted, none is left."""
    value = document(1.23456789)
    stack = build_stack(design_of(value, Path("x")))
    findings = [finding for finding in find_all(stack) if finding.level == "warning"]
    assert findings
    found, _ = checked(json.loads(design_text(with_entries(value, accepting(findings, "good")))))
    assert [f for f in found["findings"] if f["level"] == "warning"] == []
    assert len(found["accepted"]) == len(findings)
