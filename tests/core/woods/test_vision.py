"""What colour-deficient eyes see, and greys: against published matrices and colours.

`data/cvd_reference.csv`: 6 matrices SEEN in Machado et al. 2009 as two open-source packages carry them, 72 colours
DERIVED from them on linear sRGB.
"""

from __future__ import annotations

import numpy as np
import pytest

from core.woods import colour, vision
from tests.core.tables import rows

TABLE = rows("cvd_reference.csv")
MATRICES = [row for row in TABLE if row["kind"] == "matrix"]
COLOURS = [row for row in TABLE if row["kind"] == "colour"]


def test_the_table_is_whole() -> None:
    assert (len(MATRICES), len(COLOURS)) == (6, 72)


@pytest.mark.parametrize("row", MATRICES, ids=lambda row: f"{row['deficiency']} {row['severity']}")
def test_published_matrices(row: dict[str, str]) -> None:
    expected = [[float(row[f"m{i}{j}"]) for j in range(3)] for i in range(3)]
    assert vision.matrix(row["deficiency"], float(row["severity"])) == pytest.approx(np.array(expected), abs=1e-12)


@pytest.mark.parametrize("row", COLOURS, ids=lambda row: f"{row['deficiency']} {row['severity']} {row['colour_name']}")
def test_published_colours(row: dict[str, str]) -> None:
    linear = colour.linear_from_srgb(colour.srgb_from_hex(row["input_srgb_hex"]))
    seen = vision.seen_by(linear, row["deficiency"], float(row["severity"]))
    assert seen == pytest.approx([float(row[f"linear_{c}"]) for c in "rgb"], abs=1e-8)
    shown = np.rint(255 * np.clip(colour.srgb_from_linear(np.clip(seen, 0, 1)), 0, 1))
    assert np.abs(shown - 255 * colour.srgb_from_hex(row["expected_srgb_hex"])).max() <= 1


@pytest.mark.parametrize("eyes", vision.EYES)
@pytest.mark.parametrize("severity", [0.0, 0.3, 0.5, 0.8, 1.0])
def test_greys_stay_grey(eyes: vision.Eyes, severity: float) -> None:
    """Each row of a matrix adds up to 1 (within the table's six decimals)."""
    assert vision.seen_by([0.2, 0.2, 0.2], eyes, severity) == pytest.approx([0.2] * 3, abs=1e-6)


def test_severity_runs_from_nothing_to_the_whole() -> None:
    assert vision.matrix("protan", 0.0) == pytest.approx(np.eye(3))
    half, whole = (vision.matrix("protan", severity) for severity in (0.5, 1.0))
    assert vision.matrix("protan", 0.75) == pytest.approx((half + whole) / 2)


def test_grey_keeps_lightness() -> None:
    """A grey of the same CIE Y has the same L*, and no chroma (CIE 15)."""
    linear = np.random.default_rng(1).uniform(size=(5, 4, 3))
    grey = colour.lab_from_linear(vision.grey(linear))
    assert grey[..., 0] == pytest.approx(colour.lab_from_linear(linear)[..., 0])
    assert np.abs(grey[..., 1:]).max() < 1e-9
