"""Results kept for as long as the very same objects come again: most shapes stay the same while one piece is moved."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from typing import Generic, TypeVar

Result = TypeVar("Result")


class Kept(Generic[Result]):
    """Measures of many things at once, of which only those not seen before are taken.

    Shapes are told apart by identity, which `build_stack` keeps for pieces that did not change and which costs
    nothing; they are held here, so that no other object can take over their identity.
    """

    def __init__(self, most: int = 4096) -> None:
        self._most = most
        self._results: dict[Hashable, tuple[Sequence[object], Result]] = {}

    def of(
        self, subjects: Sequence[Sequence[object]], measure: Callable[[list[int]], Sequence[Result]]
    ) -> list[Result]:
        """A result for each subject.

        Args:
            subjects: for each result all that it depends on; numbers, texts and None are compared by value.
            measure: takes the indices of subjects that are new, returns their results in that order.
        """
        keys = [tuple(map(_identity, subject)) for subject in subjects]
        new = list({key: i for i, key in enumerate(keys) if key not in self._results}.values())
        if len(self._results) + len(new) > self._most:
            self._results = {key: self._results[key] for key in keys if key in self._results}
        if new:
            for i, result in zip(new, measure(new), strict=True):
                self._results[keys[i]] = (subjects[i], result)
        return [self._results[key][1] for key in keys]

    def known(self, subject: Sequence[object]) -> Result | None:
        """The result of a subject that came before, or None."""
        kept = self._results.get(tuple(map(_identity, subject)))
        return kept[1] if kept else None


def _identity(part: object) -> Hashable:
    return part if part is None or isinstance(part, (float, int, str)) else ("object", id(part))
