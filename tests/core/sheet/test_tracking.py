"""What is ticked of each piece: read, written, held against a design; nothing is taken blindly."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from core.errors import UnusableInput
from core.sheet.contents import STEPS, contents
from core.sheet.html_script import SCRIPT
from core.sheet.html_sheet import html_sheet
from core.sheet.plan import plan_of
from core.sheet.progress import next_steps
from core.sheet.shared_work import shared_work
from core.sheet.told import KEYS, SIDES
from core.sheet.tracking import (
    Bench,
    Done,
    bench_from,
    bench_of,
    bench_text,
    compared,
    read_bench,
    write_bench,
)
from core.stack.stack import build_stack
from tests.core.designs import disc, make_design, make_piece

PIECES = (
    make_piece("low", disc(15, count=96), at=(40, 40)),
    make_piece("high", disc(8, count=96), at=(50, 40), taper=2.0),
    make_piece("aside", disc(9, count=96), at=(95, 20)),
)


def plan_with(*pieces):
    return plan_of(build_stack(make_design(pieces)), ())


@pytest.fixture(scope="module")
def plan():
    return plan_with(*PIECES)


def test_what_is_written_is_read_back(plan, tmp_path) -> None:
    path = tmp_path / "panel.bench.json"
    for done in ({"low": ("insert", "pocket")}, {"low": tuple(STEPS), "aside": ("pocket",)}):
        bench = bench_of(plan, done)
        write_bench(path, bench)
        assert read_bench(path) == bench
    assert read_bench(path).pieces["low"].steps == tuple(STEPS)
    assert [each.name for each in tmp_path.iterdir()] == [path.name]


ENTRY = {"content": "0123456789abcdef", "done": ["pocket"]}
WHOLE = {"format": "grainstack-bench/1", "design": "panel", "pieces": {"low": ENTRY}}


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        json.dumps(WHOLE)[:-9],
        json.dumps(WHOLE | {"format": "grainstack-bench/2"}),
        json.dumps(WHOLE | {"more": 1}),
        json.dumps(WHOLE | {"pieces": []}),
        json.dumps(WHOLE | {"pieces": {"low": ENTRY | {"content": "0123"}}}),
        json.dumps(WHOLE | {"pieces": {"low": ENTRY | {"done": ["sanded"]}}}),
        json.dumps(WHOLE | {"pieces": {"low": ENTRY | {"done": ["pocket", "pocket"]}}}),
        json.dumps(WHOLE | {"pieces": {"low": ENTRY | {"done": [[]]}}}),
        json.dumps(WHOLE | {"shared": {"flat": True}}),
        json.dumps(WHOLE | {"pieces": {"low": ENTRY | {"told": [{"what": "gap", "mm": 3}]}}}),
        json.dumps(WHOLE | {"pieces": {"low": ENTRY | {"told": [{"what": "gap", "mm": -3, "side": "left"}]}}}),
        json.dumps(WHOLE | {"pieces": {"low": ENTRY | {"told": [{"what": "depth", "mm": float("nan")}]}}}),
        json.dumps(WHOLE | {"pieces": {"low": ENTRY | {"told": [{"what": "melted"}]}}}),
        json.dumps(WHOLE | {"pieces": {"low": ENTRY | {"cut": {"depth": 6}}}}),
        '{"format": "grainstack-bench/1", "design": "", "pieces": {"a": 1, "a": 1}}',
        "[" * 100_000,
    ],
)
def test_a_damaged_file_is_refused_and_kept(text, plan, tmp_path) -> None:
    path = tmp_path / "panel.bench.json"
    path.write_text(text)
    with pytest.raises(UnusableInput, match=r"panel\.bench\.json"):
        read_bench(path)
    with pytest.raises(UnusableInput):
        write_bench(path, bench_of(plan, {"low": ("pocket",)}))
    assert path.read_text() == text


def test_a_file_of_another_design_is_not_written_over(plan, tmp_path) -> None:
    path = tmp_path / "panel.bench.json"
    other = Bench("pond", {"low": Done("0123456789abcdef", ("pocket",))})
    write_bench(path, other)
    with pytest.raises(UnusableInput, match='another design, "pond"'):
        write_bench(path, bench_of(plan, {}))
    assert read_bench(path) == other


def test_what_was_ticked_of_a_piece_that_has_changed_does_not_hold(plan) -> None:
    bench = bench_of(plan, {"low": ("pocket",), "high": ("pocket",), "aside": ("insert",)})
    low, high, aside = PIECES
    found = compared(bench, plan_with(low, replace(high, pocket_depth=5.0), replace(aside, id="elsewhere")))
    assert dict(found.same) == {"low": bench.pieces["low"]}
    assert found.changed == ("high",)
    assert found.gone == ("aside",)


def test_a_file_of_which_no_piece_fits_is_refused(plan) -> None:
    moved = plan_with(*(replace(piece, at=(piece.at[0] + 4, piece.at[1]), wood="ebony") for piece in PIECES))
    with pytest.raises(UnusableInput, match="not one of its pieces"):
        compared(bench_of(plan, {"low": ("pocket",)}), moved)


def test_a_pocket_is_next_only_when_what_it_cuts_into_is_glued_in(plan) -> None:
    number = {piece.id: piece.number for piece in plan.pieces}
    low, high, aside = number["low"], number["high"], number["aside"]
    assert next_steps(plan, {})["pocket"] == tuple(sorted((low, aside)))
    assert next_steps(plan, {"low": ("pocket", "insert")})["fit"] == (low,)
    assert next_steps(plan, {"low": ("pocket", "insert", "fit")})["glued"] == (low,)
    after = next_steps(plan, {"low": tuple(STEPS)})
    assert after["pocket"] == tuple(sorted((aside, high)))
    assert low not in after["insert"]
    assert not any(next_steps(plan, {piece.id: tuple(STEPS) for piece in plan.pieces}).values())


# --- The page -------------------------------------------------------------------------------------------------------


class Page(HTMLParser):
    """Elements with their attributes; the text of labels."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.named: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs) -> None:
        self.found.append((tag, dict(attrs)))
        self.open.append(tag)
        if tag in ("input", "meta"):
            if tag == "input" and "label" in self.open:
                self.named.append(str(dict(attrs)["id"]))
            self.open.pop()

    def handle_endtag(self, tag) -> None:
        if tag in self.open:
            while self.open.pop() != tag:
                pass

    def ids(self) -> list[str]:
        return [str(attributes["id"]) for _, attributes in self.found if "id" in attributes]


@pytest.fixture(scope="module")
def text(plan):
    return html_sheet(plan, contents(plan, "both"))


def test_the_page_has_a_named_box_for_each_step_of_each_piece_and_each_id_once(text, plan) -> None:
    page = Page(text)
    boxes = [found["id"] for tag, found in page.found if tag == "input" and found["type"] == "checkbox"]
    shared = [f"shared-{job.key}" for job in shared_work(plan)]
    assert boxes == [*shared, *(f"{step}-{piece.number}" for piece in plan.pieces for step in STEPS)]
    assert set(boxes) <= set(page.named)
    ids = page.ids()
    assert len(ids) == len(set(ids))
    assert all(found.get("aria-label") for tag, found in page.found if tag == "svg")
    for name in re.findall(r'getElementById\("([a-z-]+)"\)', SCRIPT):
        assert name in ids


def test_the_page_asks_nothing_of_any_network(text) -> None:
    page = Page(text)
    asking = {"src", "href", "srcset", "data", "action", "poster"}
    assert not [(tag, name) for tag, found in page.found for name in found if name in asking]
    assert not re.search(r"https?:|//[a-z]|url\(|@import|fetch\(|XMLHttp|WebSocket", text)
    policy = next(found["content"] for tag, found in page.found if found.get("http-equiv"))
    assert "default-src 'none'" in str(policy)


def test_titles_and_names_cannot_break_out_of_the_page(plan) -> None:
    nasty = replace(plan, title="</script><b>&", name="</script><b>")
    said = html_sheet(nasty, contents(nasty, "mm"))
    assert "<b>" not in said
    assert said.count("</script>") == 2


def test_the_page_and_the_file_agree_on_format_and_steps(text, plan) -> None:
    told = json.loads(re.search(r'id="plan">(.*?)</script>', text, re.DOTALL)[1])
    assert told["format"] == json.loads(bench_text(bench_of(plan, {})))["format"]
    assert {each["id"]: each["content"] for each in told["pieces"]} == {each.id: each.content for each in plan.pieces}
    assert json.loads(re.search(r"const steps = (\[.*?\]);", SCRIPT)[1]) == list(STEPS)
    assert json.loads(re.search(r"const sides = (\[.*?\]);", SCRIPT)[1]) == list(SIDES)
    keys = re.search(r"const keysOf = (\{.*?\});", SCRIPT)[1]
    assert json.loads(re.sub(r"(\w+):", r'"\1":', keys)) == {what: list(each) for what, each in KEYS.items()}
    done = bench_of(plan, {piece.id: tuple(STEPS) for piece in plan.pieces})
    assert {each["id"]: each["cut"] for each in told["pieces"]} == {
        name: entry["cut"] for name, entry in json.loads(bench_text(done))["pieces"].items()
    }
    assert bench_from(bench_text(bench_of(plan, {"low": ("pocket",)})).encode()).pieces["low"].steps == ("pocket",)
