"""Every failure story of the trade has its tests, found by its number, and all of one story stand in one file."""

from __future__ import annotations

import re
from collections import defaultdict
from pathlib import Path

STORIES = range(1, 49)


def _told() -> dict[int, list[tuple[str, int]]]:
    """Number of a story -> (file, place among its tests) of each test that is named by it."""
    found: dict[int, list[tuple[str, int]]] = defaultdict(list)
    for path in sorted(Path(__file__).parent.glob("test_failure_stories_*.py")):
        names = re.findall(r"^def test_(\w+)\(", path.read_text(encoding="utf-8"), re.MULTILINE)
        for place, name in enumerate(names):
            if number := re.match(r"(\d\d)_", name):
                found[int(number.group(1))].append((path.name, place))
    return found


def test_every_story_has_a_test_by_its_number() -> None:
    assert sorted(_told()) == list(STORIES)


def test_the_tests_of_one_story_stand_together() -> None:
    apart = {
        number: places
        for number, places in _told().items()
        if len({file for file, _ in places}) > 1 or places[-1][1] - places[0][1] != len(places) - 1
    }
    assert not apart
