"""Cells, rigs and settings as YAML files.

Owns the way between a file and values with a line each: reading with guards, and writing back.
YAML's own reading of ``yes``, ``08``, ``1:30`` or dates is not used: the syntax tree is composed,
and types are given here. Aliases, anchors and tags are refused. What the values have to be is said
in ``cellfile.py``, ``rigfile.py`` and ``settingsfile.py``.
"""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from difflib import get_close_matches
from itertools import islice
from pathlib import Path
from typing import Any

import yaml

from ..core.cell import Cell
from ..core.plain_text import LONGEST_NAME
from ..core.rig import Rig
from ..errors import BadInput
from .cellfile import read_cell, write_cell
from .ordinary import NotOrdinary, contents
from .rigfile import read_rig, write_rig
from .settingsfile import Settings, read_settings
from .written import DEEPEST, Written, child_path, from_plain, one_line, place, shown

LARGEST_BYTES = 256 * 1024
MOST_NODES = 10_000

_WHOLE = re.compile(r"[-+]?(0|[1-9][0-9]{0,30})")
_FLOAT = re.compile(r"[-+]?([0-9]+\.[0-9]*|\.[0-9]+|[0-9]+(?=[eE]))([eE][-+]?[0-9]{1,4})?")
_ALIASES = "& and * stand for anchors and aliases, which are not used here"
_NOTHING = ("", "~", "null", "Null", "NULL")


def load_cell(path: str | os.PathLike[str], default_tuning: Sequence[int] | None = None) -> Cell:
    """Read a cell file. A cell without a tuning takes ``default_tuning`` (the rig's), or the
    standard one.

    Raises BadInput with one line.
    """
    return read_cell(_load(path, "configs/cells"), default_tuning, _name(Path(path).stem))


def text_of(path: str | os.PathLike[str]) -> str:
    """The text of such a file. Raises BadInput with one line."""
    return _text(_bytes(Path(path), "configs/cells"), os.fspath(path))


def cell_of_text(text: str, source: str, default_name: str) -> Cell:
    """The cell that a text holds, as ``load_cell`` has it. Raises BadInput with one line."""
    return read_cell(_composed(text, source), None, _name(default_name))


def syntax_of(text: str) -> Any:
    """The syntax tree of a text that ``cell_of_text`` took: nodes with ``value``, ``flow_style``,
    ``start_mark`` and ``end_mark``."""
    return yaml.compose(text, yaml.SafeLoader)


def load_rig(path: str | os.PathLike[str]) -> Rig:
    """Read a rig file. Raises BadInput with one line."""
    return read_rig(_load(path, "configs/rigs"), _name(Path(path).stem))


def load_settings(path: str | os.PathLike[str]) -> Settings:
    """Read a practice folder's settings. Raises BadInput with one line."""
    return read_settings(_load(path, "configs"))


def settings_of_text(text: str, source: str) -> Settings:
    """The settings that a text holds. Raises BadInput with one line."""
    return read_settings(_composed(text, source))


def cell_from_dict(data: object, source: str) -> Cell:
    """A cell from the shape that ``cell_to_dict`` gives, also after a way through JSON. Raises
    BadInput."""
    return read_cell(from_plain(data, source), None, _name(source))


def cell_to_dict(cell: Cell) -> dict[str, Any]:
    """The public shape of a cell: strokes as written, without the variant in force."""
    return write_cell(cell)


def rig_from_dict(data: object, source: str) -> Rig:
    """A rig from the shape that ``rig_to_dict`` gives. Raises BadInput."""
    return read_rig(from_plain(data, source), _name(source))


def rig_to_dict(rig: Rig) -> dict[str, Any]:
    """The public shape of a rig."""
    return write_rig(rig)


def dump_cell(cell: Cell) -> str:
    """YAML text that loads back equal to the cell without a variant in force."""
    return _dump(write_cell(cell))


def dump_rig(rig: Rig) -> str:
    """YAML text that loads back equal."""
    return _dump(write_rig(rig))


def rig_for(cell: Cell, rig: Rig | None) -> Rig:
    """The rig to judge a cell with: the one given, or else channel 1 for string 1 and so on for
    each of its strings.

    Raises BadInput where the cell plays a string that has no channel in the rig.
    """
    if rig is None:
        return Rig(channels=tuple(range(1, len(cell.tuning) + 1)))
    lowest = cell.strings[-1]
    if lowest > len(rig.channels):
        raise BadInput(
            f"cell {shown(cell.name)} plays string {lowest}, rig {shown(rig.name)} has "
            f"{len(rig.channels)} channels;"
            " add the string's channel to `channels:` in the rig file"
        )
    return rig


def _name(source: str) -> str:
    """The name of a cell or rig that gives none."""
    return one_line(source).strip()[:LONGEST_NAME].strip() or "unnamed"


# ----------------------------------------------------------------------------------------- the file


def _load(path: str | os.PathLike[str], usual_folder: str) -> Written:
    source = os.fspath(path)
    return _composed(_text(_bytes(Path(path), usual_folder), source), source)


def _bytes(path: Path, usual_folder: str) -> bytes:
    """What stands in an ordinary file of sane size."""
    name = one_line(str(path))
    try:
        data = contents(path, LARGEST_BYTES, follow=True)
        if len(data) > LARGEST_BYTES:
            size, limit = f"{path.stat().st_size / 1024:.0f} KB", f"{LARGEST_BYTES // 1024} KB"
            raise BadInput(f"{name}: {size} is too large; keep it under {limit}")
        return data
    except IsADirectoryError:
        raise BadInput(f"{name}: is a folder; name one YAML file in it") from None
    except NotOrdinary:
        raise BadInput(f"{name}: is no ordinary file; name a YAML file") from None
    except (FileNotFoundError, NotADirectoryError):
        raise BadInput(
            f"{name}: no such file; {_nearest_files(path, Path(usual_folder))}"
        ) from None
    except PermissionError:
        raise BadInput(f"{name}: may not be read; check its permissions (ls -l)") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise BadInput(
            f"{name}: cannot be read ({one_line(reason)}); check the name and the disk"
        ) from None


def _nearest_files(path: Path, usual_folder: Path) -> str:
    """What to try instead of a file that is not there."""
    there: list[Path] = []
    for folder in dict.fromkeys((path.parent, usual_folder)):
        try:
            there += sorted(
                file for file in islice(folder.iterdir(), 1000) if file.suffix in (".yaml", ".yml")
            )
        except OSError:
            continue
    if not there:
        return f"there are no YAML files in {one_line(str(path.parent))} or {usual_folder}"
    close = get_close_matches(path.stem.lower(), [file.stem.lower() for file in there], n=3)
    meant = [file for stem in dict.fromkeys(close) for file in there if file.stem.lower() == stem]
    if meant:
        return f"did you mean {' or '.join(one_line(str(file)) for file in meant[:3])}?"
    more = ", …" if len(there) > 6 else ""
    return f"there are: {', '.join(one_line(str(file)) for file in there[:6])}{more}"


def _text(data: bytes, source: str) -> str:
    """The bytes as UTF-8 text that YAML may hold; a byte order mark at the start is passed over."""
    at_top = place(source)
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise at_top.wrong("this is UTF-16 text", "save it as UTF-8 in the editor")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        at = place(source, line)
        raise at.wrong(
            f"byte {data[error.start]:#04x} is no UTF-8 text", "save the file as UTF-8"
        ) from None
    bad = yaml.SafeLoader.NON_PRINTABLE.search(text)
    if bad:
        at = place(source, text.count("\n", 0, bad.start()) + 1)
        raise at.wrong(
            f"a character that text cannot hold (U+{ord(bad.group()):04X})",
            "take it out, or save as UTF-8",
        )
    return text


# --------------------------------------------------------------------------------------- the syntax


class _Composer(yaml.SafeLoader):
    """Composes the syntax tree without anything that YAML could do beyond plain values."""

    source = ""
    nodes = 0
    depth = 0

    def compose_node(self, parent: yaml.Node | None, index: Any) -> yaml.Node | None:
        event = self.peek_event()  # type: ignore[no-untyped-call]
        at = place(self.source, event.start_mark.line + 1)
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None) is not None:
            raise at.wrong(_ALIASES, "put such text in quotes")
        if getattr(event, "tag", None) is not None:
            raise at.wrong("! stands for a tag, which is not used here", "put such text in quotes")
        self.nodes += 1
        self.depth += 1
        if self.depth > DEEPEST:
            raise at.wrong(
                "lists and mappings stand too deep in one another",
                "close brackets, or flatten them",
            )
        if self.nodes > MOST_NODES:
            raise at.wrong(f"more than {MOST_NODES} values", "keep the file smaller")
        node = super().compose_node(parent, index)
        self.depth -= 1
        return node


def _composed(text: str, source: str) -> Written:
    """The values in the text, each with its line."""
    try:
        composer = _Composer(text)
        composer.source = source
        node = composer.get_single_node()
    except yaml.MarkedYAMLError as error:
        raise _syntax_error(error, text, source) from None
    except (yaml.YAMLError, ValueError, OverflowError, RecursionError) as error:
        at = place(source)
        reason = shown(" ".join(str(error).split()))
        raise at.wrong(
            f"cannot be read as YAML ({reason})", "check quotes, brackets and backslashes"
        ) from None
    if node is None:
        raise place(source).wrong("the file is empty", "write something into it, or take it away")
    return _written(node, source, node.start_mark.line + 1, "")


def _syntax_error(error: yaml.MarkedYAMLError, text: str, source: str) -> BadInput:
    """A fault of the syntax with its line and what is usually behind it."""
    mark = error.problem_mark or error.context_mark
    line = mark.line + 1 if mark else 1
    problem = " ".join((error.problem or "faulty syntax").split())
    context = error.context or ""
    lines = re.split("\r\n|[\r\n\x85\u2028\u2029]", text)
    written = lines[line - 1] if line <= len(lines) else ""
    at = place(source, line)
    if r"\t" in problem or "\t" in written[: len(written) - len(written.lstrip())]:
        return at.wrong("a tab stands here", "YAML takes spaces only, write spaces instead")
    if "an alias" in context or "an anchor" in context:
        return at.wrong(_ALIASES, "put such text in quotes")
    if "quoted scalar" in context:
        return at.wrong(
            f"a quoted text is at fault ({problem})",
            "close it, and write backslashes in '…' quotes",
        )
    if "single document" in context:
        return at.wrong("a second document begins here (---)", "keep to one in a file")
    if problem.startswith("expected ',' or"):
        return at.wrong(
            "a bracket is not closed or a comma is missing before this",
            "close [ with ] and { with }",
        )
    if problem.startswith("mapping values"):
        return at.wrong(
            "a colon stands where none can", "check the indentation, or put the text in quotes"
        )
    if "':'" in problem:
        return at.wrong("a key has no colon", "write `key: value`")
    if "cannot start any token" in problem:
        return at.wrong(f"no text can begin like this ({problem})", "put the text in quotes")
    return at.wrong(
        f"cannot be read as YAML ({problem})", "check indentation, brackets and quotes here"
    )


def _written(node: yaml.Node, source: str, line: int, path: str) -> Written:
    if isinstance(node, yaml.SequenceNode):
        entries = enumerate(node.value, 1)
        listed = [
            _written(entry, source, entry.start_mark.line + 1, f"{path}[{at}]")
            for at, entry in entries
        ]
        return Written(listed, "", source, line, path)
    if isinstance(node, yaml.MappingNode):
        return Written(_mapping(node, source, path), "", source, line, path)
    plain = isinstance(node, yaml.ScalarNode) and node.style is None
    return Written(_typed(node.value) if plain else node.value, node.value, source, line, path)


def _mapping(node: yaml.MappingNode, source: str, path: str) -> dict[str, Written]:
    """Keys in the order written. A value is told by its key's line."""
    inner: dict[str, Written] = {}
    for key, value in node.value:
        line = key.start_mark.line + 1
        if not isinstance(key, yaml.ScalarNode) or not key.value:
            raise Written(None, "", source, line, path).wrong(
                "a key is missing or no text", "write `key: value`"
            )
        here = _written(value, source, line, child_path(path, key.value))
        if key.value in inner:
            first = inner[key.value].line
            raise here.wrong(
                f"this key stands here twice (first in line {first})", "keep one of the two"
            )
        inner[key.value] = here
    return inner


def _typed(text: str) -> str | int | float | None:
    """What a plain (unquoted) value means: a decimal number, nothing, or the text itself."""
    if text in _NOTHING:
        return None
    if _WHOLE.fullmatch(text):
        return int(text)
    return float(text) if _FLOAT.fullmatch(text) else text


class _Dumper(yaml.SafeDumper):
    def ignore_aliases(self, data: object) -> bool:
        return True


def _dump(data: dict[str, Any]) -> str:
    text: str = yaml.dump(
        data,
        Dumper=_Dumper,
        default_flow_style=None,
        sort_keys=False,
        allow_unicode=True,
        width=110,
    )
    return text
