"""Figures from MusicXML (partwise or timewise, plain or packed): strings and frets where they are
written, else pitches.

Bow marks are strokes, a note that ends a hammer-on, pull-off or slide is slurred so, ties make one
note of two. Pitches sound as written, moved by ``transpose``; a transposing clef moves what is
drawn, not what is written. Frets count from ``capo``.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction

from ...core.cell import Cell
from ...core.tunings import deep_enough, usual_tuning
from ..cellfile import HIGHEST_CAPO, HIGHEST_FRET
from ..written import MOST_STRINGS
from .figure import MOST_NOTES, Asked, Figure, Sound, Unreadable, chosen
from .stamp import KEY, agrees, stamped
from .xml_tree import Element, parsed, unpacked

_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_UNITS = {"whole": 4.0, "half": 2.0, "quarter": 1.0, "eighth": 0.5, "16th": 0.25}
_SLURS = {"hammer-on": "hammer", "pull-off": "pull"}
MOST_MEASURES = 10_000
MOST_DIVISIONS = 1_000_000


@dataclass(slots=True)
class _Note:
    """A note as it stands in its bar."""

    start: Fraction
    length: Fraction
    bar: int
    element: Element
    pitch: int | None
    place: tuple[int, int] | None  # string and fret
    stroke: str | None = None
    starts: set[str] = field(default_factory=set)  # slurs that lead on from it
    tied: bool = False  # goes on from the note before
    voice: str = "1"

    @property
    def where(self) -> str:
        return f"bar {self.bar}, line {self.element.line}"


class _Part:
    """What a part says on the way, and its notes."""

    def __init__(self) -> None:
        self.divisions = 1
        self.shift = 0  # semitones from what is written to what sounds
        self.tuning: dict[
            tuple[str, int], int
        ] = {}  # by staff and string, once all lines are known
        self.lines: dict[str, int] = {}
        self.capo: dict[str, int] = {}
        self.tab: str | None = None  # the staff with a tablature clef
        self.octave_told = False  # a clef or a transposition says where it sounds
        self.time: Fraction | None = None
        self.tempos: list[tuple[Fraction, float]] = []
        self.notes: dict[str, list[_Note]] = {}  # by staff
        self.bars: list[tuple[Fraction, Fraction]] = []
        self.graces = 0


def read_xml_figure(data: bytes, name: str, asked: Asked) -> tuple[Figure, Cell | None]:
    """The figure of a score, and the cell that was exported to it, where that is still the same.

    Raises Unreadable with the line or the bar.
    """
    root = parsed(unpacked(data) if data[:2] == b"PK" else data)
    measures = _measures(root, asked.track)
    part = _Part()
    at = Fraction(0)
    for number, measure in enumerate(measures, 1):
        at = _read_measure(part, measure, number, at)
    staff = _staff(part)
    first, last = chosen(asked.bars, len(part.bars))
    begin, end = part.bars[first - 1][0], part.bars[last - 1][1]
    there, others = _one_voice(part.notes.get(staff, []), begin, end)
    notes = [note for note in _sounding(there) if begin <= note.start < end]
    if not notes:
        raise Unreadable(
            "there are no notes in it" if asked.bars is None else f"bars {first}-{last}: no notes"
        )
    tuning = asked.tuning or _tuning(part, staff, notes)
    capo = part.capo.get(staff, 0) if asked.capo is None else asked.capo
    sounds = tuple(_sound(note, begin, end, tuning, capo) for note in notes)
    lengths = {stop - start for start, stop in part.bars[first - 1 : last]}
    figure = Figure(
        _title(root) or name,
        sounds,
        end - begin,
        tuning,
        capo,
        next((bpm for start, bpm in reversed(part.tempos) if start <= begin), None),
        bar=lengths.pop() if len(lengths) == 1 else None,
        lower_too=not part.octave_told,
        notes=(*others, *_remarks(part, notes, sounds)),
    )
    return figure, _kept(root, figure, asked)


def _measures(root: Element, wanted: int | None) -> list[Element]:
    """The measures of the part that is read."""
    if root.tag == "score-timewise":
        parts: dict[str, list[Element]] = {}
        for measure in root.all("measure"):
            for part in measure.all("part"):
                parts.setdefault(part.attributes.get("id", ""), []).append(part)
        found = list(parts.values())
    elif root.tag == "score-partwise":
        found = [list(part.all("measure")) for part in root.all("part")]
    else:
        raise root.wrong(f"<{root.tag[:40]}> is no score; export it as MusicXML")
    having = [
        number
        for number, measures in enumerate(found, 1)
        if any(note.find("pitch") for measure in measures for note in measure.all("note"))
    ]
    if not having:
        raise Unreadable("there are no notes in it")
    if wanted is not None and wanted not in having:
        raise Unreadable(
            f"part {wanted} has no notes; there are notes in part {' and '.join(map(str, having))}"
        )
    if wanted is None:
        written = [number for number in having if _has_frets(found[number - 1])]
        wanted = (written or having)[0]
    measures = found[wanted - 1]
    if len(measures) > MOST_MEASURES:
        raise Unreadable(f"holds more than {MOST_MEASURES} bars; split it")
    return measures


def _has_frets(measures: list[Element]) -> bool:
    return any(
        note.find("notations/technical/fret")
        for measure in measures
        for note in measure.all("note")
    )


def _read_measure(part: _Part, measure: Element, number: int, begin: Fraction) -> Fraction:
    """Read one bar that begins at a time; returns where the next one does."""
    at = farthest = begin
    onset = begin
    for element in measure.children:
        if element.tag == "attributes":
            _attributes(part, element)
        elif element.tag in ("backup", "forward"):
            step = _duration(part, element)
            at = max(begin, at - step) if element.tag == "backup" else at + step
        elif element.tag in ("direction", "sound"):
            _tempo(part, element, at)
        elif element.tag == "note":
            if element.find("grace") is not None:
                part.graces += element.find("pitch") is not None
                continue
            length = _duration(part, element)
            if element.find("chord") is None:
                onset, at = at, at + length
            if element.find("pitch") is not None and element.find("cue") is None:
                staff = element.words("staff") or "1"
                note = _note(part, element, onset, length, number)
                notes = part.notes.setdefault(staff, [])
                notes.append(note)
                if len(notes) > MOST_NOTES:
                    raise Unreadable(f"holds more than {MOST_NOTES} notes; split it")
        farthest = max(farthest, at)
    if farthest == begin and part.time is not None:
        farthest = begin + part.time
    part.bars.append((begin, farthest))
    return farthest


def _attributes(part: _Part, element: Element) -> None:
    part.divisions = element.whole("divisions", 1, MOST_DIVISIONS) or part.divisions
    if (transpose := element.find("transpose")) is not None:
        octaves = transpose.whole("octave-change", -4, 4) or 0
        part.octave_told = True
        part.shift = (transpose.whole("chromatic", -48, 48) or 0) + 12 * octaves
    if (time := element.find("time")) is not None:
        beats, kind = time.whole("beats", 1, 255), time.whole("beat-type", 1, 128)
        part.time = Fraction(4 * beats, kind) if beats and kind else part.time
    for clef in element.all("clef"):
        part.octave_told |= clef.find("clef-octave-change") is not None
        if (clef.words("sign") or "").upper() == "TAB":
            part.tab = clef.attributes.get("number", "1")
    for details in element.all("staff-details"):
        staff = details.attributes.get("number", "1")
        lines = details.whole("staff-lines", 1, MOST_STRINGS) or part.lines.get(staff)
        tunings = list(details.all("staff-tuning"))
        lines = lines or len(tunings) or 6
        part.lines[staff] = lines
        for tuning in tunings:
            line = tuning.attributes.get("line", "")
            if not line.isascii() or not line.isdigit() or not 1 <= int(line[:3]) <= lines:
                raise tuning.wrong(f"line {line[:20]!r} is none of the {lines} of the staff")
            part.tuning[staff, lines - int(line) + 1] = _pitch(tuning, "tuning-")
        capo = details.whole("capo", 0, HIGHEST_CAPO)
        if capo is not None:
            part.capo[staff] = capo


def _duration(part: _Part, element: Element) -> Fraction:
    text = element.words("duration")
    if text is None:
        return Fraction(0)
    try:
        value = Fraction(text[:20])
    except (ValueError, ZeroDivisionError):
        value = Fraction(-1)
    if not 0 <= value <= 10**7:
        raise element.wrong(f"<duration> {text[:20]!r} is no length")
    return value / part.divisions


def _pitch(element: Element, prefix: str = "") -> int:
    step = (element.words(f"{prefix}step") or "").upper()
    if step not in _STEPS:
        raise element.wrong(f"<{prefix}step> {step[:20]!r} is no note")
    octave = element.whole(f"{prefix}octave", -1, 9)
    alter = element.whole(f"{prefix}alter", -3, 3) or 0
    if octave is None:
        raise element.wrong("the note has no octave")
    pitch = _STEPS[step] + alter + 12 * (octave + 1)
    if not 0 <= pitch <= 127:
        raise element.wrong("the note is outside MIDI's range")
    return pitch


def _note(part: _Part, element: Element, start: Fraction, length: Fraction, bar: int) -> _Note:
    written = element.find("pitch")
    assert written is not None
    place: tuple[int, int] | None = None
    stroke: str | None = None
    starts: set[str] = set()
    for notations in element.all("notations"):
        for technical in notations.all("technical"):
            string = technical.whole("string", 1, MOST_STRINGS)
            fret = technical.whole("fret", 0, HIGHEST_FRET)
            if string is not None and fret is not None:
                place = string, fret
            for mark in technical.children:
                if mark.tag in ("down-bow", "up-bow"):
                    stroke = stroke or mark.tag.partition("-")[0]
                elif mark.tag == "tap":
                    stroke = "tap"
                elif mark.tag in _SLURS:
                    if mark.attributes.get("type") == "stop":
                        stroke = _SLURS[mark.tag]
                    else:
                        starts.add(_SLURS[mark.tag])
        for mark in (*notations.all("slide"), *notations.all("glissando")):
            if mark.attributes.get("type") == "stop":
                stroke = "slide"
            else:
                starts.add("slide")
    ties = list(element.all("tie"))
    for notations in element.all("notations"):
        ties += notations.all("tied")
    tied = any(tie.attributes.get("type") == "stop" for tie in ties)
    pitch = _pitch(written) + part.shift
    voice = element.words("voice") or "1"
    return _Note(start, length, bar, element, pitch, place, stroke, starts, tied, voice)


def _tempo(part: _Part, element: Element, at: Fraction) -> None:
    sound = element if element.tag == "sound" else element.find("sound")
    text = sound.attributes.get("tempo") if sound is not None else None
    unit = 1.0
    if text is None and (metronome := element.find("direction-type/metronome")) is not None:
        text = metronome.words("per-minute")
        unit = _UNITS.get(metronome.words("beat-unit") or "", 1.0)
        unit *= 1.5 if metronome.find("beat-unit-dot") is not None else 1.0
    try:
        bpm = float(text or "") * unit
    except ValueError:
        return
    if 0 < bpm < 10_000:
        part.tempos.append((at, round(bpm, 2)))


def _staff(part: _Part) -> str:
    """The staff that is read: of several, the one in tablature, which says the same as the
    other."""
    if part.tab is not None and part.notes.get(part.tab):
        return part.tab
    written = [staff for staff, notes in part.notes.items() if any(note.place for note in notes)]
    return (written or sorted(part.notes) or ["1"])[0]


def _one_voice(
    notes: list[_Note], begin: Fraction, end: Fraction
) -> tuple[list[_Note], tuple[str, ...]]:
    """The voice with most notes where voices sound together, and what is left out for it; all notes
    where they do not."""
    inside = sorted((one for one in notes if begin <= one.start < end), key=lambda one: one.start)
    over: dict[str, Fraction] = {}  # by voice, until when it sounds
    together = False
    for note in inside:
        together |= any(until > note.start for voice, until in over.items() if voice != note.voice)
        over[note.voice] = max(over.get(note.voice, note.start), note.start + note.length)
    if not together:
        return notes, ()
    counts = Counter(note.voice for note in inside)
    read = max(counts, key=lambda voice: (counts[voice], voice == "1"))
    told = [
        f"voice {voice[:20]} is left out ({count} {'note' if count == 1 else 'notes'}): a cell has "
        "one note at a time"
        for voice, count in sorted(counts.items())
        if voice != read
    ]
    return [note for note in notes if note.voice == read], tuple(told)


def _sounding(notes: list[_Note]) -> list[_Note]:
    """In order of time, tied notes as one, what leads on told by the note that it leads to."""
    found: list[_Note] = []
    for note in sorted(notes, key=lambda one: one.start):
        before = found[-1] if found else None
        if note.tied and before is not None and before.pitch == note.pitch:
            before.length = max(before.length, note.start + note.length - before.start)
            before.starts |= note.starts
            continue
        if before is not None and note.stroke is None and before.starts:
            note.stroke = sorted(before.starts)[0]
        found.append(note)
    return found


def _tuning(part: _Part, staff: str, notes: list[_Note]) -> tuple[int, ...]:
    """The staff's tuning, lines that it does not tell as usual."""
    most = max((note.place[0] for note in notes if note.place), default=0)
    told = {string: pitch for (at, string), pitch in part.tuning.items() if at == staff}
    if not told:
        pitches = [note.pitch for note in notes if note.place is None and note.pitch is not None]
        return deep_enough(min(pitches), most) if pitches else usual_tuning(max(6, most))
    lines = part.lines.get(staff, 6)
    usual = usual_tuning(lines)
    return tuple(told.get(string) or _usual(usual, string) for string in range(1, lines + 1))


def _usual(usual: tuple[int, ...], string: int) -> int:
    if string > len(usual):
        raise Unreadable(f"string {string} has no <staff-tuning>")
    return usual[string - 1]


def _sound(
    note: _Note, begin: Fraction, end: Fraction, tuning: tuple[int, ...], capo: int
) -> Sound:
    assert note.pitch is not None
    pitch = note.pitch
    if note.place is not None:
        string, fret = note.place
        if string > len(tuning):
            raise Unreadable(
                f"{note.where}: string {string} does not exist; there are {len(tuning)}"
            )
        pitch = tuning[string - 1] + capo + fret
    length = min(note.length, end - note.start)
    return Sound(note.start - begin, length, note.where, pitch, note.place, note.stroke)


def _remarks(part: _Part, notes: list[_Note], sounds: tuple[Sound, ...]) -> tuple[str, ...]:
    told = []
    if part.graces:
        what = "1 grace note is" if part.graces == 1 else f"{part.graces} grace notes are"
        told.append(f"{what} left out")
    other = next(
        (note for note, sound in zip(notes, sounds) if ((note.pitch or 0) - sound.pitch) % 12), None
    )
    if other is not None:
        told.append(
            f"{other.where}: string and fret give another note than is written; they are read"
        )
    return tuple(told)


def _title(root: Element) -> str | None:
    return root.words("work/work-title") or root.words("movement-title")


def _kept(root: Element, figure: Figure, asked: Asked) -> Cell | None:
    """The cell that was exported to the file, where its notes are still those."""
    fields = root.find("identification/miscellaneous")
    if fields is None or asked.anything:
        return None
    for one in fields.all("miscellaneous-field"):
        if one.attributes.get("name") == KEY:
            cell = stamped(one.text.strip())
            return cell if cell is not None and agrees(cell, figure) else None
    return None
