"""The sheet's page in a real browser: it keeps ticks, asks nothing of any network, prints, and anyone can use it."""

from __future__ import annotations

import io
import itertools
import json
import unicodedata
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from core.sheet.blocks import Photo
from core.sheet.contents import contents
from core.sheet.html_sheet import html_sheet
from core.sheet.plan import Plan, plan_of
from core.sheet.progress import progress
from core.sheet.told import Told
from core.sheet.tracking import bench_from, bench_of, bench_text, write_bench
from core.stack.stack import build_stack
from tests.core.designs import disc, make_design, make_panel, make_piece, rectangle

PIECES = (
    make_piece("low", disc(15, count=64), at=(40, 40), grain=0.0),
    make_piece("high", disc(8, count=64), at=(50, 40), grain=0.0, taper=2.0),
    make_piece("aside", rectangle(30, 16), at=(80, 12), grain=0.0),
)
TARGET = 44
"""Least width and height of what is touched, px: WCAG 2.1, success criterion 2.5.5, Target Size (from memory)."""


def plan_with(*pieces) -> Plan:
    return plan_of(build_stack(make_design(pieces, make_panel(face_trim=0.5))), ())


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_with(*PIECES)


@pytest.fixture(scope="module")
def file(plan, tmp_path_factory) -> Path:
    """The page, with a picture on its cover."""
    from PIL import Image

    data = io.BytesIO()
    Image.new("RGB", (40, 30), "#806040").save(data, "JPEG")
    blocks = (Photo(data.getvalue(), (40, 30), "The finished panel"), *contents(plan, "both")[1:])
    path = tmp_path_factory.mktemp("page") / "sample-sheet.html"
    path.write_text(html_sheet(plan, blocks), encoding="utf-8")
    return path


@pytest.fixture
def context(browser):
    """A browser that remembers nothing of earlier tests, as wide as a tablet held upright."""
    made = browser.new_context(viewport={"width": 768, "height": 1024}, has_touch=True, accept_downloads=True)
    yield made
    made.close()


@pytest.fixture
def page(context, file):
    """The page, freshly opened; no error may come up in it."""
    wrong: list[str] = []
    opened = context.new_page()
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    opened.goto(file.as_uri())
    yield opened
    assert not wrong


def exported(page) -> bytes:
    with page.expect_download() as waiting:
        page.click("#export")
    assert waiting.value.suggested_filename == "panel.bench.json"
    return Path(waiting.value.path()).read_bytes()


def imported(page, data: bytes) -> None:
    page.set_input_files("#import", {"name": "panel.bench.json", "mimeType": "application/json", "buffer": data})


def box(plan: Plan, name: str, step: str) -> str:
    return f"#{step}-{next(piece.number for piece in plan.pieces if piece.id == name)}"


def test_ticks_are_there_after_the_page_is_loaded_anew(page, plan) -> None:
    page.check(box(plan, "low", "pocket"))
    page.check("#shared-flat")
    page.reload()
    assert page.is_checked(box(plan, "low", "pocket"))
    assert page.is_checked("#shared-flat")
    assert not page.is_checked(box(plan, "low", "insert"))
    page.uncheck(box(plan, "low", "pocket"))
    page.reload()
    assert not page.is_checked(box(plan, "low", "pocket"))


def test_what_one_tablet_exports_another_takes_over_and_core_reads(page, plan, file, browser) -> None:
    for step in ("pocket", "insert", "fit", "glued"):
        page.check(box(plan, "low", step))
    page.check("#shared-flat")
    data = exported(page)
    assert bench_from(data) == bench_of(plan, {"low": ("pocket", "insert", "fit", "glued")}, shared=("flat",))
    other = browser.new_context()
    try:
        fresh = other.new_page()
        fresh.goto(file.as_uri())
        imported(fresh, data)
        assert not fresh.is_checked(box(plan, "low", "glued"))
        fresh.click("#take")
        assert fresh.is_checked(box(plan, "low", "glued"))
        assert bench_from(exported(fresh)) == bench_from(data)
    finally:
        other.close()


def test_the_page_tells_how_far_along_it_is_as_core_does(page, plan) -> None:
    states = (
        {},
        {"aside": ("pocket", "insert")},
        {"low": ("pocket", "insert", "fit", "glued"), "aside": ("pocket", "insert", "fit")},
        {piece.id: ("pocket", "insert", "fit", "glued") for piece in plan.pieces},
    )
    for steps in states:
        for shared in ((), ("flat",), ("flat", "pins"), ("flat", "pins", "level-2", "face")):
            known = [key for key in shared if page.query_selector(f"#shared-{key}")]
            bench = bench_of(plan, steps, shared=known)
            page.evaluate("localStorage.clear()")
            page.reload()
            imported(page, bench_text(bench).encode())
            page.click("#take")
            told = progress(plan, bench)
            assert page.inner_text("#along") == f"{told.words}."
            assert page.inner_text("#next") == f"Next: {told.next_words}."


def test_a_damaged_file_or_one_of_another_design_changes_nothing(page, plan) -> None:
    page.check(box(plan, "low", "pocket"))
    before = exported(page)
    moved = plan_with(*(replace(piece, at=(piece.at[0] + 5, piece.at[1] + 5), wood="ebony") for piece in PIECES))
    bad = [
        b"{",
        b"[]",
        before.replace(b"pocket", b"sanded"),
        before.replace(b'"depth"', b'"deep"'),
        bench_text(bench_of(moved, {"low": ("pocket",)})).encode(),
    ]
    for data in bad:
        imported(page, data)
        page.get_by_text("Nothing was changed").wait_for()
        assert page.is_hidden("#asked")
        assert exported(page) == before
        page.evaluate("document.getElementById('told').textContent = ''")


def test_ticks_that_the_browser_kept_damaged_are_put_aside_and_told(page) -> None:
    page.evaluate("localStorage.setItem('grainstack-bench/panel', '{')")
    page.reload()
    assert "put aside" in page.inner_text("#told")
    assert page.evaluate("localStorage.getItem('grainstack-bench/panel/damaged')") == "{"


def test_a_piece_that_changed_since_it_was_ticked_is_told_and_its_ticks_do_not_hold(page, plan, file, tmp_path) -> None:
    for name in ("low", "aside"):
        page.check(box(plan, name, "pocket"))
        page.check(box(plan, name, "insert"))
    low, high, aside = PIECES
    changed = plan_with(replace(low, wood="ebony"), high, replace(aside, at=(86, 12)))
    before = file.read_text(encoding="utf-8")
    try:
        file.write_text(html_sheet(changed, contents(changed, "both")), encoding="utf-8")
        page.reload()
        assert page.is_checked(box(changed, "low", "pocket"))  # only its wood is another
        assert not page.is_checked(box(changed, "low", "insert"))
        assert not page.is_checked(box(changed, "aside", "pocket"))
        number = next(piece.number for piece in changed.pieces if piece.id == "aside")
        assert "Changed since it was ticked" in page.inner_text(f"#old-{number}")
        page.click(box(changed, "aside", "insert"))
        assert "would be forgotten" in page.inner_text("#told")
        assert not page.is_checked(box(changed, "aside", "insert"))
        page.check(box(changed, "aside", "pocket"))
        assert page.is_hidden(f"#old-{number}")
    finally:
        file.write_text(before, encoding="utf-8")


def test_what_came_out_otherwise_is_told_kept_and_read_by_core(page, plan) -> None:
    number = next(piece.number for piece in plan.pieces if piece.id == "low")

    def tell(kind: str, mm: str = "", side: str = "") -> None:
        page.click(f"#piece-{number} button[data-tell]")
        page.select_option("#tell-what", kind)
        if mm:
            page.fill("#tell-mm", mm)
        if side:
            page.select_option("#tell-side", side)
        page.click("#tell-note")

    tell("depth", "much")
    assert page.is_visible("#tell-problem")
    page.fill("#tell-mm", "5,2")
    page.click("#tell-note")
    assert "6.70 mm thick" in page.inner_text(f"#told-{number}")
    tell("gap", "3", "left")
    tell("broke-back")
    told = bench_from(exported(page)).pieces["low"]
    assert told.told == (Told("depth", 5.2), Told("gap", 3, "left"), Told("broke", glued_back=True))
    assert told.steps == ("pocket", "insert")
    page.click(f"#piece-{number} button[data-tell]")
    page.click("#tell-back")
    assert page.is_hidden(f"#told-{number}")


def test_the_panel_on_the_page_follows_the_ticks(page, plan) -> None:
    number = next(piece.number for piece in plan.pieces if piece.id == "low")
    shown = f"#today-{number}"
    assert page.get_attribute(shown, "class") == "to-do"
    page.check(box(plan, "low", "pocket"))
    assert page.get_attribute(shown, "class") == "open"
    page.check(box(plan, "low", "glued"))
    assert page.get_attribute(shown, "class") == "glued"


def test_the_page_offers_the_tracking_file_that_lay_beside_the_design(context, plan, tmp_path) -> None:
    bench = bench_of(plan, {"low": ("pocket",)})
    path = tmp_path / "with-bench.html"
    path.write_text(html_sheet(plan, contents(plan, "both"), bench), encoding="utf-8")
    opened = context.new_page()
    opened.goto(path.as_uri())
    opened.click("#take")
    assert opened.is_checked(box(plan, "low", "pocket"))
    low, high, aside = PIECES
    moved = plan_with(replace(low, at=(47, 40)), high, aside)
    path = path.with_name("moved.html")
    path.write_text(html_sheet(moved, contents(moved, "both"), bench), encoding="utf-8")
    opened.evaluate("localStorage.clear()")
    opened.goto(path.as_uri())
    opened.evaluate("localStorage.clear()")
    opened.reload()
    assert "told at each: low" in opened.inner_text("#question")
    opened.click("#take")
    assert not opened.is_checked(box(moved, "low", "pocket"))
    number = next(piece.number for piece in moved.pieces if piece.id == "low")
    assert "Changed since it was ticked" in opened.inner_text(f"#old-{number}")


def test_the_page_asks_nothing_of_any_network(context, file, plan) -> None:
    asked: list[str] = []
    opened = context.new_page()
    opened.on("request", lambda request: asked.append(request.url))
    context.set_offline(True)
    opened.goto(file.as_uri())
    opened.check(box(plan, "low", "pocket"))
    imported(opened, exported(opened))
    opened.click("#take")
    opened.reload()
    asked = [url for url in asked if not url.startswith(("data:", "blob:"))]
    assert set(asked) == {file.as_uri()}


@pytest.mark.parametrize(("paper", "size"), [("A4", (210.0, 297.0)), ("Letter", (215.9, 279.4))])
def test_the_page_prints_all_pieces_and_no_buttons(page, plan, paper, size) -> None:
    page.check(box(plan, "low", "pocket"))
    printed = pypdf.PdfReader(io.BytesIO(page.pdf(format=paper)))
    texts = [" ".join(unicodedata.normalize("NFKC", sheet.extract_text()).split()) for sheet in printed.pages]
    assert len(texts) >= 3 + len(plan.batches)
    sides = [float(side) / 72 * 25.4 for side in (printed.pages[0].mediabox.width, printed.pages[0].mediabox.height)]
    assert sides == pytest.approx(size, abs=0.5)
    text = "\n".join(texts)
    for piece in plan.pieces:
        (only,) = [words for words in texts if f"{piece.id}, {piece.woods[0]}" in words and "dry fit" in words]
        assert "glued" in only
    for button in ("Export ticks", "Import ticks", "It came out otherwise", "Note it"):
        assert button not in text


def test_axe_finds_no_violation_on_the_page_in_its_question_or_in_its_form(page, plan) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()

    def violations() -> list[str]:
        found = axe.run(page).response["violations"]
        return [f"{each['id']}: {each['nodes'][0]['html'][:200]}" for each in found]

    assert violations() == []
    imported(page, bench_text(bench_of(plan, {"low": ("pocket",)})).encode())
    page.wait_for_selector("#take", state="visible")
    assert violations() == []
    page.click("#take")
    page.click("button[data-tell]")
    assert violations() == []


def test_on_a_tablet_768_px_wide_nothing_is_cut_off_and_targets_are_large(page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth") <= 768
    small = """least => [...document.querySelectorAll('button, label, select, input[type=text]')]
      .filter(each => each.checkVisibility() && each.getBoundingClientRect().width)
      .filter(each => { const box = each.getBoundingClientRect(); return box.width < least || box.height < least; })
      .map(each => each.outerHTML.slice(0, 120))"""
    assert page.evaluate(small, TARGET) == []
    page.click("button[data-tell]")
    page.select_option("#tell-what", "gap")
    assert page.evaluate(small, TARGET) == []
    boxes = page.evaluate(
        """() => [...document.querySelectorAll('label:has(input[type=checkbox])')].map(each => {
          const box = each.getBoundingClientRect(); return [box.top + scrollY, box.bottom + scrollY, box.left]; })"""
    )
    for (_, bottom, left), (top, _, other) in itertools.pairwise(boxes):
        assert left != other or top >= bottom - 0.5


def test_all_of_it_works_with_the_keyboard_alone(page, plan) -> None:
    page.focus(box(plan, "low", "pocket"))
    page.keyboard.press("Space")
    assert page.is_checked(box(plan, "low", "pocket"))
    page.focus("button[data-tell]")
    page.keyboard.press("Enter")
    assert page.evaluate("document.getElementById('tell').open")
    page.keyboard.press("Escape")
    assert not page.evaluate("document.getElementById('tell').open")


def test_a_file_that_core_wrote_is_taken_over_whole(page, plan, tmp_path) -> None:
    told = {"low": (Told("depth", 5.25), Told("gap", 3.0, "top"))}
    bench = bench_of(plan, {"low": ("pocket", "insert"), "aside": ("pocket",)}, told, ("flat",))
    write_bench(tmp_path / "panel.bench.json", bench)
    imported(page, (tmp_path / "panel.bench.json").read_bytes())
    page.click("#take")
    assert bench_from(exported(page)) == bench
    assert json.loads(exported(page))["pieces"]["low"]["told"][1] == {"what": "gap", "mm": 3, "side": "top"}
