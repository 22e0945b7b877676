"""The command: numbers by family, failures written and made small, workers that hang or die replaced."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import build
from fuzz import __main__ as command
from fuzz import workers
from fuzz.families import design
from fuzz.judge import Fault, Verdict
from fuzz.shrink import shrink
from fuzz.table import Row, text

FUZZ = [sys.executable, "-m", "fuzz"]


def run(*options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*FUZZ, *options], cwd=build.ROOT, capture_output=True, text=True)


def test_two_families_are_run_and_told(tmp_path: Path) -> None:
    done = run("--family", "flush", "--family", "bars", "--count", "2", "--no-shrink", "--out", str(tmp_path))
    rows = {line.split()[0]: line.split() for line in done.stdout.splitlines()}
    assert list(rows) == ["family", "flush", "bars", "all"]
    assert rows["all"][1] == "4"
    assert done.returncode == (rows["all"][2] != "0")
    assert "4 of 4 designs" in done.stderr


def test_an_unknown_family_is_one_line_and_status_2() -> None:
    done = run("--family", "nonsense")
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.skipif(os.name == "nt", reason="no SIGINT to one process there")
def test_ctrl_c_tells_what_was_done_so_far(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [*FUZZ, "--family", "flush", "--minutes", "5", "--out", str(tmp_path)], cwd=build.ROOT, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    assert process.stderr is not None
    assert "Ctrl C ends it" in process.stderr.readline()
    time.sleep(2)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=20)
    assert "stopped: what was done so far" in err
    assert "Traceback" not in err
    assert out.startswith("family")
    assert process.returncode in (0, 1)


class Alone:
    """A worker whose design takes as long as it is told."""

    seconds = 3.0

    def judge(self, document: dict[str, object]) -> Verdict:
        faults = [Fault("slow", f"{self.seconds} s")] if self.seconds > 10 else []
        return Verdict(faults, seconds=self.seconds)

    def stop(self) -> None:
        """Nothing to end."""


@pytest.mark.parametrize(("alone", "failed"), [(3.0, 0), (12.0, 1)])
def test_a_slow_design_counts_by_what_it_takes_alone(
    alone: float, failed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(command, "Worker", Alone)
    monkeypatch.setattr(Alone, "seconds", alone)
    results = command.Results({"bars": Row()})
    results.add(("bars", 7), design("bars", 7), Verdict([Fault("slow", "14 s")], seconds=14.0))
    assert (results.done, results.rows["bars"].designs, len(results.failures)) == (1, 0, 0)
    command._judge_slow_ones_again(results)
    assert (results.slow, results.rows["bars"].designs, len(results.failures)) == ([], 1, failed)
    assert results.rows["bars"].slowest == alone


def test_a_failure_is_listed_written_and_made_small(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    class Judge:
        """Fails while there is a piece p1."""

        def judge(self, document):
            return Verdict([Fault("sum", "")] if any(p["id"] == "p1" for p in document["pieces"]) else [])

    document = design("mosaic", 4)
    failures = [command.Failure("mosaic", 4, "sum", "off by 1", document)]
    command._report(failures, tmp_path, Judge())
    assert (tmp_path / "failures.tsv").read_text(encoding="utf-8") == "mosaic\t4\tsum\toff by 1\n"
    small = json.loads((tmp_path / "mosaic-4-sum.panel.json").read_text(encoding="utf-8"))
    assert [entry["id"] for entry in small["pieces"]] == ["p1"]
    assert "strips" not in small["panel"]
    assert small["workshop"] == {}
    assert len(small["pieces"][0]["outline"]["polygon"]) == 3
    assert "1 of 1 made small" in capsys.readouterr().err


def test_shrinking_keeps_what_matters() -> None:
    document = design("island-fill", 2)
    pieces = len(document["pieces"])

    def fails(candidate):
        return sum(len(p["outline"].get("holes", ())) for p in candidate["pieces"]) >= 1

    assert fails(document)
    small = shrink(document, fails)
    assert len(small["pieces"]) == 1 < pieces
    assert len(small["pieces"][0]["outline"]["holes"][0]) == 3
    assert document == design("island-fill", 2), "the design that was given stays as it is"


def test_shrinking_stops_when_time_is_up() -> None:
    document = design("mosaic", 4)
    assert shrink(document, lambda candidate: True, seconds=0.0) == document


def test_the_table_adds_up() -> None:
    one, other = Row(), Row()
    one.add(Verdict(sum_off=1e-3, seconds=2.0, faults=[Fault("sum", ""), Fault("open", "")]))
    one.add(Verdict(refused="too big"))
    other.add(Verdict(seconds=3.0))
    header, *rows = [line.split("|")[1:-1] for line in text({"a": one, "b": other}, markdown=True).splitlines()]
    told = [dict(zip([h.strip() for h in header], map(str.strip, row), strict=True)) for row in rows[1:]]
    assert [(t["designs"], t["failed"], t["sum"], t["open"], t["refused"]) for t in told] == [
        ("2", "1", "1", "1", "1"), ("1", "0", "0", "0", "0"), ("3", "1", "1", "1", "1"),
    ]  # fmt: skip
    assert told[-1]["worst sum"] == "1.0e-03"
    assert told[-1]["slowest"] == "3.0 s"


def test_a_worker_that_hangs_or_dies_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    worker = workers.Worker()
    try:
        assert worker.judge(design("flush", 0)).solids
        monkeypatch.setattr(workers, "PATIENCE", 0.0)
        assert worker.judge(design("mosaic", 0)).kinds == {"slow"}
        monkeypatch.undo()
        worker.process.kill()
        worker.process.join()
        assert worker.take().kinds == {"exception"}
        assert worker.judge(design("flush", 0)).solids
    finally:
        worker.stop()


@pytest.mark.skipif(os.name == "nt", reason="work is not counted there")
def test_a_worker_that_works_too_long_is_ended_by_the_system() -> None:
    worker = workers.Worker()
    try:
        worker.stop()
        context = workers.multiprocessing.get_context("spawn")
        worker.end, theirs = context.Pipe()
        worker.process = context.Process(target=work_for_ever, args=(theirs,), daemon=True)
        worker.process.start()
        theirs.close()
        assert worker.take().kinds == {"slow"}
    finally:
        worker.stop()


def work_for_ever(end: object) -> None:
    workers.MOST_WORK = 1
    workers._allow_more_work()
    while True:
        pass
