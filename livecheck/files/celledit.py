"""A variant put into a cell file that somebody wrote, whose text stays as it is otherwise.

The new line is put where the file's own variants end, or at its end. What came out is read again:
it must be the same cell with one variant more, else nothing is written.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from ..core.cell import Cell
from ..errors import BadInput
from .config import cell_of_text, syntax_of, text_of
from .textfile import put_text


def add_variant(
    path: Path, name: str, strokes: Mapping[int, str], begin: str | None, to: Path | None = None
) -> Cell:
    """Write a variant into a cell file, or into a copy of it at ``to``; returns the cell as it is
    then.

    strokes: by slot number; begin: what its first picked note begins with, where the cell says
    otherwise. Raises BadInput where the name is taken or cannot be, or nothing can be written.
    """
    text = text_of(path)
    before = cell_of_text(text, str(path), path.stem)
    if name in before.variants:
        raise BadInput(f"{path}: there is a variant {name!r} already; choose another name")
    over = [*([f"begin: {begin}"] if begin else []), *(f"{at}: {s}" for at, s in strokes.items())]
    edited = with_entry(text, _key(name), f"{{{', '.join(over)}}}")
    after = cell_of_text(edited, str(to or path), path.stem)
    wanted = replace(
        before,
        variants={**before.variants, name: dict(strokes)},
        begins={**before.begins, **({name: begin} if begin else {})},
    )
    if after != wanted:
        raise BadInput(
            f"{path}: the variant cannot be put in without touching the rest; add it by hand: "
            f"{name}: {{{', '.join(over)}}}"
        )
    put_text(to or path, edited)
    return after


def _key(name: str) -> str:
    """A variant's name as a YAML key, in quotes where it might be anything else."""
    return (
        name if re.fullmatch(r"[^\W\d]\w*( \w+)*", name) else json.dumps(name, ensure_ascii=False)
    )


def with_entry(text: str, key: str, value: str) -> str:
    """The text of a cell file with one variant more. ``key`` and ``value`` are YAML already."""
    line_end = "\r\n" if "\r\n" in text else "\n"
    top = syntax_of(text)
    variants = next((value for key_, value in top.value if key_.value == "variants"), None)
    if variants is None:
        if top.flow_style:
            return _in_braces(text, top, f"variants: {{{key}: {value}}}")
        return _after_line(
            text, len(text.rstrip()), f"variants:{line_end}  {key}: {value}", line_end
        )
    if variants.flow_style:
        return _in_braces(text, variants, f"{key}: {value}")
    column = variants.value[0][0].start_mark.column
    return _after_line(text, _end(variants), f"{' ' * column}{key}: {value}", line_end)


def _in_braces(text: str, node: Any, entry: str) -> str:
    """Before the closing brace of a mapping in braces, behind its last entry."""
    if not node.value:
        at = node.start_mark.index + 1
        return text[:at] + entry + text[at:]
    at = _end(node)
    return f"{text[:at]}, {entry}{text[at:]}"


def _end(node: Any) -> int:
    """Where the last value of a mapping or list ends, without what follows it."""
    last = node.value[-1]
    value = last[1] if isinstance(last, tuple) else last
    if isinstance(value.value, list) and value.value and not value.flow_style:
        return _end(value)
    return int(value.end_mark.index)


def _after_line(text: str, at: int, line: str, line_end: str) -> str:
    """A line of its own behind the one in which a place lies."""
    end = text.find("\n", at)
    if end < 0:
        return f"{text}{line_end}{line}{line_end}"
    return f"{text[: end + 1]}{line}{line_end}{text[end + 1 :]}"
