"""A command's stdout, kept free of Blender's own chatter."""

from __future__ import annotations

import os
import sys
from typing import TextIO


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
