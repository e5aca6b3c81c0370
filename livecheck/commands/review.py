"""Review: where does speed break, on which note, and how? Over a session, a day or years."""

from __future__ import annotations

import contextlib
import os
from argparse import Namespace
from pathlib import Path
from typing import TextIO

from ..errors import BadInput
from .common import Commands, add, only_ascii, print_json, width_of
from .judging import MIDI_ENDINGS
from .played import add_sessions, one_thread, one_way, table_of, title_of, ways_of
from .rig_hint import print_hint

PAGE_START = "<!DOCTYPE html>"


def register(commands: Commands) -> None:
    review = add(
        commands,
        "review",
        run_review,
        "say up to which tempo a cell is secure, where it breaks, and what goes first",
        "All sessions, where none is chosen. Judging is kept beside each session, so that the "
        "next review is quick.",
        json_too=True,
    )
    add_sessions(review)
    review.add_argument(
        "--html", metavar="FILE", help="write a page with pictures, to be opened in any browser"
    )


def run_review(options: Namespace, out: TextIO, err: TextIO) -> int:
    one_thread()
    from ..files.review_report import review_to_dict
    from ..measures.review.answers import make_review
    from ..report.review_text import ASCII, PLAIN, answer_lines, review_lines

    page_file = _checked_page(options.html) if options.html is not None else None
    ways = one_way(options, ways_of(options, err), err)
    played = ways[0].played
    review = make_review(table_of(ways), played.cell, played.grid, played.variant)
    if page_file is not None:
        from ..report.page import page

        _write_page(page_file, page(review, title_of(ways)))
    if options.json:
        print_json(review_to_dict(review), out)
        return 0
    width = width_of(out)
    print(title_of(ways), file=out)
    if page_file is not None:  # the pictures are on it
        print(*answer_lines(review, width), f"The page: {page_file}", sep="\n", file=out)
    else:
        print(*review_lines(review, width, ASCII if only_ascii(out) else PLAIN), sep="\n", file=out)
    if options.rig is None and not any(
        Path(name).suffix.lower() in MIDI_ENDINGS for name in options.sessions
    ):
        print_hint(options, out)
    return 0


def _checked_page(name: str) -> Path:
    """Where the page goes: a new file, or an older page. Raises BadInput before anything is
    judged."""
    path = Path(name).expanduser()
    try:
        if not path.parent.is_dir():
            raise BadInput(f"{name}: there is no folder {path.parent}")
        if path.is_dir():
            raise BadInput(
                f"{name}: is a folder; name a file for the page, {Path(name) / 'review.html'} for "
                "example"
            )
        if path.exists() and not path.read_bytes().startswith(PAGE_START.encode()):
            raise BadInput(f"{name}: holds something else than a page; choose another name")
    except OSError as error:
        raise BadInput(f"{name}: cannot be written: {error.strerror or error}") from error
    return path


def _write_page(path: Path, text: str) -> None:
    temporary = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        temporary.write_text(text, "utf-8")
        os.replace(temporary, path)
    except OSError as error:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise BadInput(f"{path}: cannot be written: {error.strerror or error}") from error
