import csv
import re
from pathlib import Path

import pytest

from core.woods import find_wood, near_woods, species_table

TABLE = Path(__file__).parents[2] / "assets" / "species.csv"
MARKS = {"SEEN", "DERIVED", "MEMORY"}


def test_every_row_of_the_file_is_a_species():
    rows = list(csv.DictReader(TABLE.open(encoding="utf-8")))
    assert [row["common_name"] for row in rows] == list(species_table())
    assert len(rows) >= 30


def test_every_figure_keeps_its_mark():
    for row in csv.DictReader(TABLE.open(encoding="utf-8")):
        marks = [value for key, value in row.items() if key.endswith("provenance") and value]
        assert marks
        assert set(marks) <= MARKS, row["common_name"]


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
