#!/usr/bin/env python3
"""The one door to Grainstack's commands: `python build.py COMMAND ...`.

Runs on any Python from 3.8 on, with nothing installed. On first use it makes `.venv` from a Python that
Blender's module has wheels for, and installs the layer of packages that the command needs, from lock files with
hashes. Results go to stdout, progress and errors to stderr. Exit status: 0 done; 1 done, with error findings or
failed tests; 2 unusable input or usage, in one line.
"""

from __future__ import annotations

import argparse
import ctypes
import filecmp
import hashlib
import os
import re
import shutil
import signal
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Callable, Iterable, Iterator, NamedTuple, NoReturn, Sequence

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
BUILD = ROOT / "build"
STAGE = BUILD / "stage"
WHEELS = BUILD / "wheels"
DIST = ROOT / "dist"
LOCKS = ROOT / "requirements"
MANIFEST = ROOT / "blender_manifest.toml"

PYTHONS = ("3.13", "3.11")  # best first: bpy 5.2.3 LTS, bpy 5.0.1
UNFINISHED = "unfinished\n"  # in place of a stamp while pip runs
LAYERS = {
    "core": "geometry and pages, 35 MB to fetch",
    "blender": "Blender as a Python module, 370 MB to fetch, 1 GB on disk",
    "test": "test tools, 90 MB to fetch",
    "browser": "what drives the system's Chromium, 50 MB to fetch",
    "benchmark": "the peer that it measures beside Blender, 2 MB to fetch",
    "coverage": "which lines its tests reach, 1 MB to fetch",
}
BLENDERS = {"4.2.23": "3.11", "4.5.15": "3.11", "5.0.1": "3.11", "5.2.3": "3.13", "5.3.0": "3.13"}  # oldest first

# What the extension holds: folder or file here -> place in the package.
PACKAGE = {
    "__init__.py": "__init__.py",
    "blender_manifest.toml": "blender_manifest.toml",
    "blender_addon": "blender_addon",
    "core": "core",
    "assets/species.csv": "assets/species.csv",
    "assets/bending.csv": "assets/bending.csv",
    "assets/cutters.csv": "assets/cutters.csv",
    "assets/LICENSE": "assets/LICENSE",
    "LICENSE": "LICENSE",
}
HEAVIEST = 30_000_000  # bytes of a zip for one platform
# The platforms of the manifest, as wheel tags.
PLATFORM_TAGS = (
    ("manylinux_2_28_x86_64", "manylinux2014_x86_64"),
    ("win_amd64",),
    ("macosx_11_0_arm64",),
    ("macosx_10_13_x86_64",),
)
# Blender's module loads these from the system; its wheel does not bring them. Library -> Debian package.
LINUX_LIBRARIES = {
    "libGL.so.1": "libgl1",
    "libICE.so.6": "libice6",
    "libSM.so.6": "libsm6",
    "libX11.so.6": "libx11-6",
    "libXext.so.6": "libxext6",
    "libXfixes.so.3": "libxfixes3",
    "libXi.so.6": "libxi6",
    "libXrender.so.1": "libxrender1",
    "libxkbcommon.so.0": "libxkbcommon0",
}
KOI_POND = ROOT / "assets" / "koi-pond" / "koi-pond.panel.json"
FIRST_DRAFT = KOI_POND.with_name("first-draft.panel.json")
MANUAL = ("demo", "views", "findings", "samples", "window")
DEMO_VIEWS = {KOI_POND: ("finished", "exploded", "section", "overlap", "listing"), FIRST_DRAFT: ("findings",)}
DEMO_SIZE, MANUAL_SIZE = "1280x800", "1600x1000"  # two thirds of the pixels: the demo is to take less than 4 minutes


class Unusable(Exception):
    """Ends the command with one line on stderr and exit status 2."""


class Parser(argparse.ArgumentParser):
    """A parser whose complaints are one line."""

    def error(self, message: str) -> NoReturn:
        """End the command with that one line."""
        raise Unusable(message)


def say(text: str) -> None:
    """One line of progress."""
    print(f"build.py: {text}", file=sys.stderr, flush=True)


# ---------------------------------------------------------------- a Python that runs


def probe(command: Sequence[str], module: str) -> str | None:
    """The version, such as "3.13.0", of a 64-bit CPython that runs and has `module`; None otherwise."""
    code = (
        f"import sys, sysconfig, {module}; "
        "fits = sys.implementation.name == 'cpython' and sys.maxsize > 2**32 "
        "and not sysconfig.get_config_var('Py_GIL_DISABLED'); "
        "print(sys.version.split()[0] if fits else '')"
    )
    try:
        done = subprocess.run([*command, "-c", code], capture_output=True, text=True, timeout=60)
    except (OSError, subprocess.TimeoutExpired):
        return None
    return done.stdout.strip() or None if done.returncode == 0 else None


def candidates(minor: str) -> Iterator[list[str]]:
    """Commands that may start Python `minor`, nearest first. Being on PATH proves nothing: probe each."""
    yield [getattr(sys, "_base_executable", sys.executable)]  # never .venv's own, which may have to go
    yield [f"python{minor}"]
    yield from (["python3"], ["python"])
    if os.name == "nt":
        yield ["py", f"-{minor}"]
    if shutil.which("uv"):
        found = subprocess.run(["uv", "python", "find", "--system", minor], capture_output=True, text=True)
        yield from ([line] for line in found.stdout.splitlines()[:1])


def find_python(minors: Sequence[str]) -> list[str]:
    """The command of the first Python that runs, is one of `minors` and can make virtual environments."""

    def running(minor: str) -> list[str] | None:
        tried = ((command, probe(command, "ensurepip, venv")) for command in candidates(minor))
        return next((command for command, version in tried if version and is_minor(version, minor)), None)

    for minor in minors:
        command = running(minor)
        if command:
            return command
    if shutil.which("uv"):
        say(f"no Python {' or '.join(minors)} found, so uv fetches {minors[0]}")
        subprocess.run(["uv", "python", "install", minors[0]], stdout=2)
        command = running(minors[0])
        if command:
            return command
    wanted = " or ".join(minors)
    raise Unusable(
        f"no 64-bit Python {wanted} that runs and has venv was found: install Python {minors[0]} "
        f"(on Debian with python{minors[0]}-venv), or uv, put it on PATH and run this again"
    )


def is_minor(version: str, minor: str) -> bool:
    """Whether version "3.13.0" belongs to minor "3.13"."""
    return version.startswith(minor + ".")


# ---------------------------------------------------------------- environments and layers


def environment(folder: Path, minors: Sequence[str], locks: Iterable[str]) -> Path:
    """The Python of the virtual environment `folder`, made or repaired so that it holds every one of `locks`."""
    python = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    version = None if is_unfinished(folder) else probe([str(python)], "pip")
    if not version or not any(is_minor(version, minor) for minor in minors):
        command = find_python(minors)
        say(f"making {folder} with Python {probe(command, 'venv')}")
        done = subprocess.run([*command, "-m", "venv", "--clear", str(folder)], stdout=2)
        version = probe([str(python)], "pip")
        if done.returncode or not version:
            raise Unusable(f"{' '.join(command)} -m venv {folder} failed: see above, mend it and run this again")
    for lock in locks:
        install(python, version, folder, lock)
    return python


def install(python: Path, version: str, folder: Path, lock: str) -> None:
    """Install one lock file, unless its stamp, which is written last, says that just this was done."""
    lock_file = LOCKS / f"{lock}.txt"
    stamp = folder / f"{lock}.stamp"
    wanted = f"{sha256(lock_file)} Python {version}\n"
    if stamp.is_file() and stamp.read_text(encoding="utf-8") == wanted:
        return
    say(f"installing {lock} ({LAYERS.get(lock, LAYERS['blender'])}); this happens once")
    stamp.write_text(UNFINISHED, encoding="utf-8")
    try:  # --force-reinstall, since pip believes what is there and looks no further
        pip(python, "install", "--require-hashes", "--force-reinstall", "--only-binary=:all:", "-r", str(lock_file))
    except Unusable:
        stamp.unlink()  # pip has put back what it had begun to replace
        raise
    stamp.write_text(wanted, encoding="utf-8")


def is_unfinished(folder: Path) -> bool:
    """Whether an install into `folder` was broken off. pip cannot always mend that, so the folder is made anew."""
    return any(stamp.read_text(encoding="utf-8") == UNFINISHED for stamp in folder.glob("*.stamp"))


def pip(python: Path, *arguments: str) -> None:
    """Run pip with the user's own configuration: progress is shown, its errors become one line."""
    done = subprocess.run([str(python), "-m", "pip", *arguments], stdout=2, stderr=subprocess.PIPE, text=True)
    if done.returncode == 0:
        return
    # What is locked exists, so an index that knows no version of it did not answer.
    if re.search(r"NewConnectionError|from versions: none|Max retries|ConnectTimeout|ProxyError", done.stderr):
        reason = "the package index cannot be reached"
    else:
        reason = next((line for line in reversed(done.stderr.splitlines()) if line.strip()), "pip failed").strip()
    raise Unusable(
        f"cannot install packages: {reason}; see to the network or pip's settings, or delete .venv, and run this again"
    )


def missing_libraries() -> dict[str, str]:
    """Those of LINUX_LIBRARIES that the system cannot load."""

    def loads(name: str) -> bool:
        try:
            ctypes.CDLL(name)
        except OSError:
            return False
        return True

    if sys.platform != "linux":
        return {}
    return {name: package for name, package in LINUX_LIBRARIES.items() if not loads(name)}


def blender_environment(*more: str) -> Path:
    """The Python of .venv with the core and blender layers, and `more`, on a system that can load bpy."""
    missing = missing_libraries()
    if missing:
        raise Unusable(
            f"Blender's module needs system libraries that are missing: {', '.join(missing)}; "
            f"on Debian or Ubuntu: apt-get install {' '.join(missing.values())}"
        )
    return environment(VENV, PYTHONS, ("core", "blender", *more))


def run(python: Path, *arguments: str, output: int | None = None) -> int:
    """Run `python ARGUMENTS`, which finds core and the staged add-on, and hand on its exit status."""
    paths = os.pathsep.join((str(ROOT), str(STAGE)))
    # Blender's module would otherwise load what the user's own Blender has installed.
    ours = {"PYTHONPATH": paths, "PYTHONUTF8": "1", "BLENDER_USER_RESOURCES": str(BUILD / "blender-user")}
    status = subprocess.run([str(python), "-P", *arguments], env={**os.environ, **ours}, stdout=output).returncode
    return status if status >= 0 else 128 - status


def sha256(file: Path) -> str:
    """The hash of a file, as lock files write it."""
    return hashlib.sha256(file.read_bytes()).hexdigest()


# ---------------------------------------------------------------- the staged package


def package_files() -> dict[str, Path]:
    """Every file of the package: place in it -> source."""
    files = {}
    for source, place in PACKAGE.items():
        start = ROOT / source
        for file in sorted(start.rglob("*")) if start.is_dir() else [start]:
            if file.is_file() and "__pycache__" not in file.parts and not file.name.startswith("."):
                files[(Path(place) / file.relative_to(start)).as_posix()] = file
    return files


def stage(folder: Path = STAGE / "grainstack") -> Path:
    """Bring the package in `folder` up to date: true copies, since Blender's builder drops symlinks."""
    wanted = package_files()
    for old in [file for file in folder.rglob("*") if file.is_file() and "__pycache__" not in file.parts]:
        if old.relative_to(folder).as_posix() not in wanted:
            old.unlink()
    for place, source in wanted.items():
        target = folder / place
        if not target.is_file() or not filecmp.cmp(source, target, shallow=False):
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(source, target)
    return folder


def version() -> str:
    """Grainstack's version; the manifest is the one place that says it."""
    found = re.search(r'^version = "(.+)"$', MANIFEST.read_text(encoding="utf-8"), re.MULTILINE)
    assert found, f"{MANIFEST} has no version"
    return found.group(1)


def fetch_wheels(python: Path) -> list[Path]:
    """The wheels that the extension bundles, for each Python and platform, each with a hash of the lock."""
    lock = LOCKS / "wheels.txt"
    stamp = WHEELS / "wheels.stamp"
    if not stamp.is_file() or stamp.read_text(encoding="utf-8") != sha256(lock):
        shutil.rmtree(WHEELS, ignore_errors=True)
        for minor in PYTHONS:
            for tags in PLATFORM_TAGS:
                say(f"fetching wheels: Python {minor}, {tags[0]}")
                target = ["--python-version", minor, *(f"--platform={tag}" for tag in tags)]
                fetch = ["download", "--quiet", "--require-hashes", "--no-deps", "--only-binary=:all:"]
                pip(python, *fetch, *target, "--dest", str(WHEELS), "-r", str(lock))
        stamp.write_text(sha256(lock), encoding="utf-8")
    wheels = sorted(WHEELS.glob("*.whl"))
    hashes = lock.read_text(encoding="utf-8")
    spoilt = [wheel for wheel in wheels if sha256(wheel) not in hashes]
    if spoilt:
        raise Unusable(f"{spoilt[0]} is not the file that was locked: delete {WHEELS} and run this again")
    return wheels


def build_zip(python: Path) -> Path:
    """The extension as one zip for all platforms, built by Blender's own tool, which needs no running Blender."""
    return build_zips(python)[0]


def build_zips(python: Path, *options: str) -> list[Path]:
    """Zips, built and validated; with --split-platforms one for each platform, with only the wheels that it can use.

    Args:
        python: has Blender's module, whose tool it is.
        options: of the tool's build command.
    """
    folder = package_folder(python)
    where = "import importlib.util; print(importlib.util.find_spec('bpy').origin)"
    found = subprocess.run([str(python), "-c", where], capture_output=True, text=True, check=True)
    scripts = next(Path(found.stdout.strip()).parent.glob("*/scripts"))
    tool = str(scripts / "addons_core/bl_pkg/cli/blender_ext.py")
    tags = f"--valid-tags={scripts / 'modules/_bpy_internal/extensions/tags.py'}"
    split = "--split-platforms" in options
    name = f"grainstack-{version()}"
    results = [DIST / f"{name}-{each}.zip" for each in platforms()] if split else [DIST / f"{name}.zip"]
    for result in results:
        result.unlink(missing_ok=True)
    DIST.mkdir(exist_ok=True)
    steps = [["build", tags, *options, "--source-dir", str(folder), "--output-dir", str(DIST)]]
    steps += [["validate", tags, str(result)] for result in results]
    if any(run(python, tool, *step, output=2) for step in steps):
        raise Unusable("Blender's extension tool refuses the package: see above")
    heavy = [result for result in results if split and result.stat().st_size >= HEAVIEST]
    if heavy:
        raise Unusable(f"{heavy[0]} has {heavy[0].stat().st_size} bytes: a zip for one platform may have {HEAVIEST}")
    return results


def platforms() -> list[str]:
    """The manifest's platforms as Blender's tool writes them into the names of zips."""
    found = re.search(r"^platforms = \[(.+)\]$", MANIFEST.read_text(encoding="utf-8"), re.MULTILINE)
    assert found, f"{MANIFEST} has no platforms"
    return [name.replace("-", "_") for name in re.findall(r'"(.+?)"', found.group(1))]


def package_folder(python: Path) -> Path:
    """The extension's files with the wheels of all platforms, as Blender's tool wants them."""
    folder = BUILD / "package"
    shutil.rmtree(folder, ignore_errors=True)
    stage(folder)
    wheels = fetch_wheels(python)
    (folder / "wheels").mkdir()
    for wheel in wheels:
        shutil.copy2(wheel, folder / "wheels")
    listed = "".join(f'  "./wheels/{wheel.name}",\n' for wheel in wheels)
    text = MANIFEST.read_text(encoding="utf-8")
    assert text.count("\n[permissions]\n") == 1, "the wheels go before the manifest's only table"
    text = text.replace("\n[permissions]\n", f"\nwheels = [\n{listed}]\n\n[permissions]\n")
    (folder / MANIFEST.name).write_text(text, encoding="utf-8")
    return folder


# ---------------------------------------------------------------- commands


def geometry(name: str, arguments: list[str]) -> int:
    """A command of core: no Blender."""
    return run(environment(VENV, PYTHONS, ["core"]), "-m", "core.commands", name, *arguments)


def pictures(name: str, arguments: list[str]) -> int:
    """A command of the staged add-on, which renders."""
    python = blender_environment()
    stage()
    return run(python, "-m", "grainstack.blender_addon.entry.headless", name, *arguments)


def demo(name: str, arguments: list[str]) -> int:
    """The main job, on the koi pond: pictures and the bench sheet; and what was wrong with its first draft."""
    Parser(prog=f"build.py {name}", description=COMMANDS[name].help).parse_args(arguments)
    status = demo_pictures(DEMO_SIZE)
    return max(status, geometry("sheet", [str(KOI_POND), "--out", str(ROOT / "out")])) if status < 2 else status


def demo_pictures(size: str) -> int:
    """The demo's pictures, in this size."""
    return max(
        pictures("render", [str(design), "--view", ",".join(views), "--size", size, "--out", str(ROOT / "out")])
        for design, views in DEMO_VIEWS.items()
    )


def manual(name: str, arguments: list[str]) -> int:
    """The manual's pictures, or the parts named; what the demo shows is rendered first."""
    parser = Parser(prog=f"build.py {name}", description=COMMANDS[name].help)
    parser.add_argument("part", nargs="*", help=" or ".join(MANUAL))
    parser.add_argument("--blender", metavar="PROGRAM", help="a Blender program: shows its window on this screen")
    options = parser.parse_args(arguments)
    parts = options.part or [part for part in MANUAL if part != "window" or options.blender]
    unknown = [part for part in parts if part not in MANUAL]
    if unknown:
        raise Unusable(f'manual: no part "{unknown[0]}"; choose from {", ".join(MANUAL)}')
    if "window" in parts and not options.blender:
        raise Unusable("manual: the window's pictures need --blender PROGRAM, a Blender of 4.2 or newer")
    if "window" not in parts:
        say("manual: the window's pictures stay as they are; --blender PROGRAM makes them anew")
    if "demo" in parts and demo_pictures(MANUAL_SIZE) > 1:
        return 2
    python = blender_environment()
    shown = ["--blender", options.blender, "--package", str(build_zip(python))] if "window" in parts else []
    stage()
    return run(python, "-m", "manual", *parts, *shown)


def package(name: str, arguments: list[str]) -> int:
    """A zip of the extension for each platform, and one for all; their paths are the result."""
    Parser(prog=f"build.py {name}", description=COMMANDS[name].help).parse_args(arguments)
    python = blender_environment()
    for made in (*build_zips(python, "--split-platforms"), build_zip(python)):
        print(made)
    return 0


def is_clean(python: Path) -> bool:
    """Lint, format and types of all that is here; what is wrong goes to stderr."""
    mypy = ["mypy"]
    if not ROOT.name.isidentifier():  # to mypy the checkout is a package, which must have a name of Python's
        mypy += ["--explicit-package-bases", str(stage()), "build.py"]
    by_root = ["mypy", "--explicit-package-bases", "fuzz"]  # it imports core from the root, as no package's part
    for tool in (["ruff", "check"], ["ruff", "format", "--check", "--output-format=concise"], mypy, by_root):
        say(" ".join(tool[:2]))
        if run(python, "-m", *tool, output=2):
            say("stopped before the tests: mend the above first")
            return False
    return True


def core_tests() -> list[str]:
    """The test files that need no Blender and no staged add-on."""
    files = sorted(file.relative_to(ROOT).as_posix() for file in (ROOT / "tests" / "core").rglob("test_*.py"))
    return [*files, "tests/test_docstrings.py", "tests/test_layers.py"]


def test_core(for_pytest: list[str], coverage: bool) -> int:
    """Lint, types and the quick tests of core, without Blender, on all processors."""
    python = environment(VENV, PYTHONS, ("core", "test", *(["coverage"] if coverage else [])))
    os.chdir(ROOT)
    if not is_clean(python):
        return 1
    parts = min(os.cpu_count() or 1, 8)
    say(f"core's tests, in {parts} processes")
    data = f"--data-file={BUILD / 'coverage'}"
    counted = ["coverage", "run", data, "--parallel-mode", "--branch", "--source=core", "-m"] if coverage else []
    command = ["-m", *counted, "pytest", "-q", "-m", "not slow"]
    with ThreadPoolExecutor(parts) as pool:
        shares = [core_tests()[k::parts] for k in range(parts)]
        statuses = list(pool.map(lambda share: run(python, *command, *share, *for_pytest), shares))
    if coverage:
        run(python, "-m", "coverage", "combine", data, "--quiet", output=2)
        run(python, "-m", "coverage", "report", data, "--skip-covered", "--sort=cover")
    return max(status if status in (0, 1) else 2 for status in statuses)


def test(name: str, arguments: list[str]) -> int:
    """Lint, types, then the test suite; with --blender, the add-on's tests on other Blenders too."""
    parser = Parser(prog=f"build.py {name}", description=COMMANDS[name].help)
    parser.add_argument("--core", action="store_true", help="core alone, without Blender: quick")
    parser.add_argument("--coverage", action="store_true", help="with --core: which lines its tests don't reach")
    parser.add_argument("--browser", action="store_true", help="the sheet's page alone, in the system's Chromium")
    parser.add_argument("--blender", default="", help="all, or some of oldest, newest, " + ", ".join(BLENDERS))
    options, for_pytest = parser.parse_known_args(arguments)
    if options.coverage and not options.core:
        raise Unusable("test --coverage: it counts core's lines alone; add --core")
    if options.core:
        return test_core(for_pytest, options.coverage)
    if options.browser:
        os.chdir(ROOT)
        layers = ("core", "test", "browser")
        return run(environment(VENV, PYTHONS, layers), "-m", "pytest", "tests/browser", *for_pytest)
    names = {"oldest": list(BLENDERS)[:1], "newest": list(BLENDERS)[-1:], "all": list(BLENDERS), "": []}
    names.update({version: [version] for version in BLENDERS})
    unknown = [part for part in options.blender.split(",") if part not in names]
    if unknown:
        raise Unusable(f'test --blender: no Blender "{unknown[0]}"; choose from {", ".join(filter(None, names))}')

    python = blender_environment("test")
    fetch_wheels(python)  # so that no test waits for the network
    stage()
    os.chdir(ROOT)
    if not is_clean(python):
        return 1
    statuses = [run(python, "-m", "pytest", *for_pytest)]
    for blender in dict.fromkeys(version for part in options.blender.split(",") for version in names[part]):
        say(f"the add-on's tests on Blender {blender}")
        try:
            folder = ROOT / ".venv-bpy" / blender
            python = environment(folder, [BLENDERS[blender]], [f"bpy-{blender}"])
        except Unusable as stop:
            say(f"Blender {blender}: {stop}")
            statuses.append(1)
        else:
            statuses.append(run(python, "-m", "pytest", "tests/addon", *for_pytest))
    return max(status if status in (0, 1) else 2 for status in statuses)


def tidy(name: str, arguments: list[str]) -> int:
    """Format all code, and mend what the linter can mend by itself; what is left goes to stderr."""
    Parser(prog=f"build.py {name}", description=COMMANDS[name].help).parse_args(arguments)
    python = environment(VENV, PYTHONS, ("core", "test"))
    os.chdir(ROOT)
    return max(run(python, "-m", "ruff", *words, output=2) for words in (["check", "--fix"], ["format"]))


def benchmark(name: str, arguments: list[str]) -> int:
    """How fast solids are made, beside general mesh booleans, and what wood costs in pictures."""
    python = blender_environment(name)
    stage()
    return run(python, "-m", name, *arguments)


def fuzz(name: str, arguments: list[str]) -> int:
    """Random designs that are hard on the geometry, judged; docs/reliability.md tells what is promised."""
    python = environment(VENV, PYTHONS, ["core"])
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl C goes to the fuzzer, which tells what was done so far
    return run(python, "-m", name, *arguments)


class Command(NamedTuple):
    """What one word on the command line does."""

    run: Callable[[str, list[str]], int]
    help: str
    for_developers: bool = False


COMMANDS = {
    "demo": Command(demo, "the koi pond's pictures and its bench sheet, to out/"),
    "check": Command(geometry, "DESIGN [--json] [--suggest-cutters] [--plan]: findings and measures, no Blender"),
    "render": Command(
        pictures,
        "DESIGN --view VIEW|--film FILM --out DIR [--quality draft|good|best]: pictures, films; --help tells all",
    ),
    "card": Command(pictures, "DESIGN --out DIR [--paper a4|letter]: the listing picture, and the card that shows it"),
    "page": Command(pictures, "DESIGN --out DIR [--paper a4|letter]: all views on one page"),
    "solids": Command(
        geometry, "DESIGN --out DIR [--state STATE|--batch N]: every solid as a PLY file; --help says which is for what"
    ),
    "lines": Command(
        geometry, "DESIGN --out DIR [--coupon]: the lines to cut along, as SVG, DXF and full-size templates"
    ),
    "sheet": Command(
        geometry, "DESIGN --out DIR [--paper a4|letter] [--units mm|inch|both]: bench sheet, buying list, lines"
    ),
    "benchmark": Command(
        benchmark, "[--markdown]: speed beside manifold3d and Blender's booleans, some minutes", for_developers=True
    ),
    "fuzz": Command(
        fuzz,
        "[--minutes N] [--family NAME] [--seed N] [--count N]: random designs that are hard on the geometry, judged",
        for_developers=True,
    ),
    "manual": Command(
        manual,
        "[PART ...] [--blender PROGRAM]: the manual's pictures anew, to assets/pictures; some minutes",
        for_developers=True,
    ),
    "package": Command(
        package, "the Blender extension's zips, one for each platform and one for all, to dist/", for_developers=True
    ),
    "test": Command(
        test,
        "[--core [--coverage]|--browser|--blender all|oldest,newest]: lint, types and tests; the rest goes to pytest",
        for_developers=True,
    ),
    "tidy": Command(tidy, "all code formatted, and mended where the linter can do it", for_developers=True),
}


def main(arguments: list[str]) -> int:
    """Run one command and return its exit status."""
    name, rest = (arguments or [""])[0], arguments[1:]
    if name in ("-h", "--help"):
        print("python build.py COMMAND ...\n")
        for theirs, heading in ((False, ""), (True, "\nFor developers:\n")):
            lines = [f"  {name:10}{told.help}" for name, told in COMMANDS.items() if told.for_developers == theirs]
            print(heading + "\n".join(lines))
        return 0
    try:
        if name not in COMMANDS:
            raise Unusable(f'no command "{name}"; choose from {", ".join(COMMANDS)}, or --help')
        return COMMANDS[name].run(name, rest)
    except Unusable as stop:
        say(str(stop))
        return 2
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
