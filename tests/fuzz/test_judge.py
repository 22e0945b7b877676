"""The judge itself: it passes what is right, and each thing that can be wrong is told by its name."""

from __future__ import annotations

import warnings
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from core.errors import UnusableInput
from core.findings.finding import Finding
from fuzz import judge as judging
from fuzz.judge import KINDS, judge
from fuzz.meshes import enclosed, faulty_edges

DESIGN: dict[str, Any] = {
    "format": "grainstack-panel/1",
    "panel": {"width": 40, "height": 30, "thickness": 10, "wood": "ash", "face_trim": 0.5, "edge_trim": 2},
    "pieces": [{"id": "a", "wood": "holly", "outline": {"polygon": [[8, 8], [28, 8], [28, 22], [8, 22]]}}],
}
CUBE = np.array([[x, y, z] for x in (0.0, 2.0) for y in (0.0, 2.0) for z in (0.0, 2.0)]) + 1000.0
FACES = np.array(
    [
        [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
        [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
    ]
)  # fmt: skip


def kinds() -> frozenset[str]:
    return judge(DESIGN).kinds


def test_a_cube_is_closed_and_encloses_its_volume() -> None:
    assert faulty_edges(FACES) == 0
    assert enclosed(CUBE, FACES) == pytest.approx(8, rel=1e-12)
    assert enclosed(CUBE, FACES[:, ::-1]) == pytest.approx(-8, rel=1e-12)


def test_a_missing_doubled_turned_or_collapsed_triangle_is_told() -> None:
    assert faulty_edges(FACES[1:]) == 3
    assert faulty_edges(np.concatenate([FACES, FACES[:1]])) == 3
    turned = FACES.copy()
    turned[0] = turned[0, ::-1]
    assert faulty_edges(turned) > 0
    assert faulty_edges(np.concatenate([FACES, [[0, 0, 1]]])) > 0
    assert faulty_edges(np.empty((0, 3), np.int64)) == 0


def test_a_plain_design_has_no_fault() -> None:
    verdict = judge(DESIGN)
    assert not verdict.faults
    assert not verdict.refused
    assert verdict.solids == 6
    assert verdict.sum_off < 1e-10
    assert 0 < verdict.seconds < 10
    assert 0 <= verdict.megabytes < 1500


def test_memory_is_what_a_design_takes_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    held, peaks = 900.0, iter([2000.0, 2000.0])
    monkeypatch.setattr("fuzz.judge._held", lambda: held)
    monkeypatch.setattr("fuzz.judge._peak", lambda: next(peaks))
    assert judge(DESIGN).megabytes == 0  # what was held before it counts for nothing
    peaks = iter([2000.0, 2500.0])
    verdict = judge(DESIGN)
    assert verdict.megabytes == 1600
    assert {fault.kind for fault in verdict.faults} == {"memory"}


def test_a_design_that_is_refused_has_no_fault_but_a_reason() -> None:
    verdict = judge({**DESIGN, "pieces": [{"id": "a"}]})
    assert not verdict.faults
    assert "pieces[0]" in verdict.refused


def spoil(monkeypatch: pytest.MonkeyPatch, change) -> None:
    """All solids with something done to them."""
    sound = judging.build_solids
    monkeypatch.setattr(
        judging, "build_solids", lambda *options, **more: [change(solid) for solid in sound(*options, **more)]
    )


def test_a_hole_in_a_solid_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    spoil(monkeypatch, lambda solid: replace(solid, triangles=solid.triangles[1:], surface=solid.surface[1:]))
    assert "open" in kinds()


def test_a_solid_turned_inside_out_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    spoil(monkeypatch, lambda solid: replace(solid, triangles=solid.triangles[:, ::-1]))
    assert kinds() == {"inward", "sum"}


def test_wood_that_is_lost_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    spoil(monkeypatch, lambda solid: replace(solid, vertices=solid.vertices * (1.0, 1.0, 0.99999)))
    assert "sum" in kinds()


def test_wood_beyond_the_panel_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    spoil(monkeypatch, lambda solid: replace(solid, vertices=solid.vertices + np.array([0.01, 0.0, 0.0])))
    assert kinds() == {"outside"}


def test_an_exception_that_is_none_of_ours_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(judging, "build_stack", lambda design: 1 / 0)
    assert kinds() == {"exception"}
    monkeypatch.undo()
    monkeypatch.setattr(judging, "find_all", lambda *_: [][0])
    assert kinds() == {"exception"}


def test_a_refusal_after_the_design_was_read_is_told_as_unsound(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise UnusableInput("", "", "it is unsound", "Tell us")

    monkeypatch.setattr(judging, "build_solids", refuse)
    assert kinds() == {"unsound"}


def test_an_unsound_finding_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    unsound = Finding("error", "unsound", "a", None, (0.0, 0.0), "open", "Tell us")
    sound = judging.find_all
    monkeypatch.setattr(judging, "find_all", lambda *options: [*sound(*options), unsound])
    assert kinds() == {"unsound"}


def test_a_warning_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    sound = judging.build_stack

    def warn(*options):
        warnings.warn("divide by zero", RuntimeWarning, stacklevel=1)
        return sound(*options)

    monkeypatch.setattr(judging, "build_stack", warn)
    assert kinds() == {"warning"}


def test_what_takes_too_long_or_too_much_memory_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(judging, "MOST_SECONDS", 1e-4)
    monkeypatch.setattr(judging, "MOST_MEGABYTES", -1.0)
    assert kinds() == {"slow", "memory"}


def test_every_kind_is_known_to_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    told = {"open", "inward", "sum", "outside", "exception", "unsound", "warning", "slow", "memory"}
    assert told == set(KINDS)
