"""What a simulated guitarist and a simulated converter are like: rates and ranges, drawn anew for
each take.

Rates are chances: per slot, per string crossing or per repetition as said. The names of the fields
are the vocabulary of the mixes in ``takes.py``.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """One guitarist on one day."""

    notes_per_s: float = 8.0  # grid steps a second
    reps: int = 16
    # Timing (sources.md E-12, E-13: a timekeeper and a motor delay).
    scatter_pct: float = 2.5  # motor SD, share of the interval
    floor_ms: float = 3.0  # motor SD is never below it
    timekeeper: float = 0.6  # timekeeper SD as a multiple of the motor SD
    walk_pct: float = 0.2  # tempo change a slot
    gallop_pct: float = 1.5  # SD over the slots of a constant early or late, share of a step
    # Which way the pick goes (picking.py), and how that sounds.
    # an up stroke's loudness is a down stroke's less this share; None: drawn, about as loud
    up_softer: float | None = None
    up_late_ms: float = 0.0
    accent: float = 0.0  # SD over the slots of a constant louder or softer, share of the loudness
    # over the seam: as "plan" says, or "alternate", or "repeat" the stroke that began before
    seam: str = "plan"
    seam_other: float = 0.0  # chance of the other of these two
    restart_turned: float = 0.0  # chance that a new beginning is with the stroke not planned
    stroke_repeated: float = 0.0  # per picked note: the same stroke again
    hammered_slot: int = 0  # hammered though a stroke is planned, with this chance
    hammered: float = 0.0
    # Faults, per slot.
    dropped: float = 0.0
    wrong_fret: float = 0.0
    wrong_string: float = 0.0  # the right pitch on another string
    misplaced: float = 0.0  # another string and another pitch
    soft: float = 0.0
    muffed: float = 0.0  # soft and short, sometimes too short to count
    # Unwanted sounds.
    clipped: float = 0.0  # per string passed over in a crossing
    brushed: float = 0.0  # per slot: a quiet string
    ringing: float = 0.0  # per slot: a string let go rings open
    # Per repetition.
    break_off: float = 0.0
    break_pause: float = 0.5  # share of restarts after a pause
    break_earlier: float = 0.3  # share of restarts from a slot other than 1
    stumble: float = 0.0
    jump: float = 0.0  # another tempo from here on
    jump_ratio: float = 1.3
    wait: float = 0.0  # a pause between repetitions
    noodle_between: float = 0.0  # share of those pauses filled with unrelated notes
    # breaks, stumbles and fails also where the notes that follow do not tell
    anywhere: bool = False
    # Per take.
    mid_entry: bool = False
    noodle_before: int = 0
    noodle_after: int = 0
    noodle_own: float = 0.2  # share of the noodled notes that are the cell's own
    end: str = "complete"  # or "first": lands on slot 1; or "middle": stops inside the figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Conversion:
    """One converter as it is set up."""

    # Delay (sources.md C-01 to C-05).
    fixed_ms: float = 4.0
    periods: float = 1.6
    jitter_ms: float = 0.5
    jitter_periods: float = 0.15
    # Sounds of its own making.
    ghost: float = 0.0  # per sound
    double: float = 0.0
    octave_held: float = 0.0
    octave_corrected: float = 0.0
    # Legato.
    bend_legato: float = 0.0  # chance that a legato note comes as a bend alone
    glide: float = 0.3  # share of those that come by steps or a glide
    chromatic_slide: float = 0.0  # slides as a row of very short note-ons
    bend_range: int = 12
    sends_rpn: bool = True
    bend_first: bool = False  # a bend message before each note-on
    late_reset: float = 0.0  # share of bends put back only after the next note-on
    vibrato: float = 0.0  # chance on a long note
    vibrato_semitones: float = 0.3
    chatter: float = 0.0  # chance that a note carries a stream of tiny bends
    # Note ends.
    zero_velocity_off: float = 0.5
    overlapped: float = 0.2  # legato: on, on, off
    late_off: float = 0.05
    missing_off: float = 0.0
    # The wire.
    serial: bool = True  # 31250 baud; else packets of a millisecond
    clock: bool = False
    sensing: bool = False
    controllers: float = 0.0  # a second
    foreign: float = 0.0  # notes a second on a channel that is no string
    first_channel: int = 1
