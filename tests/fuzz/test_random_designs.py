"""Random designs that are hard on the geometry, always the same ones, through the judge: `build.py fuzz` runs more."""

from __future__ import annotations

import json
from random import Random

import pytest
from hypothesis import given, settings

from core.design_file.reading import design_of
from core.errors import GrainstackError
from fuzz.families import FAMILIES, design, draw
from fuzz.judge import judge
from tests.fuzz.strategies import designs

OF_EACH = 17


@pytest.mark.parametrize("number", range(OF_EACH))
@pytest.mark.parametrize("family", FAMILIES)
def test_every_solid_is_closed_and_all_volumes_add_up(family: str, number: int) -> None:
    verdict = judge(design(family, number), ("raw", "proud" if number % 2 else "finished"))
    assert not verdict.faults, f"python build.py fuzz --family {family} --seed {number} --count 1 makes it small"


def test_there_are_three_hundred_of_them() -> None:
    assert OF_EACH * len(FAMILIES) >= 300


@given(document=designs())
@settings(max_examples=6)
def test_what_hypothesis_draws_is_closed_and_adds_up(document: dict) -> None:
    """Other designs than the numbered ones, which hypothesis makes simpler where they fail."""
    verdict = judge(document, ("raw", "finished"))
    assert not verdict.faults


@pytest.mark.parametrize("family", FAMILIES)
def test_a_family_makes_plain_json_that_is_read_and_seldom_refused(family: str) -> None:
    refused = 0
    for number in range(100):
        document = design(family, number)
        assert json.loads(json.dumps(document, allow_nan=False)) == document
        try:
            design_of(document, "fuzz.panel.json")
        except GrainstackError:
            refused += 1
    assert refused <= 2


@pytest.mark.parametrize("family", FAMILIES)
def test_a_number_always_names_the_same_design(family: str) -> None:
    assert design(family, 3) == design(family, 3) == draw(family, Random(f"{family} 3"))
    assert len({json.dumps(design(family, number)) for number in range(20)}) == 20


def test_every_kind_of_wall_and_background_comes_up() -> None:
    documents = [design(family, number) for family in FAMILIES for number in range(OF_EACH)]
    shops = [document["workshop"] for document in documents]
    pieces = [entry for document in documents for entry in document["pieces"]]
    assert sum("taper" not in shop for shop in shops) > 60
    assert sum("taper" in shop and shop.get("side_clearance", 0) >= 0 for shop in shops) > 30
    assert sum(shop.get("side_clearance", 0) < 0 for shop in shops) > 30
    assert max(shop.get("taper", 0.0) for shop in shops) == 8
    assert sum(entry.get("fit") == "as-drawn" for entry in pieces) > 30
    assert sum(entry.get("mirror", False) for entry in pieces) > 30
    panels = [document["panel"] for document in documents]
    assert sum("strips" not in panel for panel in panels) > 30
    assert sum(panel.get("strips_along") == "x" for panel in panels) > 30
    assert sum(any("segments" in strip for strip in panel.get("strips", ())) for panel in panels) > 60
