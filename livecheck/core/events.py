"""The small values that flow through the program: records in, outcomes out.

Records are what the journal holds and what judgment is fed with, each with its own time in seconds
from the session's start. Outcomes are what became certain; an outcome is never taken back. Times
are *arrival* times (when the message reached the computer) unless a name says ``corrected``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from .cell import Cell
from .rig import Rig

# ------------------------------------------------------------------------------------------ records


class Midi(NamedTuple):
    """One MIDI message as it came from the driver."""

    t_s: float
    data: bytes


@dataclass(frozen=True, slots=True)
class UseRig:
    """From here on the notes come through this rig."""

    t_s: float
    rig: Rig


@dataclass(frozen=True, slots=True)
class UseCells:
    """From here on one of these cells is being practised (one, or several to recognise); none: only
    recording.

    A cell carries its variant in ``Cell.variant``.
    """

    t_s: float
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Link:
    """The converter's port was opened or lost. Whatever was sounding when it was lost has ended."""

    t_s: float
    up: bool
    port: str  # the port's name, or why there is none


@dataclass(frozen=True, slots=True)
class Mark:
    """The player set a mark."""

    t_s: float
    text: str


@dataclass(frozen=True, slots=True)
class Gap:
    """Messages that could not be kept."""

    t_s: float
    dropped: int
    why: str


@dataclass(frozen=True, slots=True)
class Click:
    """A click was sent to the player, at this moment; ``beat`` counts from 0 since the click
    began."""

    t_s: float
    beat: int
    bpm: float


@dataclass(frozen=True, slots=True)
class ClickLink:
    """The port that clicks are sent to was opened or lost. While there is none, no click sounds."""

    t_s: float
    up: bool
    port: str  # the port's name, or why there is none
    wanted: str | None = None  # as it was asked for


@dataclass(frozen=True, slots=True)
class Cue:
    """A cue was sounded; ``word`` says what it means."""

    t_s: float
    word: str


@dataclass(frozen=True, slots=True)
class Ask:
    """The player asked for something by pedal, gesture or another program: ``action``."""

    t_s: float
    action: str


@dataclass(frozen=True, slots=True)
class UseGestures:
    """From here on these gestures of the guitar are commands, and not judged
    (``core/gestures.py``): string (None: the lowest), fret, picks and action of each."""

    t_s: float
    gestures: tuple[tuple[int | None, int, int, str], ...]


@dataclass(frozen=True, slots=True)
class Foot:
    """A MIDI message of the pedal's own port."""

    t_s: float
    data: bytes


@dataclass(frozen=True, slots=True)
class FootLink:
    """The pedal's own port was opened or lost."""

    t_s: float
    up: bool
    port: str  # the port's name, or why there is none


@dataclass(frozen=True, slots=True)
class Block:
    """Repetitions to a click are to come: so many, at this tempo, from one moment to another (in
    seconds from the session's start)."""

    t_s: float
    bpm: float
    reps: int
    from_s: float
    until_s: float
    kind: str


@dataclass(frozen=True, slots=True)
class Stop:
    """The session's orderly end."""

    t_s: float
    why: str


Record = (
    Midi
    | UseRig
    | UseCells
    | Link
    | Mark
    | Gap
    | Click
    | ClickLink
    | Cue
    | Ask
    | UseGestures
    | Foot
    | FootLink
    | Block
    | Stop
)

# -------------------------------------------------------------------------------------------- notes


class Note:
    """One sounded note of a string: a note-on, or a legato note that came as a pitch bend alone.

    ``end_s`` is None until the note's end is known; everything else is settled when the note is
    handed on.
    """

    __slots__ = (
        "by",
        "corrected_s",
        "end_s",
        "gated",
        "key",
        "onset_s",
        "pitch",
        "string",
        "struck_s",
        "velocity",
    )

    def __init__(
        self,
        onset_s: float,
        string: int,
        pitch: int,
        key: int,
        velocity: int | None,
        by: str = "note",
        corrected_s: float | None = None,
        gated: bool = False,
        end_s: float | None = None,
    ) -> None:
        self.onset_s = onset_s  # arrival
        self.string = string
        self.pitch = pitch  # sounding, rounded to a semitone
        self.key = key  # note number as sent; for a bend the sounding pitch
        self.velocity = velocity  # None for a bend
        self.by = by  # "note" or "bend"
        # conversion delay taken off
        self.corrected_s = onset_s if corrected_s is None else corrected_s
        self.struck_s = self.corrected_s  # earlier, where the converter corrected itself
        self.gated = gated  # softer or shorter than the rig's gate: never a slot
        self.end_s = end_s

    def __repr__(self) -> str:
        return (
            f"Note({self.onset_s:.4f}, string {self.string}, pitch {self.pitch}, "
            f"{self.velocity}, {self.by})"
        )


# ----------------------------------------------------------------------------------------- outcomes

HIT, WRONG, MISSED = "hit", "wrong", "missed"
NOISE, STRAY, ARTEFACT = "noise", "stray", "artefact"


class Extra(NamedTuple):
    """A sounded note that answers no slot."""

    note: Note
    kind: str  # NOISE, STRAY or ARTEFACT


class SlotTold(NamedTuple):
    """What happened to one slot, as soon as it is certain (``RepDone`` gives it again, with its
    timing)."""

    rep: int
    slot: int
    verdict: str  # HIT, WRONG or MISSED
    note: Note | None  # None where it was missed


class ExtraTold(NamedTuple):
    """A note that answers no slot; ``rep`` is None where it lies outside all repetitions."""

    rep: int | None
    extra: Extra


@dataclass(frozen=True, slots=True)
class SlotResult:
    """One slot of a finished repetition."""

    slot: int
    verdict: str
    note: Note | None
    expected_s: float | None  # where the repetition's own tempo puts it, in arrival time
    deviation_ms: float | None  # corrected onset minus the tempo line; minus = early


@dataclass(frozen=True, slots=True)
class Evenness:
    """How even a repetition's intervals were; definitions in measures/timing.py."""

    cv_pct: float | None
    npvi: float | None
    worst_ms: float | None
    audible: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Repetition:
    """One finished repetition with its figures. None means that a figure cannot be said."""

    rep: int  # from 1, over the whole session
    take: int  # from 1, over the whole session
    cell: Cell
    start_s: float
    end_s: float
    complete: bool
    pause_s: float
    tempo_bpm: float | None
    notes_per_s: float | None
    slots: tuple[SlotResult, ...]
    extras: tuple[Extra, ...]
    accuracy: float
    clean: bool
    evenness: Evenness
    since_start: int = 1  # from 1: the how-manieth in time since play began or began again
    # its first stroke, down or up, by the player's word: a mark before it; None: nothing was said
    begins: str | None = None


class RepDone(NamedTuple):
    """A repetition is finished and will not change."""

    repetition: Repetition


class CellTold(NamedTuple):
    """Which of several cells is being played was recognised, by the note handed on at this time;
    None: none of them."""

    t_s: float
    cell: Cell | None


Outcome = SlotTold | ExtraTold | RepDone | CellTold
