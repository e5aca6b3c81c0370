"""Review: where does speed break, on which note, and how? Over a session, a day or years."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import TextIO

from ..errors import BadInput
from ..files.ordinary import contents
from ..files.paths import path_of
from ..files.review_report import review_to_dict
from ..files.textfile import put_text
from ..measures.review.answers import make_review
from ..report.outlet import clean_lines
from ..report.page import page
from ..report.page_faults import Head
from ..report.parts_text import part_line
from ..report.review_text import ASCII, PLAIN, answer_lines, review_lines, wrapped
from . import review_ways
from .choice import Choice
from .common import only_ascii, print_json, width_of
from .judging import MIDI_ENDINGS
from .played import one_way, table_of, title_of, ways_of
from .review_parts import part_to_dict, parts_of
from .rig_hint import print_hint

PAGE_START = "<!DOCTYPE html>"


def run_review(options: Namespace, out: TextIO, err: TextIO) -> int:
    choice = Choice.of(options)
    page_file = checked_page(options.html, "review.html") if options.html is not None else None
    every = ways_of(choice, err)
    ways = one_way(choice, every, err)
    parts = parts_of(ways, every)
    title = title_of(ways)
    several = (
        len({way.played.cell for way in every}) > 1 and len({way.sitting for way in every}) > 1
    )
    played, about = ways[0].played, None
    if choice.cell is None and several:
        about, title = f"practised last, {ways[0].played.cell}", f"practised last, {title}"
    review = make_review(table_of(ways), played.cell, played.grid, played.variant)
    found = review_ways.ways_in(choice, ways, err)
    if page_file is not None:
        head = Head(played.frets, played.strokes)
        pictures = review_ways.part_of_page(found)
        put_text(page_file, clean_lines(page(review, title, head, pictures)))
    if options.json:
        more = {
            "parts": [part_to_dict(one) for one in parts],
            "ways": review_ways.to_dict(found, played.cell),
        }
        print_json({**review_to_dict(review, about), **more}, out)
        return 0
    width = width_of(out)
    print(title, file=out)
    if page_file is not None:  # the pictures are on it
        print(*answer_lines(review, width), f"The page: {page_file}", sep="\n", file=out)
    else:
        print(*review_lines(review, width, ASCII if only_ascii(out) else PLAIN), sep="\n", file=out)
    for one in parts:
        print(part_line(one), file=out)
    if found is not None:
        print("", *wrapped(review_ways.told(found, played.cell), width), sep="\n", file=out)
    if choice.rig is None and not any(
        Path(name).suffix.lower() in MIDI_ENDINGS for name in choice.sessions
    ):
        print_hint(choice, out)
    return 0


def checked_page(name: str, example: str) -> Path:
    """Where the page goes: a new file, or an older page. Raises BadInput, which may suggest the
    name of ``example``, before anything is judged."""
    if not name:
        raise BadInput(f"--html: the name is empty; name a file for the page, as in {example}")
    path = path_of(name)
    try:
        if not path.parent.is_dir():
            raise BadInput(f"{name}: there is no folder {path.parent}")
        if path.is_dir():
            raise BadInput(
                f"{name}: is a folder; name a file for the page, {Path(name) / example} for example"
            )
        start = PAGE_START.encode()
        if path.exists() and not contents(path, len(start), follow=True).startswith(start):
            raise BadInput(f"{name}: holds something else than a page; choose another name")
    except OSError as error:
        raise BadInput(f"{name}: cannot be written: {error.strerror or error}") from error
    return path
