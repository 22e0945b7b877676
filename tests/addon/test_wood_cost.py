"""The benchmark of wood: it renders both materials and puts the wood back."""

import bpy
import pytest

from benchmark import wood_cost


@pytest.mark.usefixtures("empty_file")
def test_a_view_is_measured_in_wood_and_in_plain_colours():
    scenes, objects = len(bpy.data.scenes), len(bpy.data.objects)
    taken = wood_cost.measure([wood_cost.FILLED], size=(32, 20), samples=1, rounds=1)
    assert set(taken) == {wood_cost.FILLED}
    assert set(taken[wood_cost.FILLED]) == {"wood", "plain"}
    assert all(seconds > 0 for seconds in taken[wood_cost.FILLED].values())
    assert (len(bpy.data.scenes), len(bpy.data.objects)) == (scenes, objects)


def test_all_views_that_show_wood_are_measured():
    assert {"finished", "proud", "exploded", "section", wood_cost.FILLED} <= set(wood_cost.VIEWS)
