"""Editing a background: strips and segments of a document's panel, which always fill it exactly.

Each function takes the panel's JSON value and gives a new one. The wood that a strip loses or gains comes from its
neighbour: the next one, or the one before the last.
"""

from __future__ import annotations

import math
from typing import Any

from ..errors import UnusableInput

LEAST = 1.0
"""No strip and no segment becomes narrower than this, mm."""

PanelValue = dict[str, Any]
Part = dict[str, Any]


def across(panel: PanelValue) -> float:
    """What the strips' widths add up to."""
    return float(panel["height"] if panel.get("strips_along") == "x" else panel["width"])


def along(panel: PanelValue) -> float:
    """What the segments of each strip add up to."""
    return float(panel["width"] if panel.get("strips_along") == "x" else panel["height"])


def with_strips(panel: PanelValue, strips: list[Part]) -> PanelValue:
    """The panel with these strips instead of its background."""
    made = {key: value for key, value in panel.items() if key not in ("strips", "wood", "grain")}
    return made | {"strips": strips}


def strips_of(panel: PanelValue) -> list[Part]:
    """The panel's strips; a plain background is a single one."""
    if "strips" in panel:
        return [dict(strip) for strip in panel["strips"]]
    return [{"width": across(panel), "wood": panel["wood"]}]


def even_strips(panel: PanelValue, count: int, woods: list[str]) -> PanelValue:
    """Divide the panel into `count` strips of one width, their woods taken in turn."""
    widths = _parts(across(panel), count)
    return with_strips(panel, [{"width": w, "wood": woods[i % len(woods)]} for i, w in enumerate(widths)])


def resized(panel: PanelValue, **sizes: float) -> PanelValue:
    """Another width or height; strips and segments keep their share of it."""
    before = across(panel), along(panel)
    made = panel | sizes
    if "strips" not in made:
        return made
    strips = strips_of(made)
    if across(made) != before[0]:
        widths = _scaled([strip["width"] for strip in strips], across(made))
        strips = [strip | {"width": width} for strip, width in zip(strips, widths, strict=True)]
    if along(made) != before[1]:
        strips = [_scaled_segments(strip, along(made)) for strip in strips]
    return made | {"strips": strips}


def turned(panel: PanelValue, direction: str) -> PanelValue:
    """Strips that run the other way, each with its share of the panel."""
    if direction == panel.get("strips_along", "y"):
        return panel
    made = panel | {"strips_along": direction}
    if "strips" not in panel:
        return made
    widths = _scaled([strip["width"] for strip in panel["strips"]], across(made))
    strips = [strip | {"width": width} for strip, width in zip(strips_of(panel), widths, strict=True)]
    return made | {"strips": [_scaled_segments(strip, along(made)) for strip in strips]}


def add_strip(panel: PanelValue, index: int, wood: str) -> PanelValue:
    """A new strip behind strip `index`, which gives it half its width."""
    strips = strips_of(panel)
    first, second = _halves(strips[index]["width"], "strip")
    strips[index : index + 1] = [strips[index] | {"width": first}, {"width": second, "wood": wood}]
    return with_strips(panel, strips)


def remove_strip(panel: PanelValue, index: int) -> PanelValue:
    """Remove strip `index`; its neighbour takes its width."""
    return with_strips(panel, _without(strips_of(panel), index, "width", "strip"))


def strip_width(panel: PanelValue, index: int, width: float) -> PanelValue:
    """Another width for strip `index`, at its neighbour's cost."""
    return with_strips(panel, _exchanged(strips_of(panel), index, "width", width))


def move_strip(panel: PanelValue, index: int, step: int) -> PanelValue:
    """Strip `index` one place further (step 1) or back (-1)."""
    strips = strips_of(panel)
    strips.insert(index + step, strips.pop(index))
    return with_strips(panel, strips)


def strip_wood(panel: PanelValue, index: int, wood: str) -> PanelValue:
    """Strip `index` of one wood."""
    strips = strips_of(panel)
    strips[index] = _without_key(strips[index], "segments") | {"wood": wood}
    return with_strips(panel, strips)


def segments_of(panel: PanelValue, index: int) -> list[Part]:
    """The segments of strip `index`, just one where it is a single wood."""
    strip = strips_of(panel)[index]
    return [dict(s) for s in strip.get("segments") or [{"length": along(panel)} | _without_key(strip, "width")]]


def with_segments(panel: PanelValue, index: int, segments: list[Part]) -> PanelValue:
    """Strip `index` with these segments; neighbours of one wood stay apart, a single one is the strip's wood."""
    strips = strips_of(panel)
    width = strips[index]["width"]
    single = len(segments) == 1
    made = _without_key(segments[0], "length") if single else {"segments": segments}
    strips[index] = {"width": width} | made
    return with_strips(panel, strips)


def _without_key(part: Part, gone: str) -> Part:
    return {key: value for key, value in part.items() if key != gone}


def split_strip(panel: PanelValue, index: int, count: int, woods: list[str]) -> PanelValue:
    """Strip `index` cut into segments of one length, their woods taken in turn."""
    lengths = _parts(along(panel), count)
    segments = [{"length": length, "wood": woods[i % len(woods)]} for i, length in enumerate(lengths)]
    return with_segments(panel, index, segments)


def add_segment(panel: PanelValue, strip: int, index: int, wood: str) -> PanelValue:
    """A new segment behind segment `index`, which gives it half its length."""
    segments = segments_of(panel, strip)
    first, second = _halves(segments[index]["length"], "segment")
    segments[index : index + 1] = [segments[index] | {"length": first}, {"length": second, "wood": wood}]
    return with_segments(panel, strip, segments)


def remove_segment(panel: PanelValue, strip: int, index: int) -> PanelValue:
    """Remove a segment; its neighbour takes its length."""
    return with_segments(panel, strip, _without(segments_of(panel, strip), index, "length", "segment"))


def segment_length(panel: PanelValue, strip: int, index: int, length: float) -> PanelValue:
    """Another length for a segment, at its neighbour's cost."""
    return with_segments(panel, strip, _exchanged(segments_of(panel, strip), index, "length", length))


def segment_wood(panel: PanelValue, strip: int, index: int, wood: str) -> PanelValue:
    """Another wood for a segment."""
    segments = segments_of(panel, strip)
    segments[index] = segments[index] | {"wood": wood}
    return with_segments(panel, strip, segments)


def strip_sawn(panel: PanelValue, index: int, values: dict[str, Any]) -> PanelValue:
    """Strip `index`, of one wood, with another cut or board; None takes one out."""
    strips = strips_of(panel)
    strips[index] = _changed(strips[index], values)
    return with_strips(panel, strips)


def segment_sawn(panel: PanelValue, strip: int, index: int, values: dict[str, Any]) -> PanelValue:
    """A segment with another cut or board; None takes one out."""
    segments = segments_of(panel, strip)
    segments[index] = _changed(segments[index], values)
    return with_segments(panel, strip, segments)


def _changed(part: Part, values: dict[str, Any]) -> Part:
    return {key: value for key, value in (part | values).items() if value is not None}


def repeat_strips(panel: PanelValue, first: int, last: int, times: int) -> PanelValue:
    """The pattern of strips `first` to `last` so many times in all, within the width that it had."""
    strips = strips_of(panel)
    pattern = strips[first : last + 1]
    room = math.fsum(strip["width"] for strip in pattern)
    widths = _scaled([strip["width"] for strip in pattern] * times, room)
    repeated = [dict(strip) | {"width": width} for strip, width in zip(pattern * times, widths, strict=True)]
    strips[first : last + 1] = repeated
    return with_strips(panel, _filling(strips, "width", across(panel)))


def swap_woods(panel: PanelValue, one: str, other: str) -> PanelValue:
    """Each of two woods where the other was."""
    swap = {one: other, other: one}
    if "strips" not in panel:
        return panel | {"wood": swap.get(panel["wood"], panel["wood"])}
    strips = strips_of(panel)
    for strip in strips:
        if "segments" in strip:
            strip["segments"] = [s | {"wood": swap.get(s["wood"], s["wood"])} for s in strip["segments"]]
        else:
            strip["wood"] = swap.get(strip["wood"], strip["wood"])
    return panel | {"strips": strips}


def woods_of(panel: PanelValue) -> list[str]:
    """The background's woods, each once, in order."""
    parts = [part for strip in strips_of(panel) for part in strip.get("segments") or [strip]]
    return list(dict.fromkeys(part["wood"] for part in parts))


def _parts(whole: float, count: int) -> list[float]:
    """Equal parts in hundredths of a millimetre; the last one takes what is over."""
    each = _tidy(round(whole / count, 2))
    return _checked([each] * (count - 1) + [_tidy(whole - each * (count - 1))])


def _scaled(parts: list[float], whole: float) -> list[float]:
    """The parts in their proportions, in hundredths, filling the whole."""
    factor = whole / math.fsum(parts)
    scaled = [_tidy(round(part * factor, 2)) for part in parts[:-1]]
    return _checked([*scaled, _tidy(whole - math.fsum(scaled))])


def _checked(parts: list[float]) -> list[float]:
    if min(parts) < LEAST:
        problem = f"a part would be {min(parts):.2f} mm, less than the {LEAST:.2f} mm that can be glued up"
        raise UnusableInput("", "panel", problem, "Make fewer or wider parts")
    return parts


def _scaled_segments(strip: Part, whole: float) -> Part:
    if "segments" not in strip:
        return strip
    lengths = _scaled([segment["length"] for segment in strip["segments"]], whole)
    segments = [s | {"length": length} for s, length in zip(strip["segments"], lengths, strict=True)]
    return strip | {"segments": segments}


def _halves(size: float, what: str) -> tuple[float, float]:
    if size < 2 * LEAST:
        raise UnusableInput("", "panel", f"the {what} of {size:.2f} mm is too small to halve", "Widen it first")
    first = _tidy(round(size / 2, 2))
    return first, _tidy(size - first)


def _without(parts: list[Part], index: int, key: str, what: str) -> list[Part]:
    if len(parts) == 1:
        raise UnusableInput("", "panel", f"the last {what} cannot be removed", "Change its wood instead")
    removed = parts.pop(index)
    heir = min(index, len(parts) - 1)
    parts[heir] = parts[heir] | {key: _tidy(parts[heir][key] + removed[key])}
    return parts


def _exchanged(parts: list[Part], index: int, key: str, size: float) -> list[Part]:
    """A part's size, its neighbour making up for it; within what the two have together."""
    if len(parts) == 1:
        return parts  # it fills the whole by itself
    other = index + 1 if index + 1 < len(parts) else index - 1
    both = parts[index][key] + parts[other][key]
    if both < 2 * LEAST:
        return parts
    size = min(max(size, LEAST), both - LEAST)
    parts[index] = parts[index] | {key: _tidy(size)}
    parts[other] = parts[other] | {key: _tidy(both - size)}
    return parts


def _filling(parts: list[Part], key: str, whole: float) -> list[Part]:
    """The last part makes up for what rounding left."""
    rest = math.fsum(part[key] for part in parts[:-1])
    return [*parts[:-1], parts[-1] | {key: _tidy(whole - rest)}]


def _tidy(size: float) -> float:
    """Sweep off the dust of a subtraction, far below the format's tolerance for sums; 60, not 60.0."""
    tidy = round(size, 9)
    return int(tidy) if tidy == int(tidy) else tidy
