"""Writes the lock files anew from the .in files: `python requirements/lock.py`, with `uv` on PATH.

Each lock holds the hashes of every wheel of its packages, for each Python and platform that Grainstack runs
on, and names no package index. The layers share one environment, so they are resolved together first and
each layer's lock then takes its versions from there.
"""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
import tempfile
from functools import lru_cache
from pathlib import Path

PURE = ("ezdxf", "fonttools")
"""Packages that have compiled wheels too, which are large and bring Grainstack nothing."""
HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from build import BLENDERS, LAYERS, PYTHONS  # noqa: E402


def compile_lock(output: Path, sources: list[Path], pythons: list[str], *options: str) -> None:
    """Resolve `sources` into `output`, for every platform and for `pythons` only."""
    markers = ", ".join(f"\"python_version == '{python}'\"" for python in pythons)
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "pyproject.toml").write_text(f"[tool.uv]\nenvironments = [{markers}]\n", encoding="utf-8")
        command = ["uv", "pip", "compile", "--quiet", "--universal", "--generate-hashes", "--upgrade"]
        command += ["--python-version", min(pythons)]
        command += ["--custom-compile-command", "python requirements/lock.py", "--no-annotate"]
        command += [*options, "--output-file", str(output), *map(str, sources)]
        subprocess.run(command, cwd=folder, check=True)
    keep_pure(output)


def keep_pure(output: Path) -> None:
    """Keep only the wheel that runs everywhere for each of the PURE packages, so that pip takes no compiled one."""
    text = output.read_text(encoding="utf-8")
    for name in PURE:
        found = re.search(rf"^{name}==(\S+)(?:.|\\\n)*?((?: \\\n    --hash=\S+)+)", text, re.MULTILINE)
        if found is not None:
            wheel = f" \\\n    --hash=sha256:{pure_wheel(name, found[1])}"
            text = text[: found.start(2)] + wheel + text[found.end(2) :]
    output.write_text(text, encoding="utf-8")


@lru_cache
def pure_wheel(name: str, version: str) -> str:
    """The hash of a package's wheel of pure Python."""
    with tempfile.TemporaryDirectory() as folder:
        fetch = ["download", "--quiet", "--no-deps", "--only-binary=:all:", "--platform", "any", "--dest", folder]
        subprocess.run([sys.executable, "-m", "pip", *fetch, f"{name}=={version}"], check=True)
        (wheel,) = Path(folder).glob("*-none-any.whl")
        return hashlib.sha256(wheel.read_bytes()).hexdigest()


def main() -> None:
    """Write all locks: the layers, the bundled wheels, one for each Blender of the test matrix."""
    both = list(PYTHONS)
    layers = [HERE / f"{layer}.in" for layer in LAYERS]
    with tempfile.TemporaryDirectory() as folder:
        together = Path(folder, "together.txt")
        compile_lock(together, layers, both)
        for source in layers:
            compile_lock(source.with_suffix(".txt"), [source], both, "--constraints", str(together))
    compile_lock(HERE / "wheels.txt", [HERE / "wheels.in"], both, "--no-deps")
    for version, python in BLENDERS.items():
        source = HERE / f"bpy-{version}.in"
        compile_lock(source.with_suffix(".txt"), [source], [python])


if __name__ == "__main__":
    main()
