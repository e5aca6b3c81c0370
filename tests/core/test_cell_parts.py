"""Parts of a cell: which notes, which strokes, how long, and whose they are."""

from __future__ import annotations

import pytest

from livecheck.core.cell import make_cell
from livecheck.core.parts import begun_at, part_of, run_of, seam_of
from livecheck.files.config import cell_from_dict, cell_to_dict

SIX = make_cell(
    "six", [(2, 13), (2, 10), (3, 12), (3, 10), (5, 12, None, 2), (5, 10), 2], quiet=[4]
)


def test_a_run_keeps_strokes_lengths_and_its_place_in_time() -> None:
    """Each note lasts until the cell's next one is due; the strokes are written out."""
    part = part_of(SIX, run_of(SIX, 3, 5))
    assert [(slot.string, slot.fret, slot.stroke, slot.length) for slot in part.slots] == [
        (3, 12, "down", 1),
        (3, 10, "up", 1),
        (5, 12, "down", 2),
    ]
    assert part.steps == 4 and part.grid == SIX.grid and part.picking == "repeat"
    assert part.name == "six, notes 3-5" and (part.parent, part.notes) == ("six", (3, 4, 5))
    assert part.quiet == (2, 4)


def test_the_seam_is_the_last_two_and_the_first_two_notes_with_the_rest_between() -> None:
    """A final rest of the cell stands where it stands there."""
    part = part_of(SIX, seam_of(SIX))
    assert part.notes == (5, 6, 1, 2)
    assert [slot.start for slot in part.slots] == [0, 2, 5, 6]
    assert part.steps == 7


def test_a_cell_begun_at_another_note_has_all_of_them() -> None:
    """Its length is the cell's."""
    part = part_of(SIX, begun_at(SIX, 3))
    assert part.notes == (3, 4, 5, 6, 1, 2) and part.steps == SIX.steps
    assert run_of(SIX, 5, 2) == [5, 6, 1, 2]


def test_a_part_comes_back_from_its_file_with_its_parent() -> None:
    """So that a session says whose part it is."""
    part = part_of(SIX, [3, 4])
    again = cell_from_dict(cell_to_dict(part), "somewhere")
    assert (again.parent, again.notes, again.slots) == ("six", (3, 4), part.slots)


@pytest.mark.parametrize("notes", [[3], [3, 5], [0, 1], [6, 7], [1, 2, 3, 4, 5, 6, 1]])
def test_what_is_no_part_is_refused(notes: list[int]) -> None:
    """One note, a gap, a note that is not there, more notes than there are."""
    with pytest.raises(ValueError):
        part_of(SIX, notes)
