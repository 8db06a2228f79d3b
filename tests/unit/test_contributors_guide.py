"""What the contributor's guide and the rooms' own pages say of the house is so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "DEVELOPERS.md"
PAGES = sorted((ROOT / "calib").glob("*/WHY.md"))


def named(text: str) -> set[str]:
    """Files and folders that a page names, in backticks."""
    found = re.findall(r"`([\w./-]+(?:\.(?:py|md|txt|toml|c)|/))`", text)
    return {name for name in found if "ROOM" not in name and "NAME" not in name}


def test_the_guide_names_what_is_there() -> None:
    """A path that has moved would send a newcomer astray."""
    missing = {
        name
        for name in named(GUIDE.read_text(encoding="utf-8"))
        if not (ROOT / name).exists() and not list((ROOT / "calib").rglob(name.rstrip("/")))
    }
    assert missing == set()


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.parent.name))
def test_a_room_s_page_names_the_modules_that_stand(page: Path) -> None:
    """How it stands is about today; decisions below it may name what was."""
    today = page.read_text(encoding="utf-8").partition("\n## Decisions\n")[0]
    missing = {
        name
        for name in named(today)
        if not (ROOT / name).exists()
        and not (page.parent / name).exists()
        and not list((ROOT / "calib").rglob(name.rstrip("/")))
    }
    assert missing == set()


def test_every_room_of_the_package_is_in_the_guide() -> None:
    """A room that nobody wrote down is one that nobody knows the rule of."""
    guide = GUIDE.read_text(encoding="utf-8")
    rooms = [each.parent.name for each in (ROOT / "calib").glob("*/__init__.py")]
    assert [room for room in rooms if f"calib/{room}/`" not in guide] == []


def test_the_guide_is_short() -> None:
    """Twelve kilobytes: what it takes ten minutes to read."""
    assert GUIDE.stat().st_size <= 12_000
