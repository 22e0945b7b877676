"""The findings as a scene keeps them, for sidebar and marks: written anew whenever its design is checked."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace

import bpy
from bpy.props import FloatVectorProperty, StringProperty

from ...core.findings.all_findings import tried
from ...core.findings.causes import Group, grouped
from ...core.findings.finding import LEVELS, Finding, Step
from ...core.findings.remedy_buttons import step_words
from ..designs import OpenDesign
from .findings_picture import group_heading, heading, places_words


class FindingItem(bpy.types.PropertyGroup):
    """All findings of one cause, as sidebar and marks show them; words and place are those of the worst."""

    identity: StringProperty()
    level: StringProperty()
    code: StringProperty()
    piece: StringProperty()
    other: StringProperty()
    title: StringProperty()
    heading: StringProperty()
    text: StringProperty()
    remedy: StringProperty()
    step: StringProperty()
    step_words: StringProperty()
    at: FloatVectorProperty(size=2)
    places: StringProperty()
    pieces: StringProperty()


def write(settings: bpy.types.PropertyGroup, opened: OpenDesign) -> None:
    """Let the scene's settings hold the findings of the design, the gravest first."""
    pieces = {placed.piece.id: placed.piece for placed in (opened.whole or opened).stack.pieces}
    settings.findings.clear()
    settings.accepted = sum(finding.accepted is not None for finding in opened.findings)
    for identity, group in identified(opened.findings):
        item, finding, curable = settings.findings.add(), group.worst, group.curable
        item.identity, item.level, item.code = identity, finding.level, finding.code
        item.piece, item.other = finding.piece or "", finding.other or ""
        item.title, item.heading = _title(group), group_heading(group)
        more = group.more()
        item.text, item.remedy = finding.text + (f" ({more})" if more else ""), finding.remedy
        item.at = finding.at
        item.places = json.dumps([(*place.at, place.piece or "") for place in group.places])
        item.pieces = json.dumps(sorted(group.pieces))
        step = curable.step if curable else None
        item.step = step_text(step)
        item.step_words = step_words(step, pieces[step.piece]) if step else ""


def try_step(settings: bpy.types.PropertyGroup, item: FindingItem, opened: OpenDesign) -> None:
    """Let a finding that is chosen offer a step that is good, or none: a check of all does not try them."""
    told = next((group for name, group in identified(opened.findings) if name == item.identity), None)
    if told is None:
        return
    stack = (opened.whole or opened).stack
    good = tried(stack, to_try(told))
    pieces = {placed.piece.id: placed.piece for placed in stack.pieces}
    item.step = step_text(good.step)
    item.step_words = step_words(good.step, pieces[good.step.piece]) if good.step else ""
    item.remedy = good.remedy


def to_try(group: Group) -> Finding:
    """The finding of a group whose remedy is offered: the worst that has a step, else the worst."""
    return group.curable or group.worst


def _title(group: Group) -> str:
    """For a line of a list: of a pair only the piece that the finding is about."""
    return heading(replace(group.worst, other=None)) + places_words(group)


def identified(findings: Iterable[Finding]) -> Iterator[tuple[str, Group]]:
    """Each cause with a name that it keeps while its pieces are moved or changed and it is not cured."""
    seen: Counter[tuple[str, str | None, str | None]] = Counter()
    for group in grouped(findings):
        finding = group.worst
        if finding.cause is not None:
            yield f"{finding.code}: {finding.cause}", group
            continue
        kind = (finding.code, finding.piece, finding.other)
        yield f"{finding.code} {finding.piece or ''} {finding.other or ''} {seen[kind]}", group
        seen[kind] += 1


def places(item: bpy.types.PropertyGroup) -> list[tuple[float, float, str]]:
    """Where it is, the worst place first: x, y and the piece."""
    return [(x, y, piece) for x, y, piece in json.loads(item.places)]


def place(settings: bpy.types.PropertyGroup) -> tuple[float, float, str]:
    """The place of the chosen finding that is looked at."""
    every = places(settings.findings[chosen(settings)])
    return every[settings.chosen_place % len(every)]


def step_text(step: Step | None) -> str:
    """A step as text, to be compared; nothing where there is none."""
    return json.dumps([step.piece, step.key, step.value]) if step else ""


def chosen(settings: bpy.types.PropertyGroup) -> int:
    """The place of the chosen finding in the list; -1 where none is, or it is cured."""
    wanted = settings.chosen_finding
    found = (index for index, item in enumerate(settings.findings) if item.identity == wanted)
    return next(found, -1) if wanted else -1


def listed(settings: bpy.types.PropertyGroup, active: bpy.types.Object | None) -> list[bool]:
    """Whether each finding passes the filters, of level and of the active piece."""
    levels = {level for level in LEVELS if getattr(settings, f"show_{level}s")}
    if not settings.only_active_piece:
        return [item.level in levels for item in settings.findings]
    name = active.grainstack.id if active is not None and active.grainstack.kind == "outline" else None
    return [item.level in levels and name in json.loads(item.pieces) for item in settings.findings]


def counts(settings: bpy.types.PropertyGroup) -> dict[str, int]:
    """How many findings of each level there are, shown or not."""
    count = Counter(item.level for item in settings.findings)
    return {level: count[level] for level in LEVELS}
