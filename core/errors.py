"""The one family of errors that a maker can cause."""

from __future__ import annotations


class GrainstackError(Exception):
    """Base of all errors that Grainstack raises on purpose."""


class UnusableInput(GrainstackError):
    """Input that cannot be used at all: commands print it as one line and exit with status 2.

    Attributes:
        file: the file as the maker knows it, "" when there is none.
        place: where in it, such as ``pieces[3] "koi-1".at``; "" for the whole file.
        problem: what is wrong.
        remedy: what to do next.
    """

    def __init__(self, file: str, place: str, problem: str, remedy: str) -> None:
        self.file, self.place, self.problem, self.remedy = file, place, problem, remedy
        super().__init__(str(self))

    def __str__(self) -> str:
        where = ": ".join(part for part in (self.file, self.place) if part)
        words = f"{self.problem}. {self.remedy}".rstrip(".")
        words += "" if words.endswith("?") else "."
        return " ".join((f"{where}: {words}" if where else words).split())
