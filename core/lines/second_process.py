"""A second process for half of the work, so that two cores share it. For commands that Python itself runs: inside
Blender a new process would be a second Blender."""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager


@contextmanager
def second_process() -> Iterator[Executor | None]:
    """A process that loads what writing lines takes while this one reads the design; none where none can be had."""
    try:
        executor = ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn"))
        executor.submit(_get_ready)
    except (OSError, NotImplementedError, ImportError):  # no semaphores, or no more processes
        yield None
        return
    try:
        yield executor
    finally:
        executor.shutdown(wait=False, cancel_futures=True)


def _get_ready() -> None:
    """Load the slow libraries. An interrupt is for the first process, which tells the maker."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    import ezdxf.document  # noqa: F401

    from . import write  # noqa: F401
