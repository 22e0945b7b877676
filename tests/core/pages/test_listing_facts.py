"""What a listing says: sizes and weights by hand from closed forms.

An inch is 25.4 mm and a pound 0.45359237 kg, both exactly: international yard and pound agreement, 1959 (NIST Special
Publication 811, Appendix B; from memory).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from core.design import Frame, GluedBlank, Stripe
from core.measures.cautions import woods_used
from core.pages.listing_facts import Listing, inches, joined, size_text, weight_text
from core.pages.picture_files import RENDERING
from core.solids.frame import FramedSize
from core.stack.stack import build_stack
from core.woods.species import find_wood

from ..designs import make_design, make_panel, make_piece, rectangle


def listing(**frame: object) -> Listing:
    panel = make_panel(300, 200, 20, face_trim=1.0, edge_trim=(5.0, 5.0, 5.0, 5.0), wood="black walnut")
    pieces = [make_piece("tile", rectangle(40, 30), at=(100, 80), wood="hard maple", pocket_depth=6.0)]
    return Listing(build_stack(replace(make_design(pieces, panel), title="Tile", frame=Frame(**frame))))


def test_the_panels_weight_is_wood_times_density() -> None:
    """The panel without its pocket, and the insert, 0.1 mm smaller all round, both less the face trim. DERIVED."""
    walnut, maple = (find_wood(name).density for name in ("black walnut", "hard maple"))
    corners = 4 * (1 - 3.14159265 / 4)
    pocket = 40 * 30 - corners * 1.5875**2
    insert = 39.8 * 29.8 - corners * 1.4875**2
    expected = (290 * 190 * 19 - pocket * 5) * walnut + insert * 5 * maple
    assert listing().panel_weight == pytest.approx(expected * 1e-9, rel=1e-5)


def test_the_frames_weight_is_that_of_its_section_round_the_opening() -> None:
    """No reveal; ledge 6 x 6 inside, upright 20 x (19 + 6 + 4) two edges of 1 mm rounded by five chords. DERIVED."""
    density = find_wood("cherry").density
    ring = (290 + 40) * (190 + 40) - 290 * 190
    ledge = 290 * 190 - (290 - 12) * (190 - 12)
    whole = ring * 29 + ledge * 6
    rounded = 2 * (1 - 2.5 * 0.30901699) * 2 * (290 + 190 + 40)  # about; the two edges lie at u near 0 and 20
    made = listing(wood="cherry", width=20, reveal=0)
    assert made.frame_weight == pytest.approx((whole - rounded) * density * 1e-9, rel=2e-4)
    assert made.weight == made.panel_weight + made.frame_weight
    assert made.size == FramedSize(330, 230, 29)


def test_woods_are_told_by_what_is_seen_of_them() -> None:
    assert listing().woods == ("black walnut", "hard maple")


def test_a_glued_up_piece_is_of_its_stripes_woods_alone() -> None:
    """What the piece's own wood says is but its name in lists."""
    blank = GluedBlank((Stripe("American holly", 4.0), Stripe("wenge", 4.0)))
    piece = make_piece("tile", rectangle(40, 30), at=(100, 80), wood="hard maple", blank=blank)
    stack = build_stack(make_design([piece], make_panel(300, 200, 20, wood="black walnut")))
    assert Listing(stack).woods == ("black walnut", "American holly", "wenge")
    assert [used.name for used in woods_used(stack)] == ["black walnut", "American holly", "wenge"]


def test_the_words_of_picture_and_caption() -> None:
    made = listing(wood="cherry", width=20, reveal=0)
    assert made.about.title == "Tile"
    assert "black walnut and hard maple" in made.about.description
    assert "330 × 230 × 29 mm (13 × 9 × 1 1/8 in)" in made.about.description
    assert RENDERING in made.about.words
    assert made.caption == "Tile  ·  330 × 230 mm framed  ·  a rendering, not a photograph"


@pytest.mark.parametrize(
    ("mm", "words"), [(25.4, "1"), (25.4 * 24.125, "24 1/8"), (25.4 * 0.5, "1/2"), (0.1, "0"), (25.4 * 2.749, "2 3/4")]
)
def test_inches_to_the_nearest_eighth(mm: float, words: str) -> None:
    assert inches(mm) == words


def test_words_for_weights_sizes_and_lists() -> None:
    assert weight_text(4.5359237) == "about 4.5 kg (10.0 lb)"
    assert size_text(FramedSize(254, 127, 25.4)) == "254 × 127 × 25.4 mm (10 × 5 × 1 in)"
    assert [joined(["a"]), joined(["a", "b"]), joined(["a", "b", "c"])] == ["a", "a and b", "a, b and c"]
