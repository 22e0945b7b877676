"""`python -m benchmark [--markdown]`: measure, print the table. Exit status 1: a bound is not kept."""

from __future__ import annotations

import argparse
import json
import sys
from typing import NoReturn

from . import measure, table


class Parser(argparse.ArgumentParser):
    """A parser whose complaints are one line."""

    def error(self, message: str) -> NoReturn:
        """End the command with that one line."""
        self.exit(2, f"{self.prog}: {message}\n")


def main(arguments: list[str]) -> int:
    """Run the benchmark and return the exit status."""
    parser = Parser(prog="build.py benchmark", description=__doc__)
    parser.add_argument("--markdown", action="store_true", help="print the table for DEVELOPERS.md")
    parser.add_argument("--child", help=argparse.SUPPRESS)
    parser.add_argument("--count", type=int, help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    if options.child == "memory":
        print(json.dumps(measure.own_peak_memory(options.count)))
        return 0
    if options.child:
        print(json.dumps(measure.only_run(options.child, options.count)))
        return 0
    results = measure.measure()
    print(table.markdown(results) if options.markdown else table.text(results))
    kept = table.sound(results) and all(claim.holds for claim in table.claims(results))
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
