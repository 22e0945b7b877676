"""`blender --command grainstack check|solids|render|card|page …`: the commands inside Blender."""

from __future__ import annotations

import sys

import bpy

from ...core import commands
from . import stdout

USAGE = "blender --command grainstack check|solids|render|card|page DESIGN [options]"

_handle: object | None = None


def run(argv: list[str]) -> int:
    """Run one command; returns the exit status."""
    if argv[:1] in (["render"], ["card"], ["page"]):
        from . import headless  # only here, so that `python -m` finds it unimported

        return headless.main(argv, stdout.for_results_alone())
    if argv[:1] in (["check"], ["solids"]):
        return commands.main(argv)
    if argv[:1] in (["-h"], ["--help"]):
        print(f"{USAGE}\nEach command with --help tells its options.")
        return commands.DONE
    print(f"There is no such command. Write: {USAGE}", file=sys.stderr)
    return commands.UNUSABLE


def register() -> None:
    """Tell Blender of the command."""
    global _handle
    _handle = bpy.utils.register_cli_command("grainstack", run)


def unregister() -> None:
    """Undo `register`, in reverse."""
    global _handle
    if _handle is not None:
        bpy.utils.unregister_cli_command(_handle)
        _handle = None
