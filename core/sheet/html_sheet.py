"""The sheet on a screen: one HTML file for a tablet beside the saw, which works without any network."""

from __future__ import annotations

import json
from html import escape

import numpy as np
import numpy.typing as npt

from .contents import STEPS, Block, Drawn, Heading, Lines, PieceRow, Table
from .html_script import SCRIPT
from .picture import INK, Area, Label, Picture, Strokes
from .plan import Plan
from .tracking import FORMAT

Array = npt.NDArray[np.float64]

MAP_PIXELS, BLANK_PIXELS = 1000.0, 260.0
POINT = {MAP_PIXELS: 2.0, BLANK_PIXELS: 1.4}
"""Pixels of the drawing for a point on paper."""
MM_ON_PAPER = MAP_PIXELS / 182.0

STYLE = """
:root { color-scheme: light }
* { box-sizing: border-box }
body { font: 17px/1.45 system-ui, sans-serif; color: #1c1a18; background: #fff; margin: 0 auto; max-width: 62rem;
  padding: 0 1rem 4rem }
h1 { margin: 1rem 0 .5rem } h2 { margin: 2.2rem 0 .6rem; border-top: 3px solid #1c1a18; padding-top: .6rem }
h3 { margin: 0; font-size: 1.1rem }
svg { display: block; max-width: 100%; height: auto }
figure { margin: .8rem 0 } figcaption { color: #55504a; font-size: .9rem }
table { border-collapse: collapse; width: 100%; margin: .6rem 0 } th, td { text-align: left; vertical-align: top;
  padding: .3rem .5rem .3rem 0; border-bottom: 1px solid #b8b2aa; font-size: .95rem }
.scroll { overflow-x: auto }
.strong { font-weight: 700 }
.bar { position: sticky; top: 0; background: #fff; border-bottom: 2px solid #1c1a18; padding: .5rem 0; z-index: 1 }
.bar p { margin: .15rem 0 } #told, .old { font-weight: 700 }
button, .button { font: inherit; min-height: 48px; padding: .5rem 1rem; border: 2px solid #1c1a18; background: #fff;
  color: #1c1a18; border-radius: 6px; display: inline-flex; align-items: center; cursor: pointer;
  margin: .25rem .4rem .25rem 0 }
.file { position: relative } .file input { position: absolute; inset: 0; opacity: 0; width: 100%; height: 100% }
.file:focus-within, button:focus-visible, input:focus-visible { outline: 4px solid #1a4fa0; outline-offset: 2px }
.piece { border-top: 1px solid #8a8580; padding: .8rem 0; display: grid; gap: .4rem 1rem;
  grid-template-columns: 11rem 1fr 11rem }
.piece p { margin: .15rem 0; font-size: .95rem }
.number { display: inline-block; min-width: 2em; text-align: center; border: 2px solid #1c1a18; border-radius: 1em;
  margin-right: .4em }
.ticks { border: 0; margin: 0; padding: 0 }
.ticks legend { font-size: .85rem; color: #55504a }
.ticks label { display: flex; align-items: center; gap: .7rem; min-height: 48px; cursor: pointer }
.ticks input { width: 30px; height: 30px; flex: none }
@media (max-width: 640px) { .piece { grid-template-columns: 1fr } }
@media print { .bar { position: static } .bar button, .file, #asked { display: none }
  body { font-size: 9.5pt; max-width: none; padding: 0 } h2 { break-before: page } .piece { break-inside: avoid }
  .ticks label { min-height: 0 } .ticks input { width: 16px; height: 16px } }
"""


def html_sheet(plan: Plan, blocks: tuple[Block, ...]) -> str:
    """The page."""
    body = "\n".join(map(_block, blocks))
    title = escape(plan.title)
    policy = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'"
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<title>{title}: bench sheet</title>
<style>{STYLE}</style>
</head>
<body>
<main>
<h1>{title}: bench sheet</h1>
<div class="bar">
<p id="along" role="status"></p>
<p id="next"></p>
<p id="told" role="alert"></p>
<button type="button" id="export">Export ticks</button>
<label class="button file">Import ticks<input type="file" id="import" accept=".json,application/json"></label>
<button type="button" id="print">Print</button>
<div id="asked" hidden><p id="question"></p>
<button type="button" id="take">Take them over</button><button type="button" id="leave">Leave as it is</button></div>
</div>
{body}
</main>
<script type="application/json" id="plan">{_plan(plan)}</script>
<script>{SCRIPT}</script>
</body>
</html>
"""


def _plan(plan: Plan) -> str:
    """What the script needs to know; nothing in it can end the element that it stands in."""
    pieces = [
        {"id": piece.id, "number": piece.number, "content": piece.content, "waits_for": piece.waits_for}
        for piece in plan.pieces
    ]
    return json.dumps({"format": FORMAT, "design": plan.name, "pieces": pieces}).replace("<", "\\u003c")


def _block(block: Block) -> str:
    if isinstance(block, Heading):
        return f"<h2>{escape(block.text)}</h2>"
    if isinstance(block, Lines):
        strong = ' class="strong"' if block.strong else ""
        return "\n".join(f"<p{strong}>{escape(line)}</p>" for line in block.lines)
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Drawn):
        return f"<figure>{_svg(block.picture, MAP_PIXELS)}<figcaption>{escape(block.caption)}</figcaption></figure>"
    return _piece(block)


def _table(table: Table) -> str:
    header = "".join(f'<th scope="col">{escape(words)}</th>' for words in table.header if words)
    header += "".join("<td></td>" for words in table.header if not words)
    rows = "\n".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in table.rows)
    return f'<div class="scroll"><table><thead><tr>{header}</tr></thead><tbody>\n{rows}\n</tbody></table></div>'


def _piece(row: PieceRow) -> str:
    work = row.work
    ticks = "\n".join(
        f'<label><input type="checkbox" id="{step}-{work.number}" data-piece="{work.id}" data-step="{step}">'
        f"<span>{words}</span></label>"
        for step, words in STEPS.items()
    )
    lines = "\n".join(f"<p>{escape(line)}</p>" for line in row.lines)
    lines += "\n".join(f"<p><strong>Watch:</strong> {escape(line)}</p>" for line in row.watch)
    pictures = "\n".join(_svg(picture, BLANK_PIXELS) for picture in row.pictures)
    return f"""<section class="piece" id="piece-{work.number}" aria-labelledby="head-{work.number}">
<figure>{pictures}<figcaption>{escape(row.caption)}</figcaption></figure>
<div><h3 id="head-{work.number}"><span class="number">{work.number}</span>{escape(row.head)}</h3>
<p class="old" id="old-{work.number}" hidden></p>
{lines}</div>
<fieldset class="ticks"><legend>{work.number} {escape(work.id)}</legend>
{ticks}</fieldset>
</section>"""


def _svg(picture: Picture, wide: float) -> str:
    left, bottom, right, top = picture.box
    scale = wide / max(right - left, top - bottom)
    width, height = scale * (right - left), scale * (top - bottom)
    words = picture.words + (", mirrored" if picture.mirrored else "")
    marks = "".join(_mark(mark, left, top, scale, wide) for mark in picture.marks)
    size = f'viewBox="-4 -4 {width + 8:.0f} {height + 8:.0f}" width="{width + 8:.0f}" height="{height + 8:.0f}"'
    return f'<svg role="img" aria-label="{escape(words)}" {size}>{marks}</svg>'


def _mark(mark: Area | Strokes | Label, left: float, top: float, scale: float, wide: float) -> str:
    def at(points: Array) -> Array:
        return np.column_stack([(points[:, 0] - left) * scale, (top - points[:, 1]) * scale])

    if isinstance(mark, Label):
        x, y = at(np.array([mark.at]))[0].tolist()
        return _label(mark, x, y)
    closed = isinstance(mark, Area)
    lines = mark.rings if isinstance(mark, Area) else mark.lines
    data = "".join(_path(at(line), closed) for line in lines)
    stroke = mark.stroke if isinstance(mark, Area) else mark.colour
    fill = (mark.fill if isinstance(mark, Area) else None) or "none"
    line = f' stroke="{stroke}" stroke-width="{mark.width * POINT[wide]:.2f}"' if stroke else ""
    return f'<path d="{data}" fill="{fill}" fill-rule="evenodd"{line}/>'


def _path(points: Array, closed: bool) -> str:
    if closed:
        points = points[:-1]
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points.tolist()) + ("Z" if closed else "")


def _label(label: Label, x: float, y: float) -> str:
    size = label.size * MM_ON_PAPER
    half = max(0.31 * size * len(label.text) + 0.3 * size, 0.8 * size)
    plate = (
        f'<rect x="{x - half:.1f}" y="{y - 0.7 * size:.1f}" width="{2 * half:.1f}" height="{1.4 * size:.1f}" '
        f'rx="{0.7 * size:.1f}" fill="#fff" stroke="{INK}"/>'
        if label.plate
        else ""
    )
    return (
        f'{plate}<text x="{x:.1f}" y="{y + 0.36 * size:.1f}" font-size="{size:.1f}" font-weight="700" '
        f'text-anchor="middle" font-family="system-ui, sans-serif" fill="{INK}">{escape(label.text)}</text>'
    )
