"""Writing a design: nothing that the file said is lost, nothing that it left out is spelled out."""

import copy
import json
import os
import stat

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.design_file import reading
from core.design_file.own_woods import PHOTO, WOOD
from core.design_file.reading import read_design, read_document
from core.design_file.writing import canonical, design_text, new_document, write_design
from core.errors import UnusableInput

from .test_reading import POND, plain

SQUARE = {"polygon": [[0, 0], [9, 0], [9, 9]]}

numbers = st.one_of(st.integers(-1000, 1000), st.floats(-1e5, 1e5, allow_nan=False))
sizes = st.one_of(st.integers(1, 1000), st.floats(1e-3, 1e5, allow_nan=False))
woods = st.text(st.characters(blacklist_categories=("Cc", "Cs")), min_size=1).filter(str.strip)
outlines = st.one_of(
    st.fixed_dictionaries({"polygon": st.lists(st.tuples(numbers, numbers).map(list), min_size=3, max_size=30)}),
    st.just({"path": "M 0 0 C 10 20 30 20 40 0 Z"}),
    st.fixed_dictionaries(
        {"line": st.lists(st.tuples(numbers, numbers).map(list), min_size=2), "width": st.floats(3, 99)},
        optional={"smooth": st.booleans()},
    ),
    st.fixed_dictionaries({"svg": st.just("art/koi.svg")}, optional={"element": st.just("body")}),
)
points = st.tuples(numbers, numbers).map(list)
colours = st.from_regex(r"#[0-9a-f]{6}", fullmatch=True)
CUT = {  # together sound, in the workshop and in a piece
    "pocket_depth": st.floats(1, 99),
    "side_clearance": st.floats(0, 0.4),
    "strip_clearance": st.floats(0, 1),
    "taper": st.just(0),
    "floor_gap": st.floats(0, 0.9),
    "cutter_diameter": st.floats(1, 2.9),
    "corner_radius": st.floats(5, 99),
}
SAWN = {"cut": st.sampled_from(["flat", "rift", "quarter"]), "board": st.integers(1, 9999)}
PIECES = {
    "grain": numbers,
    "at": points,
    "turn": numbers,
    "scale": st.floats(1, 9),
    "mirror": st.booleans(),
    "fit": st.just("rounded"),
    "after": st.just([]),
    "insert_thickness": st.floats(1e-3, 1e3),
    "board_at": points,
    "board_turn": numbers,
    "board_mirror": st.booleans(),
    **SAWN,
    **CUT,
}
blanks = st.fixed_dictionaries(
    {"stripes": st.lists(st.fixed_dictionaries({"wood": woods, "width": st.floats(0.5, 99)}), min_size=2, max_size=4)},
    optional={"shift": numbers},
)
glued = st.one_of(
    st.just({}), st.fixed_dictionaries({"blank": blanks}), st.fixed_dictionaries({"leaves": st.integers(1, 9)})
)
pieces = st.builds(
    lambda entry, glue: entry | glue,
    st.fixed_dictionaries({"wood": woods, "outline": outlines}, optional=PIECES),
    glued,
)
WORKSHOPS = {
    **CUT,
    **dict.fromkeys(("cutter_length", "board_width", "min_planing_length", "detail"), sizes),
    "saw_kerf": st.floats(0, 20),
    **dict.fromkeys(
        ("proud", "min_floor", "min_wall", "min_neck", "min_neck_glued", "min_skin", "min_island"), st.floats(0, 99)
    ),
    "depth_error": st.floats(-1.9, 1.9),
    "glue_colour": colours,
    "in_hand": st.lists(woods, max_size=3),
    "humidity_low": st.floats(1, 35),
    "humidity_high": st.floats(60, 95),
    "temperature": st.floats(-20, 59),
}
FRAMES = {
    "wood": woods,
    "profile": st.sampled_from(["square", "bevel", "round"]),
    "width": sizes,
    "depth": sizes,
    "reveal": st.floats(0, 9),
    "wall": colours,
    "caption": st.booleans(),
}
FIGURES = {
    "colours": st.fixed_dictionaries({"cut": colours, "aged": colours}, optional={"settled": colours}),
    **dict.fromkeys(("density", "hardness"), sizes),
    **dict.fromkeys(("shrinkage_tangential", "shrinkage_radial"), st.floats(0.1, 49)),
    "pores": st.sampled_from(["ring", "semi-ring", "diffuse"]),
    "note": st.just("from the garden"),
}
PHOTOS = {
    "grain": numbers,
    "crop": st.just([10, 20, 30.5, 40]),
    "grey": st.sampled_from([[5, 6], [1, 2, 3, 4]]),
    "grey_reflectance": st.floats(0.1, 0.9),
    "note": st.just("planed"),
}
SCALES = {
    "mm_per_pixel": st.floats(0.01, 9),
    "measured": st.just({"from": [0, 0], "to": [100, 0], "mm": 25}),
}
own_woods = st.one_of(
    st.fixed_dictionaries({"looks_like": st.just("cherry")}, optional=FIGURES),
    *(
        st.fixed_dictionaries({"photo": st.just("a.png"), "species": st.just("cherry"), key: scale}, optional=PHOTOS)
        for key, scale in SCALES.items()
    ),
)
segments = st.fixed_dictionaries({"length": st.just(40), "wood": woods}, optional=SAWN)
strips = st.one_of(
    st.fixed_dictionaries({"width": st.just(40), "wood": woods}, optional=SAWN),
    st.fixed_dictionaries({"width": st.just(40), "segments": st.lists(segments, min_size=2, max_size=2)}),
)
TRIMS = {"face_trim": st.floats(0, 5), "edge_trim": st.one_of(st.floats(0, 9), st.just([1, 2.5, 0, 4]))}
SQUARE_PANEL = {"width": st.just(80), "height": st.just(80), "thickness": st.floats(6, 99)}
panels = st.one_of(
    st.fixed_dictionaries(SQUARE_PANEL | {"wood": woods}, optional=TRIMS | {"grain": numbers}),
    st.fixed_dictionaries(
        SQUARE_PANEL | {"strips": st.lists(strips, min_size=2, max_size=2)},
        optional=TRIMS | {"strips_along": st.sampled_from("xy")},
    ),
)
BOARDS = {"count": st.integers(1, 9), "photo": st.just("board.jpg")}
stock = st.fixed_dictionaries(
    {"wood": woods, "length": st.floats(1, 4000), "width": st.floats(1, 400), "thickness": st.floats(1, 80)},
    optional=BOARDS,
)
TOP = {
    "title": st.text(st.characters(blacklist_categories=("Cc", "Cs"))),
    "workshop": st.fixed_dictionaries({}, optional=WORKSHOPS),
    "frame": st.fixed_dictionaries({}, optional=FRAMES),
    "accepted": st.lists(
        st.fixed_dictionaries(
            {"code": st.just("thin-wall"), "value": st.floats(-9, 9), "why": st.just("it holds")},
            optional={"piece": st.just("a"), "other": st.none(), "places": st.integers(1, 9)},
        ),
        max_size=2,
    ),
    "stock": st.lists(stock, max_size=3),
}


def test_random_documents_have_every_key_of_the_format():
    always = {"id", "wood", "outline", "blank", "leaves"}
    assert set(PIECES) | always == set(reading.PIECE)
    assert set(WORKSHOPS) == set(reading.WORKSHOP)
    assert set(FRAMES) == set(reading.FRAME)
    assert set(BOARDS) | {"wood", "length", "width", "thickness"} == set(reading.STOCK)
    assert set(FIGURES) | {"name", "looks_like"} == set(WOOD)
    assert set(PHOTOS) | set(SCALES) | {"name", "photo", "species"} == set(PHOTO)
    assert set(TOP) | {"format", "woods", "panel", "pieces"} == set(reading.DESIGN)
    assert set(SQUARE_PANEL) | set(TRIMS) | {"wood", "grain", "strips", "strips_along"} == set(reading.PANEL)


@st.composite
def documents(draw):
    """Hand-written designs: keys in any order, with and without each that may be absent."""
    made = plain(pieces=[draw(pieces) | {"id": f"p{i}"} for i in range(draw(st.integers(0, 3)))])
    made |= draw(st.fixed_dictionaries({}, optional=TOP))
    made["panel"] = draw(panels)
    made["woods"] = [draw(own_woods) | {"name": f"own {i}"} for i in range(draw(st.integers(0, 2)))]
    shuffled = draw(st.permutations(list(made)))
    made["pieces"] = [{key: entry[key] for key in draw(st.permutations(list(entry)))} for entry in made["pieces"]]
    return {key: made[key] for key in shuffled}


def same(one, other) -> bool:
    """Equal in every value and its kind (1 is not 1.0 here), whatever the order of keys."""
    return json.dumps(one, sort_keys=True) == json.dumps(other, sort_keys=True)


@given(documents())
def test_a_design_comes_back_as_it_was_said(tmp_path_factory, document):
    path = tmp_path_factory.mktemp("written") / "a.panel.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    meant = read_design(path)
    before = read_document(path)
    assert same(before, document)
    write_design(before, path)
    assert same(read_document(path), document)
    assert read_design(path) == meant


@given(documents())
def test_open_and_save_keeps_the_bytes_of_a_file_saved_here(tmp_path_factory, document):
    path = tmp_path_factory.mktemp("written") / "a.panel.json"
    write_design(document, path)
    first = path.read_bytes()
    write_design(read_document(path), path)
    assert path.read_bytes() == first


def test_keys_come_in_the_order_of_the_formats_description():
    mixed = {key: POND[key] for key in reversed(POND)}
    mixed["pieces"] = [{key: entry[key] for key in reversed(entry)} for entry in POND["pieces"]]
    mixed["panel"] = {key: POND["panel"][key] for key in reversed(POND["panel"])}
    made = canonical(mixed)
    assert list(made) == ["format", "title", "panel", "workshop", "pieces"]
    assert list(made["panel"]) == list(POND["panel"])
    assert list(made["pieces"][0]) == [
        "id", "wood", "grain", "outline", "at", "turn", "scale", "mirror", "pocket_depth", "insert_thickness", "fit",
    ]  # fmt: skip
    assert list(made["pieces"][1]) == ["id", "wood", "grain", "after", "outline", "at"]
    assert same(made, POND)


def test_lines_stay_within_their_width_where_they_can_be_broken():
    text = design_text(POND)
    assert max(map(len, text.splitlines())) <= 120
    assert '\n    {"id": "petal-1", "wood": "holly", "outline": {"path": "M 0 0 C 10 20 30 20 40 0 Z"}, "at": ' in text
    assert json.loads(text) == POND


def test_a_new_document_is_a_sound_design(tmp_path):
    path = tmp_path / "new.panel.json"
    write_design(new_document({"width": 600, "height": 400, "thickness": 19, "wood": "sapele"}, "Pond"), path)
    design = read_design(path)
    assert (design.title, design.panel.width, design.pieces) == ("Pond", 600, ())


def test_a_bad_document_leaves_the_file_as_it_was(tmp_path):
    path = tmp_path / "a.panel.json"
    write_design(plain(), path)
    before = path.read_bytes()
    with pytest.raises(UnusableInput, match=r"a\.panel\.json: pieces\[0\].*wood"):
        write_design(plain(pieces=[{"id": "a", "outline": SQUARE}]), path)
    with pytest.raises(UnusableInput, match="not finite"):
        write_design(plain(pieces=[{"id": "a", "wood": "pear", "outline": SQUARE, "turn": float("nan")}]), path)
    for key, value in (("pieces", [3]), ("pieces", 3), ("woods", ["holly"]), ("workshop", []), ("frame", "wide")):
        with pytest.raises(UnusableInput, match=key):
            write_design(plain(**{key: value}), path)
    with pytest.raises(UnusableInput, match="strips"):
        write_design(plain(panel={"width": 9, "height": 9, "thickness": 9, "strips": 3}), path)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_a_write_that_fails_leaves_the_old_file_and_no_draft(tmp_path, monkeypatch):
    path = tmp_path / "a.panel.json"
    write_design(plain(), path)
    before = path.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(UnusableInput, match=r"cannot be written \(No space left on device\)"):
        write_design(plain(title="new"), path)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(UnusableInput, match="cannot be written"):
        write_design(plain(), tmp_path / "absent" / "a.panel.json")


@pytest.mark.skipif(os.name == "nt", reason="permissions and links are other there")
def test_permissions_and_links_are_kept(tmp_path):
    real, link = tmp_path / "real.panel.json", tmp_path / "link.panel.json"
    write_design(plain(), real)
    mask = os.umask(0)
    os.umask(mask)
    assert stat.S_IMODE(real.stat().st_mode) == 0o666 & ~mask
    real.chmod(0o640)
    link.symlink_to(real)
    write_design(plain(title="by its link"), link)
    assert link.is_symlink()
    assert read_design(real).title == "by its link"
    assert stat.S_IMODE(real.stat().st_mode) == 0o640


def test_a_document_is_not_changed_by_writing_it(tmp_path):
    document = copy.deepcopy(POND)
    (tmp_path / "koi.svg").touch()
    write_design(document, tmp_path / "pond.panel.json")
    assert list(document["pieces"][0]) == list(POND["pieces"][0])
    assert document == POND
