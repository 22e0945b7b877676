"""Findings in groups: one entry for each cause, in report, list and picture."""

from __future__ import annotations

import pytest

from core.findings.all_findings import find_all
from core.findings.causes import at_one_place, grouped, linked, sharing_a_piece
from core.findings.check import check_stack, check_text, count_words
from core.findings.finding import Finding, Level
from core.stack.stack import Stack, build_stack
from tests.core.designs import make_design, make_panel, make_piece, rectangle


def finding(at: tuple[float, float], cause: str | None, value: float = 0.0, level: Level = "warning") -> Finding:
    return Finding(level, "thin-wall", "b", "a", at, "text", "remedy", None, value, cause)


def board(count: int) -> Stack:
    """A chessboard of squares that share edges."""
    squares = [make_piece(f"s{i}-{j}", rectangle(20, 20, 20 * i, 20 * j)) for i in range(count) for j in range(count)]
    return build_stack(make_design(squares, make_panel(20 * count, 20 * count)))


@pytest.mark.parametrize("count", [2, 4])
def test_each_corner_pillar_of_a_chessboard_is_one_cause(count: int) -> None:
    """Both diagonals of each of the (n - 1)² inner corners are thin."""
    thin = [found for found in find_all(board(count)) if found.code == "thin-wall"]
    groups = grouped(thin)
    assert (len(thin), len(groups)) == (2 * (count - 1) ** 2, (count - 1) ** 2)
    assert {(len(group.findings), len(group.places)) for group in groups} == {(2, 1)}
    assert "also there between " in groups[0].more()


def test_the_report_has_one_entry_for_each_cause_and_the_object_each_place() -> None:
    stack = board(4)
    found = check_stack(stack)
    assert sum(each["code"] == "thin-wall" for each in found["findings"]) == 18
    assert sum(each["code"] == "meeting-edges" for each in found["findings"]) == 24
    text = check_text(stack, found)
    assert text.count("warning thin-wall:") == 9
    assert text.count("note meeting-edges:") == 1
    assert "23 more such notes, at s" in " ".join(text.split())
    assert "no errors, 11 warnings at 34 places, " in text  # with crumbs at the rim, 12 alike and 4 in the corners
    assert count_words(found["findings"]) in text


def test_groups_keep_the_order_of_their_first_and_put_the_worst_first() -> None:
    found = [
        finding((0, 0), "x", 1.0),
        finding((50, 0), None),
        finding((9, 0), "x", 3.0),
        finding((9, 0), "x", level="note"),
        finding((20, 0), "x", 2.0),
    ]
    groups = grouped(found)
    assert [[each.at[0] for each in group.findings] for group in groups] == [[9, 20, 0], [50], [9]]
    assert groups[0].more() == "3 such places, also at (20.00, 0.00), (0.00, 0.00)"
    assert (groups[1].more(), len(groups[1].places)) == ("", 1)


def test_places_beyond_the_sixth_are_counted() -> None:
    (group,) = grouped(finding((10.0 * i, 0.0), "x") for i in range(9))
    assert group.more().endswith("(60.00, 0.00) and 2 more")
    assert group.more().startswith("9 such places, also at (10.00, 0.00)")


def test_findings_without_a_cause_stay_apart() -> None:
    assert len(grouped([finding((0, 0), None), finding((0, 0), None)])) == 2


def test_links_join_one_after_another() -> None:
    assert linked(6, [(4, 2), (1, 2), (3, 5)]) == [0, 1, 1, 3, 1, 3]


def test_places_within_reach_of_either_are_one() -> None:
    assert at_one_place([(0, 0), (1.9, 0), (5, 0)], [0.5, 2.0, 0.5]) == [0, 0, 2]
    assert at_one_place([], []) == []


def test_pairs_hang_together_by_a_piece_and_a_value() -> None:
    pairs = [(0, 1), (1, 2), (2, 3), (4, 5)]
    assert sharing_a_piece(pairs, [0.3, 0.305, 0.4, 0.3], 0.01) == [0, 0, 2, 3]


def test_plain_corners_of_many_pieces_are_one_entry_that_counts_them():
    """The JSON keeps each; whoever reads sees one line, at the corner that changes most."""
    squares = [make_piece(f"p{i}", rectangle(20, 10 + 2 * i), at=(10 + 30 * i, 20)) for i in range(3)]
    findings = [f for f in find_all(build_stack(make_design(squares))) if f.code == "corners-rounded"]
    assert [finding.piece for finding in findings] == ["p0", "p1", "p2"]
    (group,) = grouped(findings)
    assert group.text.startswith("3 pieces have rounded corners, worst p")
