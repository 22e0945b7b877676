import csv
import re
from pathlib import Path

import pytest

from core.design import OwnWood
from core.woods.species import find_wood, near_woods, species_table

TABLE = Path(__file__).parents[3] / "assets" / "species.csv"
MARKS = {"SEEN", "DERIVED", "MEMORY"}


def test_every_row_of_the_file_is_a_species():
    rows = list(csv.DictReader(TABLE.open(encoding="utf-8")))
    assert [row["common_name"] for row in rows] == list(species_table())
    assert len(rows) >= 30


SOURCES = {"colour": "ageing_evidence", "ageing_evidence": "ageing_evidence", "pores": None, "finish": None}
"""Column that says where a figure is from, where it is not called *_source; those of None are recalled or seen in the
document that density names."""


@pytest.mark.parametrize("row", list(csv.DictReader(TABLE.open(encoding="utf-8"))), ids=lambda row: row["common_name"])
def test_every_figure_of_every_row_has_its_mark_and_source(row):
    marked = {key.removesuffix("_provenance"): mark for key, mark in row.items() if key.endswith("_provenance")}
    assert {"density", "shrinkage", "janka", "colour", "trade", "dust", "skin", "figure"} <= set(marked)
    assert set(marked.values()) | {row["provenance"]} <= MARKS
    sources = [SOURCES.get(name, f"{name}_source") for name in marked]
    assert [source for source in (*sources, "source") if source and not row[source]] == []


REACTION = "irritant|sensitizer|irritant, sensitizer"
DUST = re.compile(f"({REACTION}): (eyes|airways|eyes, airways)|nausea|no report found")
SKIN = re.compile(f"({REACTION})(, splinters fester)?|no report found")


@pytest.mark.parametrize("species", species_table().values(), ids=lambda each: each.common_name)
def test_words_of_the_table_are_of_its_vocabulary(species):
    assert species.trade in ("check", "none known")
    assert DUST.fullmatch(species.dust_cautions)
    assert SKIN.fullmatch(species.skin_cautions)
    assert species.texture in ("fine", "medium", "coarse")
    assert species.grain in ("straight", "straight to interlocked", "interlocked")
    assert species.figure
    assert species.sapwood


def test_mahogany_asks_for_a_check_of_trade():
    # Swietenia macrophylla is in CITES Appendix II since 15 November 2003 (SEEN in an abstract of
    # Conservation Biology 19, 973).
    assert find_wood("mahogany").trade == "check"


def test_cautions_are_one_line_and_an_own_wood_has_those_of_its_kind():
    # Woods Toxic to Man, chart in American Woodturner, June 1990 (SEEN in a reprint):
    # wenge S at E, S, R; ebony I, S at E, S.
    seen, recalled = "dust sensitizer: eyes, airways; skin sensitizer, splinters fester", "from memory: trade check"
    assert find_wood("wenge").cautions == f"{seen}; {recalled}"
    own = OwnWood("bog wood", looks_like="ebony")
    assert find_wood("bog wood", [own]).cautions == find_wood("ebony").cautions != ""


@pytest.mark.parametrize("wood", ["holly", "basswood", "hickory", "sycamore", "pear"])
def test_a_wood_without_a_report_still_has_the_caution_of_all_wood_dust(wood):
    assert find_wood(wood).cautions == "dust harms the lungs, as every wood's does"


def test_cautions_from_memory_say_so():
    assert find_wood("yellowheart").cautions == "from memory: dust irritant: airways, skin irritant, trade check"
    rows = {row["common_name"]: row for row in csv.DictReader(TABLE.open(encoding="utf-8"))}
    for name, species in species_table().items():
        _, _, recalled = species.cautions.partition("from memory: ")
        for kind in ("dust", "skin"):
            caution = f"{kind} {rows[name][f'{kind}_cautions']}"
            known = rows[name][f"{kind}_cautions"] != "no report found"
            assert (caution in recalled) == (known and rows[name][f"{kind}_provenance"] == "MEMORY"), name


@pytest.mark.parametrize("species", species_table().values(), ids=lambda each: each.common_name)
def test_figures_are_within_what_wood_can_be(species):
    # Bounds of the notes that came with the table: T/R >= 1, 300 < density < 1400, colours parse.
    assert 300 < species.density < 1400
    assert species.shrinkage_tangential >= species.shrinkage_radial > 0
    assert species.hardness > 0
    assert re.fullmatch("#[0-9a-f]{6}", species.fresh_colour)
    assert re.fullmatch("#[0-9a-f]{6}", species.aged_colour)


def test_figures_of_black_walnut():
    # Wood Handbook FPL-GTR-190 Table 4-3: shrinkage 7.8 tangential, 5.5 radial (SEEN);
    # density 1000 x 0.55 x 1.12 from the specific gravity at 12 % (DERIVED).
    walnut = find_wood("black walnut")
    assert (walnut.shrinkage_tangential, walnut.shrinkage_radial, walnut.density) == (7.8, 5.5, 616)
    assert walnut.botanical_name == "Juglans nigra"


@pytest.mark.parametrize("name", ["cherry", "Black Cherry", "  black   cherry "])
def test_a_wood_is_found_by_any_of_its_names(name):
    assert find_wood(name).common_name == "black cherry"


def test_no_name_means_two_woods():
    names = [name.casefold() for each in species_table().values() for name in (each.common_name, *each.also_named)]
    assert len(names) == len(set(names))


def test_an_unknown_wood_is_none_and_has_near_names():
    assert find_wood("unobtainium") is None
    assert find_wood("") is None
    assert near_woods("walnutt") == ("black walnut",)
    assert near_woods("xqxqxq") == ()
