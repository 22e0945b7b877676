"""What the sections of the sheet are called, where one of them refers to another."""

from __future__ import annotations

GOES_WRONG = "If something goes wrong"
READING = "How to read this sheet"
BUYING = "Boards to buy"
BOARDS = "Boards in stock"
BACKGROUND = "The background"
ZERO = "Zero, pins and depth"
END = "Trim, finish and frame"


def batch_title(number: int, count: int) -> str:
    """Such as ``Batch 2 of 6``."""
    return f"Batch {number} of {count}"
