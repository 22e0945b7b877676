"""Docstrings say the thing itself: they start with a verb, or with a noun that says what is returned or held."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import build

FOLDERS = ("core", "blender_addon", "tests", "fuzz", "manual", "benchmark", "requirements")
FILES = [file for folder in FOLDERS for file in sorted((build.ROOT / folder).rglob("*.py"))]
FILES += [build.ROOT / "build.py", build.ROOT / "__init__.py"]
RIDDLES = ("Of ", "The same ", "So ", "And ", "That ", "By how ")
"""Openings that make a reader look for the rest of the sentence elsewhere."""


def texts(source: str) -> Iterator[tuple[int, str]]:
    """Line and text of each docstring: of modules, classes and functions, and those below a name or an attribute."""
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Expr(value=ast.Constant(value=str(text))):
                yield node.lineno, text.strip()


def riddles(source: str) -> list[str]:
    return [f"line {line}: {text.splitlines()[0]}" for line, text in texts(source) if text.startswith(RIDDLES)]


def test_no_docstring_starts_with_words_that_lack_their_sentence() -> None:
    found = {file: riddles(file.read_text(encoding="utf-8")) for file in FILES}
    assert len(found) > 300, "the walk found too little: it looks at the wrong place"
    assert not {file.relative_to(build.ROOT).as_posix(): lines for file, lines in found.items() if lines}


def test_a_riddle_would_be_found_wherever_it_stands() -> None:
    source = 'WIDTH = 3\n"""Of a strip, mm."""\ndef f():\n    """The same in inches."""\nclass C:\n    """A strip."""\n'
    assert riddles(source) == ["line 2: Of a strip, mm.", "line 4: The same in inches."]
