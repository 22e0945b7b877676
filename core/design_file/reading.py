"""Reading a design file (``NAME.panel.json``) strictly: each key is known and sound, or nothing is read.

The tables below are the format. `docs/design-file.md` says the same in the maker's words.
"""

from __future__ import annotations

import contextlib
import json
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import fields
from difflib import get_close_matches
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from typing import Any

from ..design import (
    Accepted,
    Design,
    Frame,
    GluedBlank,
    LineOutline,
    OutlineSource,
    Panel,
    PathOutline,
    Piece,
    PolygonOutline,
    Segment,
    StockBoard,
    Strip,
    Stripe,
    SvgOutline,
    Workshop,
    radius_at_face,
)
from ..errors import UnusableInput
from ..folders import beside, read_file
from ..limits import (
    LARGEST_DEPTH,
    LARGEST_PANEL,
    LARGEST_RADIUS,
    MOST_AFTER,
    MOST_ENTRIES,
    MOST_PIECES,
    MOST_SEGMENTS,
    MOST_STOCK,
    MOST_STRIPS,
    MOST_WOODS,
    refuse_beyond,
)
from ..outlines.path_data import closed_subpaths
from .json_values import (
    Key,
    Reader,
    any_number,
    choice,
    colour,
    distance,
    flag,
    json_object,
    listing,
    name,
    number,
    optional,
    point,
    points,
    refuse,
    ring,
    shown,
    size,
    table,
    text,
    whole,
)
from .own_woods import own_woods, wood_entry

FORMAT = "grainstack-panel"
VERSION = 1
SUM_TOLERANCE = 1e-6
"""Strips must fill the panel, and segments their strip, within this many mm."""
TAPER_LIMIT = 45.0

# --- The format -------------------------------------------------------------------------------------------


def piece_id(value: Any, place: str) -> str:
    """A piece's id, which also names its files."""
    if not isinstance(value, str) or not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_-]{0,62}", value):
        raise refuse(
            place,
            f"{shown(value)} cannot be an id",
            "Use up to 63 letters a-z, digits, - and _, and begin with a letter or digit",
        )
    if re.fullmatch(r"background-\d+-\d+", value):
        raise refuse(place, f'the id "{value}" is kept for the background', "Choose another id")
    return value


ONLY_ERRORS = ("bad-outline", "empty-fit", "unknown-wood", "unsound", "outside-panel", "not-proud", "trimmed-away")
"""Codes of findings that are errors at every place: these cannot be accepted."""


def finding_code(value: Any, place: str) -> str:
    """The code of a finding that can be accepted."""
    if not isinstance(value, str) or not re.fullmatch(r"[a-z]+(-[a-z]+)*", value):
        remedy = 'Write one as check prints it, such as "thin-wall"'
        raise refuse(place, f"{shown(value)} is not the code of a finding", remedy)
    if value in ONLY_ERRORS:
        raise refuse(place, f"{value} is an error, which cannot be accepted", "Take the entry out, and mend the error")
    return value


def _edges(value: Any, place: str) -> tuple[float, ...]:
    """One number for all four edges, or one each."""
    if isinstance(value, list):
        four: tuple[float, ...] = listing(distance, 4, 4, "numbers (left, right, bottom, top)")(value, place)
        return four
    return (distance(value, place),) * 4


_side = number(above=0, most=LARGEST_PANEL)
_depth = number(above=0, most=LARGEST_DEPTH)
_height = number(at_least=0, most=LARGEST_DEPTH)
_round = number(above=0, most=LARGEST_RADIUS)
_SAWN = {"cut": Key(choice("flat", "rift", "quarter"), None), "board": Key(whole(9999), None)}
"""From which board a piece of wood comes, and how that was sawn from its log."""
SEGMENT = {"length": Key(size), "wood": Key(name), **_SAWN}
STRIP = {
    "width": Key(size),
    "wood": Key(name, None),
    **_SAWN,
    "segments": Key(listing(table(SEGMENT), 1, MOST_STRIPS, "segments"), None),
}
PANEL = {
    "width": Key(_side),
    "height": Key(_side),
    "thickness": Key(_depth),
    "face_trim": Key(_height, 0.0),
    "edge_trim": Key(_edges, (0.0, 0.0, 0.0, 0.0)),
    "strips_along": Key(choice("x", "y"), "y"),
    "strips": Key(listing(table(STRIP), 1, MOST_STRIPS, "strips"), None),
    "wood": Key(name, None),
    "grain": Key(any_number, None),
}
_PER_PIECE: dict[str, Reader] = {
    "pocket_depth": _depth,
    "side_clearance": any_number,
    "strip_clearance": distance,
    "taper": number(at_least=0, below=TAPER_LIMIT),
    "floor_gap": _height,
    "cutter_diameter": _round,
    "corner_radius": _round,
}
"""What a piece may say for itself; what it leaves out comes from the workshop."""
_humidity = number(at_least=1, below=96)
"""%; in air damper still wood takes up water for as long as one likes, and no formula holds."""
_WORKSHOP: dict[str, Reader] = {
    **_PER_PIECE,
    "cutter_length": size,
    "proud": _height,
    "depth_error": number(at_least=-2, below=2),
    "board_width": size,
    "saw_kerf": number(at_least=0, most=20),
    "min_planing_length": size,
    "min_floor": distance,
    "min_wall": distance,
    "min_neck": distance,
    "min_neck_glued": distance,
    "min_skin": distance,
    "min_island": distance,
    "detail": size,
    "glue_colour": colour,
    "in_hand": listing(name, what="woods"),
    "humidity_low": _humidity,
    "humidity_high": _humidity,
    "temperature": number(at_least=-20, below=60),
}
WORKSHOP = {each.name: Key(_WORKSHOP[each.name], each.default) for each in fields(Workshop)}
_FRAME: dict[str, Reader] = {
    "wood": name,
    "profile": choice("square", "bevel", "round"),
    "width": size,
    "depth": size,
    "reveal": distance,
    "wall": colour,
    "caption": flag,
}
FRAME = {each.name: Key(_FRAME[each.name], each.default) for each in fields(Frame)}
OUTLINES: dict[str, dict[str, Key]] = {
    "polygon": {"polygon": Key(ring), "holes": Key(listing(ring, what="holes"), ())},
    "path": {"path": Key(name)},
    "line": {"line": Key(points), "width": Key(size), "smooth": Key(flag, False)},
    "svg": {"svg": Key(name), "element": Key(name, None)},
}
"""Each kind of outline, told by the first of its keys."""


def _outline(value: Any, place: str) -> dict[str, Any]:
    """Reads an outline of whichever kind its keys tell."""
    kinds = [kind for kind in OUTLINES if isinstance(value, dict) and kind in value]
    if isinstance(value, dict) and len(kinds) != 1:
        found = "says " + " and ".join(kinds) if kinds else "says no shape"
        raise refuse(place, f"the outline {found}", "Give exactly one of " + ", ".join(OUTLINES))
    kind = kinds[0] if kinds else "polygon"
    made: dict[str, Any] = table(OUTLINES[kind])(value, place)
    return made


STRIPE = {"wood": Key(name), "width": Key(number(at_least=0.5))}
BLANK = {"stripes": Key(listing(table(STRIPE), 2, what="stripes")), "shift": Key(any_number, 0.0)}
PIECE = {
    "id": Key(piece_id),
    "wood": Key(name),
    "outline": Key(_outline),
    "grain": Key(any_number, None),
    "at": Key(point, (0.0, 0.0)),
    "turn": Key(any_number, 0.0),
    "scale": Key(size, 1.0),
    "mirror": Key(flag, False),
    "fit": Key(choice("rounded", "as-drawn"), "rounded"),
    "after": Key(listing(piece_id, what="ids"), ()),
    "insert_thickness": Key(_depth, None),
    "leaves": Key(whole(99), 1),
    **_SAWN,
    "board_at": Key(point, None),
    "board_turn": Key(any_number, 0.0),
    "board_mirror": Key(flag, False),
    "blank": Key(table(BLANK), None),
    **{key: Key(reader, None) for key, reader in _PER_PIECE.items()},
}
ACCEPTED = {
    "code": Key(finding_code),
    "piece": Key(optional(piece_id), None),
    "other": Key(optional(piece_id), None),
    "value": Key(any_number),
    "places": Key(whole(MOST_ENTRIES), 1),
    "why": Key(name),
}
"""What the maker has looked at and accepts."""
STOCK = {
    "wood": Key(name),
    "length": Key(_side),
    "width": Key(_side),
    "thickness": Key(_depth),
    "count": Key(whole(MOST_STOCK), 1),
    "photo": Key(name, None),
}
"""Boards that the maker has."""
DESIGN = {
    "format": Key(text),
    "title": Key(text, ""),
    "woods": Key(listing(wood_entry, most=MOST_WOODS, what="woods"), ()),
    "panel": Key(table(PANEL)),
    "workshop": Key(table(WORKSHOP), {key: spec.default for key, spec in WORKSHOP.items()}),
    "frame": Key(table(FRAME), {key: spec.default for key, spec in FRAME.items()}),
    "stock": Key(listing(table(STOCK), most=MOST_STOCK, what="boards"), ()),
    "pieces": Key(listing(table(PIECE), most=MOST_PIECES, what="pieces"), ()),
    "accepted": Key(listing(table(ACCEPTED)), ()),
}


# --- From the file to the records -------------------------------------------------------------------------


def read_design(path: Path | str) -> Design:
    """Reads a design file.

    Args:
        path: the file; relative names inside it start from its folder.

    Returns:
        The design, every default filled in. Lengths in mm, angles in degrees.

    Raises:
        UnusableInput: the file cannot be read, is not JSON, or breaks a rule of the format.
    """
    return design_of(read_document(path), path)


def read_document(path: Path | str) -> Any:
    """The file's JSON value just as it stands, so that it can be written again; `design_of` checks it.

    Raises:
        UnusableInput: the file cannot be read, or is not JSON.
    """
    with _naming(path):
        return _json(Path(path))


def design_of(document: Any, path: Path | str, pieces: Sequence[Piece] | None = None) -> Design:
    """The design that a document says.

    Args:
        document: the JSON value of a design file.
        path: the file that it comes from or will be; relative names inside it start from its folder.
        pieces: its pieces where they were read before (by `piece_of`); the document's own are then not looked at.

    Raises:
        UnusableInput: it breaks a rule of the format.
    """
    with _naming(path):
        return _design(document, Path(path), pieces)


def piece_of(entry: Any, workshop: Workshop, folder: Path, place: str) -> Piece:
    """One piece of a document, by itself.

    Raises:
        UnusableInput: it breaks a rule of the format; its place starts with `place`.
    """
    return _piece(table(PIECE)(entry, place), workshop, folder, place)


@contextlib.contextmanager
def _naming(path: Path | str) -> Iterator[None]:
    """What is refused names the file."""
    try:
        yield
    except RecursionError:
        raise UnusableInput(str(path), "", "it is nested too deeply", "A design has six levels") from None
    except UnusableInput as refused:
        raise UnusableInput(str(path), refused.place, refused.problem, refused.remedy) from None


def _json(path: Path) -> Any:
    """The file's JSON value."""
    content = read_file(path, "", "Name the .panel.json file in it")
    try:
        words = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refuse(f"byte {error.start}", "the file is not UTF-8 text", "Save it as UTF-8") from None
    if not words.strip():
        raise refuse("", "the file is empty", "Write a design, or copy one of the examples")
    try:
        return json.loads(words, object_pairs_hook=json_object, parse_int=_whole)
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        remedy = "Look for a missing comma, quote or bracket there"
        raise refuse(where, f"this is not JSON: {error.msg}", remedy) from None


def _whole(digits: str) -> float:
    """Whole numbers may have any length in JSON; one beyond float64 is refused later as not finite."""
    return int(digits) if len(digits) < 300 else float(digits)


def _design(value: Any, path: Path, known: Sequence[Piece] | None) -> Design:
    if not isinstance(value, dict):
        raise refuse("", f"the file holds {shown(value)}, not a design", "Write it in curly brackets { }")
    _check_format(value)
    read = table(DESIGN)(value if known is None else {**value, "pieces": []}, "")
    workshop = Workshop(**read["workshop"])
    _check_cutter(workshop, "workshop", workshop.corner_radius)
    _check_climate(workshop)
    pieces = tuple(known or ()) or tuple(
        _piece(entry, workshop, path.parent, f'pieces[{index}] "{entry["id"]}"')
        for index, entry in enumerate(read["pieces"])
    )
    _check_ids(pieces)
    _check_after(pieces)
    panel, frame, woods = _panel(read["panel"]), Frame(**read["frame"]), own_woods(read["woods"], path.parent)
    accepted = tuple(Accepted(**entry) for entry in read["accepted"])
    stock = _stock(read["stock"], path.parent)
    return Design(read["title"], panel, workshop, pieces, path.parent, str(path), frame, woods, accepted, stock)


def _check_format(value: dict[str, Any]) -> None:
    """Comes before all else: a newer file may well have keys that are unknown here."""
    said = value.get("format")
    newest = f"{FORMAT}/{VERSION}"
    if said is None:
        raise refuse("", 'the key "format" is missing', f'Begin the file with "format": "{newest}"')
    match = re.fullmatch(rf"{FORMAT}/([1-9][0-9]{{0,5}})", said) if isinstance(said, str) else None
    if match is None:
        raise refuse("format", f"{shown(said)} is not a design's format", f'Write "{newest}"')
    if int(match[1]) > VERSION:
        raise refuse(
            "format",
            f"the file has the newer format {match[1]}, whose keys this Grainstack (format {VERSION}) would misread",
            "Open it with a newer Grainstack",
        )


def _check_climate(workshop: Workshop) -> None:
    low, high = workshop.humidity_low, workshop.humidity_high
    if low >= high:
        problem = f"{low:g} % is not below the damp season's {high:g} %"
        raise refuse("workshop.humidity_low", problem, f"Give less than {high:g}, or a greater humidity_high")


def _stock(read: tuple[dict[str, Any], ...], folder: Path) -> tuple[StockBoard, ...]:
    """The boards; each is shown on the sheet, so there is an end to their number."""
    for index, entry in enumerate(read):
        if entry["photo"] is not None:
            beside(folder, entry["photo"], f"stock[{index}].photo")
    boards = sum(entry["count"] for entry in read)
    refuse_beyond(boards, MOST_STOCK, "boards in stock", "List those that you mean to use for this panel", "stock")
    return tuple(StockBoard(**entry) for entry in read)


# --- The panel --------------------------------------------------------------------------------------------


def _panel(read: dict[str, Any]) -> Panel:
    width, height, along = read["width"], read["height"], read["strips_along"]
    if (read["strips"] is None) == (read["wood"] is None):
        found = "neither strips nor a wood" if read["wood"] is None else "both strips and a wood"
        raise refuse("panel", f"the background has {found}", 'Give exactly one of "strips" and "wood"')
    if read["face_trim"] >= read["thickness"]:
        raise refuse("panel.face_trim", "the face trim takes the whole panel off", "Trim less")
    left, right, bottom, top = read["edge_trim"]
    if left + right >= width or bottom + top >= height:
        raise refuse("panel.edge_trim", "the edge trim takes the whole panel off", "Trim less")
    across, length = (width, height) if along == "y" else (height, width)
    if read["strips"] is None:
        grain = read["grain"] if read["grain"] is not None else (0.0 if width >= height else 90.0)
    elif read["grain"] is not None:
        raise refuse("panel.grain", "strips have their grain along the strip", "Remove this key")
    else:
        grain = 90.0 if along == "y" else 0.0
    strips = _strips(read["strips"] or (), across, length)
    return Panel(**{**read, "strips": strips, "grain": grain})


def _strips(read: tuple[dict[str, Any], ...], across: float, length: float) -> tuple[Strip, ...]:
    """The strips; their widths add up to `across`, the segments of each to `length`."""
    strips = []
    for index, entry in enumerate(read):
        place = f"panel.strips[{index}]"
        if (entry["wood"] is None) == (entry["segments"] is None):
            found = "neither a wood nor segments" if entry["wood"] is None else "both a wood and segments"
            raise refuse(place, f"the strip has {found}", 'Give exactly one of "wood" and "segments"')
        sawn = {key: entry[key] for key in _SAWN}
        if entry["segments"] is not None and any(sawn.values()):
            raise refuse(place, "a strip of segments has no cut and board of its own", "Give them to its segments")
        single = [{"length": length, "wood": entry["wood"], **sawn}]
        segments = [Segment(**each) for each in entry["segments"] or single]
        _check_sum([each.length for each in segments], length, f"{place}.segments", "segments", "strip is", "long")
        strips.append(Strip(entry["width"], tuple(segments)))
    count = sum(len(strip.segments) for strip in strips)
    refuse_beyond(count, MOST_SEGMENTS, "segments", "Make the panel of fewer, longer ones", "panel.strips")
    if strips:
        _check_sum([each.width for each in strips], across, "panel.strips", "strips", "panel is", "across them")
    return tuple(strips)


def _check_sum(parts: list[float], whole: float, place: str, what: str, is_: str, direction: str) -> None:
    total = math.fsum(parts)
    if abs(total - whole) > SUM_TOLERANCE:
        # Two decimals, unless they would hide the difference.
        digits = 2 if abs(total - whole) >= 0.005 else 7
        sums = f"the {what} add up to {total:.{digits}f} mm, the {is_} {whole:.{digits}f} mm {direction}"
        change = f"{'Take off' if total > whole else 'Add'} {abs(total - whole):.{digits}f} mm"
        raise refuse(place, sums, change)


# --- The pieces -------------------------------------------------------------------------------------------


def _piece(entry: dict[str, Any], workshop: Workshop, folder: Path, place: str) -> Piece:
    own = {key: getattr(workshop, key) if entry[key] is None else entry[key] for key in _PER_PIECE}
    thickness = entry["insert_thickness"]
    outline = _source(entry["outline"], folder, place)
    least = radius_at_face(own["cutter_diameter"], own["pocket_depth"], own["taper"])
    piece = Piece(
        **{
            **entry,
            **own,
            "outline": outline,
            "insert_thickness": own["pocket_depth"] + workshop.proud if thickness is None else thickness,
            "corner_radius": least if own["corner_radius"] is None else own["corner_radius"],
            "after": tuple(dict.fromkeys(entry["after"])),
            "blank": _blank(entry["blank"]),
        }
    )
    _check_cutter(piece, place, own["corner_radius"])
    if piece.blank and piece.leaves > 1:
        raise refuse(f"{place}.blank", "a glued-up blank has no leaves as well", 'Keep one of "blank" and "leaves"')
    if piece.blank and piece.is_groove:
        raise refuse(f"{place}.blank", "a groove is filled with a strip of one wood", "Remove this key")
    if isinstance(outline, LineOutline):
        _check_line(piece, outline, place)
    _check_fit(piece, place)
    return piece


def _blank(read: dict[str, Any] | None) -> GluedBlank | None:
    return None if read is None else GluedBlank(tuple(Stripe(**each) for each in read["stripes"]), read["shift"])


def _source(read: dict[str, Any], folder: Path, place: str) -> OutlineSource:
    if "polygon" in read:
        return PolygonOutline(read["polygon"], read["holes"])
    if "path" in read:
        closed_subpaths(read["path"], f"{place}.outline.path")
        return PathOutline(read["path"])
    if "line" in read:
        return LineOutline(read["line"], read["width"], read["smooth"])
    beside(folder, read["svg"], f"{place}.outline.svg")
    return SvgOutline(read["svg"], read["element"])


def _check_cutter(cut: Workshop | Piece, place: str, corner_radius: float | None) -> None:
    """What cutter, corners, clearance and floor gap must keep to, in the workshop and in each piece."""
    radius = cut.cutter_diameter / 2
    least = radius_at_face(cut.cutter_diameter, cut.pocket_depth, cut.taper)
    if corner_radius is not None and corner_radius < least - 1e-9:
        raise refuse(
            f"{place}.corner_radius",
            f"{corner_radius:.2f} mm is less than the {least:.2f} mm that the cutter leaves at the face",
            f"Give {math.ceil(least * 100) / 100:.2f} mm or more, or a smaller cutter",
        )
    clearance = f"{place}.side_clearance"
    if cut.side_clearance >= radius:
        remedy = f"Give less than {radius:.2f} mm"
        raise refuse(clearance, f"{cut.side_clearance:.2f} mm is not below the cutter's radius", remedy)
    if cut.side_clearance < 0 and cut.taper == 0:
        remedy = "Give 0 or more, or a taper"
        problem = f"{cut.side_clearance:.2f} mm is more than goes in between straight walls"
        raise refuse(clearance, problem, remedy)
    if cut.floor_gap >= cut.pocket_depth:
        remedy = f"Give less than the pocket's depth of {cut.pocket_depth:.2f} mm"
        raise refuse(f"{place}.floor_gap", f"{cut.floor_gap:.2f} mm leaves no room for the insert", remedy)


def _check_fit(piece: Piece, place: str) -> None:
    if piece.fit == "as-drawn" and piece.taper:
        remedy = 'Write "rounded", or give this piece a taper of 0'
        raise refuse(f"{place}.fit", "leaning walls cannot be fitted as drawn", remedy)


def _check_line(piece: Piece, line: LineOutline, place: str) -> None:
    if piece.fit == "as-drawn":
        raise refuse(f"{place}.fit", "a line cannot be fitted as drawn", 'Write "rounded" or leave the key out')
    width = line.width * piece.scale
    if 2 * piece.strip_clearance >= width:
        remedy = f"Give less than half the line's width of {width:.2f} mm"
        problem = f"{piece.strip_clearance:.2f} mm per side leaves no strip"
        raise refuse(f"{place}.strip_clearance", problem, remedy)


def _check_ids(pieces: tuple[Piece, ...]) -> None:
    seen: dict[str, int] = {}
    for index, piece in enumerate(pieces):
        place = f'pieces[{index}] "{piece.id}".id'
        # Each piece becomes a file of its own, and some systems do not tell capitals from small letters.
        first = seen.setdefault(piece.id.lower(), index)
        if first != index:
            same = f'pieces[{first}] has the id "{pieces[first].id}"'
            case = "" if pieces[first].id == piece.id else ", and files do not tell capitals apart everywhere"
            raise refuse(place, f'the id "{piece.id}" is taken: {same}{case}', "Give each piece an id of its own")


def _check_after(pieces: tuple[Piece, ...]) -> None:
    """Every id in `after` is another piece's, and no ring runs through them."""
    known = {piece.id for piece in pieces}
    links = sum(len(piece.after) for piece in pieces)
    refuse_beyond(links, MOST_AFTER, "ids in after lists", "Name only the pieces that come just before", "pieces")
    for index, piece in enumerate(pieces):
        place = f'pieces[{index}] "{piece.id}".after'
        for other in piece.after:
            if other == piece.id:
                raise refuse(place, "the piece comes after itself", "Remove its own id")
            if other not in known:
                near = get_close_matches(other, known, n=1)
                remedy = f'Did you mean "{near[0]}"?' if near else "Name the id of another piece"
                raise refuse(place, f'there is no piece "{other}"', remedy)
    try:
        TopologicalSorter({piece.id: piece.after for piece in pieces}).prepare()
    except CycleError as error:
        ring_ids = ", ".join(f'"{each}"' for each in error.args[1])
        index = next(i for i, piece in enumerate(pieces) if piece.id == error.args[1][0])
        place = f'pieces[{index}] "{pieces[index].id}".after'
        problem = f"these pieces wait for each other in a ring: {ring_ids}"
        raise refuse(place, problem, "Take one of them out of another's after") from None
