"""The frame's sides: closed, of the volume that plane geometry gives, meeting at the mitres; and what is refused.

Ledges of 6 mm and arrises of 1 mm are common practice, no published source; volumes are plane geometry (DERIVED).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from core.design import Design, Frame, Panel, Workshop
from core.design_file.reading import design_of
from core.design_file.writing import design_text
from core.errors import UnusableInput
from core.solids.frame import LAP, LEDGE, LIP, back_of, frame_sides, framed_box, framed_size, section_of
from core.solids.volumes import measure_volumes
from core.stack.stack import build_stack

PANEL = Panel(300.0, 200.0, 19.0, 0.5, (5.0, 5.0, 10.0, 10.0), "y", (), "black walnut", 0.0)
DOCUMENT = {"format": "grainstack-panel/1", "panel": {"width": 300, "height": 200, "thickness": 19, "wood": "cherry"}}
PROFILES = ("square", "bevel", "round")


def framed(**frame: object) -> Design:
    return Design("framed", PANEL, Workshop(), (), Path(), frame=Frame(**frame))


@pytest.mark.parametrize("profile", PROFILES)
def test_each_side_is_closed(profile: str) -> None:
    for side in frame_sides(framed(profile=profile)):
        edges = Counter((int(a), int(b)) for t in side.triangles for a, b in zip(t, np.roll(t, -1), strict=True))
        assert set(edges.values()) == {1}
        assert all((b, a) in edges for a, b in edges)
        assert side.volume > 0


@pytest.mark.parametrize("profile", PROFILES)
def test_a_sides_volume_is_that_of_its_mitred_section(profile: str) -> None:
    """At u from the opening a side of opening length L is L + 2u long, so its volume is A (L + 2 ū). DERIVED."""
    design = framed(profile=profile, width=24, reveal=3)
    section = shapely.Polygon(section_of(design))
    for side in frame_sides(design):
        opening = 300 - 10 + 6 if side.grain == 0 else 200 - 20 + 6
        assert side.volume == pytest.approx(section.area * (opening + 2 * section.centroid.x), rel=1e-9)


def test_the_square_section_is_an_upright_and_a_ledge_less_two_rounded_edges() -> None:
    """Width x depth and the ledge, less r² - n/2 r² sin(90°/n) for each edge rounded by n = 5 chords. DERIVED."""
    design = framed(width=20, reveal=4)
    depth = 18.5 + LEDGE + LIP
    whole = 20 * depth + (4 + LAP) * LEDGE
    assert whole - shapely.Polygon(section_of(design)).area == pytest.approx(2 * (1 - 2.5 * np.sin(np.radians(18))))
    assert framed_size(design).depth == depth


@pytest.mark.parametrize("profile", PROFILES)
def test_neighbours_meet_at_the_mitre_and_overlap_nowhere(profile: str) -> None:
    """The end of each side is the start of the next, point for point, in a plane at 45 degrees."""
    sides = frame_sides(framed(profile=profile))
    half = len(sides[0].vertices) // 2
    for side, following in zip(sides, (*sides[1:], sides[0]), strict=True):
        end, start = side.vertices[half:], following.vertices[:half]
        assert end == pytest.approx(start)
        along = np.ptp(end[:, :2], axis=0)
        assert along[0] == pytest.approx(along[1])
    assert [side.grain for side in sides] == [90, 0, 90, 0]


def test_the_frame_leaves_room_round_the_trimmed_panel() -> None:
    design = framed(width=18, reveal=4)
    assert framed_box(design) == (5 - 22, 10 - 22, 295 + 22, 190 + 22)
    size = framed_size(design)
    assert (size.width, size.height) == (334, 224)
    at_panel = [v for side in frame_sides(design) for v in side.vertices if v[2] > -19 + 1e-6]
    inside = [v for v in at_panel if 5 - 4 + 1e-6 < v[0] < 295 + 4 - 1e-6 and 10 - 4 + 1e-6 < v[1] < 190 + 4 - 1e-6]
    assert not inside
    assert min(v[2] for side in frame_sides(design) for v in side.vertices) == back_of(design) == -25


def test_volumes_know_nothing_of_the_frame() -> None:
    plain, wide = (build_stack(framed(width=width)) for width in (18, 90))
    assert measure_volumes(plain) == measure_volumes(wide)


@pytest.mark.parametrize(
    ("frame", "words"),
    [
        ({"wood": "unobtainium"}, "unobtainium"),
        ({"depth": 7.0}, "frame.depth"),
    ],
)
def test_a_frame_that_cannot_be_is_refused(frame: dict[str, object], words: str) -> None:
    with pytest.raises(UnusableInput, match=words):
        frame_sides(framed(**frame))


def test_a_panel_narrower_than_its_ledges_is_refused() -> None:
    with pytest.raises(UnusableInput, match="ledges"):
        frame_sides(replace(framed(), panel=replace(PANEL, height=30.0)))


def test_the_file_says_a_frame_and_defaults_stand_for_the_rest() -> None:
    assert design_of(DOCUMENT, "x.panel.json").frame == Frame()
    told = {"wall": "#AABBCC", "wood": "hard maple", "width": 25}
    assert design_of({**DOCUMENT, "frame": told}, "x").frame == Frame(wood="hard maple", width=25.0, wall="#aabbcc")


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("wall", "red", "frame.wall"),
        ("profile", "ogee", "square"),
        ("width", 0, "frame.width"),
        ("reveal", -1, "frame.reveal"),
        ("colour", "#000000", "unknown key"),
    ],
)
def test_a_wrong_frame_is_refused_with_its_place(key: str, value: object, words: str) -> None:
    with pytest.raises(UnusableInput, match=words):
        design_of({**DOCUMENT, "frame": {key: value}}, "x")


def test_the_writer_keeps_what_the_file_said_in_the_tables_order() -> None:
    text = design_text({**DOCUMENT, "frame": {"caption": False, "wall": "#aabbcc", "width": 25, "wood": "hard maple"}})
    assert '"frame": {"wood": "hard maple", "width": 25, "wall": "#aabbcc", "caption": false}' in text
