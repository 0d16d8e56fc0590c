"""How large a sheet is, measured on the drawing: what pianists asked for at a stand, in millimetres and points (1/72 inch)."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from companion.errors import SettingsError
from companion.export.formats import export
from companion.export.layout import lines_of, pages_of_lines
from companion.export.options import ExportError, ExportOptions
from companion.export.score import score_of
from companion.export.sheet import pages_of, sheet_of
from companion.export.sizes import SIZES
from companion.store.settings import load_settings, save_settings

pytest.importorskip("verovio")
SVG = "{http://www.w3.org/2000/svg}"
# Staff in mm, chord symbols and fingers in points.
ASKED = {"stand": (7.0, 16.0, 8.0), "desk": (5.2, 10.0, 6.0)}


class Page:
    """A page's lengths in millimetres, worked out from the nested coordinates of the drawing."""

    def __init__(self, svg: str) -> None:
        self.root = ElementTree.fromstring(svg)
        wide = float(self.root.get("width", "").removesuffix("mm"))
        inner = next(child for child in self.root.iter(f"{SVG}svg") if child is not self.root)
        self.mm = wide / float(inner.get("viewBox", "").split()[2])
        self.high = float(self.root.get("height", "").removesuffix("mm"))

    def groups(self, name: str) -> list[ElementTree.Element]:
        return [group for group in self.root.iter(f"{SVG}g") if (group.get("class") or "").split(" ")[0] == name]

    def points(self, name: str) -> set[float]:
        texts = [text for group in self.groups(name) for text in group.iter(f"{SVG}text")]
        return {round(float(text.get("font-size", "").removesuffix("px")) * self.mm / 25.4 * 72, 1) for text in texts}

    def staves(self) -> list[tuple[float, float, float]]:
        """Of every bar's staff: left, upper line and lower line."""
        found = []
        for staff in self.groups("staff"):
            lines = [re.findall(r"-?[\d.]+", path.get("d", "")) for path in staff.findall(f"{SVG}path")[:5]]
            found.append((float(lines[0][0]) * self.mm, float(lines[0][1]) * self.mm, float(lines[4][1]) * self.mm))
        return found

    def lines(self) -> list[int]:
        """How many bars each line has."""
        return [
            sum(1 for group in system.iter(f"{SVG}g") if group.get("class") == "measure")
            for system in self.groups("system")
        ]


@pytest.mark.parametrize("name", SIZES)
def test_staff_symbols_and_fingers_are_as_large_as_asked(on_stand, name: str) -> None:
    staff_mm, symbols_pt, fingers_pt = ASKED[name]
    for svg in pages_of([sheet_of(score_of(on_stand("mangoes-on-the-night-tram"), fingers=True))], SIZES[name]):
        page = Page(svg)
        assert {round(low - high, 2) for _, high, low in page.staves()} == {staff_mm}
        assert min(page.points("harm")) >= symbols_pt and len(page.points("harm")) == 1
        assert min(page.points("fing")) >= fingers_pt and len(page.points("fing")) == 1
        assert all(10 < low < page.high - 10 for _, _, low in page.staves())


def test_thirty_two_bars_take_two_pages_at_most_and_no_line_is_one_bar(all_stands) -> None:
    for stand in all_stands:
        score = score_of(stand, fingers=True)
        pages = [Page(svg) for svg in pages_of([sheet_of(score)])]
        assert len(pages) <= 2, stand.song.id
        lines = [bars for page in pages for bars in page.lines()]
        assert min(lines) > 1 and max(lines) <= 6, (stand.song.id, lines)
        said = ["".join(group.itertext()).strip() for page in pages for group in page.groups("mNum")]
        numbers = [int(number) for number in said if number]
        assert numbers == sorted(set(numbers)) and len(numbers) == len(lines) - 1, stand.song.id


def test_a_page_turns_between_two_sections(on_stand) -> None:
    pages = [Page(svg) for svg in pages_of([sheet_of(score_of(on_stand("a-borrowed-umbrella"), fingers=True))])]
    assert [["".join(mark.itertext()).strip() for mark in page.groups("reh")] for page in pages] == [["A"], ["B"]]


def test_lines() -> None:
    """Four bars where they fit, three where they do not; two of a section stand alone, one goes on into the next or out of the one before."""
    assert lines_of([20] * 16, 10, 100, [0, 8]) == [0, 4, 8, 12]
    assert lines_of([28] * 8, 10, 100, [0]) == [0, 3, 6]
    assert lines_of([20] * 10, 10, 100, [0, 2]) == [0, 2, 6]
    assert all(end - start > 1 for start, end in pairwise([*lines_of([15] * 9, 10, 100, [0, 1]), 9]))
    assert lines_of([5] + [20] * 8, 10, 100, [1], pickup=True) == [0, 5]
    assert lines_of([300] * 3, 10, 100, [0]) == [0, 1, 2]
    endings = lines_of([25] * 10, 10, 110, [0], [7, 9])  # six bars, two endings of two
    assert 7 not in endings and 9 not in endings


def test_pages() -> None:
    """As few as it takes, turned where a section begins unless that leaves a page nearly empty."""

    def first_lines(*given) -> list[int]:
        return [page.first for page in pages_of_lines(*given)]

    assert first_lines([0, 10, 20, 30], 10, (40, 40), {0, 2}) == [0]
    assert first_lines([0, 10, 20, 30, 40], 10, (40, 45), {0, 2}) == [0, 2]
    assert first_lines([0, 10, 20, 30, 40], 10, (40, 45), {0, 4}) == [0, 2]  # not one line alone for the sake of a turn
    assert first_lines([0, 10], 30, (20, 20), {0}) == [0, 1]
    assert [page.full for page in pages_of_lines([0, 10, 20], 10, (40, 40), {0})] == [0.75]


def test_the_size_is_a_setting_and_an_option(on_stand, paths, settings, tmp_path) -> None:
    stand = on_stand("two-spoons").with_loop(range(2), "bars 1 to 2")
    assert settings.sheet_size == "stand"
    save_settings(paths, {"paper.size": "desk"})
    kept = load_settings(paths)
    assert kept.sheet_size == "desk" and set(SIZES) == {"stand", "desk"}
    with pytest.raises(SettingsError, match="stand"):
        save_settings(paths, {"paper.size": "poster"})

    def staff_mm(given, size: str | None) -> float:
        (path,) = export(stand, tmp_path / "x.svg", ExportOptions(size=size, force=True), given)
        _, high, low = Page(path.read_text(encoding="utf-8")).staves()[0]
        return round(low - high, 2)

    assert [staff_mm(kept, None), staff_mm(kept, "stand"), staff_mm(settings, None)] == [5.2, 7.0, 7.0]
    with pytest.raises(ExportError, match=r"a size is for paper: expected a target ending in \.svg or \.pdf"):
        export(stand, tmp_path / "x.mid", ExportOptions(size="desk"), settings)
