"""Laying inserts on photos of boards: the map to pixels, places that fit, boards that pieces share, missing photos."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from core.boards import log_space
from core.boards.figure import board_of, figure_of, lays, on_photo, photo_boards
from core.boards.place_on_photo import PhotoBoard, find_photo
from core.design import BoardPhoto, LineOutline, OwnWood
from core.errors import UnusableInput
from core.findings.all_findings import find_all
from core.solids.panel_solids import build_solids
from core.stack.stack import build_stack

from ..designs import make_design, make_panel, make_piece, rectangle

SCALE = 0.25
PHOTO = BoardPhoto("board.png", SCALE)
WOOD = OwnWood("plank", "black walnut", photo=PHOTO)
SIZE = (1200, 800)
"""Pixels: 300 x 200 mm."""


@pytest.fixture
def folder(tmp_path):
    Image.new("RGB", SIZE, (120, 90, 70)).save(tmp_path / "board.png")
    return tmp_path


def design(folder, *pieces, photo=PHOTO):
    woods = (replace(WOOD, photo=photo),)
    return replace(make_design(pieces), folder=folder, woods=woods)


def laid(folder, photo=PHOTO, **changes):
    """The figure of a 40 x 20 mm piece with its middle at (60, 40), and the pixel of each of its vertices."""
    values = {"wood": "plank", "at": (40, 30), "grain": 0.0, "board_at": (100.0, 50.0)} | changes
    made = design(folder, make_piece("a", rectangle(40, 20), **values), photo=photo)
    stack = build_stack(made)
    boards, trouble = photo_boards(made)
    assert trouble == ()
    solid = next(each for each in build_solids(stack) if each.kind == "insert")
    figure = figure_of(solid.mesh, lays(stack)["a"], boards)
    board = boards["plank"]
    return figure, board.pixels(figure.photo * np.array(board.size))


def pixel_at(figure, pixels, x, y):
    """Find the pixel at a place (x, y) of the face: the map is affine there, so its vertices give it."""
    face = figure.mesh.vertices[:, 2] == 0.0
    system = np.column_stack([figure.mesh.vertices[face, :2], np.ones(face.sum())])
    solution = np.linalg.lstsq(system, pixels[face], rcond=None)[0]
    assert system @ solution == pytest.approx(pixels[face], abs=1e-6)
    return (np.array([x, y, 1.0]) @ solution).tolist()


def test_the_middle_lies_where_it_is_put_and_millimetres_are_the_photos(folder):
    """Middle (60, 40) at board (100, 50): pixel 400 from the left, 200 from the bottom of 800. 4 pixels are 1 mm."""
    figure, pixels = laid(folder)
    assert pixel_at(figure, pixels, 60, 40) == pytest.approx([400, 600])
    assert pixel_at(figure, pixels, 70, 40) == pytest.approx([440, 600])
    assert pixel_at(figure, pixels, 60, 45) == pytest.approx([400, 580])


def test_grain_lies_along_the_boards_grain(folder):
    """Grain 30 degrees in the piece and 90 (upwards) in the photo: going along one goes up in the other."""
    figure, pixels = laid(folder, replace(PHOTO, grain=90.0), grain=30.0)
    along = np.array([np.cos(np.pi / 6), 0.5])
    x, y = np.array([60.0, 40.0]) + 8 * along
    assert pixel_at(figure, pixels, x, y) == pytest.approx([400, 600 - 32])


def test_turning_on_the_board_turns_the_outline_there(folder):
    """Turned by 90 degrees counter-clockwise, what lay to the right of the middle lies above it."""
    figure, pixels = laid(folder, board_turn=90.0)
    assert pixel_at(figure, pixels, 70, 40) == pytest.approx([400, 600 - 40])
    mirrored, there = laid(folder, board_turn=90.0, board_mirror=True)
    assert pixel_at(mirrored, there, 70, 40) == pytest.approx([400, 600 - 40])
    assert pixel_at(mirrored, there, 60, 45) == pytest.approx([400 + 20, 600])


@pytest.mark.parametrize(
    ("taper", "mirror", "side"), [(0.0, False, 1), (0.0, True, -1), (5.0, False, -1), (5.0, True, 1)]
)
def test_tapered_inserts_are_laid_out_mirrored(folder, taper, mirror, side):
    figure, pixels = laid(folder, taper=taper, board_mirror=mirror, corner_radius=4.0)
    assert pixel_at(figure, pixels, 70, 40) == pytest.approx([440, 600])
    assert pixel_at(figure, pixels, 60, 45) == pytest.approx([400, 600 - 20 * side])


def test_a_crop_moves_the_boards_corner(folder):
    """Cropped to pixels 100..1100 by 50..750: board (100, 50) mm lies at 100 + 400 and 750 - 200."""
    figure, pixels = laid(folder, replace(PHOTO, crop=(100.0, 50.0, 1100.0, 750.0)))
    assert pixel_at(figure, pixels, 60, 40) == pytest.approx([500, 550])


def test_walls_go_on_with_what_lies_behind_their_edge(folder):
    """Below the face each millimetre of depth is one inwards: nothing stretches, and no seam at the edge."""
    figure, pixels = laid(folder, corner_radius=1.6, cutter_diameter=0.008)
    deep = figure.mesh.vertices[:, 2] < 0
    right = np.isclose(figure.mesh.vertices[:, 0], figure.mesh.vertices[:, 0].max())
    middle = np.abs(figure.mesh.vertices[:, 1] - 40.0) < 5.0
    for place in np.flatnonzero(deep & right & middle):
        x, y, z = figure.mesh.vertices[place]
        assert pixels[place] == pytest.approx(pixel_at(figure, pixels, x + z, y), abs=1e-6)


def test_moving_a_piece_leaves_its_figure(folder):
    _, here = laid(folder, board_at=None)
    _, there = laid(folder, board_at=None, at=(55, 42))
    assert there == pytest.approx(here, abs=1e-6)


@pytest.mark.parametrize("name", ["a", "koi-1", "petal-7", "reed"])
@pytest.mark.parametrize("grain", [0.0, 35.0])
def test_the_place_by_default_fits_and_is_the_names_own(folder, name, grain):
    piece = make_piece(name, rectangle(60, 30), wood="plank", grain=grain, at=(10, 10))
    made = design(folder, piece)
    lay = lays(build_stack(made))[name]
    board = photo_boards(made)[0]["plank"]
    at, over = on_photo(lay, board)
    assert over == 0
    assert (at, over) == on_photo(lay, board)
    other = on_photo(replace(lay, name=f"{name}-2"), board)[0]
    assert np.hypot(at[0] - other[0], at[1] - other[1]) > 1


def test_a_piece_that_does_not_fit_tells_how_far_it_reaches_beyond():
    """A board of 25 x 20 mm, a piece of 40 x 20: laid in the middle it reaches 7.5 mm beyond either end."""
    board = PhotoBoard(BoardPhoto("b.png", SCALE), None, 100, 80, 0)
    extent = (-20.0, 20.0, -10.0, 10.0)
    at = board.default_place("any", extent, False)
    assert at == (12.5, 10.0)
    assert board.overhang(extent, False, at) == pytest.approx(7.5)
    assert board.overhang(extent, False, (30.0, 10.0)) == pytest.approx(25.0)


def test_two_leaves_on_a_photo_mirror_at_the_joint(folder):
    figure, pixels = laid(folder, leaves=2)
    y = figure.mesh.vertices[:, 1]
    face = figure.mesh.vertices[:, 2] == 0
    for side in (y > 40.05, y < 39.95):
        low, high = np.percentile(pixels[face & side, 1], [0, 100])
        assert high - low == pytest.approx((10 - 0.16) * 4, abs=1.0)  # both leaves show the same 10 mm of the board
        assert (low + high) / 2 == pytest.approx(600, abs=1.0)


# --- Boards in the log --------------------------------------------------------------------------------------------


def test_a_piece_without_a_number_keeps_the_board_that_its_name_gave_it_always():
    lay = lays(build_stack(make_design([make_piece("koi-1", rectangle(40, 20))])))["koi-1"]
    assert board_of(lay, "holly") == (log_space.board_for("koi-1"), (0.0, 0.0))


def test_pieces_of_one_number_and_wood_share_a_board_each_at_its_own_place():
    pieces = [make_piece(name, rectangle(40, 20), board=3, wood=wood)
              for name, wood in (("a", "holly"), ("b", "Holly"), ("c", "koa"))]  # fmt: skip
    a, b, c = (board_of(lay, lay.wood) for lay in list(lays(build_stack(make_design(pieces))).values())[1:])
    assert a[0] == b[0]
    assert a[1] != b[1]
    assert a[0] != c[0]


def test_pieces_laid_side_by_side_on_one_board_show_one_figure_across_their_edge(folder):
    """Two squares of 20 mm that touch at x = 40, laid 20 mm apart on board 3: where they touch, their logs agree."""
    pieces = [
        make_piece(name, rectangle(20, 20, x, 30), board=3, board_at=at, grain=0.0, cutter_diameter=0.008)
        for name, x, at in (("a", 20.0, (-10.0, 5.0)), ("b", 40.0, (10.0, 5.0)))
    ]
    stack = build_stack(make_design(pieces))
    logs = []
    for name in ("a", "b"):
        lay = lays(stack)[name]
        straight, _ = log_space.lay_straight(np.array([(40.0, 37.0, -2.0)]), lay.grain, lay.anchor)
        board, at = board_of(lay, lay.wood)
        logs.append(log_space.log_from_board(straight + np.array([*at, 0.0]), board))
    assert logs[0] == pytest.approx(logs[1], abs=1e-9)


@pytest.mark.parametrize(("cut", "low", "high"), [("flat", 4, 15), ("rift", 30, 55), ("quarter", 70, 85)])
def test_a_cut_asked_for_is_the_angle_between_face_and_rings(cut, low, high):
    angles = [abs(log_space.board_for(f"piece-{n}", cut).cut) for n in range(50)]
    assert low <= min(angles) <= max(angles) <= high


def test_asking_for_the_cut_that_a_piece_has_changes_nothing():
    board = log_space.board_for("koi-1")
    assert board == log_space.board_for("koi-1", "quarter")


# --- Photos that cannot be used -----------------------------------------------------------------------------------


def test_a_photo_is_found_with_its_size(folder):
    board = find_photo(WOOD, folder)
    assert (board.width, board.height) == SIZE
    assert board.size == (300.0, 200.0)


@pytest.mark.parametrize("kind", ["JPEG", "TIFF"])
def test_photos_may_be_of_any_kind_that_is_named(tmp_path, kind):
    Image.new("RGB", (64, 48)).save(tmp_path / "board.png", format=kind)
    assert find_photo(WOOD, tmp_path).size == (16.0, 12.0)


@pytest.mark.parametrize("kind", ["JPEG", "TIFF"])
@pytest.mark.parametrize(("orientation", "upright"), [(1, True), (6, False)])
def test_a_photo_that_is_only_marked_as_turned_is_refused(tmp_path, kind, orientation, upright):
    """Viewers heed the mark, tag 274 of EXIF 2.3 (MEMORY), so that places picked in them would lie elsewhere."""
    marked = Image.Exif()
    marked[274] = orientation
    Image.new("RGB", (64, 48)).save(tmp_path / "board.png", format=kind, exif=marked)
    if upright:
        assert find_photo(WOOD, tmp_path).size == (16.0, 12.0)
    else:
        with pytest.raises(UnusableInput, match=r"only marked as upright.*picture button"):
            find_photo(WOOD, tmp_path)


@pytest.mark.parametrize(
    ("content", "photo", "words"),
    [
        (None, PHOTO, "is not there"),
        (b"no picture at all", PHOTO, "is no PNG, JPEG, TIFF picture"),
        (b"", PHOTO, "is no PNG, JPEG, TIFF picture"),
        (..., replace(PHOTO, grey=(1300.0, 10.0, 1310.0, 20.0)), "its grey card lies beyond them"),
        (..., replace(PHOTO, crop=(0.0, 0.0, 1200.0, 900.0)), "its crop lies beyond them"),
    ],
)
def test_what_is_in_the_way_of_a_photo_is_told_and_the_species_stands_in(folder, content, photo, words):
    path = folder / "board.png"
    path.unlink() if content is None else content is ... or path.write_bytes(content)
    made = design(folder, make_piece("a", rectangle(40, 20), wood="plank"), photo=photo)
    boards, (trouble,) = photo_boards(made)
    assert boards == {}
    assert isinstance(trouble, UnusableInput)
    assert words in str(trouble)
    assert '"plank"' in trouble.place


def codes(made):
    return [f for f in find_all(build_stack(made)) if f.code in ("board-photo", "off-board")]


def test_a_missing_photo_is_a_warning_that_names_the_file_and_the_remedy(folder):
    (folder / "board.png").unlink()
    (finding,) = codes(design(folder, make_piece("a", rectangle(40, 20), wood="plank", at=(10, 10))))
    assert (finding.level, finding.code, finding.piece) == ("warning", "board-photo", None)
    assert finding.text == 'woods "plank".photo: "board.png" is not there'
    assert finding.remedy.startswith("Put the photo there")


def test_a_white_card_is_told(folder):
    Image.new("RGB", SIZE, (255, 255, 255)).save(folder / "board.png")
    grey = replace(PHOTO, grey=(10.0, 10.0, 18.0, 18.0))
    (finding,) = codes(design(folder, make_piece("a", rectangle(40, 20), wood="holly", at=(10, 10)), photo=grey))
    assert finding.text == 'woods "plank".grey: the grey card is overexposed'


def test_an_insert_beyond_its_board_is_told_with_the_nearest_place_that_fits(folder):
    """40 x 20 mm with its middle at (10, 50) reaches 10 mm beyond the left edge; at (20, 50) it fits."""
    piece = make_piece("a", rectangle(40, 20), wood="plank", at=(10, 10), grain=0.0, board_at=(10.0, 50.0))
    (finding,) = codes(design(folder, piece))
    assert "it reaches 10.00 mm beyond the board plank" in finding.text
    assert (finding.step.key, finding.step.value) == ("board_at", (20.0, 50.0))
    assert codes(design(folder, replace(piece, board_at=finding.step.value))) == []


def test_an_insert_larger_than_its_board_is_told(folder):
    small = replace(PHOTO, mm_per_pixel=0.02)  # 24 x 16 mm
    (finding,) = codes(design(folder, make_piece("a", rectangle(40, 20), wood="plank", grain=0.0), photo=small))
    assert "reaches 8.00 mm beyond" in finding.text
    assert finding.step is None


def test_a_strip_longer_than_its_board_is_told(folder):
    made = design(folder)
    made = replace(made, panel=make_panel(400, 80, wood="plank"))
    (finding,) = codes(made)
    assert "reaches 50.00 mm beyond the board plank" in finding.text


def test_a_strip_reaches_half_its_length_either_way(folder):
    """60 mm of line and then 40 mm, across a corner: straightened 100 x 3.175 mm."""
    line = LineOutline(((10.0, 10.0), (70.0, 10.0), (70.0, 50.0)), 3.175)
    lay = lays(build_stack(make_design([make_piece("reed", line)])))["reed"]
    assert lay.extent == pytest.approx((-50, 50, -1.5875, 1.5875))


@pytest.mark.parametrize("seed", range(8))
def test_the_place_that_a_remedy_names_fits_for_all_its_rounding(folder, seed):
    chance = np.random.default_rng(seed)
    photo = replace(PHOTO, mm_per_pixel=float(chance.uniform(0.2, 0.3)), grain=float(chance.uniform(0, 360)))
    off = tuple(chance.uniform(-50, 0, 2).tolist())
    outline = rectangle(*chance.uniform(20, 50, 2).tolist())
    piece = make_piece("a", outline, wood="plank", at=(30, 20), grain=float(chance.uniform(0, 90)), board_at=off)
    (finding,) = codes(design(folder, piece, photo=photo))
    assert codes(design(folder, replace(piece, board_at=finding.step.value), photo=photo)) == []
