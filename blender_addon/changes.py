"""Word that a design may have changed, from whoever changed it to whoever keeps the picture up to date."""

from __future__ import annotations

from collections.abc import Callable

listeners: list[Callable[[], None]] = []


def tell() -> None:
    """Properties set by Python or a button make no depsgraph update: their setters call this."""
    for listener in listeners:
        listener()
