"""Readers of JSON values: each takes a value and its place in the file, and gives it checked, or says what is wrong.

`design_file` and `own_woods` put them together into tables of keys.
"""

from __future__ import annotations

import json
import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from ..errors import UnusableInput
from ..limits import LARGEST, MOST_ENTRIES, MOST_POINTS

Reader = Callable[[Any, str], Any]
"""Takes a JSON value and its place in the file, gives the checked value or raises `UnusableInput`."""


class _Required:
    """Marks a key that may not be absent."""


REQUIRED = _Required()


@dataclass(frozen=True)
class Key:
    """How a key's value is read, and what stands for it when it is absent."""

    read: Reader
    default: Any = REQUIRED


def refuse(place: str, problem: str, remedy: str) -> UnusableInput:
    """What is wrong at a place of the file, which the caller names; to be raised."""
    return UnusableInput("", place, problem, remedy)


class Doubled(dict[str, Any]):
    """A JSON object in which `key` stood twice; refused where it is read, so that its place is known."""

    key: str


def json_object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """For `json.loads`: an object that remembers a key that stood twice."""
    made: dict[str, Any] = {}
    for key, value in pairs:
        if key in made:
            doubled = Doubled(made)
            doubled.key = key
            return doubled
        made[key] = value
    return made


# --- Readers of single values -----------------------------------------------------------------------------


def shown(value: Any) -> str:
    """The value as the file has it, cut short."""
    text = json.dumps(value)
    return text if len(text) <= 40 else text[:37] + "..."


def number(
    at_least: float = -LARGEST, above: float = -math.inf, below: float = math.inf, most: float = LARGEST
) -> Reader:
    """A finite number with at_least <= value <= most, above < value < below."""

    def read(value: Any, place: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise refuse(place, f"{shown(value)} is not a number", "Write a number, such as 12.5")
        if not math.isfinite(value):
            raise refuse(place, "the number is not finite", "Write an ordinary number of mm or degrees")
        if value <= above:
            raise refuse(place, f"{value:g} is too small", f"It must be greater than {above:g}")
        if value < at_least:
            raise refuse(place, f"{value:g} is too small", f"It must be {at_least:g} or more")
        if value >= below:
            raise refuse(place, f"{value:g} is too large", f"It must be less than {below:g}")
        if value > most:
            raise refuse(place, f"{value:g} is too large", f"It must be {most:g} or less")
        return float(value)

    return read


def whole(most: int) -> Reader:
    """A whole number from 1 to `most`."""

    def read(value: Any, place: str) -> int:
        got = number(at_least=1, below=most + 1)(value, place)
        if got != int(got):
            raise refuse(place, f"{value:g} is not a whole number", "Write 1, 2, 3 and so on")
        return int(got)

    return read


any_number = number()
size = number(above=0)
distance = number(at_least=0)


def text(value: Any, place: str) -> str:
    """Text without control characters; it may be empty."""
    if not isinstance(value, str):
        raise refuse(place, f"{shown(value)} is not text", 'Write text in quotes, such as "black walnut"')
    if any(unicodedata.category(char) in ("Cc", "Cs") for char in value):
        raise refuse(place, "the text has a control character", "Type the text again on one line")
    return value


def name(value: Any, place: str) -> str:
    """Text that says something."""
    if not text(value, place).strip():
        raise refuse(place, "the text is empty", "Write a name here")
    return str(value)


def flag(value: Any, place: str) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise refuse(place, f"{shown(value)} is neither true nor false", "Write true or false")
    return value


def optional(read: Reader) -> Reader:
    """What `read` takes, or null."""
    return lambda value, place: None if value is None else read(value, place)


def choice(*words: str) -> Reader:
    """One of these words."""

    def read(value: Any, place: str) -> str:
        if value not in words or not isinstance(value, str):
            known = " or ".join(f'"{word}"' for word in words)
            raise refuse(place, f"{shown(value)} is not known here", f"Write {known}")
        return value

    return read


def colour(value: Any, place: str) -> str:
    """An sRGB colour in six hexadecimal digits, such as "#d6cfc2"."""
    if not isinstance(value, str) or not re.fullmatch(r"#[0-9a-fA-F]{6}", value):
        raise refuse(
            place, f"{shown(value)} is not a colour", 'Write # and six digits of 0-9 and a-f, such as "#d6cfc2"'
        )
    return value.lower()


# --- Readers of lists and objects -------------------------------------------------------------------------


def listing(item: Reader, least: int = 0, most: int = MOST_ENTRIES, what: str = "entries") -> Reader:
    """A list of at least `least` and at most `most` entries, each read by `item`; gives a tuple."""

    def read(value: Any, place: str) -> tuple[Any, ...]:
        if not isinstance(value, list):
            raise refuse(place, f"{shown(value)} is not a list", f"Write {what} in square brackets")
        if not least <= len(value) <= most:
            bounds = f"at least {least}" if len(value) < least else f"at most {most}"
            raise refuse(place, f"the list has {len(value)} {what}", f"It needs {bounds}")
        return tuple(item(each, f"{place}[{index}]{_label(each)}") for index, each in enumerate(value))

    return read


def _label(value: Any) -> str:
    """A piece's id behind its place, so that the maker finds it: ``pieces[3] "koi-1"``."""
    known = value.get("id") if isinstance(value, dict) else None
    return f' "{known}"' if isinstance(known, str) and re.fullmatch(r"[\w-]{1,63}", known) else ""


point = listing(any_number, 2, 2, "numbers (x and y)")
points = listing(point, 2, MOST_POINTS, "points")
ring = listing(point, 3, MOST_POINTS, "points")


def table(keys: Mapping[str, Key]) -> Reader:
    """An object with just these keys; gives a dict with every one of them, defaults filled in."""

    def read(value: Any, place: str) -> dict[str, Any]:
        if not isinstance(value, dict):
            raise refuse(place, f"{shown(value)} is not an object", "Write its keys in curly brackets { }")
        if isinstance(value, Doubled):
            raise refuse(place, f"the key {shown(value.key)} stands twice", "Keep one of the two")
        for key in value:
            if key not in keys:
                raise _unknown_key(key, keys, place)
        for key, spec in keys.items():
            if spec.default is REQUIRED and key not in value:
                raise refuse(place, f'the key "{key}" is missing', "Add it")
        return {
            key: spec.read(value[key], f"{place}.{key}" if place else key) if key in value else spec.default
            for key, spec in keys.items()
        }

    return read


def _unknown_key(key: str, keys: Mapping[str, Key], place: str) -> UnusableInput:
    near = get_close_matches(key, keys, n=1)
    remedy = f'Did you mean "{near[0]}"?' if near else "Remove it; known here are " + ", ".join(keys)
    return refuse(place, f"unknown key {shown(key)}", remedy)
