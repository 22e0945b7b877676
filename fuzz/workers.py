"""Processes that judge designs, so that one that hangs or eats all memory ends alone."""

from __future__ import annotations

import contextlib
import multiprocessing
import signal
import sys
from collections.abc import Iterator
from multiprocessing.connection import Connection, wait
from time import monotonic
from typing import Any, TypeVar, cast

if sys.platform != "win32":
    import resource

from .judge import MOST_MEGABYTES, Fault, Verdict, judge

Document = dict[str, Any]
Label = TypeVar("Label")
MOST_WORK = 30
"""Seconds of work after which a worker is ended; it has failed long before."""
PATIENCE = 300.0
"""Seconds by the clock after which it is ended, where the system does not count its work or it sleeps."""
CEILING = 6 * 2**30
"""Bytes of address space that a worker may ask for, so that the machine stays usable."""


def _serve(end: Connection) -> None:
    """Judge what comes until nothing more comes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if sys.platform != "win32":
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_AS, (CEILING, CEILING))
    while True:
        try:
            document = end.recv()
        except EOFError:
            return
        _allow_more_work()
        end.send(judge(document))


def _allow_more_work() -> None:
    """Have the system end this process when its next design has had its share of work.

    A timer, since a limit on all work of the process (RLIMIT_CPU) goes by another clock than `process_time`: the
    two drift apart by a thirtieth, so that after a quarter of an hour it ended designs of a few seconds.
    """
    if sys.platform != "win32":
        signal.setitimer(signal.ITIMER_PROF, MOST_WORK)


class Worker:
    """One process that judges one design at a time."""

    def __init__(self) -> None:
        self._start()

    def _start(self) -> None:
        context = multiprocessing.get_context("spawn")
        self.end, theirs = context.Pipe()
        self.process = context.Process(target=_serve, args=(theirs,), daemon=True)
        heard = signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl C is our business, from its first moment on
        self.process.start()
        signal.signal(signal.SIGINT, heard)
        theirs.close()
        self.began = monotonic()

    def give(self, document: Document) -> None:
        """Begin to judge a design."""
        self.began = monotonic()
        self.end.send(document)

    def take(self) -> Verdict:
        """The verdict that is ready; a worker that died, or that has grown, is replaced."""
        try:
            verdict: Verdict = self.end.recv()
        except (EOFError, OSError):
            verdict = self._last_words()
            self._replace()
        else:
            if verdict.megabytes > MOST_MEGABYTES:
                self._replace()
        return verdict

    def _last_words(self) -> Verdict:
        """What can be said of a process that has ended."""
        self.process.join(5.0)
        if sys.platform != "win32" and self.process.exitcode == -signal.SIGPROF:
            return Verdict([Fault("slow", f"ended after {MOST_WORK} s of work", MOST_WORK)], seconds=MOST_WORK)
        ended = f"the process ended with status {self.process.exitcode}"
        return Verdict([Fault("exception", ended)], seconds=monotonic() - self.began)

    @property
    def stuck(self) -> bool:
        """Whether it has had longer than anything may take."""
        return monotonic() - self.began > PATIENCE

    def give_up(self) -> Verdict:
        """End the process in its work."""
        self._replace()
        return Verdict([Fault("slow", f"ended after {PATIENCE:.0f} s", PATIENCE)], seconds=PATIENCE)

    def _replace(self) -> None:
        self.stop()
        self._start()

    def stop(self) -> None:
        """End the process."""
        self.process.kill()
        self.process.join()
        self.end.close()

    def judge(self, document: Document) -> Verdict:
        """Judge one design and wait for it."""
        self.give(document)
        return self.take() if self.end.poll(PATIENCE) else self.give_up()


def judge_all(
    workers: list[Worker], designs: Iterator[tuple[Label, Document]]
) -> Iterator[tuple[Label, Document, Verdict]]:
    """Judge designs on all workers at once, in whatever order they are done."""
    busy: dict[Connection, tuple[Worker, Label, Document]] = {}
    idle = list(workers)
    more = True
    while more or busy:
        while more and idle:
            following = next(designs, None)
            if following is None:
                more = False
            else:
                worker = idle.pop()
                worker.give(following[1])
                busy[worker.end] = (worker, *following)
        for end in wait(list(busy), timeout=1.0):
            worker, label, document = busy.pop(cast(Connection, end))
            verdict = worker.take()
            idle.append(worker)
            yield label, document, verdict
        for end in [end for end, (worker, *_) in busy.items() if worker.stuck]:
            worker, label, document = busy.pop(end)
            verdict = worker.give_up()
            idle.append(worker)
            yield label, document, verdict
