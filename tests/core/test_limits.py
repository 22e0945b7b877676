"""What is too much is refused with its number before any work; what was slow for no reason is quick now.

Nothing here looks at a clock. Work beyond the limits would not end within the test's patience, or not within the memory
that a command is given here.
"""

from __future__ import annotations

import json
import math
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from core import limits
from core.commands import UNUSABLE, main
from core.design import PathOutline, PolygonOutline
from core.errors import UnusableInput
from core.findings.check import load_stack
from core.outlines.crossings import crossings
from core.outlines.curves import flatten, flattened_size
from core.outlines.piece_shape import load_outline
from core.outlines.svg_artwork import Artwork, load_artwork
from core.stack.stack import build_stack
from tests.core.designs import blob, make_design, make_piece, rectangle

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs" / "design-file.md"
PANEL = {"width": 600, "height": 400, "thickness": 19, "wood": "sapele"}
BOX = '<rect x="10" y="10" width="30" height="30"/>'
PAGE = 'width="100mm" height="100mm" viewBox="0 0 100 100"'


def write(folder: Path, *pieces: dict[str, Any], **panel: Any) -> Path:
    entries = [{"id": f"p{i}", "wood": "holly", **piece} for i, piece in enumerate(pieces)]
    path = folder / "pond.panel.json"
    document = {"format": "grainstack-panel/1", "panel": {**PANEL, **panel}, "pieces": entries}
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def artwork(folder: Path, body: str, page: str = PAGE) -> Path:
    text = f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{body}</svg>'
    (folder / "a.svg").write_text(text, encoding="utf-8")
    return write(folder, {"outline": {"svg": "a.svg"}})


def refusal(path: Path) -> str:
    with pytest.raises(UnusableInput) as refused:
        load_stack(path)
    return str(refused.value)


def random_points(count: int) -> list[list[float]]:
    made: list[list[float]] = np.random.default_rng(5).uniform(0, 300, (count, 2)).round(3).tolist()
    return made


# Sizes


@pytest.mark.parametrize(
    ("body", "page", "words"),
    [
        (f'<g transform="scale(1e8)"><g transform="scale(1e8)">{BOX}</g></g>', PAGE, "beyond all measure"),
        (BOX, 'width="100mm" height="100mm" viewBox="0 0 1e-300 1e-300"', "beyond all measure"),
        (BOX, 'width="1e300" height="1e300" viewBox="0 0 100 100"', "beyond all measure"),
        (f'<svg width="1e30" height="1e30" viewBox="0 0 1 1">{BOX}</svg>', PAGE, "beyond all measure"),
        (f'<use href="#r" x="1e300"/><defs><g id="r">{BOX}</g></defs>', PAGE, "beyond all measure"),
        (f'<g transform="matrix(nan 0 0 1 0 0)">{BOX}</g>', PAGE, "cannot be read"),
        (f'<g transform="matrix(1 0 0 1 inf 0)">{BOX}</g>', PAGE, "cannot be read"),
        ('<path d="M 10 10 A 1e-320 1e-320 0 0 1 40 40 L 10 40 Z"/>', PAGE, "too large or too small"),
        ('<path transform="scale(1e6)" d="M 10 10 C 20 0 40 60 60 10 Z"/>', PAGE, "within 1000 m"),
        ('<rect width="1e200" height="10"/>', PAGE, "too large to be meant"),
    ],
)
def test_artwork_beyond_all_measure_is_refused(tmp_path: Path, body: str, page: str, words: str) -> None:
    assert words in refusal(artwork(tmp_path, body, page))


@pytest.mark.parametrize(
    ("piece", "panel", "words"),
    [
        ({}, {"width": 10_001}, "panel.width: 10001 is too large. It must be 10000 or less"),
        ({}, {"thickness": 1001}, "panel.thickness: 1001 is too large"),
        ({"at": [1e6 + 1, 0]}, {}, "at[0]: 1e+06 is too large"),
        ({"corner_radius": 1001}, {}, "corner_radius: 1001 is too large"),
        ({"at": [1e5, 0]}, {}, "lies up to 100 m from the panel's corner. Move it to the panel"),
        ({"scale": 1e4}, {}, "lies up to 200 m from the panel's corner"),
        ({"scale": 1e5}, {}, "2e+03 m from its origin. Draw or scale it within 1000 m"),
        ({"outline": {"path": "M 0 0 A 1e-320 1e-320 0 0 1 9 9 L 0 9 Z"}}, {}, "too large or too small"),
        ({"outline": {"path": "M 0 0 C 9 0 9 9 0 9 Z"}, "scale": 9e5}, {}, "within 1000 m"),
        ({"outline": {"line": [[0, 0], [9, 9]], "width": 3}, "scale": 9e5}, {}, "within 1000 m"),
    ],
)
def test_sizes_that_no_panel_has_are_refused(
    tmp_path: Path, piece: dict[str, Any], panel: dict[str, Any], words: str
) -> None:
    square = {"outline": {"polygon": [[0, 0], [20, 0], [20, 20], [0, 20]]}}
    assert words in refusal(write(tmp_path, {**square, **piece}, **panel))


def test_a_piece_drawn_far_from_its_origin_is_worked_on_where_it_is_brought_back(tmp_path: Path) -> None:
    far = {"outline": {"polygon": [[9e5, 0], [9e5 + 20, 0], [9e5 + 20, 20]]}}
    assert "lies up to 900 m from the panel's corner" in refusal(write(tmp_path, far))
    placed = load_stack(write(tmp_path, {**far, "at": [60 - 9e5, 60]})).pieces[0]
    assert placed.sound
    assert shapely.bounds(placed.outline).tolist() == [60, 60, 80, 80]


# Counts


def test_lists_are_refused_by_their_length(tmp_path: Path) -> None:
    many = {"strips": [{"width": 0.003, "wood": "holly"}] * 200_000, "wood": None}
    panel = {key: value for key, value in {**PANEL, **many}.items() if value is not None}
    path = tmp_path / "pond.panel.json"
    path.write_text(json.dumps({"format": "grainstack-panel/1", "panel": panel}))
    assert "the list has 200000 strips. It needs at most 1000" in refusal(path)
    outline = {"polygon": [[0, 0]] * (limits.MOST_POINTS + 1)}
    assert "It needs at most 50000" in refusal(write(tmp_path, {"outline": outline}))


def test_segments_and_after_are_counted_over_the_whole_design(tmp_path: Path) -> None:
    strip = {"width": 100, "segments": [{"length": 0.5, "wood": "holly"}] * 800}
    path = tmp_path / "pond.panel.json"
    panel = {"width": 300, "height": 400, "thickness": 19, "strips": [strip] * 3}
    path.write_text(json.dumps({"format": "grainstack-panel/1", "panel": panel}))
    assert "panel.strips: 2 400 segments are too many; at most 2 000" in refusal(path)
    square = {"polygon": [[0, 0], [2, 0], [2, 2]]}
    pieces = [{"outline": square, "after": [f"p{j}" for j in range(i)]} for i in range(460)]
    assert "105 570 ids in after lists are too many" in refusal(write(tmp_path, *pieces))


@pytest.mark.parametrize(
    ("outline", "words"),
    [
        ({"line": random_points(20_000), "width": 3.175}, "points are too many; at most 50 000"),
        ({"line": random_points(20_000), "width": 3.175, "smooth": True}, "points are too many"),
        ({"line": random_points(600), "width": 0.1}, "cross or nearly cross each other more than 20 000 times"),
        ({"path": "M 0 0 " + "C 9000 0 9000 9000 0 9 " * 60 + "Z", "scale": 10}, "points are too many"),
    ],
)
def test_outlines_are_counted_before_they_are_made(tmp_path: Path, outline: dict[str, Any], words: str) -> None:
    scale = outline.pop("scale", 1)
    assert words in refusal(write(tmp_path, {"outline": outline, "scale": scale}))


def test_a_path_that_crosses_itself_too_often_is_refused(tmp_path: Path) -> None:
    path = "M" + " L".join(f"{x / 3} {y / 3}" for x, y in random_points(3_000)) + " Z"
    assert "cross or nearly cross each other more than 20 000 times" in refusal(
        artwork(tmp_path, f'<path d="{path}"/>')
    )


def test_curves_that_use_multiplies_are_counted(tmp_path: Path) -> None:
    ring = " ".join(f"{50 + 40 * math.cos(t):.3f},{50 + 40 * math.sin(t):.3f}" for t in np.linspace(0, 6, 3000))
    uses = '<use href="#p" x="1"/>' * 19_000
    words = refusal(artwork(tmp_path, f'<defs><polygon id="p" points="{ring}"/></defs>{uses}'))
    assert "draws more than 200 000 lines and curves" in words


def test_elements_are_counted_even_where_they_draw_nothing(tmp_path: Path) -> None:
    words = refusal(artwork(tmp_path, f"<metadata>{'<a/>' * limits.MOST_XML_ELEMENTS}</metadata>{BOX}"))
    assert "more than 200 000 elements" in words


def teeth(count: int, radius: float = 190.0, depth: float = 8.0) -> list[list[float]]:
    angle = np.arange(count) / count * math.tau
    radii = np.where(np.arange(count) % 2, radius, radius - depth)
    points: list[list[float]] = np.stack([300 + radii * np.cos(angle), 200 + radii * np.sin(angle)], axis=1).tolist()
    return points


def test_outlines_too_rough_to_round_are_refused(tmp_path: Path) -> None:
    assert "points of the arcs that round the corners" in refusal(
        write(tmp_path, {"outline": {"polygon": teeth(40_000)}})
    )
    crowded = {"outline": {"polygon": teeth(12_000, 60.0)}, "cutter_diameter": 6.0}
    assert "pairs of corners nearer to each other" in refusal(write(tmp_path, crowded))


def test_too_many_points_in_all_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("core.stack.workload.MOST_POINTS_IN_ALL", 1000)
    ring = [[100 * math.cos(t), 100 * math.sin(t)] for t in np.linspace(0, 6, 40).tolist()]
    path = write(tmp_path, *[{"outline": {"polygon": ring}}] * 26)
    assert "1 066 points in all outlines are too many" in refusal(path)


def test_too_many_overlaps_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    square = {"outline": {"polygon": [[0, 0], [40, 0], [40, 40], [0, 40]]}, "at": [100, 100]}
    path = write(tmp_path, *[square] * 40)
    monkeypatch.setattr("core.stack.workload.MOST_OVERLAPS", 700)
    assert "780 pairs of pieces that overlap are too many; at most 700" in refusal(path)
    monkeypatch.setattr("core.stack.workload.MOST_NEAR_PAIRS", 700)
    assert "pairs of pieces that may overlap, or more, are too many" in refusal(path)


def test_many_pieces_that_nearly_coincide_at_different_depths_are_refused(tmp_path: Path) -> None:
    square = {"outline": {"polygon": [[0, 0], [40, 0], [40, 40], [0, 40]]}}
    nearly = [{**square, "at": [100 + i * 1e-4, 100]} for i in range(46)]
    deep = [{**piece, "pocket_depth": 2 + i / 10} for i, piece in enumerate(nearly)]
    words = "1 035 pairs of pieces of different depths, or with leaning walls, that nearly coincide are too many"
    assert words in refusal(write(tmp_path, *deep))
    assert words in refusal(write(tmp_path, *[{**piece, "taper": 2} for piece in nearly]))
    assert load_stack(write(tmp_path, *deep[:45])).overlaps
    assert load_stack(write(tmp_path, *nearly)).overlaps


def test_two_outlines_that_cross_too_often_are_refused(tmp_path: Path) -> None:
    def comb(count: int) -> np.ndarray:
        x = np.repeat(np.arange(count) * 0.02, 2)
        edge = np.stack([x, np.where(np.arange(2 * count) % 4 // 2 == 0, 0.0, 40.0)], axis=1)
        return np.concatenate([edge, [[x[-1], -9.0], [0.0, -9.0]]])

    one = comb(2_000)
    other = one[:, ::-1] - [1.0, 0.0]
    assert crossings([one], [other], most=20_000) > 20_000


def test_overlaps_of_a_thousand_in_one_place_are_all_found() -> None:
    square = rectangle(20, 20, 30, 30)
    stack = build_stack(make_design([make_piece(f"p{i}", square) for i in range(120)]))
    assert len(stack.overlaps) == 120 * 119 // 2
    assert len(stack.batches) == 120
    assert [shape.is_empty for shape in stack.remnants] == [True] * 119 + [False]


def test_equal_pieces_in_one_place_share_their_shapes_and_nothing_else() -> None:
    square = rectangle(20, 20, 30, 30)
    pieces = [make_piece("one", square), make_piece("other", square), make_piece("beside", rectangle(60, 20, 30, 30))]
    one, other, beside = build_stack(make_design(pieces)).pieces
    assert one.pocket is other.pocket
    assert one.insert is other.insert
    assert one.pocket is not beside.pocket
    assert (one.piece.id, one.batch, other.piece.id, other.batch) == ("one", 1, "other", 2)


def test_what_many_later_pockets_leave_is_the_same_whether_cut_at_once_or_by_each(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rows = [make_piece(f"p{i}", blob(i, 14.0), at=(40 + i % 5 * 3.0, 30 + i // 5 * 3.0)) for i in range(24)]
    by_each = build_stack(make_design(rows)).remnants
    monkeypatch.setattr("core.stack.stack._MANY", 1000)
    at_once = build_stack(make_design(rows)).remnants
    assert any(not shape.is_empty for shape in at_once[:-1])
    for one, other in zip(by_each, at_once, strict=True):
        assert shapely.symmetric_difference(one, other).area < 1e-9


@pytest.mark.parametrize("seed", range(4))
def test_overlaps_are_those_that_areas_tell(seed: int) -> None:
    rng = np.random.default_rng(seed)
    at = rng.uniform(20, 90, (24, 2))
    pieces = [make_piece(f"p{i}", blob(i, float(rng.uniform(2, 12))), at=tuple(at[i])) for i in range(24)]
    stack = build_stack(make_design(pieces))
    pockets = [placed.pocket for placed in stack.pieces]
    told = {(f"p{i}", f"p{j}") for i in range(24) for j in range(i) if pockets[i].intersection(pockets[j]).area > 1e-6}
    assert {(later, earlier) for earlier, later in stack.overlaps} == told


# Patterns that would try in every way


@pytest.mark.parametrize(
    "body",
    [
        f'<rect x="10" y="10" width="{"1" * 200_000}!" height="30"/>{BOX}',
        f'<rect x="10" y="10" width="1{" " * 200_000}!" height="30"/>{BOX}',
        f'<rect x="10" y="10" width="30" height="30" fill-opacity="0{" " * 200_000}!"/>',
        f"<style>{'a' * 300_000}</style>{BOX}",
        f"<style>{'/*' * 150_000}</style>{BOX}",
        f"<style>{','.join(f'.c{i}' for i in range(20_000))}{{{'a:b;' * 40_000}}}</style>{BOX}",
        f'<defs><g id="g" class="{"a " * 30_000}">{BOX}</g></defs>' + '<use href="#g"/>' * 6_000,
    ],
    ids=["digits", "spaces", "share", "style", "comments", "rules", "classes"],
)
def test_long_words_are_read_in_one_pass(tmp_path: Path, body: str) -> None:
    artwork(tmp_path, body)
    assert load_artwork(tmp_path, "a.svg", "here").drawn(None)


def test_ids_are_not_compared_beyond_reason(tmp_path: Path) -> None:
    long = "".join(np.random.default_rng(3).choice(list("abcdefgh"), 400_000))
    artwork(tmp_path, f'<g id="{long}">{BOX}</g>')
    with pytest.raises(UnusableInput, match="no element with this id"):
        load_artwork(tmp_path, "a.svg", "here").shape_of("h" + long, 1.0, "here")


def test_rings_of_one_path_are_compared_only_where_they_meet(tmp_path: Path) -> None:
    data = " ".join(f"M {x} {y} h 1 v 1 h -1 Z" for x in range(0, 100, 2) for y in range(0, 100, 2))
    assert shapely.get_num_geometries(load_outline(make_piece("p0", PathOutline(data)), tmp_path).shape) == 50 * 50


# Counting


@pytest.mark.parametrize("seed", range(3))
def test_crossings_are_those_that_shapely_finds(seed: int) -> None:
    points = np.random.default_rng(seed).uniform(0, 10, (60, 2))
    edges = [shapely.linestrings(points[i : i + 2]) for i in range(59)]
    told = sum(edges[i].crosses(edges[j]) for i in range(59) for j in range(i))
    assert crossings([points]) == told
    assert crossings([points], most=10) > 10


def test_the_size_of_a_flattened_curve_is_told_before() -> None:
    cubics = np.random.default_rng(1).uniform(-9, 9, (40, 4, 2))
    cubics[1:, 0] = cubics[:-1, 3]
    for scale in (0.1, 1.0, 37.0):
        assert flattened_size(cubics, scale) == len(flatten(scale * cubics))


# Files


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes among its files")
def test_pipes_are_not_opened(tmp_path: Path) -> None:
    artwork(tmp_path, BOX)
    (tmp_path / "a.svg").unlink()
    os.mkfifo(tmp_path / "a.svg")
    assert "a.svg: this is a pipe or a device, not a file" in refusal(tmp_path / "pond.panel.json")
    os.mkfifo(tmp_path / "pipe.panel.json")
    assert "pipe.panel.json: this is a pipe or a device" in refusal(tmp_path / "pipe.panel.json")


MEMORY = """
import resource, sys
resource.setrlimit(resource.RLIMIT_AS, (1_000_000_000, 1_000_000_000))
from core.commands import main
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only here is the memory of a process bounded so")
@pytest.mark.parametrize("body", ['<path transform="scale(1e3)" d="M 1 1 C 9 9 90 9 90 1 Z"/>', None])
def test_what_is_refused_needs_little_memory(tmp_path: Path, body: str | None) -> None:
    path = artwork(tmp_path, body * 1_000) if body else write(tmp_path, {"outline": {"polygon": teeth(49_998)}})
    command = [sys.executable, "-c", MEMORY, "check", str(path)]
    few = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, env=few, check=False)
    assert done.returncode == UNUSABLE, done.stderr
    assert re.search("are too many|within 1000 m", done.stderr)
    assert len(done.stderr.splitlines()) == 1


def test_commands_refuse_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(write(tmp_path, {"outline": {"polygon": teeth(40_000)}}))]) == UNUSABLE
    assert len(capsys.readouterr().err.splitlines()) == 1


# The documentation


def test_the_documentation_tells_every_limit() -> None:
    text = " ".join(DOCS.read_text(encoding="utf-8").split())
    counts = [value for key, value in vars(limits).items() if key.startswith("MOST_") and key != "MOST_BYTES"]
    assert [value for value in counts if f"{value:,}".replace(",", " ") not in text.replace("\u202f", " ")] == []
    sizes = (
        limits.LARGEST / 1000,
        limits.LARGEST_PLACED / 1000,
        limits.LARGEST_PANEL / 1000,
        limits.LARGEST_DEPTH / 1000,
    )
    assert [size for size in sizes if f"{size:g} m" not in text] == []
    assert f"{limits.MOST_BYTES // 1_000_000} MB" in text


def test_names_of_shapes_are_counted_once(tmp_path: Path) -> None:
    body = "".join(f'<g id="g{i}"><rect id="r{i}" x="{i}" y="1" width="1" height="1"/></g>' for i in range(3))
    artwork(tmp_path, body)
    read: Artwork = load_artwork(tmp_path, "a.svg", "here")
    assert [read.name_of(shape) for shape in read.drawn(None)] == ["r0", "r1", "r2"]


def test_the_largest_outline_is_worked_on() -> None:
    angle = np.linspace(0, math.tau, limits.MOST_POINTS, endpoint=False)
    radius = 38 * (1 + 0.05 * np.sin(30 * angle))
    points = tuple(map(tuple, np.stack([60 + radius * np.cos(angle), 40 + radius * np.sin(angle)], axis=1).tolist()))
    stack = build_stack(make_design([make_piece("p0", PolygonOutline(points))]))
    assert stack.pieces[0].sound
