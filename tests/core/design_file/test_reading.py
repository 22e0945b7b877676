"""The design file: every rule of the format, kept and broken; and files mangled at random."""

import copy
import json
import math
import os
import random
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core import limits
from core.design import Design, LineOutline, PathOutline, PolygonOutline, Segment, SvgOutline, Workshop
from core.design_file.own_woods import COLOURS, MEASURED, PHOTO, WOOD
from core.design_file.reading import (
    ACCEPTED,
    BLANK,
    DESIGN,
    FRAME,
    OUTLINES,
    PANEL,
    PIECE,
    SEGMENT,
    STOCK,
    STRIP,
    STRIPE,
    WORKSHOP,
    read_design,
)
from core.errors import UnusableInput

DATA = Path(__file__).parents[2] / "data"
CODE = re.compile("`([^`]+)`")
DOCS = Path(__file__).parents[3] / "docs" / "design-file.md"

POND = {
    "format": "grainstack-panel/1",
    "title": "Koi pond",
    "panel": {
        "width": 600, "height": 400, "thickness": 19, "face_trim": 0.5, "edge_trim": 10, "strips_along": "y",
        "strips": [
            {"width": 60, "wood": "black walnut"},
            {"width": 40, "segments": [{"length": 250, "wood": "hard maple"}, {"length": 150, "wood": "cherry"}]},
            {"width": 500, "wood": "sapele"},
        ],
    },
    "workshop": {
        "cutter_diameter": 3.175, "side_clearance": 0.1, "taper": 0, "pocket_depth": 6, "proud": 1.5, "floor_gap": 0,
        "strip_clearance": 0.03, "board_width": 150, "min_floor": 5, "min_wall": 3, "min_neck": 3,
        "min_neck_glued": 1, "min_skin": 1, "min_island": 3,
    },
    "pieces": [
        {
            "id": "koi-1", "wood": "padauk", "grain": 30, "outline": {"svg": "koi.svg", "element": "body"},
            "at": [210, 140], "turn": 15, "scale": 1.0, "mirror": False, "pocket_depth": 6, "insert_thickness": 7.5,
            "fit": "rounded",
        },
        {
            "id": "pad-1", "wood": "hard maple", "grain": 0, "after": ["koi-1"], "at": [100, 100],
            "outline": {
                "polygon": [[0, 0], [80, 0], [80, 60], [0, 60]],
                "holes": [[[20, 20], [30, 20], [30, 30], [20, 30]]],
            },
        },
        {"id": "petal-1", "wood": "holly", "outline": {"path": "M 0 0 C 10 20 30 20 40 0 Z"}, "at": [400, 200]},
        {
            "id": "reed-1", "wood": "holly",
            "outline": {"line": [[50, 20], [60, 120], [90, 200]], "width": 3.175, "smooth": True},
        },
    ],
}  # fmt: skip
"""The example of the format's description."""


@pytest.fixture
def read(tmp_path):
    def written(content):
        file = tmp_path / "pond.panel.json"
        if isinstance(content, bytes):
            file.write_bytes(content)
        else:
            file.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
        return read_design(file)

    return written


def changed(*steps):
    """The pond with each (path, value) set; `...` as the value removes the key."""
    design = copy.deepcopy(POND)
    for path, value in steps:
        *way, last = path
        spot = design
        for key in way:
            spot = spot[key]
        if value is ...:
            del spot[last]
        else:
            spot[last] = value
    return design


def plain(**more):
    """The least that a design must say."""
    return {
        "format": "grainstack-panel/1",
        "panel": {"width": 300, "height": 200, "thickness": 19, "wood": "koa"},
    } | more


def test_the_example_is_read(read):
    design = read(POND)
    assert design.title == "Koi pond"
    assert design.panel.edge_trim == (10, 10, 10, 10)
    assert design.panel.strips[0].segments == (Segment(400, "black walnut"),)
    assert design.panel.strips[1].segments == (Segment(250, "hard maple"), Segment(150, "cherry"))
    koi, pad, petal, reed = design.pieces
    assert (koi.grain, koi.at, koi.turn, koi.insert_thickness) == (30, (210, 140), 15, 7.5)
    assert koi.outline == SvgOutline("koi.svg", "body")
    assert isinstance(pad.outline, PolygonOutline)
    assert pad.after == ("koi-1",)
    assert petal.outline == PathOutline("M 0 0 C 10 20 30 20 40 0 Z")
    assert isinstance(reed.outline, LineOutline)
    assert reed.is_groove


def test_what_is_left_out_has_its_default(read):
    design = read(plain(pieces=[{"id": "a", "wood": "pear", "outline": {"path": "M0 0H9V9Z"}}]))
    assert design.title == ""
    assert design.workshop == Workshop()
    panel, piece = design.panel, design.pieces[0]
    assert (panel.face_trim, panel.edge_trim, panel.strips, panel.strips_along) == (0, (0, 0, 0, 0), (), "y")
    assert (piece.at, piece.turn, piece.scale, piece.mirror, piece.fit, piece.after) == (
        (0, 0),
        0,
        1,
        False,
        "rounded",
        (),
    )
    assert (piece.grain, piece.pocket_depth, piece.insert_thickness) == (None, 6, 7.5)
    assert (piece.cutter_diameter, piece.corner_radius, piece.side_clearance) == (3.175, 1.5875, 0.1)


def test_a_design_may_have_no_pieces(read):
    assert read(plain()).pieces == read(plain(pieces=[])).pieces == ()


@pytest.mark.parametrize(("width", "height", "grain"), [(300, 200, 0), (200, 300, 90), (200, 200, 0)])
def test_a_plain_background_has_its_grain_along_the_longer_side(read, width, height, grain):
    panel = {"width": width, "height": height, "thickness": 19, "wood": "koa"}
    assert read(plain(panel=panel)).panel.grain == grain
    assert read(plain(panel=panel | {"grain": 12})).panel.grain == 12


def test_strips_may_run_along_x(read):
    panel = {"width": 300, "height": 200, "thickness": 19, "strips_along": "x"}
    strips = [{"width": 150, "wood": "koa"}, {"width": 50, "segments": [{"length": 300, "wood": "pear"}]}]
    found = read(plain(panel=panel | {"strips": strips})).panel
    assert found.grain == 0
    assert found.strips[0].segments == (Segment(300, "koa"),)


def test_edge_trim_by_edge(read):
    assert read(changed((("panel", "edge_trim"), [1, 2, 3, 4]))).panel.edge_trim == (1, 2, 3, 4)


def test_a_piece_takes_from_the_workshop_what_it_leaves_out(read):
    steps = [(("workshop", key), value) for key, value in {"taper": 3, "pocket_depth": 4, "proud": 2}.items()]
    koi, pad, *_ = read(changed(*steps, (("pieces", 0, "taper"), 0))).pieces
    assert (koi.taper, koi.pocket_depth, koi.corner_radius) == (0, 6, 1.5875)
    assert (pad.taper, pad.pocket_depth, pad.insert_thickness) == (3, 4, 6)
    # The tapered cutter's radius at the face: r + depth x tan(taper), plane trigonometry (DERIVED).
    assert pad.corner_radius == pytest.approx(1.5875 + 4 * math.tan(math.radians(3)), rel=1e-15)


def test_sums_hold_within_a_millionth(read):
    read(changed((("panel", "strips", 2, "width"), 500 + 0.9e-6)))
    with pytest.raises(UnusableInput, match=r"panel.strips: the strips add up to 600.0000011 mm"):
        read(changed((("panel", "strips", 2, "width"), 500 + 1.1e-6)))


def test_a_negative_clearance_goes_with_a_taper(read):
    steps = [(("pieces", 1, "taper"), 3), (("pieces", 1, "side_clearance"), -0.1)]
    assert read(changed(*steps)).pieces[1].side_clearance == -0.1


def test_a_byte_order_mark_is_no_harm(read):
    assert read(b"\xef\xbb\xbf" + json.dumps(POND).encode()).title == "Koi pond"


def test_the_file_is_named_as_the_maker_named_it(tmp_path, monkeypatch):
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "b.panel.json").write_text(json.dumps(plain()))
    monkeypatch.chdir(tmp_path)
    design = read_design("a/b.panel.json")
    assert (design.file, design.folder) == (os.path.join("a", "b.panel.json"), Path("a"))
    with pytest.raises(UnusableInput) as refused:
        read_design("a/c.panel.json")
    assert (
        str(refused.value) == f"{os.path.join('a', 'c.panel.json')}: there is no such file. Check its name and folder."
    )


LINE = {"line": [[0, 0], [9, 0]], "width": 3}
BOARD = {"wood": "holly", "length": 600, "width": 110, "thickness": 26}
P0, P1, P3 = ("pieces", 0), ("pieces", 1), ("pieces", 3)
BROKEN = [
    # steps, place, words
    ([(("wrokshop",), {})], "", 'unknown key "wrokshop". Did you mean "workshop"?'),
    ([(("panel", "hight"), 5)], "panel", 'unknown key "hight". Did you mean "height"?'),
    ([((*P3, "qqq"), 5)], 'pieces[3] "reed-1"', 'unknown key "qqq". Remove it; known here are id, wood'),
    ([((*P0, "outline", "widht"), 5)], 'pieces[0] "koi-1".outline', 'unknown key "widht"'),
    ([((*P1, "outline", "smooth"), True)], 'pieces[1] "pad-1".outline', 'unknown key "smooth"'),
    ([(("panel", "thickness"), ...)], "panel", 'the key "thickness" is missing'),
    ([(("panel",), ...)], "", 'the key "panel" is missing'),
    ([((*P0, "id"), ...)], "pieces[0]", 'the key "id" is missing'),
    ([((*P0, "wood"), ...)], 'pieces[0] "koi-1"', 'the key "wood" is missing'),
    ([((*P0, "outline"), ...)], 'pieces[0] "koi-1"', 'the key "outline" is missing'),
    ([((*P3, "outline", "width"), ...)], 'pieces[3] "reed-1".outline', 'the key "width" is missing'),
    ([(("format",), ...)], "", 'the key "format" is missing'),
    ([(("format",), "grainstack-panel/2")], "format", "newer format 2"),
    ([(("format",), "grainstack-panel/99"), (("new key",), 1)], "format", "newer Grainstack"),
    ([(("format",), "grainstack-check/1")], "format", "is not a design's format"),
    ([(("format",), 1)], "format", "is not a design's format"),
    ([(("title",), 5)], "title", "5 is not text"),
    ([(("title",), "two\nlines")], "title", "control character"),
    ([(("panel", "width"), "600")], "panel.width", '"600" is not a number'),
    ([(("panel", "width"), True)], "panel.width", "true is not a number"),
    ([(("panel", "width"), math.nan)], "panel.width", "not finite"),
    ([(("panel", "width"), math.inf)], "panel.width", "not finite"),
    ([(("panel", "width"), 10**400)], "panel.width", "not finite"),
    ([(("panel", "width"), 10**9)], "panel.width", "too large"),
    ([(("panel", "width"), 0)], "panel.width", "0 is too small"),
    ([(("panel", "thickness"), -19)], "panel.thickness", "-19 is too small"),
    ([(("panel", "face_trim"), -0.1)], "panel.face_trim", "It must be 0 or more"),
    ([(("panel", "face_trim"), 19)], "panel.face_trim", "takes the whole panel off"),
    ([(("panel", "edge_trim"), [1, 2, 3])], "panel.edge_trim", "the list has 3 numbers (left, right, bottom, top)"),
    ([(("panel", "edge_trim"), -1)], "panel.edge_trim", "too small"),
    ([(("panel", "edge_trim"), [300, 300, 0, 0])], "panel.edge_trim", "takes the whole panel off"),
    ([(("panel", "strips_along"), "z")], "panel.strips_along", 'Write "x" or "y"'),
    ([(("panel", "strips_along"), ["x"])], "panel.strips_along", "is not known here"),
    ([(("panel", "strips_along"), "x")], "panel.strips[1].segments", "the segments add up to 400.00 mm"),
    ([(("panel", "strips"), [])], "panel.strips", "at least 1"),
    ([(("panel", "strips", 0, "width"), 59)], "panel.strips", "add up to 599.00 mm, the panel is 600.00 mm across"),
    ([(("panel", "strips", 0, "wood"), ...)], "panel.strips[0]", "neither a wood nor segments"),
    ([(("panel", "strips", 1, "wood"), "koa")], "panel.strips[1]", "both a wood and segments"),
    ([(("panel", "strips", 1, "segments", 0, "length"), 251)], "panel.strips[1].segments", "Take off 1.00 mm"),
    ([(("panel", "strips"), ...)], "panel", "neither strips nor a wood"),
    ([(("panel", "wood"), "koa")], "panel", "both strips and a wood"),
    ([(("panel", "grain"), 5)], "panel.grain", "along the strip"),
    ([(("workshop", "taper"), -1)], "workshop.taper", "-1 is too small"),
    ([(("workshop", "taper"), 45)], "workshop.taper", "It must be less than 45"),
    ([(("workshop", "proud"), -1)], "workshop.proud", "too small"),
    ([(("workshop", "humidity_high"), 96)], "workshop.humidity_high", "It must be less than 96"),
    ([(("workshop", "humidity_low"), 60)], "workshop.humidity_low", "60 % is not below the damp season's 60 %"),
    ([(("workshop", "temperature"), 68)], "workshop.temperature", "It must be less than 60"),
    ([(("workshop", "in_hand"), "pear")], "workshop.in_hand", "Write woods in square brackets"),
    ([(("workshop", "saw_kerf"), -1)], "workshop.saw_kerf", "It must be 0 or more"),
    ([(("workshop", "min_planing_length"), 0)], "workshop.min_planing_length", "too small"),
    ([(("stock",), {"wood": "holly"})], "stock", "Write boards in square brackets"),
    ([(("stock",), [{"length": 9, "width": 9, "thickness": 9}])], "stock[0]", 'the key "wood" is missing'),
    ([(("stock",), [BOARD | {"width": 0}])], "stock[0].width", "too small"),
    ([(("stock",), [BOARD | {"count": 0}])], "stock[0].count", "too small"),
    ([(("stock",), [BOARD | {"count": 1.5}])], "stock[0].count", "is not a whole number"),
    ([(("stock",), [BOARD, BOARD | {"count": 500}])], "stock", "501 boards in stock are too many"),
    ([(("stock",), [BOARD | {"lenght": 3}])], "stock[0]", 'Did you mean "length"?'),
    ([(("stock",), [BOARD | {"photo": "../a.jpg"}])], "stock[0].photo", "leaves the design's folder"),
    ([(("workshop", "corner_radius"), 1.5)], "workshop.corner_radius", "less than the 1.59 mm"),
    ([((*P0, "corner_radius"), 1.5)], 'pieces[0] "koi-1".corner_radius', "less than the 1.59 mm"),
    ([((*P0, "taper"), 3), ((*P0, "corner_radius"), 1.6)], 'pieces[0] "koi-1".corner_radius', "1.91 mm or more"),
    ([(("workshop", "side_clearance"), 1.5875)], "workshop.side_clearance", "not below the cutter's radius"),
    ([((*P0, "side_clearance"), 2)], 'pieces[0] "koi-1".side_clearance', "Give less than 1.59 mm"),
    ([((*P0, "side_clearance"), -0.1)], 'pieces[0] "koi-1".side_clearance', "Give 0 or more, or a taper"),
    ([((*P0, "floor_gap"), 6)], 'pieces[0] "koi-1".floor_gap', "leaves no room"),
    ([((*P0, "cutter_diameter"), 0)], 'pieces[0] "koi-1".cutter_diameter', "too small"),
    ([((*P0, "insert_thickness"), 0)], 'pieces[0] "koi-1".insert_thickness', "too small"),
    ([((*P0, "scale"), 0)], 'pieces[0] "koi-1".scale', "too small"),
    ([((*P0, "scale"), -1)], 'pieces[0] "koi-1".scale', "too small"),
    ([((*P0, "mirror"), 1)], 'pieces[0] "koi-1".mirror', "neither true nor false"),
    ([((*P0, "fit"), "loose")], 'pieces[0] "koi-1".fit', 'Write "rounded" or "as-drawn"'),
    ([((*P0, "at"), [1])], 'pieces[0] "koi-1".at', "1 numbers (x and y)"),
    ([((*P0, "at"), [1, None])], 'pieces[0] "koi-1".at[1]', "null is not a number"),
    ([((*P0, "wood"), " ")], 'pieces[0] "koi-1".wood', "empty"),
    ([((*P0, "id"), "-koi")], 'pieces[0] "-koi".id', "cannot be an id"),
    ([((*P0, "id"), "koi 1")], "pieces[0].id", "cannot be an id"),
    ([((*P0, "id"), "x" * 64)], "pieces[0].id", "cannot be an id"),
    ([((*P0, "id"), "köi")], 'pieces[0] "köi".id', "cannot be an id"),
    ([((*P0, "id"), "koi\n")], "pieces[0].id", "cannot be an id"),
    ([((*P0, "id"), "background-1-2")], 'pieces[0] "background-1-2".id', "kept for the background"),
    ([((*P1, "id"), "koi-1"), ((*P1, "after"), [])], 'pieces[1] "koi-1".id', "is taken: pieces[0]"),
    ([((*P1, "id"), "KOI-1"), ((*P1, "after"), [])], 'pieces[1] "KOI-1".id', "capitals"),
    ([((*P1, "after"), ["pad-1"])], 'pieces[1] "pad-1".after', "after itself"),
    ([((*P1, "after"), ["koi-2"])], 'pieces[1] "pad-1".after', 'no piece "koi-2". Did you mean "koi-1"?'),
    ([((*P0, "after"), ["pad-1"])], ".after", "wait for each other in a ring"),
    ([((*P1, "after"), "koi-1")], 'pieces[1] "pad-1".after', "is not a list"),
    ([((*P0, "outline"), {})], 'pieces[0] "koi-1".outline', "says no shape. Give exactly one of polygon, path"),
    ([((*P0, "outline", "path"), "M0 0Z")], 'pieces[0] "koi-1".outline', "says path and svg"),
    ([((*P0, "outline"), "koi.svg")], 'pieces[0] "koi-1".outline', "is not an object"),
    ([((*P1, "outline", "polygon"), [[0, 0], [1, 1]])], 'pieces[1] "pad-1".outline.polygon', "2 points"),
    ([((*P1, "outline", "polygon", 2), [1, 2, 3])], 'pieces[1] "pad-1".outline.polygon[2]', "3 numbers"),
    ([((*P1, "outline", "holes"), [[]])], 'pieces[1] "pad-1".outline.holes[0]', "0 points"),
    ([(("pieces", 2, "outline", "path"), "M 0 0 L 5")], 'pieces[2] "petal-1".outline.path', "path data are bad"),
    ([(("pieces", 2, "outline", "path"), "M 0 0 L 5 5 9 0")], 'pieces[2] "petal-1".outline.path', "is open"),
    ([((*P3, "outline", "line"), [[0, 0]])], 'pieces[3] "reed-1".outline.line', "at least 2"),
    ([((*P3, "outline", "width"), 0)], 'pieces[3] "reed-1".outline.width', "too small"),
    ([((*P0, "fit"), "as-drawn"), ((*P0, "taper"), 3)], 'pieces[0] "koi-1".fit', "leaning walls cannot be fitted"),
    ([((*P0, "leaves"), 1.5)], 'pieces[0] "koi-1".leaves', "is not a whole number"),
    ([((*P0, "leaves"), 0)], 'pieces[0] "koi-1".leaves', "too small"),
    ([((*P3, "fit"), "as-drawn")], 'pieces[3] "reed-1".fit', "a line cannot be fitted as drawn"),
    ([((*P3, "strip_clearance"), 1.6)], 'pieces[3] "reed-1".strip_clearance', "leaves no strip"),
    ([((*P0, "outline", "svg"), "/etc/koi.svg")], 'pieces[0] "koi-1".outline.svg', "relative to the design"),
    ([((*P0, "outline", "svg"), "../koi.svg")], 'pieces[0] "koi-1".outline.svg', "leaves the design's folder"),
    ([((*P0, "outline", "svg"), "art/../../koi.svg")], 'pieces[0] "koi-1".outline.svg', "leaves the design's"),
    ([((*P0, "outline", "svg"), "C:/koi.svg")], 'pieces[0] "koi-1".outline.svg', "relative to the design"),
    ([((*P0, "outline", "svg"), "art\\koi.svg")], 'pieces[0] "koi-1".outline.svg', "with / between folders"),
    ([((*P0, "outline", "svg"), "koi\0.svg")], 'pieces[0] "koi-1".outline.svg', "control character"),
    ([(("pieces",), {})], "pieces", "is not a list"),
    ([(("pieces", 0), 5)], "pieces[0]", "5 is not an object"),
    ([(("panel",), None)], "panel", "null is not an object"),
]


@pytest.mark.parametrize(("steps", "place", "words"), BROKEN, ids=lambda value: str(value)[:60])
def test_a_broken_rule_is_refused_with_place_and_remedy(read, steps, place, words):
    with pytest.raises(UnusableInput) as refused:
        read(changed(*steps))
    error = refused.value
    assert error.file.endswith("pond.panel.json")
    assert error.place == place or (place.startswith(".") and error.place.endswith(place))
    assert words in str(error)
    assert error.remedy
    assert "\n" not in str(error)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "the file is empty"),
        (b" \n\t ", "the file is empty"),
        (b"\xff\xfe\x00", "byte 0: the file is not UTF-8 text"),
        (b'{"title": "caf\xe9"}', "byte 14: the file is not UTF-8 text"),
        (b"[]", "the file holds [], not a design"),
        (b"null", "the file holds null, not a design"),
        (b'{"format": "grainstack-panel/1",\n "panel": }', "line 2, column 11: this is not JSON"),
        (b'{"format": "grainstack-panel/1"} {}', "line 1, column 34: this is not JSON"),
        (b"[" * 100_000, "nested too deeply"),
        (b'{"format": "grainstack-panel/1", "format": "grainstack-panel/1"}', 'the key "format" stands twice'),
        (json.dumps(POND).replace('"thickness": 19', '"thickness": 19, "thickness": 18').encode(), "panel: the key"),
        (
            json.dumps(POND).replace('"turn": 15', '"turn": 15, "turn": 16').encode(),
            'pieces[0] "koi-1": the key "turn"',
        ),
        (json.dumps(POND).replace("600", "1e999").encode(), "panel.width: the number is not finite"),
        (json.dumps(POND).replace("600", "6" * 5000).encode(), "panel.width: the number is not finite"),
        (
            json.dumps(POND).replace('"turn"', '"\\ud800": 1, "\\ud800"').encode(),
            'pieces[0] "koi-1": the key "\\ud800"',
        ),
        (json.dumps(POND).replace("Koi pond", "\\ud800").encode(), "title: the text has a control character"),
    ],
)
def test_a_file_that_is_no_design_is_refused(read, content, words):
    with pytest.raises(UnusableInput, match=re.escape(words)):
        read(content)


def test_a_folder_a_missing_file_and_an_impossible_name_are_refused(tmp_path):
    for path, words in ((tmp_path, "folder"), (tmp_path / "no.panel.json", "no such file"), ("a\0b", "cannot be read")):
        with pytest.raises(UnusableInput, match=words):
            read_design(path)


def test_a_link_out_of_the_folder_is_refused(tmp_path):
    home = tmp_path / "home"
    home.mkdir()
    (tmp_path / "secret.svg").write_text("<svg/>")
    try:
        (home / "koi.svg").symlink_to(tmp_path / "secret.svg")
        (home / "round.svg").symlink_to(home / "round.svg")
        (home / "real.svg").write_text("<svg/>")
        (home / "inside.svg").symlink_to(home / "real.svg")
    except OSError:
        pytest.skip("this system makes no links without rights")
    for name, words in (("koi.svg", "leaves the design's folder"), ("inside.svg", None)):
        design = changed(((*P0, "outline", "svg"), name))
        (home / "pond.panel.json").write_text(json.dumps(design))
        if words is None:
            assert read_design(home / "pond.panel.json").pieces[0].outline == SvgOutline(name, "body")
        else:
            with pytest.raises(UnusableInput, match=words):
                read_design(home / "pond.panel.json")


@pytest.mark.parametrize("file", sorted(DATA.glob("*.panel.json")), ids=lambda file: file.name)
def test_the_designs_among_the_test_data_are_sound(file):
    assert read_design(file).pieces


@pytest.mark.parametrize(
    ("chapter", "tables"),
    [
        ("The whole", [DESIGN]),
        ("The panel", [PANEL, STRIP]),
        ("The workshop", [WORKSHOP]),
        ("The frame", [FRAME]),
        ("Boards in stock", [STOCK]),
        ("The pieces", [PIECE]),
        ("Accepted findings", [ACCEPTED]),
        ("Your own woods", [WOOD, PHOTO]),
        ("Glued-up blanks", [BLANK]),
        ("Outlines", OUTLINES.values()),
    ],
)
def test_the_documentation_tells_just_the_keys_that_there_are(chapter, tables):
    text = DOCS.read_text(encoding="utf-8").partition(f"\n## {chapter}\n")[2].partition("\n## ")[0]
    told = [key for line in text.splitlines() if line.startswith("| `") for key in CODE.findall(line.split("|")[1])]
    assert set(told) == {key for keys in tables for key in keys}


def test_the_documentation_names_the_keys_within_keys():
    text = DOCS.read_text(encoding="utf-8")
    keys = [key for keys in (COLOURS, MEASURED, STRIPE, SEGMENT) for key in keys]
    assert [key for key in keys if f"`{key}`" not in text] == []


def test_the_documentation_tells_how_much_a_design_may_hold():
    text = DOCS.read_text(encoding="utf-8")
    assert f"{limits.MOST_PIECES:,} pieces and {limits.MOST_WOODS} woods".replace(",", " ") in text
    assert f"{limits.MOST_BYTES // 1_000_000} MB" in text
    assert f"{limits.MOST_ELEMENTS:,} elements".replace(",", " ") in text


def test_the_documentations_example_is_read(read):
    example = re.search(r"```json\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL)[1]
    assert [piece.id for piece in read(example).pieces] == ["leaf-1", "leaf-2"]


def test_the_documentation_gives_the_workshops_defaults():
    text = DOCS.read_text(encoding="utf-8")
    for key, spec in WORKSHOP.items():
        row = next(line for line in text.splitlines() if line.startswith(f"| `{key}` |"))
        if spec.default not in (None, ()):
            assert f"| {spec.default:g} |" in row, row


# --- Files mangled at random --------------------------------------------------------------------------------------

ODD_VALUES = [None, True, 0, -1, 1e308, math.nan, "", "x", "\0", [], [[]], {}, [1, 2], "M0 0H9V9Z", "../x", 10**30]


def spots(value, way=()):
    yield way
    if isinstance(value, dict | list):
        for key in value if isinstance(value, dict) else range(len(value)):
            yield from spots(value[key], (*way, key))


@settings(max_examples=300, deadline=None)
@given(st.randoms(use_true_random=False), st.integers(1, 4))
def test_a_mangled_design_is_a_design_or_refused(tmp_path_factory, chance: random.Random, times):
    design = copy.deepcopy(POND)
    for _ in range(times):
        *way, last = chance.choice([way for way in spots(design) if way])
        spot = design
        for key in way:
            spot = spot[key]
        odd = copy.deepcopy(chance.choice([*ODD_VALUES, POND["panel"], POND["pieces"][3]]))
        action = chance.randrange(3)
        if action == 0:
            spot[last] = odd
        elif action == 1:
            del spot[last]
        elif isinstance(spot, dict):
            spot[chance.choice(["wood", "grain", "svg", "id", "after", "taper", "zzz"])] = odd
    check_read(tmp_path_factory, json.dumps(design).encode())


@settings(max_examples=300, deadline=None)
@given(st.randoms(use_true_random=False), st.integers(1, 6))
def test_mangled_bytes_are_a_design_or_refused(tmp_path_factory, chance: random.Random, times):
    content = bytearray(json.dumps(POND).encode())
    for _ in range(times):
        at = chance.randrange(len(content))
        content[at : at + chance.randrange(4)] = bytes(
            chance.choices(b'{}[]",:0123456789eE-.\\\0\xff aNnt', k=chance.randrange(4))
        )
    check_read(tmp_path_factory, bytes(content))


def check_read(tmp_path_factory, content):
    file = tmp_path_factory.getbasetemp() / "mangled.panel.json"
    file.write_bytes(content)
    try:
        found = read_design(file)
    except UnusableInput as error:
        found = error
    if isinstance(found, UnusableInput):
        assert found.problem
        assert found.remedy
        assert len(str(found).splitlines()) == 1
        str(found).encode("utf-8")
    else:
        assert isinstance(found, Design)
