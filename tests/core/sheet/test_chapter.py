"""The manual's chapter that follows the koi pond at the bench quotes its sheet word by word."""

from __future__ import annotations

import re
from pathlib import Path

from core.sheet.contents import Drawn, Heading, Lines, PieceRow, Table, contents
from core.sheet.plan import plan_of
from core.stack.loading import load_stack

ROOT = Path(__file__).parents[3]


def words_of(block) -> list[str]:
    if isinstance(block, Heading):
        return [block.text]
    if isinstance(block, Lines):
        return list(block.lines)
    if isinstance(block, Table):
        return [cell for row in (block.header, *block.rows) for cell in row]
    if isinstance(block, Drawn):
        return [block.caption]
    assert isinstance(block, PieceRow)
    return [f"{block.work.number} {block.head}", *block.lines, *block.watch, block.caption]


def test_what_the_chapter_quotes_stands_on_the_ponds_sheet() -> None:
    text = (ROOT / "docs/bench-sheet.md").read_text(encoding="utf-8")
    chapter = text.partition("## The koi pond, step by step")[2].partition("\n## ")[0]
    quotes = [" ".join(quote.split()) for quote in re.findall("“([^”]+)”", chapter)]
    assert len(quotes) > 20
    plan = plan_of(load_stack(ROOT / "assets/koi-pond/koi-pond.panel.json"), ())
    said = " | ".join(word for block in contents(plan, "mm") for word in words_of(block))
    assert [quote for quote in quotes if quote != "quotes" and quote.rstrip(".,") not in said] == []
