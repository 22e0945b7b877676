"""Time and finish, against measurements of waxed wood.

The measured figures stand in abstracts (marks as in the table of reference): black cherry, "effects of wax on American
black cherry", one coat 8.41, three coats 11.59 (SEEN); white oak, Ayata & Ayata 2024, Modern Concepts & Developments
in Agronomy 14(3), one coat 5.62, two coats 11.96 (SEEN). Both: lightness and hue angle fall, redness rises (SEEN).
"""

import numpy as np
import pytest

from core.woods import colour
from core.woods.finish import AGED, CUT, FINISHES, SETTLED, at_age, finished
from core.woods.species import species_table

BARE, WAX, OIL, LACQUER = (FINISHES[name] for name in ("bare", "wax", "oil", "lacquer"))
WOODS = pytest.mark.parametrize("wood", species_table().values(), ids=lambda wood: wood.common_name)


def bare(wood):
    return at_age(wood.fresh_colour, wood.aged_colour, SETTLED)


def change(wood, finish):
    """Bare to finished in L*a*b*."""
    return colour.lab_from_linear(finished(bare(wood), finish)) - colour.lab_from_linear(bare(wood))


@WOODS
def test_time_begins_and_ends_at_the_colours_of_the_table(wood):
    assert at_age(wood.fresh_colour, wood.aged_colour, CUT) == pytest.approx(
        colour.linear_from_srgb(colour.srgb_from_hex(wood.fresh_colour)), abs=1e-6
    )
    assert at_age(wood.fresh_colour, wood.aged_colour, AGED) == pytest.approx(
        colour.linear_from_srgb(colour.srgb_from_hex(wood.aged_colour)), abs=1e-6
    )
    assert bare(wood) == pytest.approx(colour.settled(wood.fresh_colour, wood.aged_colour), abs=1e-12)


@WOODS
def test_equal_times_make_equal_differences(wood):
    labs = [colour.lab_from_linear(at_age(wood.fresh_colour, wood.aged_colour, t)) for t in np.linspace(0, 1, 5)]
    steps = np.linalg.norm(np.diff(labs, axis=0), axis=1)
    assert np.ptp(steps) < 0.05


@WOODS
def test_bare_wood_keeps_its_colour(wood):
    assert finished(bare(wood), BARE) == pytest.approx(bare(wood))


@pytest.mark.parametrize(("name", "least", "most"), [("black cherry", 8.41, 11.59), ("white oak", 5.62, 11.96)])
def test_wax_changes_as_much_as_was_measured(name, least, most):
    wood = species_table()[name]
    # One coat within a third of the measured one; oil, beyond the thickest wax but not by much (our bound).
    assert np.linalg.norm(change(wood, WAX)) == pytest.approx(least, rel=0.3)
    assert most < np.linalg.norm(change(wood, OIL)) < 1.7 * most


@pytest.mark.parametrize("name", ["black cherry", "white oak"])
def test_waxed_wood_is_darker_and_redder_with_a_lower_hue_as_measured(name):
    before = colour.lab_from_linear(bare(species_table()[name]))
    after = before + change(species_table()[name], WAX)
    assert after[0] < before[0]
    assert after[1] > before[1]
    assert np.arctan2(after[2], after[1]) < np.arctan2(before[2], before[1])


@WOODS
def test_the_more_a_finish_wets_the_darker_the_wood(wood):
    assert 0 > change(wood, WAX)[0] > change(wood, LACQUER)[0] > change(wood, OIL)[0]


@pytest.mark.parametrize("name", ["hard maple", "American holly", "white ash", "yellow birch"])
def test_oil_warms_pale_woods_to_yellow(name):
    # "Oil ambers", "oil yellows it": finish_effect in the species table, from memory.
    assert change(species_table()[name], OIL)[2] > 2


def test_white_stays_white_and_black_black_but_for_the_film():
    assert finished([0.0, 0.0, 0.0], OIL) == pytest.approx([0, 0, 0])
    assert finished([1.0, 1.0, 1.0], WAX) == pytest.approx([1, 1, 1])
