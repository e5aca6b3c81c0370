"""The pictures that README and the manual show are those of the product as it is."""

from __future__ import annotations

import re

from conftest import ROOT
from pictures import PLACE, pictures


def test_the_pictures_look_like_the_product():
    """Made anew from the demo they are the same; where they are not, `python tests/pictures.py`
    writes them."""
    stale = [name for name, text in pictures().items() if (PLACE / name).read_text("utf-8") != text]
    assert stale == []


def test_each_picture_is_shown_somewhere():
    """In README or the manual, with words for who cannot see it."""
    shown = {
        name: words
        for page in ("README.md", ".docs/manual.md")
        for words, name in re.findall(
            r"!\[([^\]]+)\]\((?:\.docs/)?(\w+\.svg)\)", (ROOT / page).read_text()
        )
    }
    assert set(shown) == {path.name for path in PLACE.glob("*.svg")}
    assert all(len(words) > 20 for words in shown.values())
