"""The air where the panel will hang, and the woods on hand: shown as they are, written as the file has them."""

import pytest

from .bench import document, scene

AIR = {"humidity_low": 25, "humidity_high": 80.5, "temperature": 18}


def test_fields_show_what_holds_and_looking_or_typing_the_same_writes_nothing(bench):
    settings, before = scene().grainstack, document()
    shown = {key: getattr(settings, key) for key in AIR}
    assert shown == pytest.approx({"humidity_low": 35, "humidity_high": 60, "temperature": 20})
    for key, value in shown.items():
        setattr(settings, key, value)
    settings.in_hand = ""
    assert document() == before


def test_air_is_written_to_the_workshop_as_typed(bench):
    settings = scene().grainstack
    settings.humidity_high = AIR["humidity_high"]
    settings.humidity_low, settings.temperature = AIR["humidity_low"], AIR["temperature"]
    assert {key: document()["workshop"][key] for key in AIR} == AIR


def test_a_dry_season_that_is_damper_is_refused_in_words(bench):
    settings, before = scene().grainstack, document()
    settings.humidity_low = 70
    assert "not below the damp season's 60 %" in settings.trouble
    assert document() == before


def test_woods_on_hand_are_names_with_commas_between_and_may_be_none_again(bench):
    settings, before = scene().grainstack, document()
    settings.in_hand = " holly,  black   walnut ,"
    assert document()["workshop"]["in_hand"] == ["holly", "black walnut"]
    assert settings.in_hand == "holly, black walnut"
    settings.in_hand = ""
    assert "in_hand" not in document().get("workshop", {})
    assert document()["panel"] == before["panel"]
