"""The cut files: read back by libraries that we did not write, measured, and cut in simulation."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
import sys
from concurrent.futures import BrokenExecutor, Executor, Future
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pyogrio
import pypdfium2
import pytest
import resvg_py
import shapely
import svgelements
from PIL import Image
from scipy.interpolate import BSpline

from core.commands import main
from core.cutter.rounding import grown
from core.design import LineOutline, PolygonOutline
from core.errors import UnusableInput
from core.findings.check import load_stack
from core.lines.curve import flattened
from core.lines.cuts import LAYERS, all_cuts
from core.lines.drawing import LABEL, WIDEST_LETTER, drawings
from core.lines.files import replace_set
from core.lines.fitting import fit_rings
from core.lines.layout import on_blank
from core.lines.notes import CLEARANCE_WORDS, wedge_words
from core.lines.proof import line_differs, prove, prove_batch
from core.lines.write import Choices, write_lines
from core.sheet.plan import plan_of
from core.stack.stack import build_stack
from tests.core.designs import disc, make_design, make_panel, make_piece, rectangle, star

KOI_POND = Path(__file__).parents[3] / "assets/koi-pond/koi-pond.panel.json"
CLOSE = 0.005
"""How far a line that is read back may lie from core's, mm (the issue's own bound)."""


@pytest.fixture(scope="module")
def pond():
    return load_stack(KOI_POND)


@pytest.fixture(scope="module")
def pond_lines(pond, tmp_path_factory):
    folder = tmp_path_factory.mktemp("lines")
    write_lines(pond, folder, findings=())
    return folder


@pytest.fixture(scope="module")
def pond_drawings(pond):
    return {drawing.name: drawing for drawing in drawings(pond, all_cuts(pond))}


def sample():
    """An upright piece with a hole, a leaning one, one drawn as drawn, a groove, and a later piece over the first."""
    return build_stack(
        make_design(
            [
                make_piece(
                    "plate", PolygonOutline(tuple(rectangle(40, 30)), (tuple(rectangle(10, 8, 15, 10)),)), at=(8, 8)
                ),
                make_piece("leaning", disc(11, count=200), at=(75, 25), taper=3.0, side_clearance=-0.05, floor_gap=0.3),
                make_piece("drawn", star(5, 14, 7), at=(30, 60), fit="as-drawn"),
                make_piece("reed", LineOutline(((60, 50), (110, 70)), 3.175)),
                make_piece("over", disc(9, count=120), at=(40, 22), pocket_depth=4.0),
            ],
            make_panel(),
        )
    )


# --- What is cut ----------------------------------------------------------------------------------------------------


def test_layers_name_the_side_that_the_cutter_runs_on():
    stack = sample()
    first, second = all_cuts(stack)
    layers = {cut.placed.piece.id: sorted({line.layer for line in cut.lines}) for cut in first.pockets}
    assert layers["plate"] == ["POCKET_EDGE", "POCKET_ISLAND"]
    assert layers["reed"] == ["GROOVE_CENTRE"]
    assert [cut.placed.piece.id for cut in second.pockets] == ["over"]
    inserts = {cut.placed.piece.id: sorted({line.layer for line in cut.lines}) for cut in first.inserts}
    assert inserts["plate"] == ["INSERT_EDGE", "INSERT_HOLE"]
    assert "reed" not in inserts  # a strip is sawn straight and bent


def test_a_leaning_pocket_s_line_is_its_section_at_the_floor_and_its_insert_s_the_one_at_the_face():
    """A disc of radius R leans in by depth x tan(taper): the right triangle of wall and depth."""
    (batch, _) = all_cuts(sample())
    pocket = next(cut for cut in batch.pockets if cut.placed.piece.id == "leaning")
    insert = next(cut for cut in batch.inserts if cut.placed.piece.id == "leaning")
    tan = np.tan(np.radians(3.0))
    width = lambda shape: shape.bounds[2] - shape.bounds[0]  # noqa: E731
    assert width(pocket.shape) == pytest.approx(2 * (11 - 6 * tan), abs=0.01)
    proud = insert.placed.top
    assert proud == pytest.approx(1.8)  # 7.5 thick, on a gap of 0.3, in a pocket 6 deep
    assert width(insert.shape) == pytest.approx(2 * (11 + 0.05 + proud * tan), abs=0.01)
    assert "floor" in pocket.plane
    assert "face" in insert.plane


def test_an_insert_that_leans_is_drawn_as_a_mirror_image_with_its_grain_along_the_blank():
    outline = [(0, 0), (30, 0), (30, 12), (8, 18)]
    for taper in (0.0, 2.0):
        stack = build_stack(make_design([make_piece("a", outline, at=(20, 20), grain=30.0, taper=taper)]))
        (cut,) = all_cuts(stack)[0].inserts
        laid = on_blank(cut, 3.0)
        fibre = laid.turn @ [np.cos(np.radians(30)), np.sin(np.radians(30))]
        assert abs(fibre[1]) < 1e-12
        assert np.linalg.det(laid.turn) == pytest.approx(-1 if taper else 1)
        assert laid.shape.area == pytest.approx(cut.shape.area)


def test_a_blank_has_room_for_the_cutter_all_round():
    for batch in all_cuts(sample()):
        for cut in batch.inserts:
            laid = on_blank(cut, 3.0)
            path = grown(laid.shape, cut.placed.piece.cutter_diameter)
            assert shapely.box(*laid.blank).contains(path)


def test_tabs_lie_on_straight_edges_along_the_grain_and_never_on_necks():
    dumbbell = [
        (0, 0),
        (30, 0),
        (30, 12),
        (60, 12),
        (60, 0),
        (90, 0),
        (90, 30),
        (60, 30),
        (60, 18),
        (30, 18),
        (30, 30),
        (0, 30),
    ]
    stack = build_stack(make_design([make_piece("a", dumbbell, at=(5, 5), grain=0.0)]))
    (cut,) = all_cuts(stack)[0].inserts
    laid = on_blank(cut, 3.0)
    left = laid.shape.bounds[0]
    assert len(laid.tabs) >= 2
    for at, out in laid.tabs:
        assert abs(out[1]) > 0.99  # the edge runs along x, the grain
        assert not 29 < at[0] - left < 61  # the neck, 6 mm wide


def test_every_tab_of_the_pond_lies_on_a_straight_outer_edge_along_the_grain_and_in_no_notch(pond):
    """The 6 mm of edge between a tab's marks, as shapely finds them, bend no more than an arc of 25 mm radius."""
    held = 0
    for cut in (cut for batch in all_cuts(pond) for cut in batch.inserts):
        laid = on_blank(cut, 3.0)
        edge, hull = laid.shape.exterior, laid.shape.convex_hull
        for at, out in laid.tabs:
            middle = edge.project(shapely.Point(at))
            stretch = [edge.interpolate((middle + shift) % edge.length) for shift in np.linspace(-3, 3, 25)]
            ends = stretch[-1].x - stretch[0].x, stretch[-1].y - stretch[0].y
            assert abs(np.degrees(np.arctan2(ends[1], ends[0])) + 90) % 180 > 69  # at most 21 degrees off the grain
            chord = shapely.linestrings([(p.x, p.y) for p in (stretch[0], stretch[-1])])
            assert max(p.distance(chord) for p in stretch) < 3**2 / (2 * 25)
            assert max(p.distance(hull.exterior) for p in stretch) < 0.4
            way_out = shapely.linestrings([at + 0.2 * out, at + np.array([0, np.sign(out[1]) * 500])])
            assert not way_out.intersects(laid.shape)  # straight to the blank's edge
            held += 1
    assert held > 50


def test_no_tab_lies_in_a_notch_or_at_its_mouth():
    notch = [(0, 0), (80, 0), (80, 40), (50, 40), (50, 16), (30, 16), (30, 40), (0, 40)]
    stack = build_stack(make_design([make_piece("a", notch, at=(5, 5), grain=0.0)]))
    (cut,) = all_cuts(stack)[0].inserts
    laid = on_blank(cut, 3.0)
    left, bottom = laid.shape.bounds[:2]
    assert len(laid.tabs) >= 2
    for at, _ in laid.tabs:
        x, y = at - [left, bottom]
        assert y < 1 or y > 38  # not on the notch's floor, 16 mm up
        assert y < 1 or not 26 < x < 54


def test_all_files_have_the_same_page_and_registration_marks(pond_drawings):
    pages = {(drawing.width, drawing.height) for drawing in pond_drawings.values()}
    assert len(pages) == 1
    for drawing in pond_drawings.values():
        corners = {tuple(points[1]) for points in drawing.strokes[:4]}
        assert corners == {(0.0, 0.0), (600.0, 0.0), (0.0, 400.0), (600.0, 400.0)}


def test_the_notes_say_zero_side_depth_cutter_and_that_clearance_is_in(pond_drawings):
    said = [words.text for words in pond_drawings["batch-01-pockets"].words]
    text = " ".join(said)
    for words in (
        "lower left corner of the raw panel",
        "POCKET_EDGE: cutter inside",
        "Depth 5.50",
        "3.175",
        CLEARANCE_WORDS,
    ):
        assert words in text
    inserts = " ".join(words.text for words in pond_drawings["batch-01-inserts"].words)
    assert "FACE DOWN, mirrored" in inserts
    assert "fallen-petal" in inserts
    assert "reed-1: no line, but a strip of yellow-poplar" in inserts


def test_words_tell_what_zero_means_for_a_blank_how_a_wedge_fits_and_how_leaves_are_glued(pond, pond_drawings):
    said = " ".join(words.text for words in pond_drawings["batch-01-inserts"].words)
    assert "tell the machine that its lower left corner lies at the x and y written below it" in said
    assert "length along the grain × width across it × thickness" in said
    assert "pad-1: glue its blank from 2 leaves edge to edge" in said
    assert (
        "by hand it goes in until it stands 3.23 mm above the raw face; press it 1.43 mm further down, to 1.80" in said
    )
    pockets = [words.text for words in pond_drawings["batch-01-pockets"].words]
    assert "Raw panel 600 wide, 400 high, 19 thick" in " ".join(pockets)
    assert "16  fallen-petal  4.00 deep, walls lean 2°" in pockets
    assert "17  fallen-petal-2  4.00 deep" in pockets
    assert "Select an edge and its islands together" in " ".join(pockets)


@pytest.mark.parametrize(("clearance", "gap"), [(-0.05, 0.3), (0.0, 0.3), (0.005, 0.3), (0.05, 0.3)])
def test_what_is_said_of_a_wedge_is_where_its_section_and_its_pocket_s_first_are_alike(clearance, gap):
    """Insert and pocket of a leaning disc are cones: the insert lowered until at no depth it is the wider one."""
    piece = make_piece("a", disc(12, count=400), at=(60, 40), taper=2.0, side_clearance=clearance, floor_gap=gap)
    stack = build_stack(make_design([piece]))
    placed = stack.pieces[0]
    said = wedge_words(placed)
    tan = np.tan(np.radians(2.0))
    face, tip = 12 - clearance + placed.top * tan, 12 - clearance + placed.bottom * tan  # the insert's radii in place
    length = placed.top - placed.bottom

    def fits(top):
        """Whether the insert, its top so far above the raw face, is nowhere wider than its pocket."""
        bottom = top - length
        return bottom >= -6 - 1e-9 and face - top * tan <= 12 + 1e-9 and tip <= 12 + bottom * tan + 1e-9

    heights = np.arange(-2.0, 12.0, 0.001)
    stands = min(top for top in heights if fits(top))
    numbers = [float(number) for number in re.findall(r"(\d+\.\d\d)", said)]
    assert min(abs(number - stands) for number in numbers) < 0.0061
    assert ("floor before it gets tight" in said) == (clearance / tan > gap)


def test_blanks_lie_at_whole_millimetres_on_the_panel_s_own_size_where_they_can(pond, pond_drawings):
    for name, drawing in pond_drawings.items():
        if not name.endswith("inserts"):
            continue
        words = " ".join(text.text for text in drawing.words)
        assert drawing.blanks
        for one in drawing.blanks:
            left, bottom, right, top = one.blank
            assert (left, bottom) == (round(left), round(bottom))
            assert f"its corner at {left:.0f}, {bottom:.0f}" in words
            assert right < 600
            assert top < 400
        assert (drawing.width, drawing.blanks[0].cut.placed.batch) == (600, int(name.split("-")[1]))


def test_the_seams_of_a_glued_blank_are_drawn_and_its_leaves_make_its_width(pond_drawings):
    pad = next(one for one in pond_drawings["batch-01-inserts"].blanks if one.cut.name == "pad-1")
    left, bottom, right, top = pad.blank
    (seam,) = pad.seams
    assert seam.tolist() == [[left, (bottom + top) / 2], [right, (bottom + top) / 2]]
    assert any(np.array_equal(stroke, seam) for stroke in pond_drawings["batch-01-inserts"].strokes)
    assert 2 * pad.leaf_width == pytest.approx(pad.width + 2 * 1.0)  # 1 mm a leaf to joint it
    assert not next(one for one in pond_drawings["batch-01-inserts"].blanks if one.cut.name == "pad-3").seams


def test_no_label_of_a_pocket_file_lies_on_a_line_of_it(pond_drawings):
    for name, drawing in pond_drawings.items():
        if not name.endswith("pockets"):
            continue
        lines = shapely.union_all([shapely.linestrings(line.points) for line in drawing.lines])
        labels = [words for words in drawing.words if "deep" in words.text and words.height == LABEL]
        assert labels
        for words in labels:
            x, y = words.at
            box = shapely.box(x, y, x + LABEL * WIDEST_LETTER * len(words.text), y + LABEL)
            assert not lines.intersects(box), words.text


def test_svg_groups_lines_of_one_depth_and_cutter_and_each_line_says_its_piece(pond, pond_lines):
    text = (pond_lines / "batch-01-pockets.svg").read_text(encoding="utf-8")
    ids = re.findall(r' id="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    edges = layer_text(text, "POCKET_EDGE")
    groups = dict(re.findall(r'<g id="POCKET_EDGE-([^"]+)">(.*?)</g>', edges, re.DOTALL))
    assert sorted(groups) == [
        "4.00-cutter-3.175",
        "4.00-cutter-3.175-taper-2",
        "5.50-cutter-3.175",
        "6.00-cutter-3.175",
    ]
    assert "<title>POCKET_EDGE, 4.00 mm, tapered cutter, 2° per side, 3.175 mm at its tip</title>" in edges
    held = {depth: re.findall(r'id="pocket-edge\.([^"]+)"', group) for depth, group in groups.items()}
    assert held["4.00-cutter-3.175-taper-2"] == ["fallen-petal"]
    pieces = {stack_piece.piece.id: stack_piece.piece for stack_piece in pond.pieces}
    for name, ids in held.items():
        assert {pieces[each].pocket_depth for each in ids} == {float(name.split("-")[0])}
    assert sum(map(len, held.values())) == len(re.findall("<path", edges)) + len(re.findall("<circle", edges))
    assert re.findall(r'id="groove-centre\.([^"]+)"', text) == ["reed-1", "reed-2"]


def test_dxf_groups_lines_of_one_depth_and_cutter_and_each_line_says_its_piece(pond, pond_lines, pond_drawings):
    for name, drawing in pond_drawings.items():
        document = ezdxf.readfile(pond_lines / f"{name}.dxf")
        assert tuple(document.header["$EXTMIN"]) == (0, 0, 0)
        assert tuple(document.header["$EXTMAX"]) == (drawing.width, drawing.height, 0)
        groups = {key: list(group) for key, group in document.groups}
        assert sum(map(len, groups.values())) == len(drawing.lines)
        for line in drawing.lines:
            entities = groups[f"{line.layer}-{line.setup.name}"]
            said = [entity.get_xdata("GRAINSTACK")[0].value for entity in entities]
            assert f"{line.name}, {line.setup.depth:.2f} mm, {line.setup.cutter}" in said
            assert {entity.dxf.layer for entity in entities} == {line.layer}
            assert line.name.split(".")[1] in {piece.piece.id for piece in pond.pieces}


def test_depths_that_differ_by_less_than_two_decimals_show_are_told_apart(tmp_path):
    depths = {"a": 5.5, "b": 5.504, "c": 5.5000000001, "d": 12.25}
    pieces = [make_piece(name, disc(6, count=60), at=(20 + 25 * n, 30), pocket_depth=depth)
              for n, (name, depth) in enumerate(depths.items())]  # fmt: skip
    write_lines(build_stack(make_design(pieces)), tmp_path, findings=())
    text = (tmp_path / "batch-01-pockets.svg").read_text(encoding="utf-8")
    groups = re.findall(r'<g id="POCKET_EDGE-([^"]+)">', text)
    assert groups == ["5.50-cutter-3.175", "5.504-cutter-3.175", "12.25-cutter-3.175"]
    assert "Depth 5.50, cutter 3.175 mm: a, c<" in text
    assert {name for name, _ in ezdxf.readfile(tmp_path / "batch-01-pockets.dxf").groups} == {
        f"POCKET_EDGE-{name}" for name in groups
    }


def test_the_table_of_contents_names_panel_batches_pieces_depths_and_cutters(pond, pond_lines, pond_drawings):
    contents = json.loads((pond_lines / "lines.json").read_text(encoding="utf-8"))
    assert contents["panel"] == {"width": 600, "height": 400, "thickness": 19}
    assert [batch["batch"] for batch in contents["batches"]] == [1, 2, 3, 4, 5, 6]
    ids = [sorted(cut["piece"] for cut in batch["pockets"]) for batch in contents["batches"]]
    assert ids == [sorted(pond.pieces[i].piece.id for i in batch) for batch in pond.batches]
    petal = next(cut for cut in contents["batches"][0]["pockets"] if cut["piece"] == "fallen-petal")
    assert petal["cutter"] == {"diameter": 3.175, "taper": 2}
    assert (petal["depth"], petal["number"], petal["lines"]) == (4, 16, ["pocket-edge.fallen-petal"])
    pad = next(cut for cut in contents["batches"][0]["inserts"] if cut["piece"] == "pad-1")
    assert pad["blank"]["leaves"] == 2
    assert pad["lines"] == ["insert-edge.pad-1", "insert-hole.pad-1"]
    named = {name for batch in contents["batches"] for kind in ("pockets", "inserts") for cut in batch[kind]
             for name in cut["lines"]}  # fmt: skip
    assert named == {line.name for drawing in pond_drawings.values() for line in drawing.lines}


def test_what_the_chapter_says_of_batch_1_is_in_its_files(pond, pond_lines):
    """Each row of its table: the file has the line on that layer, the depth and the cutter that it names."""
    chapter = (KOI_POND.parents[2] / "docs" / "lines.md").read_text(encoding="utf-8")
    rows = re.findall(
        r"^\| `([\w-]+)`, (.*?) \| `(batch-01-\w+)`, (.*?) \| (.*?) \| (.*?) \| (.*?) \|$", chapter, re.MULTILINE
    )
    assert [row[0] for row in rows] == ["pad-1", "reed-1", "fallen-petal", "pad-1"]
    batch = all_cuts(pond)[0]
    for name, what, file, layers, zero, depth, cutter in rows:
        notes = " ".join(re.findall(r"<text[^>]*>([^<]*)<", (pond_lines / f"{file}.svg").read_text(encoding="utf-8")))
        cuts = batch.inserts if file.endswith("inserts") else batch.pockets
        (cut,) = (cut for cut in cuts if cut.placed.piece.id == name)
        assert {line.layer for line in cut.lines} == set(re.findall(r"`([A-Z_]+)`", layers))
        piece = cut.placed.piece
        assert f"{piece.cutter_diameter:.3f} mm" in cutter
        if what == "its insert":
            assert f"{piece.insert_thickness:.2f} mm thick" in depth
            assert re.search(rf"{name} .*? × {piece.insert_thickness:.2f}", notes)
            assert f"its {re.search('corner.*at [0-9]+, [0-9]+', zero)[0].replace(', which is', '')}" in notes
        else:
            assert depth == f"{piece.pocket_depth:.2f} mm"
            assert re.search(rf"Depth {piece.pocket_depth:.2f}, [^:]*: [^:]*\b{name}\b", notes)
        assert (f"{piece.taper:g}° taper" in cutter) == bool(piece.taper)
        assert (f"at its tip: {name}" in notes) == bool(piece.taper)


def test_each_drawing_s_insert_blanks_do_not_overlap(pond_drawings):
    for name, drawing in pond_drawings.items():
        if name.endswith("inserts"):
            blanks = [shapely.polygons(s) for s in drawing.strokes[4:] if len(s) == 5]
            assert blanks
            tree = shapely.STRtree(blanks)
            a, b = tree.query(blanks, predicate="overlaps")
            assert not len(a), (name, b)


def test_a_piece_has_the_same_number_in_the_cut_files_the_templates_and_the_bench_sheet(tmp_path):
    """By the order of gluing, which here is not the order of the design."""
    pieces = [
        make_piece("late", rectangle(20, 10), at=(20, 20), after=("early",)),
        make_piece("early", rectangle(20, 10), at=(60, 50)),
    ]
    stack = build_stack(make_design(pieces))
    plan = {piece.placed.piece.id: piece.number for batch in plan_of(stack, ()).batches for piece in batch.pieces}
    assert plan == {"early": 1, "late": 2}
    write_lines(stack, tmp_path, findings=())
    pages = [
        " ".join(p.get_textpage().get_text_range().split()) for p in pypdfium2.PdfDocument(tmp_path / "templates.pdf")
    ]
    for name, number in plan.items():
        label = f"{number}  {name}  "
        for kind in ("pockets", "inserts"):
            assert f">{label}" in (tmp_path / f"batch-0{number}-{kind}.svg").read_text(encoding="utf-8")
            words = ezdxf.readfile(tmp_path / f"batch-0{number}-{kind}.dxf").modelspace().query("TEXT")
            assert any(text.dxf.text.startswith(label) for text in words)
            assert any(f"batch {number} of 2, {kind}" in page and f" {number} {name} " in page for page in pages)


# --- Read back ------------------------------------------------------------------------------------------------------


def within(one, other, distance):
    """Whether two lines lie within a distance of each other, looked at every 0.1 mm."""

    def near(points_of, line):
        shapely.prepare(line)
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(points_of, 0.1)))
        return shapely.dwithin(line, points, distance).all()

    return near(one, other) and near(other, one)


def same_lines(read, wanted, distance=CLOSE):
    """Whether each wanted line is there, and no other."""
    if len(read) != len(wanted):
        return False
    if not wanted:
        return True
    tree = shapely.STRtree([shapely.centroid(shapely.envelope(line)) for line in read])
    nearest = tree.nearest([shapely.centroid(shapely.envelope(line)) for line in wanted])
    assert len(set(nearest.tolist())) == len(wanted)
    return all(within(line, read[i], distance) for line, i in zip(wanted, nearest.tolist(), strict=True))


def dxf_line(entity):
    """A line by ezdxf: arcs by themselves, since its paths make coarse cubics of them; splines drawn by scipy."""
    if entity.dxftype() == "SPLINE":
        knots = np.array(entity.knots)
        curve = BSpline(knots, np.array(entity.control_points)[:, :2], entity.dxf.degree)
        return shapely.linestrings(curve(np.linspace(knots[0], knots[-1], int(knots[-1]) * 150 + 1)))
    if entity.dxftype() == "LWPOLYLINE" and not entity.has_arc:
        points = list(entity.get_points("xy"))
        return shapely.linestrings(points + points[:1] if entity.closed else points)
    parts = entity.virtual_entities() if entity.dxftype() == "LWPOLYLINE" else [entity]
    points = []
    starts = list(entity.get_points("xy")) if entity.dxftype() == "LWPOLYLINE" else [None]
    for part, start in zip(parts, starts, strict=False):
        own = [part.dxf.start, part.dxf.end] if part.dxftype() == "LINE" else list(part.flattening(0.0005))
        if start is not None and np.hypot(own[0].x - start[0], own[0].y - start[1]) > 1e-6:
            own.reverse()  # arcs run counter-clockwise there
        points += [(point.x, point.y) for point in own]
    return shapely.linestrings(points)


def of_layer(drawing, layer):
    return [shapely.linestrings(line.points) for line in drawing.lines if line.layer == layer]


def test_dxf_passes_its_audit_and_every_line_read_back_is_core_s(pond_lines, pond_drawings):
    assert_dxf_is_core_s(pond_lines, pond_drawings.values())


@pytest.mark.parametrize("curves", ["splines", "polylines"])
def test_so_it_does_with_other_curves(curves, pond, tmp_path):
    pieces = tuple(replace(piece, after=()) for piece in pond.design.pieces[::6])
    part = build_stack(replace(pond.design, pieces=pieces))
    assert len(part.batches) > 1
    write_lines(part, tmp_path, Choices(("dxf",), curves), findings=())
    assert_dxf_is_core_s(tmp_path, drawings(part, all_cuts(part)))


def assert_dxf_is_core_s(folder, of_drawings):
    for drawing in of_drawings:
        name = drawing.name
        document = ezdxf.readfile(folder / f"{name}.dxf")
        audit = document.audit()
        assert not audit.errors, audit.errors
        assert not audit.fixes
        assert document.header["$INSUNITS"] == 4
        assert document.dxfversion == "AC1024"
        for layer in LAYERS:
            entities = document.modelspace().query(f'*[layer=="{layer}"]')
            read = [dxf_line(entity) for entity in entities]
            assert same_lines(read, of_layer(drawing, layer)), (name, layer)


@pytest.mark.parametrize("curves", ["arcs", "splines"])
def test_a_second_library_reads_the_dxf_in_the_same_size_and_on_the_same_layers(curves, tmp_path, monkeypatch):
    """GDAL's reader of DXF, through pyogrio. It draws arcs in steps of so many degrees."""
    stack = sample()
    write_lines(stack, tmp_path, Choices(("dxf",), curves), findings=())
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.5"})
    for drawing in drawings(stack, all_cuts(stack)):
        meta, _, geometry, (layers, *_) = pyogrio.raw.read(tmp_path / f"{drawing.name}.dxf", columns=["Layer"])
        assert meta["fields"].tolist() == ["Layer"]
        shapes = shapely.from_wkb(geometry)
        for layer in LAYERS:
            read = [
                shapely.linestrings(shapely.get_coordinates(s))
                for s, where in zip(shapes, layers, strict=True)
                if where == layer
            ]
            # splines are drawn by that reader in few steps
            assert same_lines(read, of_layer(drawing, layer), CLOSE if curves == "arcs" else 0.3), (drawing.name, layer)


def test_the_pond_is_as_large_as_it_is_in_two_readers_of_each_format(pond_lines, pond_drawings):
    """The angles in the corners of the raw panel, 600 x 400 mm, by ezdxf and by GDAL; the page, and the angles on
    it, by svgelements and by resvg."""
    for name, drawing in pond_drawings.items():
        document = ezdxf.readfile(pond_lines / f"{name}.dxf")
        marks = [e.get_points("xy") for e in document.modelspace().query('LWPOLYLINE[layer=="NOTES"]')]
        _, _, geometry, (layers, *_) = pyogrio.raw.read(pond_lines / f"{name}.dxf", columns=["Layer"])
        shapes = shapely.from_wkb(geometry)
        lines = shapes[(layers == "NOTES") & (shapely.get_dimensions(shapes) == 1)]
        for corners in (
            {(round(x, 6), round(y, 6)) for points in marks[:4] for x, y in points[1:2]},
            {tuple(np.round(shapely.get_coordinates(line)[1], 6).tolist()) for line in lines[:4]},
        ):
            assert corners == {(0.0, 0.0), (600.0, 0.0), (0.0, 400.0), (600.0, 400.0)}
        file = pond_lines / f"{name}.svg"
        text = file.read_text(encoding="utf-8")
        notes = re.search(r'<g id="NOTES".*?</g>', text, re.DOTALL)[0]
        svg = svgelements.SVG.parse(io.StringIO(text[: text.index("<title>")] + notes + "</svg>"), ppi=254)
        assert (svg.width, svg.height) == pytest.approx((drawing.width * 10, drawing.height * 10))  # 10 units to the mm
        angles = list(svg.select(lambda element: isinstance(element, svgelements.Path)))[:4]
        ends = [abs(path)[1].end for path in angles]
        at = {(round(end.x / 10, 3), round(drawing.height - end.y / 10, 3)) for end in ends}
        assert at == {(0.0, 0.0), (600.0, 0.0), (0.0, 400.0), (600.0, 400.0)}
        png = bytes(resvg_py.svg_to_bytes(svg_string=text, dpi=25))
        assert Image.open(io.BytesIO(png)).size == pytest.approx(
            (drawing.width * 25 / 25.4, drawing.height * 25 / 25.4), abs=1
        )


def _steps(segment):
    """Parameters at which to look at a segment: 0.06 mm apart, within 0.0005 mm where it bends by 1 mm and more."""
    length = abs(complex(segment.end) - complex(segment.start)) * 1.3
    count = int(np.clip(np.ceil(length / 0.06), 12, 250))
    return np.linspace(0, 1, 2 if isinstance(segment, svgelements.Line | svgelements.Close) else count)


def layer_text(text, layer):
    """The group of a layer, with the groups in it."""
    return re.search(rf'<g id="{layer}" .*?</g>\n(?=<g id="[A-Z_]+" |</svg>)', text, re.DOTALL)[0]


def svg_lines(file, layer):
    """Lines of a layer by svgelements, flattened, y up, in the page's own millimetres."""
    text = file.read_text(encoding="utf-8")
    height = float(re.search(r'viewBox="0 0 \S+ (\S+)"', text)[1])
    group = layer_text(text, layer)
    lines = []
    for data, circle in re.findall(r'<path id="[^"]+" d="([^"]+)"/>|<circle id="[^"]+" ([^>]+)/>', group):
        if circle:
            cx, cy, r = (float(value) for value in re.findall(r'"([^"]+)"', circle))
            t = np.linspace(0, 2 * np.pi, 721)
            points = np.stack([cx + r * np.cos(t), cy + r * np.sin(t)], axis=1)
        else:
            segments = [seg for seg in svgelements.Path(data) if not isinstance(seg, svgelements.Move)]
            points = np.concatenate([np.asarray(seg.npoint(_steps(seg))) for seg in segments])
            points = points[np.append(True, np.any(np.diff(points, axis=0) != 0, axis=1))]
        lines.append(shapely.linestrings(points * [1, -1] + [0, height]))
    return lines


def test_every_line_of_the_svg_read_back_is_core_s(pond_lines, pond_drawings):
    for name, drawing in pond_drawings.items():
        for layer in LAYERS:
            assert same_lines(svg_lines(pond_lines / f"{name}.svg", layer), of_layer(drawing, layer)), (name, layer)


def test_the_svg_painted_by_another_library_has_core_s_areas(tmp_path):
    """resvg paints the edges filled; 15 pixels a millimetre, grey where an edge crosses one."""
    stack = sample()
    write_lines(stack, tmp_path, Choices(("svg",)), findings=())
    for drawing in drawings(stack, all_cuts(stack)):
        text = (tmp_path / f"{drawing.name}.svg").read_text(encoding="utf-8")
        assert f'width="{drawing.width:g}mm" height="{drawing.height:g}mm"' in text
        for layer in ("POCKET_EDGE", "INSERT_EDGE", "POCKET_ISLAND", "INSERT_HOLE"):
            wanted = sum(shapely.polygons(line.points).area for line in drawing.lines if line.layer == layer)
            if not wanted:
                continue
            group = layer_text(text, layer)
            head = text[: text.index("<title>")]
            filled = re.sub(r'fill="none" stroke="#\w+"', 'fill="#000" stroke="none"', group)
            png = bytes(resvg_py.svg_to_bytes(svg_string=f"{head}{filled}</svg>", dpi=96, zoom=4))
            picture = np.asarray(Image.open(io.BytesIO(png)))[..., 3] / 255.0
            pixel = drawing.width / picture.shape[1]
            assert picture.shape[1] == pytest.approx(drawing.width * 96 / 25.4 * 4, abs=2)
            assert picture.sum() * pixel * drawing.height / picture.shape[0] == pytest.approx(wanted, rel=0.002)


def test_lines_of_the_pond_take_at_most_a_tenth_of_the_polygons_nodes(pond):
    sources = [line.source for batch in all_cuts(pond) for cut in batch.cuts for line in cut.lines]
    vertices = sum(len(source) - 1 for source in sources)
    for pieces in ("arcs", "curves"):
        assert sum(curve.count for curve in fit_rings(sources, pieces)) <= vertices / 10


def test_a_disc_is_a_circle_in_both_formats(tmp_path):
    stack = build_stack(make_design([make_piece("a", disc(15, count=300), at=(60, 40))]))
    write_lines(stack, tmp_path, findings=())
    (circle,) = ezdxf.readfile(tmp_path / "batch-01-pockets.dxf").modelspace().query("CIRCLE")
    assert circle.dxf.radius == pytest.approx(15, abs=0.002)
    assert circle.dxf.layer == "POCKET_EDGE"
    assert "<circle" in (tmp_path / "batch-01-inserts.svg").read_text(encoding="utf-8")


# --- The cutter along the lines -------------------------------------------------------------------------------------


def test_a_disc_along_the_inside_of_a_pocket_line_stays_in_the_pocket_and_reaches_all_of_it(pond):
    """Swept along the written curve by shapely alone; 0.01 mm for the curve, the disc's polygon and 0.001 of radius."""
    for batch in all_cuts(pond):
        curves = iter(fit_rings([line.source for cut in batch.pockets for line in cut.lines], "arcs"))
        for cut in batch.pockets:
            own = [next(curves) for _ in cut.lines]
            if cut.placed.piece.is_groove:
                continue
            area = shapely.polygons(flattened(own[0], 0.001), [flattened(c, 0.001) for c in own[1:]] or None) if len(
                [line for line in cut.lines if line.layer == "POCKET_EDGE"]) == 1 else None  # fmt: skip
            if area is None:
                continue
            r = cut.placed.piece.cutter_diameter / 2 - 0.001
            path = shapely.boundary(shapely.buffer(area, -r, quad_segs=64))
            swept = shapely.buffer(path, r, quad_segs=64)
            assert shapely.covers(shapely.buffer(cut.shape, 0.01), swept)
            cleared = shapely.union(swept, shapely.buffer(area, -r, quad_segs=64))
            assert shapely.covers(shapely.buffer(cleared, 0.01), cut.shape)


def test_a_disc_along_the_outside_of_an_insert_line_never_enters_the_insert(pond):
    for batch in all_cuts(pond):
        curves = iter(fit_rings([line.source for cut in batch.inserts for line in cut.lines], "arcs"))
        for cut in batch.inserts:
            own = [next(curves) for _ in cut.lines]
            r = cut.placed.piece.cutter_diameter / 2 - 0.001
            area = shapely.polygons(flattened(own[0], 0.001), [flattened(c, 0.001) for c in own[1:]] or None)
            channel = shapely.buffer(shapely.boundary(shapely.buffer(area, r, quad_segs=64)), r, quad_segs=64)
            assert not shapely.intersects(shapely.buffer(cut.shape, -0.01), channel)


def test_the_proof_finds_lines_and_solids_alike(pond):
    for number in range(1, len(pond.batches) + 1):
        proofs = prove_batch(pond, number)
        assert proofs
        assert all(proof.same for proof in proofs)
        assert not list(line_differs(proofs))


def test_a_line_on_the_wrong_side_or_of_another_cutter_is_found():
    stack = build_stack(make_design([make_piece("a", star(5, 25, 12), at=(60, 40))]))
    (batch,) = all_cuts(stack)
    pocket = batch.pockets[0]
    curves = fit_rings([line.source for line in pocket.lines])
    assert prove([pocket], [curves])[0].same
    shifted = fit_rings([line.source + 0.02 for line in pocket.lines])
    (finding,) = line_differs(prove([pocket], [shifted]))
    assert (finding.level, finding.code, finding.piece) == ("error", "line-differs", "a")
    larger = replace(pocket, placed=replace(pocket.placed, piece=replace(pocket.placed.piece, cutter_diameter=6.0)))
    (proof,) = prove([larger], [curves])
    assert proof.difference > 0.1
    assert shapely.distance(shapely.points(proof.at), shapely.boundary(pocket.shape)) < 0.01


def test_an_insert_that_stands_so_proud_that_a_leaning_cutter_fills_its_notches_is_refused(tmp_path):
    """The notch's radius at the face shrinks by proud x tan(taper), and the cutter no longer gets in."""
    notched = PolygonOutline(((0, 0), (40, 0), (40, 30), (24, 30), (20, 12), (16, 30), (0, 30)))
    piece = make_piece("a", notched, at=(30, 20), taper=5.0, pocket_depth=4.0, insert_thickness=14.0)
    stack = build_stack(make_design([piece]))
    proofs = prove_batch(stack, 1)
    assert [finding.code for finding in line_differs(proofs)] == ["line-differs"]
    with pytest.raises(UnusableInput, match="line-differs"):
        write_lines(stack, tmp_path / "out", findings=())
    assert not (tmp_path / "out").exists()


# --- One set --------------------------------------------------------------------------------------------------------


def test_an_older_set_goes_as_a_whole_and_other_files_stay(tmp_path):
    (tmp_path / "mine.txt").write_text("mine")
    (tmp_path / "batch-09-pockets.dxf").write_text("old")
    stack = sample()
    write_lines(stack, tmp_path, findings=())
    names = {path.name for path in tmp_path.iterdir()}
    assert "mine.txt" in names
    assert "batch-09-pockets.dxf" not in names
    assert names >= {"batch-01-pockets.svg", "batch-02-inserts.dxf", "templates.pdf", "lines.json"}
    write_lines(stack, tmp_path, Choices(("svg",)), findings=())
    assert not list(tmp_path.glob("*.dxf"))
    assert json.loads((tmp_path / "lines.json").read_text())["format"] == "grainstack-lines/1"


def test_where_a_new_file_cannot_be_put_the_older_set_stays_whole(tmp_path):
    old = {"batch-01-pockets.svg": b"old", "lines.json": b"{}"}
    replace_set(tmp_path, old)
    (tmp_path / "templates.pdf").mkdir()
    (tmp_path / "templates.pdf" / "inner").write_text("x")
    with pytest.raises(UnusableInput, match="the old ones are unchanged"):
        replace_set(tmp_path, {"batch-01-pockets.svg": b"new", "templates.pdf": b"new", "lines.json": b"new"})
    assert (tmp_path / "batch-01-pockets.svg").read_bytes() == b"old"
    assert (tmp_path / "lines.json").read_bytes() == b"{}"
    assert {path.name for path in tmp_path.iterdir()} == {*old, "templates.pdf"}


def test_a_design_with_errors_writes_nothing(tmp_path, capsys):
    document = json.loads(KOI_POND.read_text(encoding="utf-8"))
    document["pieces"] = [
        {"id": "a", "wood": "holly", "outline": {"polygon": [[0, 0], [30, 0], [30, 20]]}, "at": [590, 50]}
    ]
    design = tmp_path / "bad.panel.json"
    design.write_text(json.dumps(document))
    assert main(["lines", str(design), "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "outside-panel" in told.err
    assert not (tmp_path / "out").exists()


def test_the_command_prints_the_table_of_contents_and_refuses_unknown_formats(tmp_path, capsys):
    design = tmp_path / "a.panel.json"
    panel = {"width": 100, "height": 80, "thickness": 19, "wood": "sapele"}
    piece = {"id": "a", "wood": "holly", "outline": {"polygon": [[0, 0], [30, 0], [30, 20]]}, "at": [20, 20]}
    design.write_text(json.dumps({"format": "grainstack-panel/1", "panel": panel, "pieces": [piece]}))
    assert main(["lines", str(design), "--out", str(tmp_path / "out"), "--format", "svg"]) == 0
    assert capsys.readouterr().out.strip() == str(tmp_path / "out" / "lines.json")
    assert main(["lines", str(design), "--out", str(tmp_path / "out"), "--format", "pdf"]) == 2
    assert (tmp_path / "out" / "batch-01-pockets.svg").exists()
    shutil.rmtree(tmp_path / "out")


def test_the_bench_sheet_s_command_writes_the_lines_beside_it(tmp_path):
    design = tmp_path / "a.panel.json"
    panel = {"width": 100, "height": 80, "thickness": 19, "wood": "sapele"}
    piece = {"id": "a", "wood": "holly", "outline": {"polygon": [[0, 0], [30, 0], [30, 20]]}, "at": [20, 20]}
    design.write_text(json.dumps({"format": "grainstack-panel/1", "panel": panel, "pieces": [piece]}))
    assert main(["sheet", str(design), "--out", str(tmp_path / "out")]) == 0
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert names >= {"a-sheet.pdf", "batch-01-pockets.svg", "batch-01-inserts.dxf", "templates.pdf", "lines.json"}


def test_a_second_process_writes_what_one_alone_writes(tmp_path):
    design = tmp_path / "a.panel.json"
    outlines = ([[0, 0], [30, 0], [30, 20]], [[5, 2], [25, 2], [25, 8], [5, 9]])
    pieces = [
        {"id": name, "wood": "holly", "outline": {"polygon": outline}, "at": [20, 20]}
        for name, outline in zip("ab", outlines, strict=True)
    ]
    panel = {"width": 100, "height": 80, "thickness": 19, "wood": "sapele"}
    design.write_text(json.dumps({"format": "grainstack-panel/1", "panel": panel, "pieces": pieces}))
    arguments = ["lines", str(design), "--out"]
    assert main([*arguments, str(tmp_path / "alone")]) == 0
    ran = subprocess.run(
        [sys.executable, "-m", "core.commands", *arguments, str(tmp_path / "two")], capture_output=True
    )
    assert ran.returncode == 0, ran.stderr
    alone, two = ({f.name: f.read_bytes() for f in (tmp_path / name).iterdir()} for name in ("alone", "two"))
    assert len(alone) == 10
    assert alone.keys() == two.keys()
    for name in alone:
        one, other = (sorted(without_dates(files[name]).splitlines()) for files in (alone, two))
        assert one == other, name  # sorted, since the classes of a DXF come in any order


def without_dates(file):
    """A DXF says when it was made, and has names of its own made up anew each time."""
    return re.sub(rb"\$(TD\w+|FINGERPRINTGUID|VERSIONGUID)\s+\d+\s+\S+|@ \d{4}-\S+", b"", file)


def test_where_the_second_process_dies_the_first_does_its_work(tmp_path):
    class Dead(Executor):
        def submit(self, *_, **__):
            future = Future()
            future.set_exception(BrokenExecutor())
            return future

    write_lines(sample(), tmp_path / "alone")
    write_lines(sample(), tmp_path / "died", helper=Dead())
    names = [{path.name for path in (tmp_path / folder).iterdir()} for folder in ("alone", "died")]
    assert names[0] == names[1]
    assert "batch-02-inserts.dxf" in names[0]


def test_work_that_is_stopped_leaves_the_older_set(tmp_path):
    write_lines(sample(), tmp_path, Choices(("svg",)), findings=())
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    def stop(step):
        if step == "templates":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_lines(sample(), tmp_path, findings=(), progress=stop)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


# --- Templates ------------------------------------------------------------------------------------------------------


def test_both_rulers_of_every_sheet_measure_100_mm(tmp_path):
    """Painted by pdfium at 300 dots per inch; the ruler's own strokes are found in its margins."""
    for paper in ("a4", "letter"):
        write_lines(sample(), tmp_path, Choices(("svg",), paper=paper), findings=())
        document = pypdfium2.PdfDocument(tmp_path / "templates.pdf")
        scale = 300 / 72
        for page in list(document)[:: max(1, len(document) // 3)]:
            if "Not at full size" in page.get_textpage().get_text_range():
                continue
            ink = np.asarray(page.render(scale=scale).to_pil().convert("L")) < 160
            mm = 300 / 25.4
            foot = ink[-round(9.2 * mm) : -round(8.8 * mm)].any(axis=0)
            left = ink[:, round(6.8 * mm) : round(7.2 * mm)].any(axis=1)
            for line in (foot[: round(117 * mm)], left):
                at = np.flatnonzero(line)
                assert (at[-1] - at[0]) / mm == pytest.approx(100, abs=0.2)


def test_the_sheets_laid_together_show_every_pocket_line_where_it_is(tmp_path):
    """Each sheet is painted, shifted to its place and laid over the others; red ink must cover every pocket's edge."""
    stack = build_stack(make_design([make_piece("a", disc(90, count=400), at=(150, 150))], make_panel(300, 300)))
    write_lines(stack, tmp_path, Choices(("svg",)), findings=())
    document = pypdfium2.PdfDocument(tmp_path / "templates.pdf")
    scale, mm = 2.0, 2.0 * 72 / 25.4
    across, up = 210 - 24, 297 - 36
    whole = np.zeros((round(320 * mm), round(400 * mm)), bool)
    for page in document:
        head = page.get_textpage().get_text_range()
        name = re.search(r"pockets, sheet ([A-Z])(\d+)", head)
        if not name:
            continue
        row, column = ord(name[1]) - ord("A"), int(name[2]) - 1
        picture = np.asarray(page.render(scale=scale).to_pil()).astype(int)
        red = (picture[..., 0] > picture[..., 1] + 60) & (picture[..., 0] > picture[..., 2] + 30)
        red = red[::-1]
        left, bottom = round((16 - column * (across - 10)) * mm), round((20 - row * (up - 10)) * mm)
        ys, xs = np.nonzero(red)
        ys, xs = ys - bottom, xs - left
        good = (ys >= 0) & (xs >= 0) & (ys < whole.shape[0]) & (xs < whole.shape[1])
        whole[ys[good], xs[good]] = True
    edge = shapely.get_coordinates(shapely.boundary(stack.pieces[0].pocket))
    around = np.stack(np.meshgrid([-1, 0, 1], [-1, 0, 1]), axis=-1).reshape(-1, 2)
    pixels = np.floor(edge * mm).astype(int)[:, None] + around
    assert whole[pixels[..., 1], pixels[..., 0]].any(axis=1).mean() > 0.99
