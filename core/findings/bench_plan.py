"""What the work at the bench comes to, as `check` tells it: thicknesses to plane, glue days, the slack in face trim.

All of that is cheap. What is tried on copies of the design, `offers` and `offer_lines`, is for `check --plan`.
"""

from __future__ import annotations

from typing import Any

from ..measures.all_measures import Measures
from ..measures.leaf_kinds import leaf_kinds, thicknesses
from ..measures.trim_slack import LEAST_LEFT, RECEDES, TrimSlack, trim_slacks
from ..stack.batch_reasons import waits_of
from ..stack.long_chains import long_chains
from ..stack.stack import Stack
from .fewer_days import FewerDays, fewer_days
from .fewer_thicknesses import Levelling, fewer_thicknesses
from .finding import xy
from .report_notes import wrapped

NAMED = 12
"""The report names at most so many pieces of a chain, and so many changes."""


def bench_plan(stack: Stack) -> dict[str, Any]:
    """The object `work` of `check --json`."""
    kinds, chains = leaf_kinds(stack), long_chains(waits_of(stack))
    return {
        "thicknesses": thicknesses(stack),
        "combinations": [
            {"woods": list(woods), "thickness": thickness, "pieces": [stack.pieces[i].piece.id for i in pieces]}
            for (woods, thickness), pieces in kinds.items()
        ],
        "glue_days": chains.days,
        "longest_chains": [[stack.pieces[i].piece.id for i in chain] for chain in chains.examples],
        "in_every_chain": [stack.pieces[i].piece.id for i in chains.pieces],
        "trim_slack": [_slack(stack, slack) for slack in trim_slacks(stack)],
    }


def _slack(stack: Stack, slack: TrimSlack) -> dict[str, Any]:
    return {
        "gives": slack.gives,
        "piece": stack.pieces[slack.piece].piece.id,
        "under": None if slack.under is None else stack.pieces[slack.under].piece.id,
        "slack": slack.slack,
        "left": slack.left,
        "at": list(slack.at),
    }


def plan_lines(bench: dict[str, Any]) -> list[str]:
    """Its lines in the head of the report."""
    lines = []
    if bench["combinations"]:
        kinds, thick = len(bench["combinations"]), len(bench["thicknesses"])
        lines.append(
            f"  to plane        {kinds} {'combination' if kinds == 1 else 'combinations'} of wood and thickness, "
            f"{thick} {'thickness' if thick == 1 else 'thicknesses'}"
        )
    if bench["glue_days"]:
        lines.append(
            f"  glue days       {bench['glue_days']}, one for each batch, plus the days for background and frame"
        )
    if bench["trim_slack"]:
        lines += wrapped(f"  trim slack      {slack_words(bench['trim_slack'][0])}")
    return lines


def slack_words(slack: dict[str, Any]) -> str:
    """How far the face may be trimmed beyond plan before something gives, and where."""
    piece, at, more = slack["piece"], xy(tuple(slack["at"])), slack["slack"]
    gives = {
        "skin": f"of {piece} is left above {slack['under']}",
        "floor": f"of {piece} is left above its pocket's floor",
        "tip": f"a thin tip of {piece} beside a leaning wall has moved back by {RECEDES:.2f} mm",
    }[slack["gives"]]
    if more < 0:
        left = max(slack["left"], 0.0)
        return f"none: at the planned face trim only {left:.2f} mm {gives}, less than {LEAST_LEFT:.2f} mm, at {at}"
    gives = gives if slack["gives"] == "tip" else f"only {LEAST_LEFT:.2f} mm {gives}"
    return f"{more:.2f} mm may come off beyond the planned face trim before {gives} at {at}"


# --- What is tried --------------------------------------------------------------------------------------------------


def offers(measures: Measures) -> dict[str, Any]:
    """The object `plan` of `check --plan --json`: changes that save thicknesses and days, each tried on a copy."""
    level, days = fewer_thicknesses(measures), fewer_days(measures)
    return {"levelling": _levelling(level), "glue_day": _glue_day(days)}


def _levelling(level: Levelling) -> dict[str, Any]:
    offer = level.offer
    return {
        "why_none": level.why_none,
        "thicknesses": None if offer is None else list(offer.thicknesses),
        "combinations": None if offer is None else offer.kinds,
        "changes": []
        if offer is None
        else [
            {
                "piece": change.piece,
                "insert_thickness": change.thickness,
                "pocket_depth": change.depth,
                "was": {"insert_thickness": change.was_thick, "pocket_depth": change.was_deep},
            }
            for change in offer.changes
        ],
    }


def _glue_day(days: FewerDays) -> dict[str, Any]:
    return {
        "why_none": days.why_none,
        "changes": [
            {
                "kind": offer.kind,
                "piece": offer.piece,
                "value": offer.value,
                "text": offer.text,
                "glue_days": offer.days,
            }
            for offer in days.offers
        ],
    }


def offer_lines(plan: dict[str, Any], bench: dict[str, Any]) -> list[str]:
    """The offers as lines of the report."""
    return [
        "",
        "To save work, each tried on a copy of the design:",
        *_level_lines(plan, bench),
        *_day_lines(plan, bench),
    ]


def _level_lines(plan: dict[str, Any], bench: dict[str, Any]) -> list[str]:
    level = plan["levelling"]
    if level["thicknesses"] is None:
        return wrapped(f"  Thicknesses: {level['why_none']}.")
    now = ", ".join(f"{thickness:.2f}" for thickness in level["thicknesses"])
    lines = wrapped(
        f"  Thicknesses: {len(level['thicknesses'])} instead of {len(bench['thicknesses'])} ({now} mm), and "
        f"{level['combinations']} combinations instead of {len(bench['combinations'])}, with no new error or warning. "
        "Set insert_thickness and pocket_depth:"
    )
    groups: dict[tuple[float, float], list[str]] = {}
    for change in level["changes"]:
        groups.setdefault((change["insert_thickness"], change["pocket_depth"]), []).append(change["piece"])
    for (thickness, depth), pieces in sorted(groups.items()):
        lines += wrapped(f"    insert {thickness:.2f} mm thick, pocket {depth:.2f} mm deep: {', '.join(pieces)}")
    return lines


def _day_lines(plan: dict[str, Any], bench: dict[str, Any]) -> list[str]:
    lines = []
    for chain in bench["longest_chains"] if bench["glue_days"] > 1 else []:
        named = [*chain[:NAMED], *(["and so on"] if len(chain) > NAMED else [])]
        lines += wrapped(f"  Longest chain: {', then '.join(named)}.")
    days = plan["glue_day"]
    for offer in days["changes"]:
        lines += wrapped(
            f"  Glue days: {offer['glue_days']} instead of {bench['glue_days']}, with no new error or warning: "
            f"{offer['text']}."
        )
    return lines + ([] if days["changes"] else wrapped(f"  Glue days: {days['why_none']}."))
