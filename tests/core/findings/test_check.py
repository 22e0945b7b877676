"""The check object: its keys, what its numbers mean, and that all wood and all voids are the panel."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given

from core.design import Design, LineOutline, Piece
from core.findings.causes import grouped
from core.findings.check import check_stack, check_text, count_words
from core.findings.finding import Finding
from core.findings.report_notes import note_lines
from core.measures.cautions import BENCH_IN_SHORT
from core.measures.movement import panel_movement
from core.stack.loading import load_stack
from core.stack.stack import build_stack
from tests.core.designs import (
    designs,
    disc,
    fewer,
    grid_designs,
    make_design,
    make_panel,
    make_piece,
    rectangle,
    ring,
)

ROOT = Path(__file__).resolve().parents[3]
BOW_TIE = [(0, 0), (10, 10), (10, 0), (0, 10)]
NUMBERS = ["batch", "outline_area", "fit_area", "insert_area", "visible_area", "pocket_volume", "insert_volume"]


def check(*pieces: Piece, **panel: Any) -> dict[str, Any]:
    return check_stack(build_stack(make_design(pieces, make_panel(**panel))))


def assert_adds_up(design: Design) -> None:
    __tracebackhide__ = True
    panel = (found := check_stack(build_stack(design)))["panel"]
    inserts = [piece["insert_volume"] or 0.0 for piece in found["pieces"]]
    assert panel["background_volume"] + math.fsum(inserts) + panel["gap_volume"] == pytest.approx(
        panel["volume"], rel=1e-9
    )
    assert panel["gap_volume"] > -1e-6
    assert json.loads(json.dumps(found, allow_nan=False)) == found


@given(designs())
@fewer(2)
def test_wood_and_voids_add_up_to_the_panel(design: Design) -> None:
    assert_adds_up(design)


@given(grid_designs())
def test_they_add_up_where_all_edges_lie_on_a_grid(design: Design) -> None:
    assert_adds_up(design)


@given(designs(most=3, tapers=(3.0, 0.0, 8.0)))
@fewer(4)
def test_they_add_up_where_walls_lean(design: Design) -> None:
    assert_adds_up(design)


def test_movement_is_that_of_the_trimmed_panel() -> None:
    stack = build_stack(make_design((), make_panel(wood="hard maple", grain=90.0, edge_trim=(10.0, 10.0, 0.0, 0.0))))
    moved = panel_movement(stack)
    assert moved is not None
    found = check_stack(stack)
    assert found["movement"] == {
        "humidity": [35, 60],
        "temperature": 20,
        "moisture": [moved.climate.dry, moved.climate.damp],
        "size": [100, 80],
        "quarter_sawn": list(moved.quarter_sawn),
        "flat_sawn": list(moved.flat_sawn),
        "frame_room": list(moved.frame_room),
    }
    words = f"{moved.flat_sawn[0]:.2f} mm in width, {moved.flat_sawn[1]:.2f} mm in height from 35 to 60 % humidity"
    assert words in check_text(stack, found)


def test_movement_of_an_unknown_wood_is_left_out() -> None:
    stack = build_stack(make_design((), make_panel(wood="zzz")))
    found = check_stack(stack)
    assert found["movement"] is None
    assert "humidity" not in check_text(stack, found)


def test_cautions_of_each_wood_are_kept_and_unknown_woods_are_left_out() -> None:
    pieces = [make_piece(f"p{i}", disc(8), at=(20 + 20 * i, 40), wood=w) for i, w in enumerate(["wenge", "Wenge", "x"])]
    stack = build_stack(make_design(pieces, make_panel(wood="basswood")))
    found = check_stack(stack)
    assert [wood["name"] for wood in found["woods"]] == ["basswood", "wenge"]
    wenge = found["woods"][1]
    assert (wenge["trade"], wenge["dust"]) == ("check", "sensitizer: eyes, airways")
    report = check_text(stack, found)
    assert "  Can cause allergies: wenge." in report.splitlines()


def test_the_report_says_once_which_woods_are_known_from_memory_to_do_harm() -> None:
    names = ["wenge", "purpleheart", "yellowheart", "holly", "cherry"]
    pieces = [make_piece(f"p{i}", disc(6), at=(15 + 17 * i, 40), wood=wood) for i, wood in enumerate(names)]
    stack = build_stack(make_design(pieces, make_panel(wood="basswood")))
    words = "allergies: wenge; irritation: purpleheart*, yellowheart*, cherry; nausea: purpleheart"
    assert f"Can cause {words} (* not checked against a source)." in " ".join(
        check_text(stack, check_stack(stack)).split()
    )


def test_the_report_says_what_to_beware_of_at_the_bench() -> None:
    stack = build_stack(make_design((), make_panel(wood="zzz")))
    report = " ".join(check_text(stack, check_stack(stack)).split())
    assert all(words in report for words in BENCH_IN_SHORT)
    for word in ("Cutters", "saws", "Dust", "Finishes", "rags", "local rules", "qualified people"):
        assert word in report


def test_keys() -> None:
    found = check(make_piece("koi", disc(12), at=(50, 40)), make_piece("box", rectangle(20, 20), at=(80, 30), wood="x"))
    assert list(found)[:7] == ["format", "title", "panel", "movement", "batches", "batch_reasons", "pieces"]
    assert list(found)[7:] == ["woods", "findings", "accepted", "work"]
    assert (found["format"], found["title"]) == ("grainstack-check/1", "sample")
    assert list(found["panel"]) == ["volume", "background_volume", "gap_volume", "floor_min", "floor_min_at"]
    assert set(found["pieces"][0]) >= {"id", "wood", *NUMBERS, "remnant_parts", "over"}
    for finding in found["findings"]:
        assert list(finding) == [
            "level",
            "code",
            "piece",
            "other",
            "at",
            "text",
            "remedy",
            "step",
            "value",
            "cause",
            "tried",
        ]
        assert isinstance(finding["value"], float | int)
        assert len(finding["at"]) == 2
    assert [finding["code"] for finding in found["findings"]] == ["unknown-wood", "corners-rounded"]


def test_a_plain_panel() -> None:
    found = check()
    whole = {"volume": 182400, "background_volume": 182400, "gap_volume": 0, "floor_min": 19, "floor_min_at": None}
    assert found["panel"] == whole
    assert (found["batches"], found["pieces"], found["findings"]) == ([], [], [])


@pytest.mark.parametrize("bad", [make_piece("bad", BOW_TIE, at=(40, 40)), make_piece("bad", disc(1), at=(40, 40))])
def test_a_piece_that_cannot_be_used_has_no_numbers_and_counts_as_absent(bad: Piece) -> None:
    koi, pad = make_piece("koi", disc(12), at=(40, 40)), make_piece("pad", disc(12), at=(60, 40), after=("bad",))
    found, without = check(koi, bad, pad), check(koi, replace(pad, after=()))
    assert [found["pieces"][1][key] for key in [*NUMBERS, "remnant_parts"]] == [None] * 8
    assert found["pieces"][1]["over"] == []
    assert found["batches"] == without["batches"] == [["koi"], ["pad"]]
    assert found["panel"] == without["panel"]
    assert [found["pieces"][0], found["pieces"][2]] == without["pieces"]
    assert found["findings"][0]["piece"] == "bad"


def test_an_unknown_wood_changes_no_number() -> None:
    known, unknown = (check(make_piece("koi", disc(12), at=(40, 40), wood=wood)) for wood in ("holly", "zzz"))
    assert known["panel"] == unknown["panel"]
    assert {**known["pieces"][0], "wood": "zzz"} == unknown["pieces"][0]


def test_areas_ignore_the_panels_edges_and_volumes_stop_at_them() -> None:
    """Half of a disc lies beyond the left edge."""
    found = check(make_piece("koi", disc(12), at=(0, 40), side_clearance=0.0))["pieces"][0]
    assert found["outline_area"] == found["fit_area"] == found["insert_area"] == pytest.approx(math.pi * 144)
    assert found["pocket_volume"] == pytest.approx(6 * math.pi * 144 / 2, rel=1e-5)
    assert found["insert_volume"] == pytest.approx(found["pocket_volume"], rel=1e-9)


def test_numbers_are_those_before_the_trims_but_for_what_is_seen() -> None:
    koi = make_piece("koi", disc(12), at=(30, 40))
    plain, trimmed = check(koi), check(koi, face_trim=1.0, edge_trim=(30.0, 0.0, 0.0, 0.0))
    assert plain["panel"] == trimmed["panel"]
    plain_koi, trimmed_koi = plain["pieces"][0], trimmed["pieces"][0]
    assert trimmed_koi["visible_area"] == pytest.approx(plain_koi["visible_area"] / 2, rel=1e-5)
    assert {**plain_koi, "visible_area": 0} == {**trimmed_koi, "visible_area": 0}


def test_remnant_parts_are_counted_after_both_trims() -> None:
    """A bar across a ring and another; at 5 mm only the deep one is left to cut it."""
    bar = make_piece("bar", rectangle(60, 10), at=(20, 35), pocket_depth=8.0)
    shallow = make_piece("shallow", rectangle(10, 30), at=(30, 25), pocket_depth=3.0)
    deep = make_piece("deep", rectangle(10, 30), at=(60, 25), pocket_depth=7.0)
    parts = [check(bar, shallow, deep, face_trim=trim)["pieces"][0]["remnant_parts"] for trim in (0.0, 5.0)]
    assert parts == [3, 2]
    edge = check(bar, shallow, deep, edge_trim=(40.0, 0.0, 0.0, 0.0))["pieces"][0]
    assert edge["remnant_parts"] == 2


def test_batches_and_over_are_in_design_order() -> None:
    names = ["z", "m", "a"]
    spots = [(40, 40), (60, 40), (50, 45)]
    found = check(*(make_piece(name, disc(12), at=at) for name, at in zip(names, spots, strict=True)))
    assert found["batches"] == [["z"], ["m"], ["a"]]
    assert found["pieces"][2]["over"] == ["z", "m"]


def test_depth_beyond_the_thickness_counts_as_a_hole_through() -> None:
    found = check(make_piece("koi", disc(12), at=(40, 40), pocket_depth=25.0))
    assert found["panel"]["floor_min"] == 0
    assert found["pieces"][0]["pocket_volume"] == pytest.approx(19 * math.pi * 144, rel=1e-6)


def test_an_oversized_tapered_insert_fills_its_pocket_but_for_the_floor_gap() -> None:
    piece = make_piece("koi", disc(12), at=(40, 40), taper=3.0, side_clearance=-0.05, floor_gap=0.5)
    found = check(piece)
    lean = math.tan(math.radians(3))
    low, floor = 12 - 5.5 * lean, 12 - 6 * lean
    under = math.pi * 0.5 / 3 * (low**2 + low * floor + floor**2)
    assert found["panel"]["gap_volume"] == pytest.approx(under, rel=1e-6)
    assert found["pieces"][0]["insert_volume"] == pytest.approx(found["pieces"][0]["pocket_volume"] - under, rel=1e-6)


def test_a_strip_leaves_its_groove_at_the_sides_and_at_both_ends() -> None:
    """Groove 3.175 wide, 50 long: strip 50 x 3.115, groove 50 x 3.175 and two half discs. DERIVED, plane geometry."""
    found = check(make_piece("reed", LineOutline(((20.0, 40.0), (70.0, 40.0)), 3.175)))
    reed = found["pieces"][0]
    assert reed["insert_area"] == pytest.approx(50 * 3.115, rel=1e-9)
    assert reed["fit_area"] == pytest.approx(50 * 3.175 + math.pi * 3.175**2 / 4, rel=1e-4)
    assert found["panel"]["gap_volume"] == pytest.approx(6 * (reed["fit_area"] - reed["insert_area"]), rel=1e-9)


# The report


def test_the_report_is_aligned_and_tells_all() -> None:
    bad = make_piece("bow-tie", BOW_TIE, at=(20, 60))
    pieces = [make_piece("koi", ring(14, 4), at=(40, 40)), make_piece("pad", rectangle(20, 20), at=(46, 30)), bad]
    stack = build_stack(make_design(pieces, make_panel(face_trim=0.5)))
    lines = check_text(stack, check_stack(stack)).splitlines()
    assert lines[0] == "sample"
    assert "  thinnest floor  13.00 mm" in lines
    start = next(i for i, line in enumerate(lines) if line.startswith("batch"))
    table = lines[start : start + 4]
    assert [row.split()[:2] for row in table[1:]] == [["1", "koi"], ["2", "pad"], ["-", "bow-tie"]]
    assert len({row.index(word) for row, word in zip(table, ("wood", *["holly"] * 3), strict=True)}) == 1
    assert "1 error, no warnings, 1 note" in lines
    assert max(map(len, lines)) <= 110
    assert "2 batches: pad cuts into koi." in lines
    assert "  places          (right, up) in mm from the lower left corner of the raw panel, face up" in lines[:start]


def test_the_report_says_what_its_other_notes_of_a_kind_are_about() -> None:
    codes = ["dust-stain"] * 3 + ["many-thicknesses"] * 2 + ["movement"] * 2
    found = [Finding("note", code, "eye", None, (1, 2), "eye at (1, 2): words", "Scrape") for code in codes]
    report = " ".join(" ".join(note_lines(grouped(found))).split())
    assert "words. 2 other pairs of woods too. Scrape." in report
    assert "words. 1 other wood too. Scrape." in report
    assert "words. 1 more such note. Scrape." in report


def test_the_koi_ponds_report_is_short_below_its_table() -> None:
    stack = load_stack(ROOT / "assets/koi-pond/koi-pond.panel.json")
    found = check_stack(stack)
    lines = check_text(stack, found).splitlines()
    below = lines[max(i for i, line in enumerate(lines) if re.match(r" +\d+  \S", line)) + 1 :]
    assert len(below) <= 30
    for note in (finding for finding in found["findings"] if finding["level"] == "note"):
        assert any(line.startswith(f"note {note['code']}: ") for line in below)
    assert "until every other cut is done; never by hand." in " ".join(below)


def test_a_note_that_is_shortened_keeps_its_words_of_safety() -> None:
    remedy = f"Saw it from a larger blank, {'and so on, ' * 20}keep your hands away, {'and so on, ' * 20}"
    (group,) = grouped([Finding("note", "small-part", "eye", None, (1, 2), "eye at (1, 2): it is tiny", remedy)])
    report = " ".join(" ".join(note_lines([group])).split())
    assert "keep your hands away." in report
    assert report.count("and so on") == 20


def test_a_long_chain_of_batches_is_cut_short() -> None:
    pieces = [make_piece(f"p{i}", disc(12), at=(20 + 3 * i, 40)) for i in range(12)]
    stack = build_stack(make_design(pieces))
    report = " ".join(check_text(stack, check_stack(stack)).split())
    assert "12 batches: p11 cuts into p10, which cuts into p9, " in report
    assert "which cuts into p4, and so on down to p0." in report


def test_counts_in_words() -> None:
    findings = [{"level": level} for level in ("error", "warning", "warning")]
    assert count_words(findings) == "1 error, 2 warnings, no notes"


def test_each_extra_batch_has_a_reason() -> None:
    """An overlap where there is one, else the maker's wish; the text follows one chain down."""
    found = check(
        make_piece("koi", disc(12), at=(30, 30)),
        make_piece("pad", disc(12), at=(45, 30)),
        make_piece("far", disc(8), at=(90, 60), after=("pad",)),
        make_piece("free", disc(8), at=(90, 20)),
    )
    assert found["batches"] == [["koi", "free"], ["pad"], ["far"]]
    assert found["batch_reasons"] == [
        {"piece": "pad", "batch": 2, "waits_for": "koi", "because": "overlap"},
        {"piece": "far", "batch": 3, "waits_for": "pad", "because": "after"},
    ]


@given(designs())
@fewer(4)
def test_reasons_lead_down_to_the_first_batch(design: Design) -> None:
    stack = build_stack(design)
    batch = {placed.piece.id: placed.batch for placed in stack.pieces}
    reasons = check_stack(stack)["batch_reasons"]
    assert [r["piece"] for r in reasons] == [name for name in batch if batch[name] > 1]
    assert all(batch[r["piece"]] == r["batch"] == batch[r["waits_for"]] + 1 for r in reasons)


def test_what_the_bench_wants_to_know() -> None:
    """Oversize 0.2 at 5 degrees stands proud 0.2 / tan 5, and 0.5 off the face moves an edge 0.5 tan 5. DERIVED."""
    wedge = make_piece("koi", rectangle(60, 20), at=(20, 20), taper=5.0, side_clearance=-0.2, grain=0.0)
    reed = make_piece("reed", LineOutline(((90.0, -9.0), (90.0, 89.0)), 3.175))
    koi, reed_1 = check(wedge, reed, face_trim=0.5)["pieces"]
    tangent = math.tan(math.radians(5))
    assert koi["stands_proud"] == pytest.approx(0.2 / tangent)
    assert koi["edge_shift"] == pytest.approx(0.5 * tangent)
    (blank,) = koi["blanks"]
    assert (blank["mirrored"], blank["leaves"], blank["thickness"]) == (True, 1, 7.5)
    assert (koi["strip_length"], reed_1["strip_length"]) == (None, 98)
    assert (koi["suggested_grain"], reed_1["suggested_grain"]) == (0, None)
    assert reed_1["stands_proud"] == 0


def test_a_cutter_is_suggested_when_asked_for() -> None:
    """A square corner is cut short by (sqrt 2 - 1) r, so within 0.5 mm by cutters up to 2.414 mm. DERIVED."""
    stack = build_stack(make_design([make_piece("koi", rectangle(40, 30), at=(20, 20))]))
    assert "suggested_cutter" not in check_stack(stack)["pieces"][0]
    (koi,) = check_stack(stack, suggest_cutters=True)["pieces"]
    assert (math.sqrt(2) - 1) * koi["suggested_cutter"] / 2 < 0.5
    assert koi["suggested_cutter"] == pytest.approx(25.4 * 3 / 32, abs=0.001)
    assert f"{koi['suggested_cutter']:.2f}" in check_text(stack, check_stack(stack, suggest_cutters=True))
