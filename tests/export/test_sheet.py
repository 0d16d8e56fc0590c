"""The printed sheet: what stands on it, and that a faded one gives nothing away."""

from __future__ import annotations

import re
import shutil
import subprocess
from xml.etree import ElementTree

import pytest

from companion.errors import WriteError
from companion.export.faded import cues_of, round_of
from companion.export.formats import export
from companion.export.options import ExportError, ExportOptions
from companion.export.score import score_of
from companion.export.sheet import pages_of, pdf_of, sheet_of
from companion.export.text import NEW_PAGE, WIDEST, text_of
from companion.practice.drills.fading import Cue
from companion.session.drill import DrillSettings

pytest.importorskip("verovio")
pytest.importorskip("typst")
SVG = "{http://www.w3.org/2000/svg}"


def texts(page: str, kind: str) -> list[str]:
    """The words of every element of a class of Verovio's, such as "harm", in the order of the music."""
    found = (group for group in ElementTree.fromstring(page).iter(f"{SVG}g") if group.get("class") == kind)
    return ["".join(text.itertext()).strip() for group in found for text in group.iter(f"{SVG}text")]


def in_print(symbol: str) -> str:
    root = symbol[0] + symbol[1:2].replace("b", "♭").replace("#", "♯") if symbol[1:2] in ("b", "#") else symbol[0]
    quality, _, bass = symbol[len(root) :].partition("/")
    quality = re.sub(r"[b#](?=\d)", lambda sign: {"b": "♭", "#": "♯"}[sign[0]], quality)
    return root + quality + ("/" + bass.replace("b", "♭").replace("#", "♯") if bass else "")


def test_every_chord_finger_and_section_is_on_the_sheet(all_stands) -> None:
    for stand in all_stands[::2]:
        pages = pages_of([sheet_of(score_of(stand), fold=False)])
        symbols = [placed.chord.symbol if placed.chord else "N.C." for bar in stand.bars for placed in bar.chords]
        printed = [word for page in pages for word in texts(page, "harm")]
        assert sorted(printed) == sorted(in_print(s) if s != "N.C." else s for s in symbols), stand.song.id
        fingers = [finger for page in pages for finger in texts(page, "fing")]
        said = [finger for choice in stand.part.choices if choice.shell for finger in choice.fingers.split("-")]
        assert sorted(fingers) == sorted(said)
        assert [mark for page in pages for mark in texts(page, "reh")] == list(stand.song.form)
        assert all("Leipzig" not in page and not re.search("[\ue000-\uf8ff]", page) for page in pages)


def test_the_head_says_title_key_tempo_and_feel(on_stand) -> None:
    (page,) = pages_of([sheet_of(score_of(on_stand("ferry-at-half-past-six")))])
    assert ">Ferry at Half Past Six</text>" in page
    assert ">B♭ major, 4/4</text>" in page and ">Swing, ♩ = 126</text>" in page
    (page,) = pages_of([sheet_of(score_of(on_stand("goose-weather")))])
    assert "♩. = " in page


def test_the_same_sheet_is_the_same_file(on_stand) -> None:
    stand = on_stand("two-spoons")
    assert pages_of([sheet_of(score_of(stand))]) == pages_of([sheet_of(score_of(stand))])


def test_a_pdf_has_every_page_and_its_words(on_stand, settings, tmp_path) -> None:
    (path,) = export(on_stand("ferry-at-half-past-six"), tmp_path / "ferry.pdf", ExportOptions(round=5), settings)
    assert path.read_bytes().startswith(b"%PDF-")
    if not shutil.which("pdftotext"):
        pytest.skip("poppler's pdftotext is not installed")
    words = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True).stdout
    first, second, *_ = words.split("\f")
    assert re.search(r"Round 5: of 32 bars( \d+ with [a-z ]+,?)+", first) and "The answers" in second
    assert re.search(r"1\s*/\s*2", first) and re.search(r"2\s*/\s*2", second)
    assert second.count("Cm7") == sum(
        c.chord.symbol == "Cm7" for bar in on_stand("ferry-at-half-past-six").bars for c in bar.chords
    )


def test_a_title_can_do_no_harm(on_stand) -> None:
    from dataclasses import replace

    stand = on_stand("two-spoons")
    for title in ("<script>\"&'", '#image("/etc/passwd")', "]]>", "\u202e"):
        named = replace(stand, song=replace(stand.song, title=title))
        pages = pages_of([sheet_of(score_of(named))])
        ElementTree.fromstring(pages[0])
        assert pdf_of(pages, title).startswith(b"%PDF-")


def test_svg_pages_are_files_of_their_own(on_stand, settings, tmp_path) -> None:
    paths = export(on_stand("two-spoons"), tmp_path / "spoons.svg", ExportOptions(round=3), settings)
    assert [path.name for path in paths] == ["spoons.svg", "spoons-2.svg"]
    with pytest.raises(WriteError, match="spoons.svg is there already"):
        export(on_stand("two-spoons"), tmp_path / "spoons.svg", ExportOptions(round=3), settings)
    paths[0].unlink()
    with pytest.raises(WriteError, match="spoons-2.svg is there already"):
        export(on_stand("two-spoons"), tmp_path / "spoons.svg", ExportOptions(round=3), settings)
    assert not paths[0].exists()


@pytest.mark.parametrize("way", ["bars", "cues", "sections"])
def test_a_faded_sheet_shows_what_its_round_allows_and_no_more(on_stand, way: str) -> None:
    stand = on_stand("ferry-at-half-past-six")
    answers = pages_of([sheet_of(score_of(stand), fold=False)])
    assert sum(len(texts(answer, "harm")) for answer in answers) == len(stand.part.choices)
    for number in (1, 4, 7):
        cues = cues_of(round_of(stand, number, DrillSettings(way=way)))
        (page,) = pages_of([sheet_of(score_of(stand, cues=cues), fold=False)])
        allowed = []
        for bar in stand.bars:
            for placed, _ in stand.choices_at(bar.index):
                if cues[bar.index] >= Cue.SYMBOL:
                    allowed.append(in_print(placed.chord.symbol))
                elif cues[bar.index] == Cue.ROOT:
                    allowed.append(in_print(placed.chord.root.name) + "…")
        assert sorted(texts(page, "harm")) == sorted(allowed), (way, number)
        shown = sum(2 * len(stand.choices_at(index)) for index, cue in cues.items() if cue == Cue.KEYS)
        assert len(texts(page, "fing")) == shown
        root = ElementTree.fromstring(page)
        assert sum(group.get("class") == "note" for group in root.iter(f"{SVG}g")) == shown


def test_a_hidden_bar_does_not_tell_how_many_chords_it_has(on_stand) -> None:
    """Bars of one chord and of two become the same empty bar."""
    stand = on_stand("ferry-at-half-past-six")
    score = score_of(stand, cues=dict.fromkeys(range(32), Cue.PLACE))
    assert {(bar.left, bar.symbols, bar.notes) for bar in score.bars} == {(score.bars[0].left, (), ())}


def test_rounds_are_the_drills_own(on_stand) -> None:
    stand = on_stand("left-sock-blues")
    first = round_of(stand, 1, DrillSettings())
    assert set(cues_of(first).values()) == {Cue.KEYS}
    assert round_of(stand, 6, DrillSettings(seed=3)) == round_of(stand, 6, DrillSettings(seed=3))
    with pytest.raises(ExportError, match=r"expected a round from 1 to \d+"):
        round_of(stand, 500, DrillSettings())


def test_text_for_a_friend(all_stands) -> None:
    for stand in all_stands:
        text = text_of(stand)
        lines = text.splitlines()
        assert lines[0] == stand.song.title
        assert max(map(len, lines)) <= WIDEST and NEW_PAGE not in text
        for bar in stand.bars:
            for placed, choice in stand.choices_at(bar.index):
                assert (placed.chord.symbol if placed.chord else "N.C.") in text
                assert choice.shell is None or " ".join(choice.shell.names) in text


def test_faded_text_hides_and_answers(on_stand) -> None:
    stand = on_stand("ferry-at-half-past-six")
    for number in range(1, 9):
        page, answers = text_of(stand, number, DrillSettings()).split(NEW_PAGE)
        cues = cues_of(round_of(stand, number, DrillSettings()))
        for symbol in ("Bb6", "G7", "Cm7", "F7", "Dm7", "D7", "C7"):
            seen = sum(
                placed.chord.symbol == symbol and cues[bar.index] >= Cue.SYMBOL
                for bar in stand.bars
                for placed, _ in stand.choices_at(bar.index)
            )
            assert len(re.findall(rf"(?<!\S){symbol}(?!\S)", page)) == seen, (number, symbol)
        assert "The answers." in answers and answers.count("Bb6") == 6


def test_a_loop_alone(on_stand) -> None:
    stand = on_stand("ferry-at-half-past-six")
    part = stand.with_loop(range(4, 8), "bars 5 to 8")
    assert "A, from bar 5" in text_of(part) and "D7" not in text_of(part).replace("Dm7", "")
    (page,) = pages_of([sheet_of(score_of(part))])
    assert len(texts(page, "harm")) == 7


def test_missing_libraries_are_said(on_stand, monkeypatch) -> None:
    import sys

    score = score_of(on_stand("two-spoons"))
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(ExportError, match="a PDF needs the extra part for sheets"):
        pdf_of([], "")
    monkeypatch.setitem(sys.modules, "verovio", None)
    with pytest.raises(ExportError, match="a sheet needs the extra part for sheets"):
        pages_of([sheet_of(score)])
