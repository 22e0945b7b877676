"""Faults of our own: one line for the maker, details in a file, whatever it was."""

from __future__ import annotations

import re
import warnings
from pathlib import Path

import pytest
import shapely

from core import commands, faults
from core.commands import UNUSABLE, main
from core.design import LineOutline
from core.errors import UnusableInput
from core.findings.all_findings import find_all
from core.measures.grooves import circle_radii, tightest_bend
from core.stack.stack import build_stack
from tests.core.designs import make_design, make_piece
from tests.core.test_commands import design


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "faults"
    monkeypatch.setattr(faults, "folder", lambda: folder)
    return folder


def boom(*_: object, **__: object) -> None:
    raise ZeroDivisionError("a wall of\nno length")


def test_a_fault_is_one_line_that_says_what_where_and_whose(
    tmp_path: Path, own_folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("core.cutter.fit._fit", boom)
    path = design(tmp_path, {})
    assert main(["check", str(path)]) == UNUSABLE
    out, err = capsys.readouterr()
    assert (out, len(err.splitlines())) == ("", 1)
    kept = next(own_folder.iterdir())
    assert err.strip() == (
        f'grainstack check {path}, piece "p0", its pocket and insert: a fault of Grainstack\'s own, not of your design '
        f"(ZeroDivisionError: a wall of no length). Details are in {kept}; please send them to us."
    )


def test_its_details_have_the_traceback_and_versions_but_not_the_home_folder(
    tmp_path: Path, own_folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(Path, "home", classmethod(lambda _: tmp_path))
    monkeypatch.setattr("core.commands.find_all", boom)
    assert main(["check", str(design(tmp_path, {}))]) == UNUSABLE
    details = next(own_folder.iterdir()).read_text(encoding="utf-8")
    assert "Traceback" in details
    assert f"shapely {shapely.__version__}" in details
    assert str(tmp_path) not in details
    assert "~" in details
    capsys.readouterr()


def test_the_same_fault_keeps_one_file(own_folder: Path) -> None:
    for _ in range(3):
        try:
            boom()
        except ZeroDivisionError as fault:
            line = faults.told(fault, "testing")
    assert len(list(own_folder.iterdir())) == 1
    assert line.startswith("testing: a fault of Grainstack's own")


def test_where_no_details_can_be_kept_the_line_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setattr(faults, "folder", lambda: tmp_path / "file" / "below")
    assert "The details could not be written" in faults.told(ValueError("x"), "testing")
    (tmp_path / "link").symlink_to(tmp_path)
    monkeypatch.setattr(faults, "folder", lambda: tmp_path / "link")
    assert "The details could not be written" in faults.told(ValueError("x"), "testing")


@pytest.mark.parametrize(
    ("raised", "words"),
    [
        (MemoryError(), "memory does not suffice"),
        (shapely.errors.GEOSException("std::bad_alloc"), "memory does not suffice"),
        (KeyboardInterrupt(), "Stopped"),
        (AssertionError(), "AssertionError"),
        (RecursionError("deep"), "RecursionError: deep"),
    ],
)
def test_whatever_comes_to_the_door_is_one_line_and_2(
    raised: BaseException, words: str, own_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def run() -> int:
        raise raised

    assert commands.at_the_door(run, "testing") == UNUSABLE
    err = capsys.readouterr().err
    assert words in err
    assert len(err.splitlines()) == 1
    assert own_folder.exists() == ("own" in err)


def test_what_a_maker_caused_is_not_called_a_fault() -> None:
    with pytest.raises(UnusableInput) as refused, faults.during("piece"):
        raise UnusableInput("", "", "bad", "Mend it")
    assert not hasattr(refused.value, "__notes__")


# Faults that were


@pytest.mark.parametrize("taper", [20.0, 30.0, 44.0])
def test_a_bent_groove_whose_walls_meet_is_an_empty_fit(taper: float) -> None:
    bend = LineOutline(((0.0, 0.0), (20.0, 0.0), (20.0, 20.0)), 3.175, False)
    groove = make_piece("p0", bend, at=(40, 30), taper=taper, pocket_depth=6.0)
    found = find_all(build_stack(make_design([groove])))
    assert [finding.code for finding in found if finding.level == "error"] == ["empty-fit"]


@pytest.mark.parametrize(
    "points",
    [
        ((0.0, 0.0), (10.0, 0.0), (20.0, 0.0)),
        ((0.0, 0.0), (10.0, 0.0), (0.0, 0.0)),
        ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 0.0)),
        ((0.0, 0.0), (10.0, 0.0), (5.0, 0.0), (20.0, 0.0)),
    ],
)
def test_lines_that_run_straight_or_back_warn_of_no_division(points: tuple[tuple[float, float], ...]) -> None:
    groove = make_piece("p0", LineOutline(points, 3.175, False), at=(40, 30))
    placed = build_stack(make_design([groove])).pieces[0]
    assert placed.centre_line is not None
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert circle_radii(placed.centre_line).min() >= 0
        assert tightest_bend(placed).radius >= 0


def test_names_of_commands_stand_in_the_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("core.commands.load_stack", boom)
    assert main(["solids", "x.panel.json", "--out", "y"]) == UNUSABLE
    assert re.match(r"grainstack solids x\.panel\.json --out y: a fault", capsys.readouterr().err)
