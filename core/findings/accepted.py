"""Findings that the maker has accepted: counted and not shown, until they get worse or turn up in more places."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from ..design import Accepted
from .finding import Finding

Key = tuple[str, str | None, str | None]
_SAME = 1e-4
"""Values that differ by less are equal: they are written with so many decimals."""
DECIMALS = 4


def with_accepted(findings: Iterable[Finding], accepted: Sequence[Accepted]) -> list[Finding]:
    """The findings, those that the design accepts marked with why.

    All of one code about one piece or pair are taken together: they are accepted where none is worse than what was
    accepted, and there are no more of them. Errors are never accepted.
    """
    told = list(findings)
    if not accepted:
        return told
    whys = {_key(entry): entry.why for entry in accepted}
    limits: dict[Key, tuple[float, int]] = {}
    for entry in accepted:
        worst, places = limits.get(_key(entry), (-math.inf, 0))
        limits[_key(entry)] = (max(worst, entry.value), places + entry.places)
    here: dict[Key, list[Finding]] = {}
    for finding in told:
        if finding.level != "error" and _key(finding) in limits:
            here.setdefault(_key(finding), []).append(finding)
    good = {key for key, some in here.items() if _within(some, *limits[key])}
    return [
        replace(finding, accepted=whys[_key(finding)])
        if finding.level != "error" and _key(finding) in good
        else finding
        for finding in told
    ]


def _within(findings: Sequence[Finding], worst: float, places: int) -> bool:
    return len(findings) <= places and max(finding.value for finding in findings) <= worst + _SAME


def _key(told: Finding | Accepted) -> Key:
    return told.code, told.piece, told.other


def accepting(findings: Iterable[Finding], why: str) -> list[dict[str, Any]]:
    """The entries of a design file that accept findings: one for each piece or pair, with its worst value."""
    entries: dict[Key, dict[str, Any]] = {}
    for finding in findings:
        entry = entries.setdefault(
            _key(finding),
            {"code": finding.code, "piece": finding.piece, "other": finding.other, "value": -math.inf, "places": 0},
        )
        entry["value"] = max(entry["value"], round(finding.value, DECIMALS))
        entry["places"] += 1
    return [_short(entry) | {"why": why} for entry in entries.values()]


def _short(entry: dict[str, Any]) -> dict[str, Any]:
    """Without what stands for itself: no piece, no other, one place."""
    plain = {"piece": None, "other": None, "places": 1}
    return {key: value for key, value in entry.items() if key not in plain or value != plain[key]}


def with_entries(document: dict[str, Any], entries: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """The document with more accepted; what it said of the same code and pieces is replaced."""

    def key(entry: dict[str, Any]) -> tuple[Any, ...]:
        return entry.get("code"), entry.get("piece"), entry.get("other")

    new = {key(entry) for entry in entries}
    kept = [entry for entry in document.get("accepted", []) if key(entry) not in new]
    return {**document, "accepted": [*kept, *entries]}
