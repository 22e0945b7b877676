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
from PIL import Image

from core.commands import main
from core.design import GluedBlank, Segment, Strip, Stripe
from core.errors import UnusableInput
from core.findings.check import load_stack
from core.sheet.buying import WASTE, items, to_buy
from core.sheet.contents import STEPS, Lines, PieceRow, Table, contents
from core.sheet.pdf_sheet import pdf_sheet
from core.sheet.picture import batch_map
from core.sheet.plan import plan_of
from core.sheet.stock_layout import stock_layout
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
    assert text.count(STEPS["fit"]) == len(plan.pieces) == 64
    for batch in plan.batches:
        own = "\n".join(page for page in pages if re.search(rf"bench sheet ·.*Batch {batch.number} of 6 ·", page))
        for piece in batch.pieces:
            assert f"{piece.id}, {piece.woods[0]}" in own
        assert f"{batch.file}-pockets" in own


def test_no_letter_is_lost_on_paper(pages) -> None:
    assert not re.search(r"\?(?=\d)|�|■", "\n".join(pages))


def test_all_that_is_drawn_lies_within_the_margins(sheet) -> None:
    """Looked at as pixels: a band of 5 mm along each edge of each page stays white."""
    with pypdfium2.PdfDocument(sheet) as document:
        for page in document:
            pixels = page.render(scale=1).to_numpy()[..., :3]
            band = round(5 / 25.4 * 72)
            for edge in (pixels[:band], pixels[-band:], pixels[:, :band], pixels[:, -band:]):
                assert (edge == 255).all()


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_page_of_the_pond_is_nearly_empty_but_the_last(blocks, paper) -> None:
    """Looked at as pixels: on every page something is drawn below its upper third."""
    with pypdfium2.PdfDocument(pdf_sheet("a", blocks, paper)) as document:
        for page in list(document)[:-1]:
            pixels = page.render(scale=0.5).to_numpy()[..., 1]
            body = pixels[: round(0.94 * len(pixels))]  # the foot is on every page
            lowest = max(row for row, line in enumerate(body) if (line < 200).any())
            assert lowest > len(pixels) / 3


def test_a_table_that_goes_on_has_its_header_again(pages) -> None:
    listed = [page for page in pages if "strip 1, segment 1\n" in page or "frame, lower\n" in page]
    assert len(listed) > 1
    assert all("length × width" in page for page in listed)


def test_the_sheet_tells_the_slack_in_face_trim_and_what_forces_the_days(blocks) -> None:
    slack = [line for b in blocks if isinstance(b, Lines) for line in b.lines if line.startswith("Slack")]
    assert slack[0].startswith("Slack: take off 2.70 mm (7/64 in -0.003) more than that, and 16 fallen-petal is sanded")
    cover = next(block for block in blocks if isinstance(block, Table))
    assert any("3 chains of pieces that wait for each other" in words for _, words in cover.rows)


def test_a_leaning_insert_is_marked_as_mirrored_and_no_other(plan) -> None:
    rows = [block for block in contents(plan, "mm") if isinstance(block, PieceRow)]
    assert {row.work.id for row in rows if "MIRRORED" in row.caption} == {
        piece.id for piece in plan.pieces if piece.placed.piece.taper > 0
    }
    assert sum("MIRRORED" in row.caption for row in rows) == 3


def test_the_buying_list_adds_up_wood_by_wood(plan, sheet) -> None:
    with sheet.with_name("koi-pond-buying.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    bought = {row["wood"]: row for row in rows if row["what"] == "buy"}
    cut_list = items(plan)
    layout = stock_layout(plan)
    missing = [each.item for each in layout.missing]
    assert {item.wood for item in missing} == set(bought)
    in_stock = {board.wood for board in plan.stack.design.stock}
    assert {item.wood for item in cut_list} - in_stock <= set(bought)
    for wood, row in bought.items():
        leaves = sum(leaf.length * leaf.width for leaf in layout.to_plane if leaf.wood == wood)
        sides = sum(item.length * item.width * item.count for item in missing if item.wood == wood)
        assert float(row["area_m2"]) == pytest.approx(max(sides * (1 + WASTE), leaves) / 1e6, abs=0.002)
        if wood not in in_stock:
            cut = [each for each in rows if each["what"] == "cut" and each["wood"] == wood]
            sides = sum(float(each["length_mm"]) * float(each["width_mm"]) * int(each["count"]) for each in cut)
            assert float(row["area_m2"]) == pytest.approx(max(sides * (1 + WASTE), leaves) / 1e6, abs=0.002)
    assert sum(one.volume for one in to_buy(cut_list)) == pytest.approx(sum(item.volume for item in cut_list))
    assert len([item for item in cut_list if item.use.startswith("spare")]) == len(
        {blank.woods for piece in plan.pieces for blank in piece.blanks}
    )


def test_lengths_are_in_the_units_asked_for() -> None:
    def said(units):
        rows = [block for block in contents(plan_of(small(), ()), units) if isinstance(block, PieceRow)]
        return " ".join(line for row in rows for line in row.lines)

    assert not re.search(r"\d in\b", said("mm"))
    assert not re.search(r"\d mm", said("inch"))
    assert re.search(r"5\.50 mm \(7/32 in -0\.002\)", said("both"))


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
