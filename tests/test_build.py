"""The one door: finding a Python, layers and stamps, lock files, the package."""

from __future__ import annotations

import platform
import re
import runpy
import shutil
import stat
import sys
import tomllib
import zipfile
from importlib.util import find_spec
from pathlib import Path

import pytest

import build

HERE = ".".join(platform.python_version_tuple()[:2])
PLATFORMS = {"linux": "manylinux", "windows": "win_amd64", "mac arm": "macosx_11_0_arm64", "mac intel": "x86_64"}


# ---------------------------------------------------------------- help


def test_the_help_puts_what_developers_run_under_a_heading_of_its_own(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert build.main(["--help"]) == 0
    for_makers, _, for_developers = capsys.readouterr().out.partition("\nFor developers:\n")
    assert re.findall(r"^  (\w+)", for_developers, re.MULTILINE) == [
        "benchmark", "fuzz", "manual", "package", "test", "tidy"
    ]  # fmt: skip
    assert len(re.findall(r"^  (\w+)", for_makers, re.MULTILINE)) == len(build.COMMANDS) - 6


# ---------------------------------------------------------------- a Python that runs


def test_a_python_is_known_by_running_it() -> None:
    assert build.probe([sys.executable], "venv") == platform.python_version()
    assert build.probe([sys.executable], "no_such_module") is None
    assert build.probe(["no-such-program"], "venv") is None


def test_a_name_on_path_that_does_not_run_is_passed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    failing = [sys.executable, "-c", "raise SystemExit(127)"]  # as a version manager's stand-in does
    silent = [sys.executable, "-c", ""]
    commands = [[str(tmp_path / "absent")], failing, silent, [sys.executable]]
    monkeypatch.setattr(build, "candidates", lambda minor: iter(commands))
    assert build.find_python([HERE]) == [sys.executable]


def test_a_python_of_another_version_is_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(build, "candidates", lambda minor: iter([[sys.executable]]))
    assert build.find_python(["3.1", HERE]) == [sys.executable]  # and "3.1" is not the beginning of "3.13"
    assert not build.is_minor("3.13.0", "3.1")


def test_without_a_python_one_line_says_how_to_get_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(build, "candidates", lambda minor: iter([]))
    monkeypatch.setattr(shutil, "which", lambda name: None)
    monkeypatch.setattr(build, "VENV", tmp_path / ".venv")
    assert build.main(["check", "any.panel.json"]) == 2
    out, err = capfd.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "3.13 or 3.11" in err
    assert "install Python 3.13" in err


# ---------------------------------------------------------------- layers and stamps


class Layer:
    """A layer in a folder of its own, with pip replaced by a list of its calls."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder, self.calls = folder, list[tuple[str, ...]]()
        self.lock, self.stamp = folder / "core.txt", folder / "core.stamp"
        self.lock.write_text("something==1\n", encoding="utf-8")
        monkeypatch.setattr(build, "LOCKS", folder)
        monkeypatch.setattr(build, "pip", self.pip)

    def pip(self, python: Path, *arguments: str) -> None:
        assert build.is_unfinished(self.folder), "the stamp is written last"
        self.calls.append(arguments)

    def install(self, version: str = "3.13.0") -> int:
        """How often pip was called."""
        before = len(self.calls)
        build.install(Path(sys.executable), version, self.folder, "core")
        return len(self.calls) - before


@pytest.fixture
def layer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Layer:
    return Layer(tmp_path, monkeypatch)


def test_a_matching_stamp_means_no_pip(layer: Layer) -> None:
    assert layer.install() == 1
    assert "--require-hashes" in layer.calls[0]
    assert layer.stamp.read_text(encoding="utf-8") == f"{build.sha256(layer.lock)} Python 3.13.0\n"
    assert layer.install() == 0


def test_a_missing_or_other_stamp_repairs(layer: Layer) -> None:
    layer.install()
    layer.stamp.unlink()
    assert layer.install() == 1
    layer.stamp.write_text("half", encoding="utf-8")
    assert layer.install() == 1
    assert layer.install("3.13.1") == 1
    layer.lock.write_text("something==2\n", encoding="utf-8")
    assert layer.install("3.13.1") == 1
    assert layer.install("3.13.1") == 0


def test_an_environment_whose_install_was_broken_off_is_made_anew(
    layer: Layer, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupt(python: Path, *arguments: str) -> None:
        raise KeyboardInterrupt

    def make(minors: list[str]) -> list[str]:
        raise build.Unusable("made anew")

    layer.install()
    assert not build.is_unfinished(layer.folder)
    layer.stamp.unlink()
    monkeypatch.setattr(build, "pip", interrupt)
    with pytest.raises(KeyboardInterrupt):
        layer.install()
    assert build.is_unfinished(layer.folder)

    monkeypatch.setattr(build, "probe", lambda command, module: platform.python_version())  # all else is sound
    monkeypatch.setattr(build, "find_python", make)
    with pytest.raises(build.Unusable, match="made anew"):
        build.environment(layer.folder, [HERE], ["core"])


def test_a_failed_install_leaves_no_stamp(layer: Layer, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(python: Path, *arguments: str) -> None:
        raise build.Unusable("no")

    layer.install()
    layer.lock.write_text("something==2\n", encoding="utf-8")
    monkeypatch.setattr(build, "pip", fail)
    with pytest.raises(build.Unusable):
        layer.install()
    assert not layer.stamp.exists()


def test_no_network_is_said_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("PIP_FIND_LINKS", "PIP_EXTRA_INDEX_URL"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("PIP_CONFIG_FILE", build.os.devnull)
    monkeypatch.setenv("PIP_INDEX_URL", "http://127.0.0.1:9/simple")  # the discard port: nobody listens
    monkeypatch.setenv("PIP_RETRIES", "0")
    monkeypatch.setattr(build, "LOCKS", tmp_path)
    lock = f"shapely==99 --hash=sha256:{'0' * 64}\n"
    (tmp_path / "core.txt").write_text(lock, encoding="utf-8")
    with pytest.raises(build.Unusable, match=r"^cannot install packages: the package index cannot be reached; [^\n]+$"):
        build.install(Path(sys.executable), "3.13.0", tmp_path, "core")
    assert not (tmp_path / "core.stamp").exists()


@pytest.mark.parametrize("status", [0, 1, 2])
def test_a_command_hands_on_its_exit_status(status: int) -> None:
    assert build.run(Path(sys.executable), "-c", f"raise SystemExit({status})") == status


@pytest.mark.parametrize("arguments", [[], ["carve"], ["demo", "more"], ["test", "--blender", "2.79"]])
def test_wrong_usage_is_one_line_and_exit_2(arguments: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    assert build.main(arguments) == 2
    out, err = capfd.readouterr()
    assert (out, len(err.splitlines())) == ("", 1)


# ---------------------------------------------------------------- the demo


def test_the_demo_renders_and_then_writes_the_bench_sheet_which_shows_what_was_rendered(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said: list[tuple[str, list[str]]] = []

    def telling(name: str, arguments: list[str]) -> int:
        said.append((name, arguments))
        return 0

    monkeypatch.setattr(build, "pictures", telling)
    monkeypatch.setattr(build, "geometry", telling)
    assert build.demo("demo", []) == 0
    assert [name for name, _ in said] == ["render", "render", "sheet"]
    out = said[0][1][-1]
    assert all(arguments[-1] == out for _, arguments in said)
    assert "finished" in said[0][1][2].split(",")  # which the sheet finds there for its cover
    assert said[2][1][0] == said[0][1][0]


# ---------------------------------------------------------------- lock files


def locked(name: str) -> dict[tuple[str, str], set[str]]:
    """(package, version) -> hashes, of a lock file."""
    text = (build.LOCKS / f"{name}.txt").read_text(encoding="utf-8")
    entries = re.findall(r"^([\w.-]+)==(\S+)[^\n]*\\\n((?:    --hash=.*\n)+)", text, re.MULTILINE)
    return {(name, version): set(re.findall(r"sha256:([0-9a-f]{64})", hashes)) for name, version, hashes in entries}


def versions(name: str, package: str) -> list[str]:
    return [version for found, version in locked(name) if found == package]


ALL_LOCKS = [*build.LAYERS, "wheels", *(f"bpy-{version}" for version in build.BLENDERS)]


@pytest.mark.parametrize("name", ALL_LOCKS)
def test_a_lock_hashes_every_package_and_names_no_index(name: str) -> None:
    text = (build.LOCKS / f"{name}.txt").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if re.match(r"[a-z]", line)]
    assert len(locked(name)) == len(lines) > 0
    assert all(locked(name).values())
    assert "://" not in text
    assert "--index" not in text


def test_both_pythons_are_locked() -> None:
    assert sorted(versions("blender", "bpy")) == ["5.0.1", "5.2.3"]
    assert {version.split(".")[0] for version in versions("core", "numpy")} == {"1", "2"}
    for version in build.BLENDERS:
        assert versions(f"bpy-{version}", "bpy") == [version]


def test_layers_share_their_versions() -> None:
    """They live in one environment: a layer must not undo what another installed."""
    seen: dict[str, list[str]] = {}
    for layer in build.LAYERS:
        for package in {package for package, _ in locked(layer)}:
            found = versions(layer, package)
            assert seen.setdefault(package, found) == found, (layer, package)
    assert locked("wheels").items() <= locked("core").items()


def test_check_and_solids_need_no_blender() -> None:
    assert versions("core", "bpy") == []


def test_wheels_of_every_python_and_platform_match_the_lock() -> None:
    hashes = set().union(*locked("wheels").values())
    wheels = build.fetch_wheels(Path(sys.executable))
    assert {build.sha256(wheel) for wheel in wheels} <= hashes
    for package in ("shapely", "mapbox_earcut", "pillow"):
        names = [wheel.name for wheel in wheels if wheel.name.startswith(package)]
        assert len(names) == 8
        for python in ("cp311", "cp313"):
            for tag in ("manylinux.*x86_64", "win_amd64", "macosx_.*_arm64", "macosx_.*_x86_64"):
                assert sum(bool(re.search(f"-{python}-.*{tag}", name)) for name in names) == 1, (package, python, tag)
    # and svgelements, reportlab, ezdxf and what it asks for, which are the same everywhere
    assert len(wheels) == 30


def test_the_core_is_tested_without_blender(monkeypatch: pytest.MonkeyPatch) -> None:
    layers: list[str] = []
    commands: list[tuple[str, ...]] = []

    def environment(folder: Path, minors: object, wanted: tuple[str, ...]) -> Path:
        layers.extend(wanted)
        return folder

    monkeypatch.setattr(build, "environment", environment)
    monkeypatch.setattr(build, "run", lambda python, *arguments, output=None: commands.append(arguments) or 0)
    assert build.main(["test", "--core", "-x"]) == 0
    assert layers == ["core", "test"]
    for layer in layers:
        assert versions(layer, "bpy") == []
    run = [word for command in commands for word in command]
    assert {"ruff", "mypy", "pytest", "-x"} <= set(run)
    files = {file.relative_to(build.ROOT).as_posix() for file in (build.ROOT / "tests" / "core").rglob("test_*.py")}
    assert {word for word in run if word.startswith("tests/")} == files | {
        "tests/test_layers.py",
        "tests/test_docstrings.py",
    }
    assert "coverage" not in run


def test_coverage_counts_cores_lines_and_needs_no_blender(monkeypatch: pytest.MonkeyPatch) -> None:
    layers: list[str] = []
    commands: list[tuple[str, ...]] = []
    monkeypatch.setattr(build, "environment", lambda folder, minors, wanted: layers.extend(wanted) or folder)
    monkeypatch.setattr(build, "run", lambda python, *arguments, output=None: commands.append(arguments) or 0)
    assert build.main(["test", "--core", "--coverage"]) == 0
    assert layers == ["core", "test", "coverage"]
    counted = [command for command in commands if command[:3] == ("-m", "coverage", "run")]
    assert counted
    assert all("--source=core" in command and "pytest" in command for command in counted)
    assert [command[2] for command in commands[-2:]] == ["combine", "report"]


def test_coverage_of_all_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert build.main(["test", "--coverage"]) == 2
    assert "add --core" in capsys.readouterr().err


# ---------------------------------------------------------------- the package


def manifest() -> dict[str, object]:
    return tomllib.loads(build.MANIFEST.read_text(encoding="utf-8"))


def test_the_manifest_says_what_blender_asks_for() -> None:
    """The fields that Blender's validator lets pass when they are wrong."""
    given = manifest()
    assert given["schema_version"] == "1.0.0"
    assert (given["id"], given["type"]) == ("grainstack", "add-on")
    assert given["blender_version_min"] == "4.2.0"
    assert given["license"] == ["SPDX:GPL-3.0-or-later"]
    assert set(given["permissions"]) == {"files"}
    assert given["platforms"] == ["linux-x64", "windows-x64", "macos-arm64", "macos-x64"]
    for line in (given["tagline"], given["permissions"]["files"]):
        assert len(line) <= 64
        assert line[-1].isalnum()


def test_the_manifest_uses_blenders_own_tags() -> None:
    origin = find_spec("bpy").origin
    (tags,) = Path(origin).parent.glob("*/scripts/modules/_bpy_internal/extensions/tags.py")
    assert set(manifest()["tags"]) <= runpy.run_path(str(tags))["addons"]


def test_the_version_stands_in_one_place() -> None:
    assert build.version() == manifest()["version"]
    changes = (build.ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert re.search(r"^## (\S+)", changes, re.MULTILINE).group(1) == build.version()


def test_the_licences_are_the_ones_named() -> None:
    assert "GNU GENERAL PUBLIC LICENSE\n                       Version 3" in (build.ROOT / "LICENSE").read_text("utf-8")
    assert "CC0 1.0 Universal" in (build.ROOT / "assets" / "LICENSE").read_text("utf-8")


def test_the_zip_holds_the_add_on_core_and_wheels_and_nothing_else(extension_zip: Path) -> None:
    with zipfile.ZipFile(extension_zip) as opened:
        files = {info.filename: opened.read(info) for info in opened.infolist() if not info.is_dir()}
        modes = {info.filename: info.external_attr >> 16 for info in opened.infolist()}
    wheels = {name for name in files if name.startswith("wheels/")}
    assert files.keys() - wheels == build.package_files().keys()
    for name in files.keys() - wheels - {"blender_manifest.toml"}:
        assert files[name] == build.package_files()[name].read_bytes(), name
    assert {"core/__init__.py", "__init__.py", "assets/species.csv", "LICENSE"} <= files.keys()
    assert not [name for name in files if re.search(r"__pycache__|tests|numpy|\.pyc$", name)]
    assert extension_zip.stat().st_size < 80_000_000
    assert not [name for name, mode in modes.items() if stat.S_ISLNK(mode)]

    built = tomllib.loads(files["blender_manifest.toml"].decode("utf-8"))
    assert {f"./{name}" for name in wheels} == set(built.pop("wheels"))
    assert built == manifest()
    hashes = set().union(*locked("wheels").values())
    assert {build.hashlib.sha256(files[name]).hexdigest() for name in wheels} <= hashes


def test_staging_follows_the_sources(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = tmp_path / "root" / "core"
    source.mkdir(parents=True)
    (source / "kept.py").write_text("1", encoding="utf-8")
    (source / "gone.py").write_text("1", encoding="utf-8")
    (source / "linked.py").symlink_to(source / "kept.py")
    monkeypatch.setattr(build, "ROOT", tmp_path / "root")
    monkeypatch.setattr(build, "PACKAGE", {"core": "core"})
    staged = build.stage(tmp_path / "stage")
    (source / "gone.py").unlink()
    (source / "kept.py").write_text("2", encoding="utf-8")
    build.stage(staged)
    assert sorted(file.name for file in staged.rglob("*.py")) == ["kept.py", "linked.py"]
    assert {file.read_text(encoding="utf-8") for file in staged.rglob("*.py")} == {"2"}
    assert not (staged / "core" / "linked.py").is_symlink()  # Blender's builder would drop it
