"""The manual and the map of the code: what they point at is there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import build
from core.findings.all_findings import FINDINGS
from manual import words_drawing

PICTURES = build.ROOT / "assets" / "pictures"
WINDOW = PICTURES / "window"
"""Pictures of Blender's own window, which need a screen: a copy of the manual may lack them all, but not some."""
PAGES = [*sorted(build.ROOT.glob("*.md")), *sorted((build.ROOT / "docs").glob("*.md"))]

INDEX_ROW = re.compile(r"^\| \[[^]]+\]\(#([a-z-]+)\) \| ([a-z ]+) \|", re.MULTILINE)

BLENDERS_OWN = {"OK", "File > Import > Grainstack Pieces"}
"""What the manual names of Blender's own dialogs and menus."""


def words_of(page: Path) -> str:
    """A page's text without its examples of code."""
    return re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)


def links(page: Path) -> Iterator[str]:
    """Where a page's links and pictures lead, but for other sites."""
    targets = re.findall(r"\]\(([^)\s]+)\)", words_of(page))
    yield from (target for target in targets if not re.match(r"[a-z]+:", target))


def anchors(page: Path) -> set[str]:
    """What links may name on a page: its headings in small letters, without signs, with - between words."""
    headings = re.findall(r"^#+ (.+)$", words_of(page), flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_and_picture_is_there(page: Path) -> None:
    for link in links(page):
        place, _, anchor = link.partition("#")
        target = (page.parent / place).resolve() if place else page
        unseen = target.parent == WINDOW and not WINDOW.exists()
        assert unseen or target.exists(), f"{page.name}: {link}"
        assert not anchor or anchor in anchors(target), f"{page.name}: {link}"


def test_the_index_leads_to_every_page_of_the_manual() -> None:
    index = build.ROOT / "docs" / "README.md"
    assert {page.name for page in index.parent.glob("*.md")} - {index.name} <= set(links(index))


def test_every_picture_of_the_manual_is_shown_somewhere() -> None:
    shown = {(page.parent / link).resolve() for page in PAGES for link in links(page)}
    pictures = {path.resolve() for path in PICTURES.rglob("*.jpg")}
    assert pictures
    assert pictures <= shown


@pytest.mark.parametrize("name", ["bench.md", "views.md"])
def test_the_labels_that_a_page_names_are_those_of_the_sidebar(name: str) -> None:
    text = words_of(build.ROOT / "docs" / name).replace("**", "").replace("\n", " ")
    named = set(re.findall(r"\*([A-Z][^*]+)\*", text))
    files = (build.ROOT / "blender_addon").rglob("*.py")
    sources = "".join(file.read_text(encoding="utf-8") for file in files)
    assert len(named) > 10
    assert {label for label in named - BLENDERS_OWN if f'"{label}"' not in sources} == set()


@pytest.mark.parametrize("folder", ["core", "blender_addon"])
def test_the_map_names_every_module_in_the_row_of_its_room_alone(folder: str) -> None:
    text = (build.ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    chapter = text.partition(f"## {folder}/")[2].partition("\n##")[0]
    rows = {row.split("|")[1].strip(): row.split("|")[2] for row in chapter.splitlines() if row.startswith("| ")}
    rooms = [room for room in (build.ROOT / folder).iterdir() if (room / "__init__.py").is_file()]
    assert len(rooms) > 5
    for room in rooms:
        modules = {file.stem for file in room.glob("*.py")} - {"__init__"}
        named = re.findall(r"`([a-z_]+)`", rows[f"`{room.name}/`"])
        assert sorted(named) == sorted(modules), room.name
    ground = {file.stem for file in (build.ROOT / folder).glob("*.py")} - {"__init__", "commands"}
    assert set(re.findall(r"`([a-z_]+)`", rows["the ground, beside the rooms"])) == ground


def test_the_drawing_of_the_words_is_the_one_that_its_script_draws() -> None:
    assert words_drawing.DRAWING.read_text(encoding="utf-8") == words_drawing.drawing()


def test_the_index_of_findings_has_every_finding_with_its_levels() -> None:
    text = (build.ROOT / "docs" / "findings.md").read_text(encoding="utf-8")
    index = text.partition("## Index")[2].partition("\n## ")[0]
    listed = {code: set(re.findall("error|warning|note", levels)) for code, levels in INDEX_ROW.findall(index)}
    told = {code: set() for code in listed}
    for code, level in re.findall(r"^- `([a-z-]+)`, an? \*\*([a-z]+)\*\*", text, flags=re.MULTILINE):
        told[code].add(level)
    assert listed == told
    assert set(listed) == set(FINDINGS)
