"""What is timed, and how: medians of five, the contenders in turn, so that a busy machine is busy for all."""

from __future__ import annotations

import json
import math
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from core.cutter.rounding import rounded_fit
from core.solids.panel_solids import Solid, build_solids
from core.stack.stack import Stack, build_stack

from .peers import Blender, Manifold, Peer, booleans_of
from .scene import later_overlaps_per_piece, scene, vertices_per_piece, with_one_moved

ROUNDS = 5
VOLUME_TOLERANCE = 1e-6
"""Relative to the solid, or to a cubic centimetre where it is smaller: Blender's coordinates are single precision."""
MOVED = 10
"""About so many pieces are moved in turn, since some overlap more than others."""
SOLVERS = ("MANIFOLD", "FLOAT", "EXACT")
PATIENCE = 3.0
"""A solver that takes so many times as long as the fastest right one is given up."""
LONGEST = 600.0
"""One that takes so many seconds is given up in any case."""
STARTING = 20.0
"""Seconds for its process to start, and to make the scene."""
HERE = Path(__file__).parents[1]
CHILD = (sys.executable, "-m", "benchmark", "--child")


def seconds(action: Callable[[], object]) -> float:
    """How long one call takes."""
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def in_turn(actions: Sequence[Callable[[], Mapping[str, float]]], rounds: int) -> dict[str, float]:
    """Medians over the rounds of the seconds that the actions return by name; every round runs all of them once."""
    taken: dict[str, list[float]] = {}
    for number in range(rounds):
        for action in actions:
            for name, value in action().items():
                taken.setdefault(name, []).append(value)
                progress(f"round {number + 1} of {rounds}: {name}: {value:.3f} s")
    return {name: statistics.median(some) for name, some in taken.items()}


def progress(text: str) -> None:
    """One line on stderr."""
    print(f"benchmark: {text}", file=sys.stderr, flush=True)


def largest_difference(ours: Mapping[str, float], theirs: Mapping[str, float]) -> float:
    """Largest difference of one solid's two volumes, relative to it or to a cubic centimetre."""
    names = ours.keys() | theirs.keys()
    return max(abs(ours.get(n, 0.0) - theirs.get(n, 0.0)) / max(ours.get(n, 0.0), 1000.0) for n in names)


# ---------------------------------------------------------------- Blender's solvers


@dataclass(frozen=True)
class Trial:
    """One run of one solver."""

    solver: str
    seconds: float
    """Infinite where it did not end: too slow, or crashed, or not in this Blender."""
    difference: float
    """Largest relative difference of a solid's volume."""

    @property
    def right(self) -> bool:
        """Whether it ended, with the right volumes."""
        return self.difference <= VOLUME_TOLERANCE


def try_solvers(solvers: Sequence[str], count: int, ours: Mapping[str, float]) -> list[Trial]:
    """Each of Blender's solvers once, in a process of its own, since some crash and some hardly end."""
    trials: list[Trial] = []
    for solver in solvers:
        fastest = min((trial.seconds for trial in trials if trial.right), default=math.inf)
        trials.append(_try(solver, count, ours, PATIENCE * fastest + STARTING))
        progress(f"Blender, {solver.lower()}: {trials[-1]}")
    return trials


def _try(solver: str, count: int, ours: Mapping[str, float], patience: float) -> Trial:
    command = [*CHILD, solver, "--count", str(count)]
    try:
        done = subprocess.run(command, cwd=HERE, stdout=subprocess.PIPE, timeout=min(patience, LONGEST))
        found = json.loads(done.stdout.splitlines()[-1])
    except (subprocess.TimeoutExpired, IndexError, ValueError):
        return Trial(solver, math.inf, math.inf)
    return Trial(solver, found["seconds"], largest_difference(ours, found["volumes"]))


def only_run(solver: str, count: int) -> dict[str, object]:
    """Seconds and volumes of one run of one solver; the end of `_try`'s child process."""
    peer = Blender(solver)
    peer.prepare(booleans_of(build_stack(scene(count))))
    return {"seconds": seconds(peer.cut), "volumes": peer.volumes()}


# ---------------------------------------------------------------- memory


def peak_memory(count: int) -> float | None:
    """Megabytes of a process that makes a scene's stack and solids and no more; None where the system does not tell."""
    done = subprocess.run([*CHILD, "memory", "--count", str(count)], cwd=HERE, stdout=subprocess.PIPE, check=True)
    found: float | None = json.loads(done.stdout.splitlines()[-1])
    return found


def own_peak_memory(count: int) -> float | None:
    """Megabytes of this process once it has made these solids; the end of `peak_memory`'s child process."""
    build_solids(build_stack(scene(count)))
    try:
        import resource
    except ImportError:  # Windows
        return None
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)


# ---------------------------------------------------------------- wood


def wood_ratios(rounds: int) -> dict[str, float]:
    """Ratios by view, as `wood_cost` measures them in a process of its own; none where it cannot render."""
    command = [sys.executable, "-m", "benchmark.wood_cost", "--rounds", str(rounds)]
    done = subprocess.run(command, cwd=HERE, stdout=subprocess.PIPE)
    if done.returncode:
        return {}
    found = json.loads(done.stdout.splitlines()[-1])
    return {view: seconds["wood"] / seconds["plain"] for view, seconds in found.items()}


# ---------------------------------------------------------------- all that goes into the table


@dataclass(frozen=True)
class Results:
    """All that one run measured."""

    small: int
    """Pieces of the scene that everything is measured on."""
    large: int
    """Pieces of the scene that only Grainstack is measured on."""
    rounds: int
    vertices: float
    later: float
    seconds: dict[str, float]
    """Medians, by name: those below, and those of the peers."""
    prisms: dict[str, float]
    """Seconds that each peer took to build its prisms; not part of its time."""
    differences: dict[str, float]
    """Largest relative difference of a solid's volume, by peer."""
    trials: tuple[Trial, ...]
    memory: float | None
    """Megabytes at most, of a process that makes the large scene."""
    wood: Mapping[str, float] = field(default_factory=dict)
    """Processor time by view: of the pond in its woods, relative to plain coated colours on the same meshes."""


SOLIDS, SOLIDS_LARGE = "solids", "solids, large scene"
STACK, STACK_LARGE = "stack", "stack, large scene"
MOVED_SOLIDS, MOVED_STACK = "solids, one piece moved", "stack, one piece moved"
ROUNDING = "rounding"


def measure(
    small: int = 100,
    large: int = 1000,
    rounds: int = ROUNDS,
    solvers: Sequence[str] = SOLVERS,
    *,
    renders: bool = True,
) -> Results:
    """Measure everything on scenes of `small` and `large` pieces; `renders`: also what wood costs in pictures."""
    progress(f"scenes of {small} and {large} pieces")
    stack, stack_large = build_stack(scene(small)), build_stack(scene(large))
    solids = build_solids(stack)
    memory = peak_memory(large)
    ours = {solid.name: solid.volume for solid in solids}

    trials = try_solvers(solvers, small, ours)
    right = [trial for trial in trials if trial.right]
    peers: list[Peer] = [Manifold()]
    if right:
        peers.append(Blender(min(right, key=lambda trial: trial.seconds).solver))
    booleans = booleans_of(stack)
    prisms = {peer.name: seconds(partial(peer.prepare, booleans)) for peer in peers}

    medians = in_turn(
        [
            lambda: {SOLIDS: seconds(lambda: build_solids(stack)), STACK: seconds(lambda: build_stack(stack.design))},
            lambda: _one_moved(stack, solids),
            lambda: {SOLIDS_LARGE: seconds(lambda: build_solids(stack_large))},
            lambda: {STACK_LARGE: seconds(lambda: build_stack(stack_large.design))},
            lambda: {ROUNDING: _rounding(stack)},
            lambda: {peer.name: seconds(peer.cut) for peer in peers},
        ],
        rounds,
    )
    return Results(
        small=small,
        large=large,
        rounds=rounds,
        vertices=vertices_per_piece(stack),
        later=later_overlaps_per_piece(stack),
        seconds=medians,
        prisms=prisms,
        differences={peer.name: largest_difference(ours, peer.volumes()) for peer in peers},
        trials=tuple(trials),
        memory=memory,
        wood=wood_ratios(rounds) if renders else {},
    )


def _one_moved(stack: Stack, solids: list[Solid]) -> dict[str, float]:
    """Mean seconds for the stack and for the solids after one piece moved, over some pieces."""
    indices = range(0, len(stack.pieces), max(1, len(stack.pieces) // MOVED))
    for_stack = for_solids = 0.0
    for index in indices:
        design = with_one_moved(stack.design, index, (3.0, 2.0))
        start = time.perf_counter()
        moved = build_stack(design, stack)
        between = time.perf_counter()
        build_solids(moved, previous=solids)
        for_stack += between - start
        for_solids += time.perf_counter() - between
    return {MOVED_STACK: for_stack / len(indices), MOVED_SOLIDS: for_solids / len(indices)}


def _rounding(stack: Stack) -> float:
    """Seconds to round all outlines, which Grainstack does once for each outline and radius."""
    return seconds(lambda: [rounded_fit(placed.outline, placed.piece.corner_radius) for placed in stack.pieces])
