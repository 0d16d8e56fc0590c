"""How large a sheet is printed.

"stand": read from the bench, an arm and a half away; staff, symbols and fingers as pianists asked for. "desk": held in the hand or lying on a table (ours). A
point is 1/72 inch, 0.3528 mm.
"""

from __future__ import annotations

from dataclasses import dataclass

MM_A_POINT = 25.4 / 72
A4_MM = (210.0, 297.0)


@dataclass(frozen=True, slots=True)
class SheetSize:
    """staff_mm: from the lowest line to the highest. The others in points: chord symbols, fingers, section marks, words and names of notes, bar numbers,
    the title, the lines below it and the foot. margin_mm: around the page."""

    staff_mm: float
    symbols_pt: float
    fingers_pt: float
    marks_pt: float
    words_pt: float
    numbers_pt: float
    title_pt: float
    head_pt: float
    foot_pt: float
    margin_mm: float

    @property
    def unit_mm(self) -> float:
        """Half the distance between two lines of the staff, in which Verovio counts."""
        return self.staff_mm / 8


SIZES = {
    "stand": SheetSize(7.0, 16, 8, 14, 12, 9, 22, 12, 10, 12),
    "desk": SheetSize(5.2, 11, 6.5, 10, 9, 7, 18, 10, 9, 15),
}
