"""The panel as it stands today, drawn: what is glued in, which pockets stand open, what is still to do."""

from __future__ import annotations

import numpy as np
import shapely

from ..views.exploded import place_of_number
from ..views.label_places import place_plates
from .picture import FINE, GREY, HATCH, INK, MAP_WIDTH, PALE, PLATE, Array, Label, Mark, Picture, Strokes, area, hatched
from .plan import Plan
from .tracking import Bench, done_now


def states(plan: Plan, bench: Bench) -> dict[str, str]:
    """The state of each piece: "glued", "open" where its pocket is cut and empty, or "to do"."""
    done = done_now(bench, plan)

    def state(name: str) -> str:
        steps = done.get(name, ())
        return "glued" if "glued" in steps else "open" if "pocket" in steps else "to do"

    return {piece.id: state(piece.id) for piece in plan.pieces}


def standing_picture(plan: Plan, bench: Bench) -> Picture:
    """The raw panel today: grey is glued in, hatched is a pocket that stands open, a thin line is still to do."""
    stack, state = plan.stack, states(plan, bench)
    one = stack.design.panel.width / MAP_WIDTH
    begun: list[Mark] = []
    to_do: list[Mark] = []
    for work in sorted(plan.pieces, key=lambda piece: piece.placed.index):
        inside = shapely.intersection(work.placed.pocket, stack.box)
        if inside.is_empty:
            continue
        now = state[work.id]
        if now == "glued":
            begun.append(area(inside, one * FINE, fill=PALE, stroke=INK, width=0.5))
        elif now == "open":
            begun.append(area(inside, one * FINE, fill="#ffffff"))
            begun.append(Strokes(hatched(shapely.simplify(inside, one * FINE), one * HATCH), INK, 0.25))
            begun.append(area(inside, one * FINE, stroke=INK, width=0.9))
        else:
            to_do.append(area(inside, one * FINE, stroke=GREY, width=0.25))
    frame: list[Mark] = [area(stack.box, 0, stroke=INK, width=0.9), area(stack.finished_box, 0, stroke=GREY, width=0.4)]
    words = "The panel as it stands today: grey is glued in, hatched pockets are open, thin lines are still to do"
    return Picture(stack.box.bounds, (*begun, *to_do, *frame, *_open_numbers(plan, state, one)), words)


def _open_numbers(plan: Plan, state: dict[str, str], one: float) -> list[Mark]:
    shown = [work for work in plan.pieces if state[work.id] == "open"]
    if not shown:
        return []
    panel = plan.stack.design.panel
    at = [place_of_number(work.placed) for work in shown]
    plates = place_plates(shapely.get_coordinates(shapely.points(at)), 0.4 * one, PLATE * one, (0.0, 0.0),
                          (panel.width, panel.height))  # fmt: skip
    return [
        Label((float(x), float(y)), str(work.number), 2.9, plate=True)
        for work, (x, y) in zip(shown, plates, strict=True)
    ]


def standing_segments(plan: Plan, bench: Bench, apart: float = 4.0) -> dict[str, Array]:
    """Lines over the panel, mm, each an (n, 2) array of ends two by two: round what is "glued" or "open", with hatches.

    Args:
        plan: the work.
        bench: what is done.
        apart: between the lines of the hatch of open pockets, mm.
    """
    state = states(plan, bench)
    found: dict[str, list[Array]] = {"glued": [], "open": []}
    for work in plan.pieces:
        if state[work.id] in found:
            thin = shapely.simplify(work.placed.pocket, 0.05)
            lines = [shapely.get_coordinates(ring) for ring in shapely.get_rings(shapely.get_parts(thin))]
            if state[work.id] == "open":
                lines += hatched(thin, apart)
            found[state[work.id]] += [np.repeat(line, 2, axis=0)[1:-1] for line in lines]
    return {name: np.concatenate([np.zeros((0, 2)), *lines]) for name, lines in found.items()}
