"""The sheet on a screen: one HTML file for a tablet beside the saw, which works without any network."""

from __future__ import annotations

import base64
import json
from dataclasses import replace
from html import escape

import numpy as np
import numpy.typing as npt
import shapely

from .blocks import Block, Drawn, Heading, Lines, Photo, PieceRow, Table
from .content import cut_as
from .contents import STEPS
from .html_script import SCRIPT
from .picture import FINE, GREY, HATCH, INK, MAP_WIDTH, PALE, Area, Label, Picture, Strokes, area, hatched
from .plan import Plan
from .shared_work import shared_work
from .tracking import FORMAT, Bench, bench_text, cut_entry

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
svg, img { display: block; max-width: 100%; height: auto }
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
.wide label { display: flex; align-items: center; gap: .7rem; min-height: 48px; cursor: pointer }
.wide input { width: 30px; height: 30px; flex: none }
.to-do .fill, .to-do .hatch, .glued .hatch { display: none } .open .fill { fill: #fff } .glued .fill { fill: #dedad4 }
dialog { border: 3px solid #1c1a18; border-radius: 8px; max-width: 34rem; font: inherit }
dialog h2 { margin: 0 0 .6rem; border: 0; padding: 0 }
dialog label { display: block; margin: .6rem 0 } dialog label[hidden] { display: none }
select, input[type=text] { font: inherit; min-height: 48px; padding: .3rem .6rem; border: 2px solid #1c1a18;
  border-radius: 6px; background: #fff; color: #1c1a18; min-width: 9rem }
@media (max-width: 640px) { .piece { grid-template-columns: 1fr } }
@page { margin: 12mm }
@media print { .bar { position: static } button, .file, #asked, dialog { display: none !important }
  html { font-size: 9.5pt } body { font-size: 1rem; max-width: none; padding: 0 }
  figure > svg, figure > img { max-height: 105mm; width: auto } h2.page { break-before: page }
  h2, h3 { break-after: avoid } figure, tr { break-inside: avoid } .piece { break-inside: avoid }
  .ticks label { min-height: 0 } .ticks input { width: 16px; height: 16px } }
"""


def html_sheet(plan: Plan, blocks: tuple[Block, ...], bench: Bench | None = None) -> str:
    """The page.

    Args:
        plan: the work.
        blocks: what stands on it.
        bench: a tracking file that lies beside the design; the page offers to take its ticks over.
    """
    cover = next((n for n, block in enumerate(blocks) if isinstance(block, Heading)), len(blocks))
    body = "\n".join((*map(_block, blocks[:cover]), _today(plan), *map(_block, blocks[cover:])))
    title = escape(plan.title)
    policy = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:"
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
{_TELL}
<script type="application/json" id="plan">{_plan(plan, bench)}</script>
<script>{SCRIPT}</script>
</body>
</html>
"""


_TELL = """<dialog id="tell" aria-labelledby="tell-head"><h2 id="tell-head">What came out otherwise?</h2>
<label>What happened <select id="tell-what">
<option value="depth">The pocket is cut to another depth</option>
<option value="thickness">The insert is cut to another thickness</option>
<option value="broke-back">It broke, and is glued back</option>
<option value="broke-lost">It broke, and a part is lost</option>
<option value="gap">There is a gap beside the insert</option></select></label>
<label>How much, mm <input type="text" inputmode="decimal" id="tell-mm"></label>
<label>On which side, seen from the face <select id="tell-side"><option>left</option><option>right</option>
<option>top</option><option>bottom</option></select></label>
<p class="strong" id="tell-problem" role="alert"></p>
<button type="button" id="tell-note">Note it</button>
<button type="button" id="tell-back">Take back what was told</button>
<button type="button" id="tell-leave">Leave</button></dialog>"""


def _plan(plan: Plan, bench: Bench | None) -> str:
    """What the script needs to know; nothing in it can end the element that it stands in."""
    pieces = [
        {
            "id": piece.id,
            "number": piece.number,
            "content": piece.content,
            "waits_for": piece.waits_for,
            "cut": cut_entry(cut_as(piece.placed)),
        }
        for piece in plan.pieces
    ]
    jobs = [
        {
            "key": job.key,
            "words": job.words,
            "content": job.content,
            "after": job.after,
            "glued": job.glued,
            "raw": job.is_raw,
        }
        for job in shared_work(plan)
    ]
    batches = [{"number": b.number, "pieces": [piece.number for piece in b.pieces]} for b in plan.batches]
    said = {"format": FORMAT, "design": plan.name, "pieces": pieces, "shared": jobs, "batches": batches}
    if bench is not None:
        said["bench"] = json.loads(bench_text(bench))
    return json.dumps(said).replace("<", "\\u003c")


def _today(plan: Plan) -> str:
    """The panel as it stands, which follows the ticks, and the work that is no piece's own."""
    boxes = "\n".join(
        f'<label><input type="checkbox" id="shared-{job.key}" data-job="{job.key}">'
        f"<span>{escape(job.words)}</span></label>"
        for job in shared_work(plan)
    )
    return f"""<h2 class="page">The panel as it stands today</h2>
<figure>{_today_map(plan)}<figcaption>Grey: glued in. Hatched: a pocket that stands open. Thin line: still to do.
Seen from the face, not mirrored.</figcaption></figure>
<h2>Work on the panel as a whole</h2>
<fieldset class="ticks wide"><legend>In this order, between the batches</legend>
{boxes}</fieldset>"""


def _today_map(plan: Plan) -> str:
    left, bottom, right, top = plan.stack.box.bounds
    scale = MAP_PIXELS / max(right - left, top - bottom)
    one = plan.stack.design.panel.width / MAP_WIDTH
    groups, outlines = [], []
    for work in sorted(plan.pieces, key=lambda piece: piece.placed.index):
        inside = shapely.simplify(shapely.intersection(work.placed.pocket, plan.stack.box), one * FINE)
        shape = area(inside, 0, stroke=INK, width=0.6)
        lines = Strokes(hatched(inside, one * HATCH), INK, 0.25)
        fill = _mark(shape, left, top, scale, MAP_PIXELS).replace('fill="none"', f'class="fill" fill="{PALE}"')
        hatch = _mark(lines, left, top, scale, MAP_PIXELS).replace("<path", '<path class="hatch"')
        groups.append(f'<g id="today-{work.number}" class="to-do">{fill}{hatch}</g>')
        thin = replace(shape, stroke=GREY, width=0.3)
        outlines.append(_mark(thin, left, top, scale, MAP_PIXELS))
    frame = _mark(area(plan.stack.box, 0, stroke=INK, width=0.9), left, top, scale, MAP_PIXELS)
    width, height = scale * (right - left), scale * (top - bottom)
    size = f'viewBox="-4 -4 {width + 8:.0f} {height + 8:.0f}" width="{width + 8:.0f}" height="{height + 8:.0f}"'
    words = "The panel as it stands today: grey pieces are glued in, hatched pockets stand open"
    return f'<svg role="img" aria-label="{words}" {size}>{"".join((*groups, *outlines, frame))}</svg>'


def _block(block: Block) -> str:
    if isinstance(block, Heading):
        page = ' class="page"' if block.page else ""
        return f"<h2{page}>{escape(block.text)}</h2>"
    if isinstance(block, Lines):
        strong = ' class="strong"' if block.strong else ""
        return "\n".join(f"<p{strong}>{escape(line)}</p>" for line in block.lines)
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Photo):
        said = escape(block.caption)
        data = base64.b64encode(block.data).decode()
        size = f'width="{block.size[0]}" height="{block.size[1]}"'
        image = f'<img alt="{said}" {size} src="data:image/jpeg;base64,{data}">'
        return f"<figure>{image}<figcaption>{said}</figcaption></figure>"
    if isinstance(block, Drawn):
        said = f"<figcaption>{escape(block.caption)}</figcaption>" if block.caption else ""
        return f"<figure>{_svg(block.picture, MAP_PIXELS)}{said}</figure>"
    return _piece(block)


def _table(table: Table) -> str:
    header = "".join(f'<th scope="col">{escape(words)}</th>' if words else "<td></td>" for words in table.header)
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
<p class="old" id="told-{work.number}" hidden></p>
{lines}<button type="button" data-tell="{work.id}" aria-label="{work.number} {escape(work.id)}: tell what came out
otherwise">It came out otherwise …</button></div>
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
    anchor = "start" if label.left else "middle"
    plate = (
        f'<rect x="{x - half:.1f}" y="{y - 0.7 * size:.1f}" width="{2 * half:.1f}" height="{1.4 * size:.1f}" '
        f'rx="{0.7 * size:.1f}" fill="#fff" stroke="{INK}"/>'
        if label.plate
        else ""
    )
    return (
        f'{plate}<text x="{x:.1f}" y="{y + 0.36 * size:.1f}" font-size="{size:.1f}" font-weight="700" '
        f'text-anchor="{anchor}" font-family="system-ui, sans-serif" fill="{INK}">{escape(label.text)}</text>'
    )
