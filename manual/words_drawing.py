"""The manual's drawing of a cut panel, with the words for what is seen: `python -m manual.words_drawing`.

Writes assets/pictures/words.svg. Lengths of the section are millimetres; gaps are drawn wider than they are, and depths
larger than widths.
"""

from __future__ import annotations

from pathlib import Path

DRAWING = Path(__file__).parents[1] / "assets" / "pictures" / "words.svg"
WIDTH, HEIGHT = 1000, 640
LEFT, FACE = 138.0, 150.0
"""Where the panel's left edge and its raw face lie, pixels."""
ACROSS, DOWN = 8.0, 12.0
"""Pixels per millimetre."""
LONG, THICK, PROUD, TRIM, GAP = 92.0, 19.0, 2.5, 1.0, 0.7

INK, PALE, PAPER = "#2b2723", "#6f675e", "#ffffff"
WALNUT, CHERRY, MAPLE, PADAUK = "#7d604e", "#a5714f", "#e6cda9", "#a8432f"


def _x(mm: float) -> float:
    return LEFT + ACROSS * mm


def _y(depth: float) -> float:
    return FACE + DOWN * depth


def _box(left: float, right: float, top: float, bottom: float, colour: str) -> str:
    x, y = _x(left), _y(top)
    return f'<rect x="{x:g}" y="{y:g}" width="{_x(right) - x:g}" height="{_y(bottom) - y:g}" fill="{colour}"/>'


def _line(points: list[tuple[float, float]], *, dashed: bool = False, colour: str = INK) -> str:
    """Through pixels."""
    ring = " ".join(f"{x:g},{y:g}" for x, y in points)
    dash = ' stroke-dasharray="7 5"' if dashed else ""
    return f'<polyline points="{ring}" fill="none" stroke="{colour}" stroke-width="1.5"{dash}/>'


def _text(x: float, y: float, words: str, anchor: str = "middle", size: int = 17, colour: str = INK) -> str:
    return f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}" font-size="{size}" fill="{colour}">{words}</text>'


def _arrow(x: float, top: float, bottom: float, colour: str = INK) -> str:
    """A measure between two depths."""
    y0, y1 = _y(top), _y(bottom)
    heads = (f"M {x - 4} {y0 + 8} L {x} {y0} L {x + 4} {y0 + 8}", f"M {x - 4} {y1 - 8} L {x} {y1} L {x + 4} {y1 - 8}")
    path = f"M {x} {y0} V {y1} {' '.join(heads)}"
    return f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="1.5"/>'


def _section() -> list[str]:
    """The panel cut open: two strips, an insert with an island, one that cuts into it, and a pocket still empty."""
    wood = [
        _box(0, 60, 0, THICK, WALNUT),
        _box(60, LONG, 0, THICK, CHERRY),
        _box(6, 44, 0, 9, PAPER),
        _box(13, 19, 0, 9, WALNUT),
        _box(6 + GAP, 13 - GAP, -PROUD, 9, MAPLE),
        _box(19 + GAP, 44 - GAP, -PROUD, 9, MAPLE),
        _box(33, 54, -PROUD, 5, PAPER),
        _box(33 + GAP, 54 - GAP, -PROUD, 5, PADAUK),
        _box(66, 82, 0, 6, PAPER),
    ]
    left, right = _x(0), _x(LONG)
    lines = [
        _line([(_x(60), _y(0)), (_x(60), _y(THICK))], colour="#5a4030"),
        _line([(left - 16, _y(0)), (right + 16, _y(0))]),
        _line([(left - 16, _y(TRIM)), (right + 16, _y(TRIM))], dashed=True),
    ]
    return [*wood, *lines]


def _labels() -> list[str]:
    """Words beside what they name, each with a line or a measure that leads to it."""
    above = 60.0
    named = [
        ("island", 14.6, 0.0, above + 18),
        ("insert", 27, -PROUD, above),
        ("insert of a later batch", 44, -PROUD, above - 22),
        ("clearance", 19 + GAP / 2, 2.0, above - 22),
        ("wall", 57, 0.0, above + 18),
        ("pocket", 72, 2.5, above),
    ]
    drawn = []
    for words, x, depth, y in named:
        drawn += [_text(_x(x), y, words), _line([(_x(x), y + 6), (_x(x), _y(depth))], colour=PALE)]
    right = _x(LONG) + 20
    drawn += [
        _text(_x(0) - 20, _y(0) + 1, "raw face", "end"),
        _text(_x(0) - 20, _y(TRIM) + 12, "finished face", "end"),
        _arrow(_x(9.5), 9, THICK, PAPER),
        _text(_x(9.5) + 10, _y(14.6), "floor", "start", colour=PAPER),
        _arrow(_x(38.5), 5, 9),
        _text(_x(38.5) + 8, _y(7.4), "skin", "start"),
        _text(_x(26.5), _y(4.2), "remnant"),
        _text(_x(44), _y(2.4), "2", size=22, colour=PAPER),
        _text(_x(26.5), _y(7.6), "1", size=22),
        _text(_x(9.5), _y(4.6), "1", size=22),
        _text(_x(30), _y(THICK - 1.2), "one strip", colour=PAPER),
        _text(_x(76), _y(THICK - 1.2), "the next strip", colour=PAPER),
        _arrow(right - 4, 0, THICK),
        _text(right + 6, _y(THICK / 2), "thickness", "start"),
        _arrow(_x(6) - 12, -PROUD, 0),
        _line([(_x(6) - 16, _y(-PROUD)), (_x(6) + 6, _y(-PROUD))], colour=PALE),
        _text(_x(6) - 22, _y(-PROUD) + 4, "proud", "end"),
        _arrow(_x(80), 0, 6),
        _text(_x(80) - 8, _y(5), "depth", "end", 15),
    ]
    return drawn


def _grain(x: float, y: float, width: float, height: float, turn: int, colour: str) -> list[str]:
    """A board seen from its face, with a few lines of figure that rise to one side."""
    board = f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" fill="{colour}" stroke="{INK}"/>'
    lines = []
    for part in (0.2, 0.4, 0.6, 0.8):
        near, far = (part, part * part) if turn > 0 else (1 - part, 1 - part * part)
        side, middle = y + height * near, y + height * far
        path = f"M {x:g} {side:g} Q {x + width / 2:g} {middle:g} {x + width:g} {side:g}"
        lines.append(f'<path d="{path}" fill="none" stroke="#b08a5c" stroke-width="1.5"/>')
    return [board, *lines]


def _below() -> list[str]:
    """Blank, leaves and batches, which no section shows."""
    top = 450.0
    tips, up, down = top + 45, (top - 5, top + 5), (top + 85, top + 95)
    outline = f"M 150 {tips} C 190 {up[0]} 250 {up[1]} 290 {tips} C 250 {down[0]} 190 {down[1]} 150 {tips} Z"
    return [
        *_grain(110, top, 220, 90, 1, MAPLE),
        f'<path d="{outline}" fill="none" stroke="{INK}" stroke-width="2"/>',
        _text(220, top + 122, "blank: the insert is sawn from it"),
        *_grain(400, top, 200, 45, 1, MAPLE),
        *_grain(400, top + 45, 200, 45, -1, MAPLE),
        _text(500, top + 122, "two leaves, book-matched"),
        _text(690, top + 22, "1", "start", 22),
        _text(716, top + 22, "batch 1: cut and glued first", "start"),
        _text(690, top + 58, "2", "start", 22, PADAUK),
        _text(716, top + 58, "batch 2: cut when batch 1", "start"),
        _text(716, top + 80, "is glued in", "start"),
    ]


def drawing() -> str:
    """The whole drawing as SVG."""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" '
        'font-family="Helvetica, Arial, sans-serif">'
    )
    title = "<title>A panel cut open, with the words for what is seen in it</title>"
    paper = f'<rect width="{WIDTH}" height="{HEIGHT}" fill="{PAPER}"/>'
    note = _text(
        WIDTH / 2,
        HEIGHT - 22,
        "Cut open, seen from the side. Gaps are drawn wider than they are.",
        size=15,
        colour=PALE,
    )
    return "\n".join([head, title, paper, *_section(), *_labels(), *_below(), note, "</svg>"]) + "\n"


if __name__ == "__main__":
    DRAWING.write_text(drawing(), encoding="utf-8")
    print(DRAWING)
