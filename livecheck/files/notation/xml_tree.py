"""XML read with guards: nothing is fetched, no entity is expanded, nothing grows without bounds.

A document type may be named and is passed over. A declared entity, too deep a nesting or too many
elements end the reading. MusicXML packed as .mxl is unpacked with the same bounds.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from .figure import Unreadable

LARGEST_BYTES = 8 << 20  # of text, unpacked
MOST_ELEMENTS = 150_000
DEEPEST = 64
MOST_PACKED = 200  # files in an .mxl
_CONTAINER = "META-INF/container.xml"


@dataclass(slots=True)
class Element:
    """One element with its line."""

    tag: str
    attributes: dict[str, str]
    line: int
    children: list[Element] = field(default_factory=list)
    text: str = ""

    def all(self, tag: str) -> Iterator[Element]:
        """Children of a name."""
        return (child for child in self.children if child.tag == tag)

    def find(self, path: str) -> Element | None:
        """The first element at a path of names."""
        here: Element | None = self
        for tag in path.split("/"):
            here = next(here.all(tag), None) if here is not None else None
        return here

    def words(self, path: str) -> str | None:
        """The text of the first element at a path; None where there is none."""
        found = self.find(path)
        return None if found is None or not found.text.strip() else found.text.strip()

    def wrong(self, what: str) -> Unreadable:
        return Unreadable(f"line {self.line}: {what}")

    def whole(self, path: str, low: int, high: int) -> int | None:
        """A whole number at a path; None where nothing is there. Raises Unreadable."""
        text = self.words(path)
        if text is None:
            return None
        try:
            value = float(text)
        except ValueError:
            value = low - 1.0
        if low <= value <= high and value == int(value):
            return int(value)
        found = self.find(path)
        assert found is not None
        raise found.wrong(f"<{found.tag}> {text[:20]!r} is no whole number from {low} to {high}")


def parsed(data: bytes) -> Element:
    """The root element. Raises Unreadable with the line."""
    if len(data) > LARGEST_BYTES:
        raise Unreadable(f"is larger than {LARGEST_BYTES >> 20} MB")
    reader = _Reader()
    try:
        reader.parser.Parse(data, True)
    except expat.ExpatError as error:
        raise Unreadable(
            f"line {error.lineno}: cannot be read as XML ({expat.ErrorString(error.code)})"
        ) from None
    except (ValueError, LookupError) as error:
        raise Unreadable(f"cannot be read as XML ({str(error)[:80]})") from None
    if reader.root is None:
        raise Unreadable("there is nothing in it")
    return reader.root


class _Reader:
    def __init__(self) -> None:
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.CharacterDataHandler = self.words
        self.parser.EntityDeclHandler = self.entity
        self.parser.SkippedEntityHandler = self.skipped
        self.root: Element | None = None
        self.open: list[Element] = []
        self.count = 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.count += 1
        line = self.parser.CurrentLineNumber
        element = Element(tag.rpartition(":")[2], attributes, line)
        if self.count > MOST_ELEMENTS:
            raise element.wrong(f"more than {MOST_ELEMENTS} elements")
        if len(self.open) >= DEEPEST:
            raise element.wrong("elements stand too deep in one another")
        if self.open:
            self.open[-1].children.append(element)
        elif self.root is None:
            self.root = element
        self.open.append(element)

    def end(self, tag: str) -> None:
        self.open.pop()

    def words(self, text: str) -> None:
        if self.open:
            self.open[-1].text += text

    def entity(self, name: str, *declared: object) -> None:
        raise Unreadable(
            f"line {self.parser.CurrentLineNumber}: declares an entity ({name[:40]!r}), which is "
            "not read; export it again without"
        )

    def skipped(self, name: str, is_parameter: bool) -> None:
        raise Unreadable(
            f"line {self.parser.CurrentLineNumber}: an entity that is not known ({name[:40]!r})"
        )


def unpacked(data: bytes) -> bytes:
    """The score in an .mxl. Raises Unreadable."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            infos = packed.infolist()
            if len(infos) > MOST_PACKED:
                raise Unreadable(f"holds {len(infos)} files; a packed score holds a few")
            names = [info.filename for info in infos]
            name = None
            if _CONTAINER in names:
                container = parsed(_read(packed, _CONTAINER))
                root = container.find("rootfiles/rootfile")
                name = root.attributes.get("full-path") if root is not None else None
            if name is None:
                scores = [one for one in names if one.endswith((".musicxml", ".xml"))]
                name = next((one for one in scores if not one.startswith("META-INF/")), None)
            if name is None or name not in names:
                raise Unreadable("is packed, but there is no score in it")
            return _read(packed, name)
    except (
        zipfile.BadZipFile,
        zipfile.LargeZipFile,
        RuntimeError,
        NotImplementedError,
        EOFError,
        OSError,
        ValueError,
        zlib.error,
    ) as error:
        raise Unreadable(f"cannot be unpacked ({' '.join(str(error).split())[:80]})") from None


def _read(packed: zipfile.ZipFile, name: str) -> bytes:
    """A packed file, unpacked no further than its bound."""
    with packed.open(name) as file:
        data = file.read(LARGEST_BYTES + 1)
    if len(data) > LARGEST_BYTES:
        raise Unreadable(f"is larger than {LARGEST_BYTES >> 20} MB when unpacked")
    return data
