"""A command's stdout, kept free of Blender's own chatter."""

from __future__ import annotations

import os
import sys
from typing import NoReturn, TextIO


def for_results_alone() -> TextIO:
    """A stream to the process's stdout; from now on, whatever else writes there goes nowhere.

    For a process that ends with the command: Blender's buffered lines may come at the very end, so nothing is restored.
    """
    sys.stdout.flush()
    results = os.fdopen(os.dup(1), "w", encoding=sys.stdout.encoding)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
    return results


def leave(status: int, results: TextIO) -> NoReturn:
    """End the process with that status, all of it written.

    Blender 4.2's module may crash as Python takes it apart, whoever uses it: that is left out.
    """
    for stream in (results, sys.stdout, sys.stderr):
        stream.flush()
    os._exit(status)
