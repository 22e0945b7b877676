"""SVG artwork: units, transforms, fill rules and what is left out; drawings by others; files that mean harm."""

import csv
import hashlib
import io
import math
import re
from pathlib import Path

import pytest

from core.errors import UnusableInput
from core.outlines.svg_artwork import load_artwork

DRAWN = Path(__file__).parents[2] / "data" / "open_shapes"
PX = 25.4 / 96  # CSS Values and Units 3, 6.2 (from memory): 96 px are an inch of 25.4 mm


@pytest.fixture
def draw(tmp_path):
    def drawn(body, head='viewBox="0 0 100 50" width="100mm" height="50mm"', element=None, scale=1.0):
        text = f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {head}>{body}</svg>'
        (tmp_path / "a.svg").write_text(text, encoding="utf-8")
        return load_artwork(tmp_path, "a.svg", "here").shape_of(element, scale, "here")

    return drawn


BOX = '<rect x="10" y="10" width="20" height="5"/>'


@pytest.mark.parametrize(
    ("head", "bounds"),
    [
        ('viewBox="0 0 100 50" width="100mm" height="50mm"', (10, 35, 30, 40)),
        ('viewBox="0 0 100 50" width="10cm" height="5cm"', (10, 35, 30, 40)),
        ('viewBox="0 0 100 50" width="1in" height="0.5in"', (2.54, 8.89, 7.62, 10.16)),
        ('viewBox="0 0 100 50" width="72pt" height="36pt"', (2.54, 8.89, 7.62, 10.16)),
        ('viewBox="0 0 100 50" width="6pc" height="3pc"', (2.54, 8.89, 7.62, 10.16)),
        ('viewBox="0 0 100 50" width="96" height="48px"', (2.54, 8.89, 7.62, 10.16)),
        ('viewBox="0 0 100 50" width="25.4mm"', (2.54, 8.89, 7.62, 10.16)),
        ('viewBox="0 0 100 50"', (10 * PX, 35 * PX, 30 * PX, 40 * PX)),
        ('viewBox="0 0 100 50" width="100%" height="100%"', (10 * PX, 35 * PX, 30 * PX, 40 * PX)),
        ('width="100mm" height="50mm"', (10 * PX, 50 - 15 * PX, 30 * PX, 50 - 10 * PX)),
        ('viewBox="5 8 100 50" width="100mm" height="50mm"', (5, 43, 25, 48)),
        # The viewBox fits into a wider viewport by its height; the rest of the page does not move its corner.
        ('viewBox="0 0 100 50" width="300mm" height="50mm"', (10, 35, 30, 40)),
        ('viewBox="0 0 100 50" width="300mm" height="50mm" preserveAspectRatio="xMaxYMid slice"', (30, 105, 90, 120)),
        ('viewBox="0 0 100 50" width="300mm" height="50mm" preserveAspectRatio="none"', (30, 35, 90, 40)),
    ],
)
def test_size_and_origin(draw, head, bounds):
    assert draw(BOX, head)[0].bounds == pytest.approx(bounds, rel=1e-12)


def test_all_basic_shapes(draw):
    shape, _ = draw(
        '<circle cx="10" cy="10" r="5"/><ellipse cx="30" cy="10" rx="8" ry="3"/>'
        '<rect x="50" y="5" width="20" height="10" rx="2"/><polygon points="80,5 90,5 85,15"/>'
        '<polyline points="80 20,90 20,85 30"/><path d="M 10 30 h 10 v 10 h -10 z"/>'
    )
    circle, ellipse, rounded = math.pi * 25, math.pi * 24, 200 - (4 - math.pi) * 4
    expected = circle + ellipse + rounded + 50 + 50 + 100
    edge = math.tau * 5 + 2 * math.pi * 8 + math.tau * 2
    assert 0 < expected - shape.area < 0.001 * edge
    assert len(shape.geoms) == 6


def test_a_rounded_rectangle_touches_its_box(draw):
    shape, _ = draw('<rect x="1" y="2" width="20" height="10" rx="50" ry="2"/>')
    assert shape.bounds == pytest.approx((1, 38, 21, 48), abs=1e-3)
    # Radii are cut down to half the side: two half ellipses of 10 x 2 and a middle of 20 x 6.
    assert shape.area == pytest.approx(math.pi * 10 * 2 + 20 * 6, abs=0.001 * 60)


def test_transforms_of_all_ancestors(draw):
    shape, _ = draw('<g transform="translate(20 40)"><g transform="rotate(-90)"><g transform="scale(2)">'
                    '<rect width="5" height="1" transform="translate(1,0)"/></g></g></g>')  # fmt: skip
    # 1..6 along x, scaled to 2..12, turned upward on the page, moved to (20, 40): y up, 10 + 2 .. 10 + 12.
    assert shape.bounds == pytest.approx((20, 12, 22, 22))


NESTED = "M 0 0 h 20 v 20 h -20 z M 5 5 h 10 v 10 h -10 z"


@pytest.mark.parametrize(
    ("body", "area"),
    [
        (f'<path d="{NESTED}"/>', 400),
        (f'<path fill-rule="evenodd" d="{NESTED}"/>', 300),
        (f'<g fill-rule="evenodd"><path d="{NESTED}"/></g>', 300),
        (f'<g style="fill-rule:evenodd"><path fill-rule="nonzero" d="{NESTED}"/></g>', 400),
        (f'<style>.a {{fill-rule: evenodd}}</style><path class="a" d="{NESTED}"/>', 300),
        (f'<style>path.a, #b {{fill-rule: evenodd}}</style><path id="b" d="{NESTED}"/>', 300),
        (f'<path fill-rule="evenodd" style="fill-rule: nonzero" d="{NESTED}"/>', 400),
    ],
)
def test_each_shape_fills_by_its_own_rule(draw, body, area):
    assert draw(body)[0].area == pytest.approx(area)


@pytest.mark.parametrize(
    ("body", "note"),
    [
        ('<rect width="5" height="5" fill="none" stroke="red"/>', "1 stroke is left out"),
        ('<path d="M0 0H9" fill="none" stroke="red"/><line x2="5" stroke="red"/>', "2 strokes are left out"),
        ("<text>koi</text>", "1 text is left out"),
        ('<image width="5" height="5"/>', "1 image is left out"),
        ('<g display="none"><rect width="50" height="5"/></g>', "1 hidden element is left out"),
        ('<rect width="50" height="5" style="visibility: hidden"/>', "1 hidden element is left out"),
        ('<rect width="50" height="5" opacity="0"/>', "1 hidden element is left out"),
        ('<rect width="0" height="5" clip-path="url(#c)"/>', "1 clip-path effect is not applied"),
    ],
)
def test_what_is_not_filled_is_left_out_with_a_note(draw, body, note):
    shape, notes = draw(BOX + body)
    assert shape.area == pytest.approx(100)
    assert notes == (note,)


def test_a_visible_child_of_an_invisible_group_counts(draw):
    assert draw(f'<g visibility="hidden"><g visibility="visible">{BOX}</g></g>')[0].area == pytest.approx(100)


def test_definitions_are_drawn_where_they_are_used(draw):
    body = (
        f'<defs><g id="d">{BOX}</g></defs><symbol id="s" viewBox="0 0 2 1"><rect width="2" height="1"/></symbol>'
        '<use id="u" href="#d" x="5" y="20"/><use xlink:href="#s" x="60" y="0" width="40" height="20"/>'
        "<clipPath><rect width='99' height='50'/></clipPath><marker><rect width='99' height='50'/></marker>"
    )
    shape, _ = draw(body)
    assert shape.area == pytest.approx(100 + 40 * 20)
    assert draw(body, element="u")[0].bounds == pytest.approx((15, 15, 35, 20))
    assert draw(body, element="d")[0].bounds == pytest.approx((10, 35, 30, 40))


def test_a_nested_svg_has_its_own_viewport(draw):
    shape, _ = draw('<svg x="10" y="10" width="40" height="20" viewBox="0 0 4 4"><rect width="4" height="4"/></svg>')
    assert shape.bounds == pytest.approx((20, 20, 40, 40))  # a square of 20, in the middle of the viewport


def test_an_element_is_told_by_its_id(draw):
    body = f'<g id="koi"><g id="body">{BOX}</g><rect id="tail" width="5" height="5"/></g><rect width="90" height="2"/>'
    assert draw(body, element="body")[0].area == pytest.approx(100)
    assert draw(body, element="koi")[0].area == pytest.approx(125)
    assert draw(body)[0].area > 125


@pytest.mark.parametrize(
    ("body", "element", "says"),
    [
        ('<rect id="tail" width="5" height="5"/>', "tial", 'no element with this id. Did you mean "tail"?'),
        ('<rect id="a"/><rect id="a"/>', "a", "several elements have this id"),
        ('<rect id="a" width="5" height="5" fill="none" stroke="red"/>', "a", "nothing in it is filled"),
        ("", None, "nothing in it is filled"),
        ('<path id="a" d="M 0 0 L 1"/>', "a", "the path data are bad"),
        ('<rect width="5zz" height="5"/>', None, "a unit that is not known"),
        ('<rect transform="scale(1e300)" width="5" height="5"/>', None, "cannot be read"),
        ('<g id="a"><use href="#a"/></g>', None, "too many elements"),
    ],
)
def test_what_cannot_be_used_is_named(draw, body, element, says):
    with pytest.raises(UnusableInput, match=re.escape("a.svg")) as refused:
        draw(body, element=element)
    assert says in str(refused.value)


def test_bad_path_data_elsewhere_in_the_file_do_no_harm(draw):
    assert draw(f'<path d="rubbish"/><g id="good">{BOX}</g>', element="good")[0].area == pytest.approx(100)


NS = 'xmlns="http://www.w3.org/2000/svg"'
LAUGHS = (
    '<!DOCTYPE svg [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    f'<svg {NS} viewBox="0 0 9 9"><desc>&b;</desc></svg>'
)
OUTSIDE = f'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]><svg {NS} viewBox="0 0 9 9"><desc>&a;</desc></svg>'
USES = "".join(f'<g id="g{i}">' + f'<use href="#g{i - 1}"/>' * 10 + "</g>" for i in range(1, 12))


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (LAUGHS.encode(), "declares entities"),
        (OUTSIDE.encode("utf-16"), "declares entities"),
        (f'<svg {NS} viewBox="0 0 9 9"><rect id="g0" width="1" height="1"/>{USES}</svg>'.encode(), "too many elements"),
        (f'<svg {NS} viewBox="0 0 9 9">{"<g>" * 500}{"</g>" * 500}</svg>'.encode(), "nests them too deeply"),
        (b"", "not an SVG file"),
        (b"\x1f\x8b\x08\x00", "not an SVG file"),
        (b"<html></html>", "not an SVG file"),
        (b"<svg", "not an SVG file"),
        (b'<?xml version="1.0" encoding="nonsense"?><svg/>', "encoding is unknown"),
        (f"<svg {NS}><rect width='1' height='1'/></svg>".encode(), "does not say how large it is"),
    ],
)
def test_files_that_are_broken_or_mean_harm_are_refused(tmp_path, content, says):
    (tmp_path / "a.svg").write_bytes(content)
    with pytest.raises(UnusableInput, match=says) as refused:
        load_artwork(tmp_path, "a.svg", "here")
    assert refused.value.file == "a.svg"


def test_a_plain_doctype_is_no_harm(tmp_path):
    doctype = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    (tmp_path / "a.svg").write_text(f'{doctype}<svg {NS} viewBox="0 0 96 96"><rect width="9" height="9"/></svg>')
    shape, _ = load_artwork(tmp_path, "a.svg", "here").shape_of(None, 1.0, "here")
    assert shape.area == pytest.approx((9 * PX) ** 2)


def test_a_missing_file_is_named_with_the_place_that_names_it(tmp_path):
    with pytest.raises(UnusableInput, match=r"koi.svg: there is no such file, named by here. Put it beside the design"):
        load_artwork(tmp_path, "koi.svg", "here")


def test_a_changed_file_is_read_anew(draw):
    assert draw('<rect width="5" height="5"/>')[0].area == pytest.approx(25)
    assert draw('<rect width="6" height="5"/>')[0].area == pytest.approx(30)


# Rows of the file with measured open shapes. Mark SEEN: each file was unpacked and measured there with another
# program: each path filled even-odd, whatever its own rule, curves cut in 32, all united; allow 0.5 % on the area.
OPEN_SHAPES = """\
file,sha256_first16,parts,area,width,height
heart.svg,fe6110b6aac7d5d7,1,126521.5016,457.1250,423.3080
shamrock.svg,6a251bcb8cff8de3,1,396951.0233,813.2342,805.2009
deer.svg,265b083a6996e0cb,2,3558.6230,109.4560,160.5936
gumnut.svg,15a8003abc71d2a0,2,105907.8732,380.4526,456.6646
double_star.svg,1bbf524c44e04a32,1,42374.9096,308.1270,322.9920
aquarium.svg,5c69df372adb713c,1,87.7460,12.9131,11.0000
tree.svg,68c48d84a8114500,1,77.9939,12.0278,13.0000
"""


@pytest.mark.parametrize("row", list(csv.DictReader(io.StringIO(OPEN_SHAPES))), ids=lambda row: row["file"])
def test_drawings_by_others_have_the_area_and_size_measured_elsewhere(row):
    content = (DRAWN / row["file"]).read_bytes()
    assert hashlib.sha256(content).hexdigest()[:16] == row["sha256_first16"]
    # One user unit is one px in all of them; a larger scale makes the flattening finer than theirs.
    shape, _ = load_artwork(DRAWN, row["file"], "here").shape_of(None, 10 / PX, "here")
    left, bottom, right, top = shape.bounds
    assert shape.area / 100 == pytest.approx(float(row["area"]), rel=0.005)
    assert (right - left) / 10 == pytest.approx(float(row["width"]), rel=1e-3)
    assert (top - bottom) / 10 == pytest.approx(float(row["height"]), rel=1e-3)
    assert len(getattr(shape, "geoms", [shape])) == int(row["parts"])


def test_the_shamrock_has_holes_only_by_its_own_rule(tmp_path):
    # The row's note: two holes under even-odd, none under nonzero. A third slit here is finer than their flattening.
    drawn = (DRAWN / "shamrock.svg").read_text()
    assert "fill-rule:evenodd" in drawn
    (tmp_path / "other.svg").write_text(drawn.replace("fill-rule:evenodd", "fill-rule:nonzero"))
    own, _ = load_artwork(DRAWN, "shamrock.svg", "here").shape_of(None, 1.0, "here")
    other, _ = load_artwork(tmp_path, "other.svg", "here").shape_of(None, 1.0, "here")
    assert len(own.interiors) >= 2
    assert len(other.interiors) == 0
    assert other.area > own.area


def test_every_drawing_has_its_source_and_licence():
    listed = (DRAWN / "SOURCES.md").read_text()
    for file in DRAWN.glob("*.svg"):
        digest = hashlib.sha256(file.read_bytes()).hexdigest()[:16]
        assert re.search(rf"\| {file.name} \|.*{digest}", listed), file.name


# CSS Cascading and Inheritance Level 4, chapter 6: presentation attributes, rules of the sheet, the style attribute,
# and then what is marked important, in the same order.
CASCADE = [
    ('<rect id="r" class="c" fill="none" {}/>', "rect{fill:red}", True),
    ('<rect id="r" class="c" fill="red" {} style="fill:none"/>', "rect{fill:red}", False),
    ('<rect id="r" class="c" {} style="fill:none"/>', "rect{fill:red !important}", True),
    ('<rect id="r" class="c" {} style="fill:none!important"/>', "rect{fill:red !important}", False),
    ('<rect id="r" class="c" {}/>', ".c{fill:none ! IMPORTANT}#r{fill:red}", False),
    ('<rect id="r" class="c" {}/>', "#r{fill:none!important}.c{fill:red!important}", False),
    ('<rect id="r" class="c" {}/>', "rect{fill:none!important;fill:red}", False),
    ('<rect id="r" class="c" fill="none" {}/>', "rect{fill:none}/* .c{fill:none!important} */.c{fill:red}", True),
    ('<rect id="r" class="c" {}/>', "@media screen{rect{fill:none!important}}", False),
]


@pytest.mark.parametrize(("rect", "sheet", "filled"), CASCADE)
def test_important_declarations_win_by_the_cascade(draw, rect, sheet, filled):
    body = f"<style>{sheet}</style>" + rect.format('x="10" y="10" width="20" height="5"')
    if filled:
        assert draw(body)[0].area == pytest.approx(100)
    else:
        with pytest.raises(UnusableInput, match="nothing in it is filled"):
            draw(body)
