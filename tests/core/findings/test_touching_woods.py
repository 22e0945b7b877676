"""Woods that are hard to tell apart where they meet, and colour that bleeds: on either side of each threshold."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from core.design import Piece, Segment, Strip
from core.findings.all_findings import find_all
from core.findings.finding import Finding, Step
from core.findings.touching_woods import BLEEDING
from core.stack.stack import build_stack
from core.woods import colour, contrast, vision
from core.woods.finish import FINISHES, at_age, finished
from core.woods.species import Species, find_wood, species_table
from tests.core.designs import make_design, make_panel
from tests.core.measures.test_touching_woods import box
from tests.core.tables import rows

READ = ("hard maple", "wenge")
"""Two woods that everyone tells apart."""
MUDDLED = ("bubinga", "sapele")
"""Two that nobody does."""


def told(code: str, *pieces: Piece, workshop: dict[str, Any] | None = None, **panel: Any) -> list[Finding]:
    design = make_design(pieces, make_panel(face_trim=0.5, **panel))
    design = replace(design, workshop=replace(design.workshop, **(workshop or {})))
    return [finding for finding in find_all(build_stack(design)) if finding.code == code]


def wood(name: str) -> Species:
    found = find_wood(name)
    assert found is not None
    return found


# Contrast


@pytest.mark.parametrize("name", ["black walnut", "holly", "padauk"])
def test_contrast_is_the_difference_of_finished_colours_as_eyes_see_them(name: str) -> None:
    """Each step by hand: age, oil, the published matrix of severity 1, CIEDE2000."""
    matrices = {row["deficiency"]: row for row in rows("cvd_reference.csv") if row["kind"] == "matrix"}
    found = contrast.contrast(wood(name), wood("hard maple"))
    for t, age in enumerate((0.0, 1.0)):
        labs = []
        for species in (wood(name), wood("hard maple")):
            linear = finished(at_age(species.fresh_colour, species.aged_colour, age), FINISHES["oil"])
            matrix = [[float(matrices["deutan"][f"m{i}{j}"]) for j in range(3)] for i in range(3)]
            labs.append([colour.lab_from_linear(np.clip(m @ linear, 0, 1)) for m in (np.eye(3), np.array(matrix))])
        for e, eyes in enumerate(("normal", "deutan")):
            expected = colour.difference(labs[0][e], labs[1][e])
            assert found[t, vision.EYES.index(eyes)] == pytest.approx(float(expected))


def test_from_low_on_two_woods_differ_by_more_than_two_boards_of_one() -> None:
    """Spruce varies by 3.70, 2.13 and 1.79 in L*, a*, b* about 80.08, 7.55, 21.56 (SEEN in a journal's abstract)."""
    rng = np.random.default_rng(1)
    one, other = rng.normal((80.08, 7.55, 21.56), (3.70, 2.13, 1.79), size=(2, 100_000, 3))
    boards = float(np.sqrt((colour.difference(one, other) ** 2).mean()))
    assert 0.6 * contrast.LOW < boards < contrast.LOW


def test_oil_brings_woods_nearest_together() -> None:
    """Which is why woods are compared under it: on the average of all pairs of the table."""

    def spread(finish: str) -> float:
        labs = [
            colour.lab_from_linear(finished(at_age(w.fresh_colour, w.aged_colour, 1.0), FINISHES[finish]))
            for w in species_table().values()
        ]
        return float(np.mean([colour.difference(a, b) for a in labs for b in labs]))

    assert spread("oil") == min(spread(finish) for finish in FINISHES)


def test_woods_that_read_are_not_told() -> None:
    assert told("low-contrast", box("a", 20, 20, 40, 20, wood=READ[0]), wood=READ[1]) == []


def test_a_piece_that_melts_into_its_background() -> None:
    (finding,) = told("low-contrast", box("a", 20, 20, 40, 20, wood=MUDDLED[0]), wood=MUDDLED[1])
    assert (finding.level, finding.piece, finding.other, finding.step) == ("note", "a", None, None)
    now, aged = contrast.contrast(wood(MUDDLED[0]), wood(MUDDLED[1]))[:, 0]
    assert (
        f"its {MUDDLED[0]} and the {MUDDLED[1]} of the background are hard to tell apart; they meet along 1"
        in finding.text
    )
    assert f"a colour difference of {now:.1f} when cut and {aged:.1f} when aged" in finding.text
    assert "none of your woods stands out" in finding.remedy


def test_a_better_wood_is_one_step() -> None:
    """Ebony and holly are told from sapele by everyone, koa is not; ebony is the nearer to bubinga."""
    one, other = box("a", 10, 10, 100, 60, wood="sapele"), box("b", 30, 30, 20, 10, wood="bubinga")
    hand = {"in_hand": ("holly", "koa", "ebony", "no such wood")}
    (finding,) = told("low-contrast", one, other, workshop=hand, wood="hard maple")
    assert (finding.piece, finding.other) == ("b", "a")
    assert finding.step == Step("b", "wood", "ebony")
    assert told("low-contrast", one, replace(other, wood="ebony"), workshop=hand, wood="hard maple") == []


def test_the_designs_own_woods_are_in_hand_where_none_is_named() -> None:
    pieces = (
        box("a", 10, 10, 60, 60, wood="sapele"),
        box("b", 30, 30, 20, 10, wood="bubinga"),
        box("c", 80, 30, 20, 10, wood="holly"),
    )
    (finding,) = told("low-contrast", *pieces, wood="hard maple")
    assert finding.step == Step("b", "wood", "holly")


def test_what_only_other_eyes_muddle() -> None:
    """Pear and yellow-poplar: reddish and greenish, of one lightness."""
    (finding,) = told("low-contrast", box("a", 20, 20, 40, 20, wood="pear"), wood="yellow-poplar")
    assert "red-blind and green-blind eyes hardly tell" in finding.text
    numbers = contrast.contrast(wood("pear"), wood("yellow-poplar"))
    assert f"of only {numbers.min():.1f} for these eyes, less than 6" in finding.text
    assert f"where normal eyes see {numbers[0, 0]:.1f} when cut and {numbers[1, 0]:.1f} when aged" in finding.text


@pytest.mark.parametrize(("share", "told_"), [(0.32, False), (0.345, True)])
def test_a_third_of_the_outline(share: float, told_: bool) -> None:
    """A box of 40 x 20 has an outline of 120; `share` of it lies on the second strip."""
    over = (share * 120 - 20) / 2
    strips = (Strip(60, (Segment(80, READ[0]),)), Strip(60, (Segment(80, MUDDLED[0]),)))
    piece = box("a", 60 + over - 40, 20, 40, 20, wood=MUDDLED[1])
    assert len(told("low-contrast", piece, strips=strips, wood=None)) == told_


@pytest.mark.parametrize(("size", "told_"), [(2.45, False), (2.55, True)])
def test_details_are_not_told(size: float, told_: bool) -> None:
    """A square's outline is four times its side, 10 mm from 2.5 on."""
    findings = told("low-contrast", box("a", 20, 20, size, size, wood=MUDDLED[0]), wood=MUDDLED[1])
    assert len(findings) == told_


@pytest.mark.parametrize(("grain", "told_"), [(29.0, True), (31.0, False), (151.0, True), (149.0, False)])
def test_a_piece_lost_in_its_own_wood(grain: float, told_: bool) -> None:
    piece = box("a", 20, 20, 40, 20, wood="walnut", grain=grain)
    findings = told("low-contrast", piece, wood="black walnut", grain=0.0)
    assert len(findings) == told_
    if told_:
        assert "only the glue line shows between its " in findings[0].text


@pytest.mark.parametrize(("share", "told_"), [(0.73, False), (0.77, True)])
def test_pieces_of_one_wood_may_merge(share: float, told_: bool) -> None:
    """A box of 40 x 20, `share` of whose outline lies on its own wood."""
    over = (share * 120 - 20) / 2
    strips = (Strip(60, (Segment(80, READ[0]),)), Strip(60, (Segment(80, READ[1]),)))
    piece = box("a", 60 + over - 40, 20, 40, 20, wood=READ[1], grain=90.0)
    assert len(told("low-contrast", piece, strips=strips, wood=None, grain=90.0)) == told_


@pytest.mark.parametrize(("seen", "told_"), [(49.5, False), (50.5, True)])
def test_strips_that_look_alike(seen: float, told_: bool) -> None:
    strips = tuple(Strip(60, (Segment(80, name),)) for name in MUDDLED)
    findings = told("low-contrast", strips=strips, wood=None, edge_trim=(0.0, 0.0, 80 - seen, 0.0))
    assert [(f.piece, f.step) for f in findings] == ([(None, None)] if told_ else [])
    if told_:
        assert f"they meet along {seen:.2f} mm" in findings[0].text


def test_two_woods_are_told_once_at_their_longest_edge() -> None:
    pieces = [box(f"leaf-{i}", 5 + 20 * i, 20, 10, 10 + 5 * i, wood=MUDDLED[0]) for i in range(5)]
    (finding,) = told("low-contrast", *pieces, wood=MUDDLED[1])
    assert finding.piece == "leaf-4"
    assert "Also at leaf-3, leaf-2, leaf-1 and 1 more" in finding.text


def test_unknown_woods_are_left_alone() -> None:
    assert told("low-contrast", box("a", 20, 20, 40, 20, wood="unobtainium"), wood=MUDDLED[1]) == []


# Colour that bleeds


@pytest.mark.parametrize("strong", BLEEDING)
@pytest.mark.parametrize(("beside", "told_"), [("holly", True), ("hard maple", True), ("cherry", False)])
def test_colour_gets_into_pale_wood(strong: str, beside: str, told_: bool) -> None:
    for piece, ground in ((strong, beside), (beside, strong)):
        findings = told("colour-bleed", box("a", 20, 20, 40, 20, wood=piece), wood=ground)
        assert [(f.level, f.piece, f.step) for f in findings] == ([("note", "a", None)] if told_ else [])
        if told_:
            assert f"dust and colour of {strong} get into {beside}" in findings[0].text
            assert f"seal the {beside} thinly before you scrape" in findings[0].remedy


@pytest.mark.parametrize(("size", "told_"), [(1.2, False), (1.3, True)])
def test_a_speck_bleeds_little(size: float, told_: bool) -> None:
    """A square's outline is four times its side, 5 mm from 1.25 on."""
    assert len(told("colour-bleed", box("a", 20, 20, size, size, wood="padauk"), wood="holly")) == told_


def test_bleeding_woods_are_in_the_table() -> None:
    assert [name for name in BLEEDING if find_wood(name) is None] == []
