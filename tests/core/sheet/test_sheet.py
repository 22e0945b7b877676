"""The bench sheet on paper, read back with libraries that we did not write, and its buying list."""

from __future__ import annotations

import csv
import io
import json
import os
import re
from dataclasses import replace
from pathlib import Path

import pypdf
import pypdfium2
import pytest
import shapely
from PIL import Image

from core.commands import main
from core.design import GluedBlank, Segment, Strip, Stripe
from core.errors import UnusableInput
from core.findings.check import load_stack
from core.sheet.blocks import Heading
from core.sheet.buying import items
from core.sheet.contents import STEPS, Lines, PieceRow, Table, contents, wood_of
from core.sheet.end_pages import end_pages
from core.sheet.pdf_sheet import pdf_sheet
from core.sheet.picture import LEAST_MAP, MAP_WIDTH, Label, batch_map
from core.sheet.plan import plan_of
from core.sheet.told import Told
from core.sheet.tracking import bench_of, bench_path, bench_text, write_bench
from core.sheet.write import SheetChoices, write_sheet
from core.stack.stack import build_stack
from tests.core.designs import disc, make_design, make_panel, make_piece, rectangle

KOI_POND = Path(__file__).parents[3] / "assets/koi-pond/koi-pond.panel.json"


STRIPES = GluedBlank((Stripe("holly", 10.0), Stripe("wenge", 10.0)))


def small():
    return build_stack(make_design([make_piece("a", disc(15), at=(40, 40), pocket_depth=5.5)]))


@pytest.fixture(scope="module")
def plan():
    return plan_of(load_stack(KOI_POND), ())


@pytest.fixture(scope="module")
def blocks(plan):
    return contents(plan, "both")


@pytest.fixture(scope="module")
def sheet(plan, tmp_path_factory):
    folder = tmp_path_factory.mktemp("sheet")
    return write_sheet(plan.stack, folder, SheetChoices("letter"), findings=())


@pytest.fixture(scope="module")
def pages(sheet):
    return [page.extract_text() for page in pypdf.PdfReader(sheet).pages]


# ISO 216 gives A4 as 210 × 297 mm; ANSI/ASME Y14.1 gives size A (Letter) as 8 1/2 × 11 in (both from memory).
@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_pages_have_the_size_of_their_paper(paper, size) -> None:
    data = pdf_sheet("a", contents(plan_of(small(), ()), "both"), paper)
    for page in pypdf.PdfReader(io.BytesIO(data)).pages:
        sides = [float(side) / 72 * 25.4 for side in (page.mediabox.width, page.mediabox.height)]
        assert sides == pytest.approx(size, abs=0.05)


def test_every_piece_has_one_row_with_its_boxes_in_the_section_of_its_batch(plan, pages) -> None:
    text = "\n".join(pages)
    assert len(re.findall(rf"^{STEPS['fit']}$", text, re.MULTILINE)) == len(plan.pieces) == 64
    for batch in plan.batches:
        own = "\n".join(page for page in pages if re.search(rf"bench sheet ·.*Batch {batch.number} of 6 ·", page))
        for piece in batch.pieces:
            assert f"{piece.id}, {piece.woods[0]}" in own
        assert f"{batch.file}-pockets" in own


def test_no_letter_is_lost_on_paper(pages) -> None:
    assert not re.search(r"\?(?=\d)|�|■| \? ", "\n".join(pages))


def test_all_that_is_drawn_lies_within_the_margins(sheet) -> None:
    """Looked at as pixels: a band of 5 mm along each edge of each page stays white."""
    with pypdfium2.PdfDocument(sheet) as document:
        for page in document:
            pixels = page.render(scale=1).to_numpy()[..., :3]
            band = round(5 / 25.4 * 72)
            for edge in (pixels[:band], pixels[-band:], pixels[:, :band], pixels[:, -band:]):
                assert (edge == 255).all()


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_page_of_the_pond_is_nearly_empty_but_the_last(blocks, paper) -> None:
    """Looked at as pixels: on every page something is drawn below its upper third."""
    with pypdfium2.PdfDocument(pdf_sheet("a", blocks, paper)) as document:
        for page in list(document)[:-1]:
            pixels = page.render(scale=0.5).to_numpy()[..., 1]
            body = pixels[: round(0.94 * len(pixels))]  # the foot is on every page
            lowest = max(row for row, line in enumerate(body) if (line < 200).any())
            assert lowest > len(pixels) / 3


def pages_of(*blocks) -> list[str]:
    data = pdf_sheet("a", (Heading("begin", page=True), *blocks), "a4")
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(data)).pages]


def table_of(count: int) -> Table:
    return Table(("part", "length"), tuple((f"part {n}", f"{n} mm") for n in range(count)), (0.5, 0.5))


def test_a_table_that_goes_on_has_its_header_again() -> None:
    found = pages_of(table_of(120))
    assert len(found) > 1
    assert all("length" in page for page in found)


def test_a_table_that_would_be_torn_goes_to_the_next_page_with_its_heading() -> None:
    first, second = pages_of(table_of(45), Heading("next"), table_of(12))
    assert "next" not in first
    assert "next" in second
    assert "part 11" in second
    (both,) = pages_of(table_of(20), Heading("next"), table_of(12))
    assert "next" in both


def test_the_sheet_tells_how_thin_inserts_get_as_a_fact_and_what_forces_the_days(blocks) -> None:
    """Pocket 4.00 deep less the gap of 0.30 under a leaning insert less the face trim of 0.50: 3.20 mm are left."""
    lines = [line for b in blocks if isinstance(b, Lines) for line in b.lines]
    (thinnest,) = [line for line in lines if "the thinnest insert after this trim" in line]
    assert "16 fallen-petal, 3.20 mm (1/8 in) thick" in thinnest
    assert "so are 37 and 55" in thinnest
    assert not any("Slack" in line or "take off 2.70" in line for line in lines)
    cover = next(block for block in blocks if isinstance(block, Table))
    assert any("3 chains of pieces that wait for each other" in words for _, words in cover.rows)


def test_the_first_page_after_the_cover_is_the_whole_order_of_work(plan, blocks, pages) -> None:
    assert "The whole order of work" in pages[1]
    jobs = next(block for block in blocks if isinstance(block, Table) and block.header == ("", "job", "page"))
    said = [job for _, job, _ in jobs.rows]
    order = ["Buy", "Saw the boards", "Glue up the blanks", "Glue up the background", "Flatten", "Set zero, drill",
             *(f"Batch {n}:" for n in range(1, 7)), "Trim the face", "Put the finish", "Make the frame"]  # fmt: skip
    assert [words[: len(start)] for words, start in zip(said, order, strict=True)] == order
    text = " ".join("\n".join(pages).split())
    for _, _, where in jobs.rows:  # each page that is named is there
        assert any(isinstance(block, Heading) and block.text.startswith(where) for block in blocks)
        assert re.search(rf"bench sheet · [^|]*{re.escape(where)}", text)
    at = {
        block.text.partition(":")[0].partition(",")[0]: n
        for n, block in enumerate(blocks)
        if isinstance(block, Heading) and block.page
    }
    named = ["Boards to buy", "Boards in stock", "The background", "Zero", "Batch 1 of 6", "Batch 6 of 6", "Trim"]
    assert [at[name] for name in named] == sorted(at[name] for name in named)


def test_every_batch_says_how_zero_is_found_again(plan, blocks) -> None:
    strong = [" ".join(block.lines) for block in blocks if isinstance(block, Lines) and block.strong]
    said = [words for words in strong if "Then all pockets, all inserts" in words]
    assert len(said) == len(plan.batches)
    assert "zero set, pins drilled, panel on them, raw face up, depth touched off at the depth spot" in said[0]
    assert all("panel on its pins, depth touched off at the depth spot" in words for words in said[1:])
    assert "what stands proud of 20–30 comes down" in said[2]  # those of batch 1 are level since batch 2


def test_every_batch_names_its_cutters_and_what_is_done_after_a_change(plan, blocks) -> None:
    strong = [block.lines[-1] for block in blocks if isinstance(block, Lines) and block.strong]
    said = [words for words in strong if words.startswith("Cutter")]
    assert len(said) == len(plan.batches)
    for batch, words in zip(plan.batches, said, strict=True):
        setups = {piece.pocket.setup.cutter for piece in batch.pieces}
        assert ("After each change of cutter touch off depth anew" in words) == (len(setups) > 1)
        assert words.count(" mm") == len(setups)
        for piece in batch.pieces:
            assert f"{piece.pocket.setup.diameter:.2f}"[:4] in words
    assert "3.175 mm (1/8 in); tapered, 2° a side and 3.175 mm (1/8 in) at its tip, for 16." in said[0]
    assert re.search(r"2\.00 mm \([^)]*\) for 48\.", said[3])


def test_a_leaning_insert_is_told_how_far_above_its_floor_it_stops(blocks) -> None:
    """Pocket 4.00, insert 5.50, 0.30 left under it: 1.80 proud; 0.05 larger at 2° a side wedge 0.05 / tan 2° = 1.43."""
    rows = {block.work.number: block for block in blocks if isinstance(block, PieceRow)}
    for number, row in rows.items():
        leaning = [
            words
            for words in row.watch
            if "press it 1.43 mm further down, to 1.80 mm above the raw face; 0.30 mm stay free under it" in words
        ]
        assert len(leaning) == (number in (16, 37, 55))
    assert any("its edge at the face" in words for words in rows[16].watch)
    steps = " ".join(line for block in blocks if isinstance(block, Lines) for line in block.lines)
    assert "sits on its floor (a leaning one, MIRRORED, as far as its card says)" in steps


def test_the_panel_is_held_from_behind_its_ledge_and_can_move(plan, blocks) -> None:
    """Half of the 4.2 mm that it moves and 1 mm are left free; the deepest pocket, 8.00, leaves 11.00 of 19.00."""
    text = " ".join(line for block in contents(plan, "mm") if isinstance(block, Lines) for line in block.lines)
    assert "At the upper and lower edges leave at least 3.1 mm between the foot of a block and the ledge" in text
    assert "At the left and right edges put one block at mid-height" in text
    assert "the 11.00 mm that its deepest pocket leaves" in text


def test_zero_comes_before_the_pins_and_is_found_again_over_pin_1(plan) -> None:
    lines = [line for block in contents(plan, "mm") if isinstance(block, Lines) for line in block.lines]
    zero, pins = (
        next(n for n, line in enumerate(lines) if line.startswith(f"☐ {s}")) for s in ("Zero", "Then the pins")
    )
    assert pins == zero + 1
    (x, y), _ = plan.zero.pins
    assert any(f"centre the cutter over pin 1 and set x = {x:.2f} mm, y = {y:.2f} mm" in line for line in lines)


def test_joints_of_a_strip_are_marked_from_its_rough_end(plan) -> None:
    """Strip 1 begins with 382 mm of walnut in the raw panel, and sticks out 10 mm while it is glued."""
    rows = [row for b in contents(plan, "mm") if isinstance(b, Table) and "rip to width" in b.header for row in b.rows]
    assert (rows[0][0], rows[0][-1]) == ("1.1", "392.0 mm")


def test_each_flattening_of_the_background_says_to_what_thickness(plan) -> None:
    """From 21.0 mm in three steps alike to the raw panel's 19.0."""
    lines = [line for block in contents(plan, "mm") if isinstance(block, Lines) for line in block.lines]
    text = " ".join(line for line in lines if "☐" in line)
    said = re.findall(r"[Ff]latten (?:all parts alike, to|both faces to) (\S+) mm", text)
    assert said == ["20.3", "19.7", "19.00"]


def test_a_strip_is_cut_longer_and_told_where_to_be_shortened(blocks) -> None:
    rows = {block.work.number: block for block in blocks if isinstance(block, PieceRow)}
    for number in (1, 2):  # the reeds, whose ends are both out of sight
        assert any("try it dry, and shorten it at either end" in line for line in rows[number].lines)


def test_thin_leaves_are_planed_on_a_carrier_board(plan) -> None:
    lines = [line for block in contents(plan, "mm") if isinstance(block, Lines) for line in block.lines]
    (said,) = [line for line in lines if "The thinnest leaf here is" in line]
    assert "3.12 mm: many planers take nothing thinner than 6 mm" in said


@pytest.mark.parametrize(("watch", "told"), [(("colour: a strong wood",), True), (("tiny: hold it",), False)])
def test_sealing_is_told_with_the_face_trim_where_a_card_warns_of_colour(watch, told) -> None:
    made = plan_of(small(), ())
    (batch,) = made.batches
    made = replace(made, batches=(replace(batch, pieces=tuple(replace(piece, watch=watch) for piece in batch.pieces)),))
    lines = [line for block in end_pages(made, "mm") if isinstance(block, Lines) for line in block.lines]
    assert any("seal the pale wood thinly before you scrape the rest" in line for line in lines) == told


def test_no_word_of_a_program_stands_on_the_sheet(blocks) -> None:
    text = " ".join(line for block in blocks if isinstance(block, Lines) for line in block.lines)
    text += " ".join(cell for block in blocks if isinstance(block, Table) for row in block.rows for cell in row)
    assert not re.search(r"build\.py|--\w|_planing|min_|workshop's", text)


def test_each_part_of_a_piece_is_named_on_its_card_and_on_the_map(plan) -> None:
    rows = {row.work.id: row for row in contents(plan, "mm") if isinstance(row, PieceRow)}
    eyes = rows["beni-eyes"]
    assert any("33.1 and 33.2" in line for line in eyes.lines)
    labels = [mark.text for picture in eyes.pictures for mark in picture.marks if isinstance(mark, Label)]
    assert labels == ["33.1: 1 of 2", "33.2: 2 of 2"]
    on_map = [mark.text for mark in batch_map(plan, plan.batches[2]).marks if isinstance(mark, Label)]
    assert {"33.1", "33.2"} <= set(on_map)
    assert "33" not in on_map


@pytest.mark.parametrize("number", range(1, 7))
def test_numbers_on_a_map_do_not_cover_each_other(plan, number) -> None:
    labels = [mark for mark in batch_map(plan, plan.batches[number - 1]).marks if isinstance(mark, Label)]
    one = 600 / MAP_WIDTH
    for n, label in enumerate(labels):
        for other in labels[:n]:
            apart = max(abs(label.at[0] - other.at[0]) / 2, abs(label.at[1] - other.at[1]))
            assert apart > 2.4 * one, (label.text, other.text)


@pytest.mark.parametrize("number", range(1, 7))
def test_numbers_on_a_small_map_cover_no_other_pocket_and_no_other_number(plan, number) -> None:
    batch = plan.batches[number - 1]
    one = 600 / LEAST_MAP
    half = {1: 2.3, 2: 2.3, 4: 3.5}  # of the drawn plate, mm on paper; it is 3.9 mm high
    plates = {}
    for label in (mark for mark in batch_map(plan, batch).marks if isinstance(mark, Label)):
        (x, y), wide, high = label.at, half[len(label.text)] * one, 1.95 * one
        middle = shapely.LineString([(x - wide + high, y), (x + wide - high, y)])
        plates[label.text] = middle.buffer(high)
    for text, plate in plates.items():
        assert not any(plate.intersects(other) for name, other in plates.items() if name != text), text
        for piece in batch.pieces:
            if str(piece.number) != text.partition(".")[0]:
                assert not plate.intersects(piece.placed.pocket), (text, piece.number)


def test_a_leaning_insert_is_marked_as_mirrored_and_no_other(plan) -> None:
    rows = [block for block in contents(plan, "mm") if isinstance(block, PieceRow)]
    assert {row.work.id for row in rows if "MIRRORED" in row.caption} == {
        piece.id for piece in plan.pieces if piece.placed.piece.taper > 0
    }
    assert sum("MIRRORED" in row.caption for row in rows) == 3


def test_the_buying_list_has_boards_from_which_all_that_is_missing_can_be_sawn(plan, sheet) -> None:
    with sheet.with_name("koi-pond-buying.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    layout, bought = wood_of(plan)
    missing = {each.item.use for each in layout.missing}
    on_boards = {part.use for wood in bought for sawn in wood.boards for billet in sawn.billets
                 for leaf in billet.leaves for part in leaf.parts}  # fmt: skip
    assert on_boards == missing
    listed = {row["wood"]: row for row in rows if row["what"] == "buy"}
    assert set(listed) == {wood.wood for wood in bought}
    for wood in bought:
        for sawn in wood.boards:
            assert sawn.board.length >= 1.1 * sawn.used - 1e-6
        length, width, thickness = (float(listed[wood.wood][f"{side}_mm"]) for side in ("length", "width", "thickness"))
        assert float(listed[wood.wood]["area_m2"]) == pytest.approx(length * width / 1e6, abs=0.001)
        # A board foot is 144 cubic inches (tests/data/board_feet.csv).
        feet = length * width * thickness / 25.4**3 / 144
        assert float(listed[wood.wood]["board_feet"]) == pytest.approx(feet, abs=0.01)


def test_every_insert_can_be_sawn_from_the_spare_of_its_wood(plan) -> None:
    spares = {item.use: item for item in items(plan) if item.use.startswith("spare")}
    woods = {blank.woods for piece in plan.pieces for blank in piece.blanks}
    assert set(spares) == {*(f"spare, {wood}" for (wood,) in woods), "spare, yellow-poplar (strip)"}
    for piece in plan.pieces:
        for blank in piece.blanks:
            spare = spares[f"spare, {blank.woods[0]}"]
            allowance = 1.0 if spare.glued > 1 else 0.0  # for the jointed edges of each leaf
            assert blank.length <= spare.length
            assert blank.width <= spare.glued * (spare.width - allowance) + 1e-9
            assert blank.thickness <= spare.thickness
        if piece.strip is not None:
            spare = spares[f"spare, {piece.woods[0]} (strip)"]
            assert spare.length >= piece.strip.cut_length
            assert spare.width >= piece.strip.height
            assert spare.thickness == piece.strip.width


def test_lengths_are_in_the_units_asked_for() -> None:
    def said(units):
        rows = [block for block in contents(plan_of(small(), ()), units) if isinstance(block, PieceRow)]
        return " ".join(line for row in rows for line in row.lines)

    assert not re.search(r"\d in\b", said("mm"))
    assert not re.search(r"\d mm", said("inch"))
    assert re.search(r"5\.50 mm \(7/32 in\)", said("both"))
    assert "7/32 in less 0.002" in said("inch")


def test_a_design_with_an_error_gets_no_sheet_and_what_lay_there_stays(tmp_path, capsys) -> None:
    through = {
        "id": "a",
        "wood": "holly",
        "outline": {"polygon": rectangle(30, 20)},
        "at": [20, 20],
        "pocket_depth": 25,
    }
    panel = {"width": 100, "height": 80, "thickness": 19, "wood": "sapele"}
    design = tmp_path / "deep.panel.json"
    design.write_text(json.dumps({"format": "grainstack-panel/1", "panel": panel, "pieces": [through]}))
    out = tmp_path / "out"
    out.mkdir()
    old = out / "deep-sheet.pdf"
    old.write_bytes(b"old")
    assert main(["sheet", str(design), "--out", str(out)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert len(said.err.splitlines()) == 1
    assert "deep.panel.json: floor-too-thin: a at (" in said.err
    assert list(out.iterdir()) == [old]
    assert old.read_bytes() == b"old"


def test_where_one_file_cannot_be_written_none_is_changed(tmp_path) -> None:
    old = tmp_path / "panel-sheet.pdf"
    old.write_bytes(b"old")
    (tmp_path / "panel-buying.csv").mkdir()
    with pytest.raises(UnusableInput, match=r"panel-buying\.csv"):
        write_sheet(small(), tmp_path, findings=())
    assert old.read_bytes() == b"old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["panel-buying.csv", "panel-sheet.pdf"]


def test_a_panel_without_pieces_and_one_with_trimmed_away_corners_have_sheets_too(tmp_path) -> None:
    bare = build_stack(make_design([]))
    assert write_sheet(bare, tmp_path, findings=()).stat().st_size > 1000
    striped = make_panel(wood=None, strips=(Strip(120.0, (Segment(80.0, "wenge"),)),), edge_trim=(12.0, 0.0, 0.0, 0.0))
    one = build_stack(make_design([make_piece("a", disc(15), at=(2, 40), blank=STRIPES)], striped))
    html = write_sheet(one, tmp_path, SheetChoices("letter", "inch"), findings=()).with_suffix(".html")
    assert "holly + wenge" in html.read_text(encoding="utf-8")
    with html.with_name("panel-buying.csv").open(encoding="utf-8", newline="") as file:
        stripes = [row for row in csv.DictReader(file) if "stripes" in row["for"]]
    assert {row["wood"] for row in stripes} == {"holly", "wenge"}
    for row in stripes:
        assert int(row["count"]) * 10.0 >= 30.0 / 2


def test_maps_can_be_read_without_colour(plan) -> None:
    """What is hatched, greyed and numbered differs in lightness alone: no mark of a map has a hue."""
    for batch in plan.batches[:2]:
        for mark in batch_map(plan, batch).marks:
            looks = [getattr(mark, name, None) for name in ("fill", "stroke", "colour")]
            for look in filter(None, looks):
                channels = [int(look[k : k + 2], 16) for k in (1, 3, 5)]
                assert max(channels) - min(channels) <= 12


# --- A picture on the cover, and how far along it is ---------------------------------------------------------------


def saved(tmp_path, **changes) -> Path:
    design = {
        "format": "grainstack-panel/1",
        "panel": {"width": 120, "height": 80, "thickness": 19, "face_trim": 0.5, "wood": "sapele"},
        "pieces": [
            {"id": "bar", "wood": "holly", "at": [30, 30],
             "outline": {"polygon": [[0, 0], [40, 0], [40, 20], [0, 20]]}} | changes
        ],
    }  # fmt: skip
    path = tmp_path / "bar.panel.json"
    path.write_text(json.dumps(design), encoding="utf-8")
    return path


def rendering(path: Path) -> Path:
    Image.new("RGB", (2000, 1250), "#804020").save(path)
    return path


def pictures_on_the_cover(sheet: Path) -> int:
    return len(pypdf.PdfReader(sheet).pages[0].images)


def test_the_cover_shows_the_picture_that_is_given_or_lies_there_and_not_one_older_than_the_design(tmp_path) -> None:
    stack, out = load_stack(saved(tmp_path)), tmp_path / "out"
    assert pictures_on_the_cover(write_sheet(stack, out)) == 0
    given = rendering(tmp_path / "given.png")
    sheet = write_sheet(stack, out, SheetChoices(picture=given))
    assert pictures_on_the_cover(sheet) == 1
    assert "data:image/jpeg" in sheet.with_suffix(".html").read_text(encoding="utf-8")
    there = rendering(out / "bar-finished.png")
    assert pictures_on_the_cover(write_sheet(stack, out)) == 1
    os.utime(there, (0, 0))
    assert pictures_on_the_cover(write_sheet(stack, out)) == 0


def test_a_picture_that_is_none_is_refused_and_nothing_is_written(tmp_path) -> None:
    wrong = tmp_path / "wrong.png"
    wrong.write_bytes(b"no picture")
    with pytest.raises(UnusableInput, match=r"wrong\.png.*no picture that can be read"):
        write_sheet(load_stack(saved(tmp_path)), tmp_path / "out", SheetChoices(picture=wrong))
    assert not (tmp_path / "out").exists()


def test_a_sheet_with_a_tracking_file_beside_its_design_tells_how_far_along_it_is(tmp_path) -> None:
    design = saved(tmp_path)
    plan = plan_of(load_stack(design), ())
    write_bench(bench_path(design), bench_of(plan, {"bar": ("pocket", "insert")}, {"bar": (Told("depth", 16.0),)}))
    sheet = write_sheet(load_stack(design), tmp_path / "out")
    text = pypdf.PdfReader(sheet).pages[1].extract_text()
    assert "How far along it is" in text
    assert "2 of" in text
    assert "dry fits 1" in text
    assert "floor too thin" in text
    assert "Saw the insert of bar anew, 17.50 mm thick" in " ".join(text.split())
    page = sheet.with_suffix(".html").read_text(encoding="utf-8")
    assert "floor too thin" in page
    assert json.loads(re.search(r'id="plan">(.*?)</script>', page)[1])["bench"]["pieces"]["bar"]["told"]


@pytest.mark.parametrize("kind", ["damaged", "another design", "other pieces"])
def test_a_tracking_file_that_cannot_be_used_stops_the_sheet_and_is_kept(kind, tmp_path) -> None:
    design = saved(tmp_path, at=[50, 40], wood="ebony")
    other = plan_of(load_stack(design), ())
    design = saved(tmp_path)
    bench = bench_of(other, {"bar": ("pocket",)})
    path = bench_path(design)
    texts = {
        "damaged": "{",
        "another design": bench_text(replace(bench, design="pond")),
        "other pieces": bench_text(bench).replace('"bar"', '"beam"'),
    }
    path.write_text(texts[kind])
    before = path.read_text()
    with pytest.raises(UnusableInput, match=r"bar\.bench\.json"):
        write_sheet(load_stack(design), tmp_path / "out")
    assert path.read_text() == before
    assert not (tmp_path / "out").exists()


def test_a_sheet_warns_of_a_piece_that_has_changed_since_it_was_cut(tmp_path) -> None:
    design = saved(tmp_path)
    write_bench(bench_path(design), bench_of(plan_of(load_stack(design), ()), {"bar": ("pocket",)}))
    sheet = write_sheet(load_stack(saved(tmp_path, at=[50, 40])), tmp_path / "out")
    text = " ".join(pypdf.PdfReader(sheet).pages[1].extract_text().split())
    assert "changed after cutting: bar" in text
    assert "0 of" in text
    assert "Set the design back to what is cut: at (30.00, 30.00)" in text


def test_check_tells_what_came_out_otherwise_and_an_error_that_follows_is_one(tmp_path, capsys) -> None:
    design = saved(tmp_path)
    assert main(["check", str(design)]) == 0
    assert "At the bench" not in capsys.readouterr().out
    plan = plan_of(load_stack(design), ())
    write_bench(bench_path(design), bench_of(plan, {"bar": ("pocket", "insert")}, {"bar": (Told("depth", 9.0),)}))
    assert main(["check", str(design)]) == 1
    assert "error not-proud: bar" in capsys.readouterr().out
    assert main(["check", str(design), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert [each["code"] for each in found["bench"]] == ["not-proud", "other-depth"]
    bench_path(design).write_text("{")
    assert main(["check", str(design)]) == 2
    assert bench_path(design).read_text() == "{"
