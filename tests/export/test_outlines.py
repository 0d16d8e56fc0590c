"""A sheet as SVG carries the form of its words with it: the same picture on a machine without a single font."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from companion.export.formats import export
from companion.export.options import ExportOptions
from companion.export.outlines import outlined
from companion.export.score import score_of
from companion.export.sheet import pages_of, sheet_of

pytest.importorskip("verovio")
pytest.importorskip("typst")
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="session")
def pages(all_stands) -> list[str]:
    return pages_of([sheet_of(score_of(all_stands[-1], fingers=True))])


def words_of(page: str) -> list[str]:
    found = (text.text or "" for text in ElementTree.fromstring(page).iter(f"{SVG}text"))
    return [words.strip() for words in found if words.strip()]


def test_every_word_is_drawn_in_its_place_and_still_said(pages) -> None:
    for page, drawn in zip(pages, outlined(pages), strict=True):
        assert words_of(drawn) == []
        root = ElementTree.fromstring(drawn)
        labels = [group.get("aria-label") for group in root.iter(f"{SVG}g") if group.get("aria-label")]
        assert labels == words_of(page)
        ids = {element.get("id") for element in root.iter() if element.get("id")}
        used = re.findall(r'href="#([^"]+)"', drawn)
        assert used and set(used) <= ids
        assert "@font-face" not in drawn


def test_what_the_face_lacks_stays_text(on_stand) -> None:
    stand = on_stand("two-spoons").with_loop(range(2), "bars 1 to 2")
    named = replace(stand, song=replace(stand.song, title="夜の市電"))
    (page,) = outlined(pages_of([sheet_of(score_of(named))]))
    assert words_of(page) == ["夜の市電"]


@pytest.mark.skipif(shutil.which("rsvg-convert") is None, reason="needs rsvg-convert")
def test_the_picture_is_the_same_without_any_font(on_stand, settings, tmp_path) -> None:
    (path,) = export(on_stand("two-spoons"), tmp_path / "sheet.svg", ExportOptions(), settings)
    (tmp_path / "none").mkdir()
    none = tmp_path / "fonts.conf"
    none.write_text(
        f"<fontconfig><dir>{tmp_path}/none</dir><cachedir>{tmp_path}/cache</cachedir></fontconfig>", encoding="utf-8"
    )

    def picture(**more: str) -> bytes:
        command = ["rsvg-convert", "-w", "600", str(path)]
        return subprocess.run(command, env={**os.environ, **more}, capture_output=True, check=True).stdout

    assert picture(FONTCONFIG_FILE=str(none)) == picture()
