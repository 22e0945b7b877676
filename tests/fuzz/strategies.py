"""The fuzzer's families as hypothesis strategies: what hypothesis draws is what the family calls random."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from fuzz.families import FAMILIES, draw


def designs(*families: str) -> st.SearchStrategy[dict[str, Any]]:
    """Designs, as plain JSON, of these families, or of any."""
    return st.builds(draw, st.sampled_from(families or tuple(FAMILIES)), st.randoms(use_true_random=False))
