"""White balance by a grey card: neutral in linear light, whatever the cast, or a plain refusal."""

import numpy as np
import pytest
from PIL import Image

from core.boards.white_balance import gains, gains_of_photo
from core.errors import UnusableInput
from core.woods.colour import difference, lab_from_linear

CASTS = [(1.0, 1.0, 1.0), (1.25, 1.0, 0.7), (0.8, 1.0, 1.3)]


def encoded(linear):
    """The published transfer function of sRGB (IEC 61966-2-1), written out here by itself; MEMORY."""
    return np.array([12.92 * v if v <= 0.0031308 else 1.055 * v ** (1 / 2.4) - 0.055 for v in np.ravel(linear)])


@pytest.mark.parametrize("cast", CASTS)
def test_a_card_under_a_cast_becomes_neutral_and_keeps_its_brightness(cast):
    card = 0.18 * np.array(cast)
    balanced = gains([encoded(card)]) * card
    assert balanced == pytest.approx(np.full(3, balanced[0]), rel=1e-9)
    # The weights of CIE Y in linear sRGB (IEC 61966-2-1; from memory).
    assert balanced[0] == pytest.approx(card @ (0.2126, 0.7152, 0.0722))


@pytest.mark.parametrize("cast", CASTS)
def test_a_card_of_known_reflectance_gives_a_wood_its_own_colour(cast):
    """A wood photographed under a cast, half a stop too dark, in 8 bits: within dE2000 1 of what it is."""
    wood = np.array([0.30, 0.14, 0.06])
    light = 0.7 * np.array(cast)
    card, seen = (np.rint(255 * encoded(colour * light)) / 255 for colour in (np.full(3, 0.18), wood))
    from_8_bits = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in seen]
    balanced = gains([card] * 4, 0.18) * np.array(from_8_bits)
    assert difference(lab_from_linear(balanced), lab_from_linear(wood)) < 1.0


def test_noise_averages_in_linear_light():
    """Half the pixels twice as bright as the others: their mean in linear light, not that of the encoded values."""
    assert gains([encoded([0.1] * 3), encoded([0.2] * 3)], 0.3) == pytest.approx(np.full(3, 2.0))


@pytest.mark.parametrize(("value", "words"), [(1.0, "overexposed"), (0.0, "too dark")])
def test_a_card_that_tells_no_colour_is_refused(value, words):
    with pytest.raises(ValueError, match=words):
        gains(np.full((9, 3), value))


def test_the_card_is_read_at_its_place_in_the_file(tmp_path):
    picture = Image.new("RGB", (60, 40), (90, 60, 40))
    picture.paste((130, 118, 104), (40, 4, 56, 16))  # x and y from the upper left corner
    picture.save(tmp_path / "board.png")
    balance = gains_of_photo(tmp_path / "board.png", 0, (42.0, 6.0, 54.0, 14.0), None)
    assert balance == pytest.approx(gains([np.array([130, 118, 104]) / 255]))
    Image.new("RGB", (60, 40), (255, 255, 255)).save(tmp_path / "white.png")
    with pytest.raises(UnusableInput, match="Pick another place"):
        gains_of_photo(tmp_path / "white.png", 0, (42.0, 6.0, 54.0, 14.0), None)


@pytest.mark.parametrize("place", [(10.2, 5.0, 10.4, 9.0), (59.8, 5.0, 60.0, 9.0), (58.0, 39.9, 61.0, 43.0)])
def test_a_card_picked_ever_so_thin_is_a_pixel_wide(tmp_path, place):
    Image.new("RGB", (60, 40), (130, 118, 104)).save(tmp_path / "board.png")
    assert gains_of_photo(tmp_path / "board.png", 0, place, None) == pytest.approx(
        gains([np.array([130, 118, 104]) / 255])
    )
