"""The sheet's first pages: the whole order of work, what to do when something goes wrong, and how to read a card."""

from __future__ import annotations

from collections.abc import Iterator

from ..measures.cautions import BENCH, HARMS, woods_used
from ..woods.species import CHECK, NO_REPORT, Species
from .blocks import HALF, Block, Drawn, Heading, Lines, Table
from .buying import Item, items, plain_boards
from .glue_up import numbers_text
from .lengths import Units, length_text, size_text
from .picture import legend_picture
from .plan import Plan
from .stock_layout import StockLayout
from .titles import BACKGROUND, BOARDS, BUYING, END, GOES_WRONG, READING, ZERO, batch_title

MOST_BATCHES = 24
"""Batches that have a row each in the order of work."""


def order_pages(plan: Plan, layout: StockLayout, units: Units) -> Iterator[Block]:
    """The whole way, then what every day needs: remedies, the legend and safety."""
    yield Heading("The whole order of work", page=True)
    yield Lines(
        ("Start at the top and tick as you go. The pages come in the same order, and have these names at their top.",)
    )
    jobs = [(f"☐ {number}", what, where) for number, (what, where) in enumerate(_jobs(plan, layout, units), 1)]
    yield Table(("", "job", "page"), tuple(jobs), (0.06, 0.68, 0.26))
    if plan.batches:
        yield Heading("In every batch, in this order")
        yield Lines(tuple(_in_a_batch(plan)))
    yield from _reading(plan, units)
    yield from _wrong(plan, units)
    yield from _safety(plan)


def _safety(plan: Plan) -> Iterator[Block]:
    yield Heading("Safety")
    yield Lines(BENCH)
    used = [each for each in woods_used(plan.stack) if each.species.cautions]
    if used:
        rows = tuple((each.name, *_cautions(each.species)) for each in used)
        yield Table(("wood", "its dust", "on the skin", "before you buy or ship it"), rows, (0.2, 0.3, 0.24, 0.26))
        if any("*" in cell for row in rows for cell in row):
            yield Lines(("* not checked against a source.",))


def _cautions(species: Species) -> tuple[str, str, str]:
    """What a wood does to lungs and eyes, to the skin, and to whoever trades in it."""

    def said(name: str, words: str) -> str:
        for term, harm in HARMS:
            words = words.replace(term, harm)
        return f"{words} *" if name in species.recalled else words

    known = {name: getattr(species, f"{name}_cautions") not in ("", NO_REPORT) for name in ("dust", "skin")}
    return (
        said("dust", species.dust_cautions) if known["dust"] else "harms the lungs, as every wood's does",
        said("skin", species.skin_cautions) if known["skin"] else "–",
        said("trade", "trade may be restricted: ask") if species.trade == CHECK else "–",
    )


def _jobs(plan: Plan, layout: StockLayout, units: Units) -> Iterator[tuple[str, str]]:
    """What is done, and the page that tells more."""
    panel, glued = plan.stack.design.panel, plan.glue_up
    where = BOARDS if layout.boards else BUYING
    if layout.missing:
        yield "Buy the wood that is missing. Let all wood lie in the shop until its weight is steady", BUYING
    yield (
        (
            "Saw the boards, bought and in stock: crosscut the lengths, resaw them into leaves, plane each leaf "
            "whole, then saw it into strips and blanks. Write its number on each part as it comes off the saw"
        ),
        where,
    )
    wide = [piece.number for piece in plan.pieces if any(blank.leaves > 1 for blank in piece.blanks)]
    if wide:
        yield (
            f"Glue up the blanks that are made of several leaves, edge to edge: {numbers_text(wide)}",
            _first_page(plan),
        )
    if glued.stages:
        count = len(glued.stages)
        clampings = "1 clamping" if count == 1 else f"{count} clampings"
        yield f"Glue up the background, in {clampings}: plane the strips, then glue them edge to edge", BACKGROUND
    elif plain_boards(plan) > 1:
        yield f"Glue up the background from {plain_boards(plan)} boards, edge to edge", BACKGROUND
    yield (
        (
            f"Flatten both faces to {length_text(panel.thickness, units)} and cut the panel square to "
            f"{size_text((panel.width, panel.height), units)}: this is the raw panel"
        ),
        BACKGROUND,
    )
    zero = (
        "Set zero, drill the pin holes, fix the panel on its pins" if plan.zero.pins else "Screw on the stops, set zero"
    )
    yield f"{zero}, and mark the place from which depth is measured", ZERO
    if len(plan.batches) > MOST_BATCHES:
        yield f"Batches 1 to {len(plan.batches)}, one after the other: see below", _first_page(plan)
    else:
        for batch in plan.batches:
            numbers = numbers_text([piece.number for piece in batch.pieces])
            what = f"piece {numbers}" if len(batch.pieces) == 1 else f"pieces {numbers}"
            inner = "the same for" if batch.number > 1 else "pockets, inserts, dry fit, glue, clamp, level:"
            yield f"Batch {batch.number}: {inner} {what}", batch_title(batch.number, len(plan.batches))
    trims = ["trim the face"] if panel.face_trim else []
    trims += ["trim the edges"] if any(panel.edge_trim) else []
    yield f"{' and then '.join(trims) or 'level the last inserts'}".capitalize(), END
    yield "Put the finish on: face, back and edges alike, so that the panel takes up moisture evenly", END
    yield "Make the frame, and hang the panel in it so that it can move", END


def _first_page(plan: Plan) -> str:
    return batch_title(1, len(plan.batches))


def _in_a_batch(plan: Plan) -> Iterator[str]:
    """What is done with each batch."""
    zero = plan.zero
    back = "Put the panel back on its pins" if zero.pins else "Push the panel against its stops"
    depth = "touch the cutter off at the depth spot" if zero.depth_place else "touch the cutter off at a raw edge"
    yield f"1. {back}, raw face up, and clamp it down. Then {depth}: this is depth 0."
    yield (
        "2. Cut all pockets of the batch before you saw any insert of it. After each change of cutter touch off anew. "
        "Measure each depth."
    )
    yield "3. Saw its inserts and rip its strips, small ones on tape or a carrier board."
    leans = any(piece.placed.piece.taper for piece in plan.pieces)
    dry = ", a leaning one only until it gets tight" if leans else ""
    home = " (a leaning one, MIRRORED, as far as its card says)" if leans else ""
    yield (f"4. Dry fit each insert. It goes in by hand{dry}. Ease what binds with file or sandpaper; do not hammer.")
    yield (
        f"5. Glue: put glue on floor and walls, press each insert down until it sits on its floor{home}, clamp them "
        "all through a flat caul with paper under it. Leave them for the clamp time on the glue's label."
    )
    yield (
        "6. Level: bring the inserts that stand proud down to the raw face"
        + (", and leave the face at the depth spot as it is." if zero.depth_place else ".")
    )
    yield "7. Only then begin the next batch, at 1: zero and depth are set anew each time."
    yield (
        "Glue: any wood glue; its label gives open and clamp time. Glue a batch in as many goes as its open time asks "
        "for: all must be dry before the next batch. Cut its pockets and inserts on one day, while wood keeps its size."
    )


# --- When something goes wrong --------------------------------------------------------------------------------------


def _wrong(plan: Plan, units: Units) -> Iterator[Block]:
    shop = plan.stack.design.workshop
    pins = ", leave the panel on its pins" if plan.zero.pins else ""
    yield Heading(GOES_WRONG, page=True, joins=HALF)
    yield Lines(
        (
            f"Stop{pins}, and do what the table says. To tell it, use "
            f"the page {plan.name}-sheet.html with “It came out otherwise”, or Blender. Write the sheet anew, and it "
            "says what follows for this piece and those that touch it.",
            "No computer at hand: measure what came out, write it on the piece's card, and cut nothing that touches "
            "that place: no pocket beside it on the map, and none whose card says “Cut only when” with its number. "
            "Go on with the others of the batch; begin no new batch before it is told.",
        )
    )
    rows = (
        (
            "an insert broke before it was glued in, dry fitting included",
            "Take all of it out and saw it anew from the spare of its wood, along the same line. Rub out its tick at "
            "insert cut. There is nothing to tell.",
        ),
        (
            "an insert broke once it was glued in",
            "Nothing lost: glue it back and clamp it for the whole clamp time; cut later pockets in shallow passes "
            "there. A part lost: tell it first. The sheet then offers a deeper pocket for a new insert, or a patch "
            "that is cut last.",
        ),
        (
            "a pocket is too deep",
            f"Do not fill it. Make the insert as thick as the measured depth plus what it stands proud. "
            f"Less than {length_text(shop.min_floor, units)} of floor left: tell it first.",
        ),
        ("a pocket is not deep enough", "Still empty: put the panel back in its place, touch off anew, cut it again."),
        (
            "an insert does not go in",
            "Look for dust and burrs, then ease its edge by hand where it binds. It was right yesterday: its wood has "
            "swollen; let it dry in the shop first.",
        ),
        (
            "there is a gap",
            "Not glued yet: saw the insert anew. Glued: leave it where a later pocket or the trimmed edge takes it "
            "(see the maps). Else fill it with a sliver of the same wood, grain along it, and tell it.",
        ),
        ("a cut in the wrong place", "Cut nothing more near it. Tell it: later pieces may cover it."),
    )
    yield Table(("what happened", "what to do"), rows, (0.24, 0.76))
    yield Lines((_spares(plan, units),))


def _spares(plan: Plan, units: Units) -> str:
    spares = [item for item in items(plan) if item.use.startswith("spare")]
    if not spares:
        return "There are no spare blanks."
    blanks = "; ".join(_spare(one, units, 1) for one in spares if not one.use.endswith("(strip)"))
    strips = "; ".join(_spare(one, units, 2) for one in spares if one.use.endswith("(strip)"))
    of_grooves = f" Spare strips, each as long and as high as the grooves of its wood take: {strips}." if strips else ""
    of_blanks = (
        "Spare blanks, one for each wood, as long as its longest blank, as wide as its widest and as thick as its "
        f"thickest, so that any of its inserts can be sawn from it: {blanks}."
        if blanks
        else ""
    )
    return (
        f"{of_blanks}{of_grooves} Once a spare is used there is none of its wood: saw another from what is left grey "
        "on the boards, or from a new board. A spare blank is shorter than a planer takes: thin it on a flat board "
        "with sandpaper, or with a hand plane."
    ).strip()


def _spare(one: Item, units: Units, decimals: int) -> str:
    size = size_text((one.length, one.width, one.thickness), "inch" if units == "inch" else "mm", decimals)
    return f"{one.wood} {size}" + (f" ({one.glued} leaves)" if one.glued > 1 else "")


# --- How to read it -------------------------------------------------------------------------------------------------


def _reading(plan: Plan, units: Units) -> Iterator[Block]:
    panel, shop = plan.stack.design.panel, plan.stack.design.workshop
    yield Heading(READING)
    yield Drawn(legend_picture(), "How an insert is drawn on its card")
    inches = {
        "mm": "",
        "both": " Inches are the nearest 64th, up to 1/128 in (0.2 mm) off: where that matters, work in millimetres.",
        "inch": " Inches are the nearest 64th; “less 0.002” or “plus 0.002” is what is left over, in inches.",
    }[units]
    yield Lines(
        (
            "Face: the side that will be seen. It lies up while pockets are cut, and all maps show it so. Only a card "
            "marked MIRRORED shows an insert from its back: that blank lies face down.",
            "Places (x, y) are in millimetres from zero: x to the right along the lower edge, y up along the left edge "
            "of the raw panel. Angles turn from x counter-clockwise: 0° points right, 90° up.",
            "Depth is measured down from the raw face. Proud: an insert is thicker than its pocket is deep, as a "
            f"rule by {length_text(shop.proud, units)}, and is brought level after it is glued in. The face trim, "
            f"{length_text(panel.face_trim, units)}, is last of all.",
            "Play is in the lines already: cut exactly along them. Leave corners that a cutter cannot reach round, in "
            "pocket and insert.",
            f"Numbers are those of the order of gluing; 24.1 and 24.2 would be two parts of one piece 24.{inches} "
            "Lines under Watch are always in millimetres.",
        )
    )
