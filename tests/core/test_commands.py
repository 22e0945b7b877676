"""Commands as a maker types them: exit status, what goes to which stream, and one line for all that cannot be used."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from core.commands import main

ROOT = Path(__file__).resolve().parents[2]
KOI_POND = ROOT / "assets" / "koi-pond" / "koi-pond.panel.json"
SQUARE = {"polygon": [[0, 0], [20, 0], [20, 20], [0, 20]]}
BOW_TIE = {"polygon": [[0, 0], [10, 10], [10, 0], [0, 10]]}


def design(folder: Path, *pieces: dict[str, Any], **more: Any) -> Path:
    """A design file with pieces called p0, p1 and so on, of holly at (30, 30) unless told."""
    panel = {"width": 120, "height": 80, "thickness": 19, "wood": "sapele"}
    entries = [{"id": f"p{i}", "wood": "holly", "at": [30, 30], "outline": SQUARE, **p} for i, p in enumerate(pieces)]
    path = folder / "pond.panel.json"
    path.write_text(json.dumps({"format": "grainstack-panel/1", "panel": panel, "pieces": entries, **more}))
    return path


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, str, str]:
    status = main([str(argument) for argument in arguments])
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def module(*arguments: str | Path, **options: Any) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "core.commands", *map(str, arguments)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8", **options)


def tree(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


# Exit status and streams


def test_check_of_the_koi_pond_is_json_alone_on_stdout() -> None:
    done = module("check", KOI_POND, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    found = json.loads(done.stdout)
    panel = found["panel"]
    wood = panel["background_volume"] + sum(piece["insert_volume"] for piece in found["pieces"])
    assert wood + panel["gap_volume"] == pytest.approx(panel["volume"], rel=1e-9)
    assert [finding for finding in found["findings"] if finding["level"] != "note"] == []


def test_check_as_a_report(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "check", design(tmp_path, {}, title="Two squares"))
    assert (status, err) == (0, "")
    assert out.startswith("Two squares\n")
    assert "no errors, no warnings, 1 note" in out


def test_error_findings_end_with_1(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = design(tmp_path, {"outline": BOW_TIE})
    status, out, err = run(capsys, "check", path, "--json")
    assert (status, err) == (1, "")
    assert json.loads(out)["pieces"][0]["batch"] is None


def test_warnings_end_with_0(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "check", design(tmp_path, {"pocket_depth": 15}))
    assert status == 0
    assert "warning floor-too-thin" in out


@pytest.mark.parametrize("state", ["raw", "proud", "finished"])
def test_solids_prints_where_their_table_is(tmp_path: Path, capsys: pytest.CaptureFixture[str], state: str) -> None:
    status, out, err = run(capsys, "solids", design(tmp_path, {}), "--out", tmp_path / "out", "--state", state)
    assert (status, out) == (0, f"{tmp_path / 'out' / 'solids.json'}\n")
    assert err == "2 solids written\n"
    assert sorted(tree(tmp_path / "out")) == ["background-1-1.ply", "p0.ply", "solids.json"]
    assert json.loads((tmp_path / "out" / "solids.json").read_text())["state"] == state


def test_solids_with_error_findings_are_written_and_end_with_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, _ = run(capsys, "solids", design(tmp_path, {"pocket_depth": 25}), "--out", tmp_path / "out")
    assert status == 1
    assert Path(out.strip()).is_file()


def test_walls_lean_by_the_design_files_taper(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A wall 80 mm long that leans 3° over 6 mm takes 80 x 6² / 2 x tan 3°, but for the corners. DERIVED."""
    volumes = []
    for taper in (0, 3):
        _, out, _ = run(capsys, "check", design(tmp_path, {"taper": taper}), "--json")
        volumes.append(json.loads(out)["pieces"][0]["pocket_volume"])
    assert volumes[0] - volumes[1] == pytest.approx(80 * 18 * math.tan(math.radians(3)), rel=0.05)


def test_help_goes_to_stdout(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, "check", "--help")
    assert (status, err) == (0, "")
    assert "grainstack check DESIGN [--json]" in out


# What cannot be used: one line, exit 2, nothing on stdout, no file touched


def refused(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> str:
    """The one line on stderr of a command that refuses."""
    __tracebackhide__ = True
    status, out, err = run(capsys, *arguments)
    assert (status, out) == (2, "")
    assert err.endswith("\n")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    return err.strip()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], ["required", "Write: grainstack check|solids"]),
        (["check"], ["DESIGN", "Write: grainstack check DESIGN [--json]"]),
        (["paint", "x"], ["'paint'", "Write: "]),
        (["check", "x", "--jason"], ["--jason", "Write: "]),
        (["check", "x", "--js"], ["--js", "Write: "]),
        (["solids", "x"], ["--out", "Write: grainstack solids DESIGN --out DIR"]),
        (["solids", "x", "--out", "y", "--state", "wet"], ["'wet'", "raw", "Write: "]),
    ],
)
def test_usage(capsys: pytest.CaptureFixture[str], arguments: list[str], words: list[str]) -> None:
    line = refused(capsys, *arguments)
    assert all(word in line for word in words), line


@pytest.mark.parametrize(
    ("pieces", "words"),
    [
        ([{"outline": {"svg": "gone.svg"}}], ["gone.svg", "no such file", "p0", "Put it beside the design"]),
        ([{"outline": {"svg": "../x.svg"}}], ["pond.panel.json", "pieces[0]", "leaves", "Put the file"]),
        ([{"outline": {"path": "M 0 0 X"}}], ["pond.panel.json", '"p0".outline.path', "Mend"]),
        ([{"after": ["p1"]}, {"at": [40, 40]}], ["pond.panel.json", "p0 > p1", "after"]),
        ([{"colour": "red"}], ["pond.panel.json", "pieces[0]", "colour"]),
        ([{"at": [30]}], ["pond.panel.json", "pieces[0]", "at"]),
    ],
)
def test_designs_that_cannot_be_used(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], pieces: list[dict[str, Any]], words: list[str]
) -> None:
    path = design(tmp_path, *pieces)
    for command in (["check", path, "--json"], ["solids", path, "--out", tmp_path / "out"]):
        line = refused(capsys, *command)
        assert all(word in line for word in words), line
    assert sorted(tree(tmp_path)) == ["pond.panel.json"]


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b"\xff\xfe", b'{"format": "grainstack-panel/9"}', b"{}"])
def test_files_that_are_no_design(tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes) -> None:
    path = tmp_path / "pond.panel.json"
    path.write_bytes(content)
    assert refused(capsys, "check", path).startswith(f"{path}: ")


def test_a_design_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "no such file" in refused(capsys, "check", tmp_path / "gone.panel.json")


@pytest.mark.parametrize(
    ("piece", "words"),
    [
        ({"outline": BOW_TIE}, ["bad-outline", "p0 at (35.00, 35.00)", "crosses itself", "Draw it again"]),
        ({"outline": {"polygon": [[0, 0], [2, 0], [2, 2], [0, 2]]}}, ["empty-fit", "p0 at", "2.00 mm wide", "cutter"]),
        ({"wood": "hollly"}, ["unknown-wood", "p0 at", '"hollly"', "Did you mean American holly?"]),
    ],
)
def test_solids_refuse_what_cannot_be_made_and_touch_no_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], piece: dict[str, Any], words: list[str]
) -> None:
    out = tmp_path / "out"
    assert run(capsys, "solids", design(tmp_path, {}), "--out", out)[0] == 0
    before = tree(out)
    line = refused(capsys, "solids", design(tmp_path, piece), "--out", out)
    assert line.startswith(str(tmp_path / "pond.panel.json"))
    assert all(word in line for word in words), line
    assert tree(out) == before


def test_a_folder_that_cannot_be_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = design(tmp_path, {})
    line = refused(capsys, "solids", path, "--out", path)
    assert line.startswith(f"{path}: solids cannot be written here")
    assert json.loads(path.read_text())["format"] == "grainstack-panel/1"


# Pipes and terminals


def test_a_reader_that_has_gone_is_no_error() -> None:
    command = [sys.executable, "-m", "core.commands", "check", str(KOI_POND), "--json"]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 0


def test_a_terminal_with_few_characters_gets_the_report_all_the_same(tmp_path: Path) -> None:
    path = design(tmp_path, {}, title="Teich Nr. 3, 水")
    done = module("check", path, env={**os.environ, "PYTHONIOENCODING": "ascii"})
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("Teich Nr. 3, ?\n")
