"""A maker's own woods and boards: read strictly, found before the table, written back as they were."""

import json

import pytest

from core.design import BoardPhoto
from core.design_file.own_woods import renamed
from core.design_file.reading import read_design, read_document
from core.design_file.writing import design_text, write_design
from core.errors import UnusableInput
from core.findings.all_findings import find_all
from core.stack.stack import build_stack
from core.woods.bending import least_bend_radius
from core.woods.species import find_wood, near_woods, species_table, wood_of_piece, woods_named

PLUM = {
    "name": "garden plum", "looks_like": "pear", "colours": {"cut": "#b07a58", "aged": "#8a5a3c"},
    "density": 795, "shrinkage_tangential": 9.5, "hardness": 6100, "note": "felled 2019",
}  # fmt: skip
BOARD = {
    "name": "walnut 3", "photo": "boards/walnut-3.jpg", "species": "walnut",
    "measured": {"from": [100, 50], "to": [400, 450], "mm": 250}, "grain": 2, "crop": [10, 20, 900, 500],
    "grey": [40, 60], "grey_reflectance": 0.18,
}  # fmt: skip
STRIPES = [{"wood": "holly", "width": 8}, {"wood": "garden plum", "width": 3}]


def design(woods=(PLUM, BOARD), **piece):
    return {
        "format": "grainstack-panel/1",
        "woods": list(woods),
        "panel": {"width": 120, "height": 80, "thickness": 19, "strips": [
            {"width": 60, "wood": "walnut 3", "cut": "quarter", "board": 2},
            {"width": 60, "segments": [{"length": 30, "wood": "Garden Plum", "board": 7},
                                      {"length": 50, "wood": "ash"}]},
        ]},
        "pieces": [{"id": "a", "wood": "garden plum", "grain": 20,
                    "outline": {"polygon": [[0, 0], [40, 0], [40, 20], [0, 20]]}, "at": [30, 30]} | piece],
    }  # fmt: skip


@pytest.fixture
def read(tmp_path):
    def read(document):
        (tmp_path / "own.panel.json").write_text(json.dumps(document), encoding="utf-8")
        return read_design(tmp_path / "own.panel.json")

    return read


def test_what_a_wood_says_is_laid_over_the_species_that_it_is_like(read):
    plum = find_wood("Garden  plum", read(design()).woods)
    pear = species_table()["pear"]
    assert (plum.common_name, plum.kind) == ("garden plum", "pear")
    assert (plum.fresh_colour, plum.settled_colour, plum.aged_colour) == ("#b07a58", None, "#8a5a3c")
    assert (plum.density, plum.shrinkage_tangential, plum.hardness) == (795, 9.5, 6100)
    assert (plum.shrinkage_radial, plum.pores) == (pear.shrinkage_radial, pear.pores)


def test_a_board_has_a_scale_by_two_points_and_the_properties_of_its_species(read):
    """From (100, 50) to (400, 450) are 500 pixels (3-4-5), so 250 mm are 0.5 mm a pixel."""
    board = find_wood("walnut 3", read(design()).woods)
    crop, grey = (10.0, 20.0, 900.0, 500.0), (36.0, 56.0, 44.0, 64.0)
    assert board.photo == BoardPhoto("boards/walnut-3.jpg", 0.5, 2.0, crop, grey, 0.18)
    walnut = find_wood("black walnut")
    assert (board.kind, board.density, board.fresh_colour) == (walnut.kind, walnut.density, walnut.fresh_colour)


def test_an_own_wood_comes_before_one_of_the_table(read):
    mine = read(design([PLUM | {"name": "Walnut"}], wood="walnut")).woods
    assert find_wood("walnut", mine).kind == "pear"
    assert find_wood("black walnut", mine).kind == "black walnut"


def test_own_woods_are_known_to_findings_and_suggested(read):
    known = find_all(build_stack(read(design())))
    assert [finding.code for finding in known if finding.code == "unknown-wood"] == []
    unknown = find_all(build_stack(read(design(wood="gardn plum"))))
    (finding,) = [finding for finding in unknown if finding.code == "unknown-wood"]
    assert finding.step.value == "garden plum"
    assert near_woods("walnut 33", own=read(design()).woods)[0] == "walnut 3"


def test_a_strip_of_an_own_wood_bends_like_the_species_that_it_is_like(read):
    own = read(design()).woods
    assert least_bend_radius("walnut 3", 3.0, own) == least_bend_radius("black walnut", 3.0)


def test_a_glued_blank_has_all_its_woods_looked_at(read):
    stripes = [*STRIPES, {"wood": "unobtainium", "width": 3}]
    made = read(design(blank={"stripes": stripes, "shift": -2}))
    assert woods_named(made.pieces[0]) == ("garden plum", "holly", "unobtainium")
    (finding,) = [f for f in find_all(build_stack(made)) if f.code == "unknown-wood"]
    assert '"unobtainium"' in finding.text


def test_a_glued_blank_moves_and_weighs_as_the_mean_of_its_stripes(read):
    """By width: 8 of holly and 3 of garden plum."""
    own = read(design()).woods
    made = read(design(blank={"stripes": STRIPES})).pieces[0]
    holly, plum, mean = find_wood("holly"), find_wood("garden plum", own), wood_of_piece(made, own)
    for figure in ("density", "shrinkage_tangential", "shrinkage_radial"):
        assert getattr(mean, figure) == pytest.approx((8 * getattr(holly, figure) + 3 * getattr(plum, figure)) / 11)


def test_stripes_need_no_board_as_wide_as_the_blank(read):
    """A piece of 40 x 20 mm with its grain along y needs 40 mm across: too much for boards of 30, unless of stripes."""

    def codes(**piece):
        made = design(grain=90, at=[70, 30], **piece)
        made["workshop"] = {"board_width": 30}
        return [f.code for f in find_all(build_stack(read(made))) if f.code == "blank-too-narrow"]

    assert codes() == ["blank-too-narrow"]
    assert codes(leaves=2) == []
    assert codes(blank={"stripes": STRIPES}) == []
    assert codes(blank={"stripes": [{"wood": "holly", "width": 35}, STRIPES[1]]}) == ["blank-too-narrow"]


def test_a_striped_piece_is_not_told_to_melt_into_its_ground(read):
    """Its own wood is that of the strip that it lies in; its stripes are not."""
    plain, striped = (
        [f.code for f in find_all(build_stack(read(design(wood="ash", at=[70, 45], **keys))))]
        for keys in ({"grain": 90}, {"grain": 90, "blank": {"stripes": STRIPES}})
    )
    assert "low-contrast" in plain
    assert "low-contrast" not in striped


def test_a_wood_is_renamed_wherever_it_is_used():
    before = design(blank={"stripes": STRIPES}) | {
        "workshop": {"in_hand": ["holly", "garden  plum"]},
        "stock": [{"wood": "garden plum", "length": 600, "width": 90, "thickness": 26}],
    }
    made = renamed(before, "Garden Plum", "quince")
    assert made["workshop"]["in_hand"] == ["holly", "quince"]
    assert made["panel"]["strips"][1]["segments"][0]["wood"] == "quince"
    assert made["pieces"][0]["wood"] == made["pieces"][0]["blank"]["stripes"][1]["wood"] == "quince"
    assert made["stock"][0]["wood"] == "quince"
    assert made["woods"][0]["name"] == "garden plum"
    assert made["panel"]["strips"][0]["wood"] == "walnut 3"


def test_turning_a_piece_on_its_board_turns_its_grain_the_other_way(read):
    """On the board the fibres stay where they are; a mirror image turns the other way round."""
    grain = [
        build_stack(read(design(**keys))).pieces[0].grain
        for keys in ({}, {"board_turn": 30}, {"board_turn": 30, "board_mirror": True}, {"board_turn": 30, "taper": 5})
    ]
    assert grain == [20, -10, 50, 50]


def test_strips_and_segments_know_their_board(read):
    background = build_stack(read(design())).background
    assert [(piece.cut, piece.board) for piece in background] == [("quarter", 2), (None, 7), (None, None)]


def test_it_is_written_as_it_was_said(tmp_path):
    path = tmp_path / "own.panel.json"
    path.write_text(design_text(design(cut="rift", board=3, board_at=[12, 5.5])), encoding="utf-8")
    before = path.read_bytes()
    write_design(read_document(path), path)
    assert path.read_bytes() == before
    assert list(json.loads(before)) == ["format", "woods", "panel", "pieces"]


WRONG_WOODS = [
    ([PLUM, PLUM | {"name": "GARDEN plum"}], 'woods[1] "GARDEN plum".name', "another wood has that name"),
    ([PLUM | {"looks_like": "peer"}], 'woods[0] "garden plum".looks_like', "Did you mean pear"),
    ([PLUM | {"looks_like": "walnut 3"}, BOARD], 'woods[0] "garden plum".looks_like', 'has no "walnut 3"'),
    ([PLUM | {"colours": {"cut": "#b07a58"}}], "woods[0].colours", '"aged" is missing'),
    ([PLUM | {"colours": {"cut": "brown", "aged": "#8a5a3c"}}], "woods[0].colours.cut", "is not a colour"),
    ([PLUM | {"mm_per_pixel": 1}], "woods[0]", 'unknown key "mm_per_pixel"'),
    ([PLUM | {"pores": "many"}], "woods[0].pores", "is not known here"),
    ([BOARD | {"photo": "../walnut.jpg"}], 'woods[0] "walnut 3".photo', "leaves the design's folder"),
    ([BOARD | {"photo": "/walnut.jpg"}], 'woods[0] "walnut 3".photo', "not a path relative to the design"),
    ([BOARD | {"mm_per_pixel": 0.5}], 'woods[0] "walnut 3"', "two scales"),
    ([{k: v for k, v in BOARD.items() if k != "measured"}], 'woods[0] "walnut 3"', "no scale"),
    (
        [BOARD | {"measured": {"from": [1, 1], "to": [1, 1], "mm": 9}}],
        'woods[0] "walnut 3".measured',
        "points are the same",
    ),
    ([BOARD | {"crop": [10, 20, 10, 500]}], 'woods[0] "walnut 3".crop', "nothing of the photo is left"),
    ([BOARD | {"grey": [1, 2, 3]}], 'woods[0] "walnut 3".grey', "neither a point nor a rectangle"),
    ([BOARD | {"grey_reflectance": 18}], "woods[0].grey_reflectance", "less than 1"),
    ([BOARD | {"looks_like": "ash"}], "woods[0]", 'unknown key "looks_like"'),
]


@pytest.mark.parametrize(("woods", "place", "words"), WRONG_WOODS)
def test_what_breaks_a_rule_is_refused_with_its_place(read, woods, place, words):
    with pytest.raises(UnusableInput) as refused:
        read(design(woods))
    assert refused.value.place == place
    assert words in str(refused.value)


WRONG_PIECES = [
    ({"cut": "crown"}, 'pieces[0] "a".cut', "is not known here"),
    ({"board": 0}, 'pieces[0] "a".board', "too small"),
    ({"board": 2.5}, 'pieces[0] "a".board', "not a whole number"),
    ({"blank": {"stripes": STRIPES[:1]}}, 'pieces[0] "a".blank.stripes', "at least 2"),
    ({"leaves": 2, "blank": {"stripes": STRIPES}}, 'pieces[0] "a".blank', "has no leaves"),
]


@pytest.mark.parametrize(("keys", "place", "words"), WRONG_PIECES)
def test_a_pieces_board_and_blank_are_checked(read, keys, place, words):
    with pytest.raises(UnusableInput) as refused:
        read(design(**keys))
    assert refused.value.place == place
    assert words in str(refused.value)
