"""A song while it is written: nothing typed is lost, every change can be taken back, and what is right becomes a song."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections import Counter
from dataclasses import replace

import pytest
from chart_strategies import lessons, songs
from hypothesis import given, settings
from hypothesis import strategies as st
from shipped import PATHS, spread
from strategies import keys

from companion.authoring.draft import Draft, DraftBar, DraftSection, Page
from companion.authoring.draft_song import bar_faults, from_data, moved, page_of, so_far, song_of, to_data
from companion.authoring.journal import Journal, kept_drafts, new_id
from companion.base.ids import song_id
from companion.chart.melody import section_melody
from companion.chart.reader import parse_chart, read_chart
from companion.chart.transpose import transpose
from companion.chart.writer import write_chart
from companion.errors import ChartError
from companion.store.library import find_song, list_songs
from companion.store.song_file import save_song, with_comments
from companion.theory.key import Key
from companion.theory.shell_kinds import Pin

TYPED = "ABCDEFGbm7 #/%:-13.Hx(9)|\n"

# name -> what a hand at the keyboard can do
EDITS = {
    "next": Draft.next_bar,
    "back": Draft.back,
    "clear": Draft.clear_bar,
    "left": lambda draft: draft.go(-1),
    "right": lambda draft: draft.go(1),
    "up": lambda draft: draft.go_line(-1),
    "down": lambda draft: draft.go_line(1),
    "insert": Draft.insert,
    "delete": Draft.delete,
    "mark": Draft.start_mark,
    "copy": Draft.copy,
    "paste": Draft.paste,
    "section": Draft.new_section,
    "no section": Draft.remove_section,
    "name": lambda draft: draft.rename_section("Intro"),
    "meter": lambda draft: draft.set_section(meter="3/4"),
    "form": lambda draft: draft.set(form="A A B"),
    "key": lambda draft: draft.with_page(moved(draft.page, Key.parse("Ab"))),
}
typing = st.text(TYPED, min_size=1, max_size=6)
edits = st.lists(st.one_of(st.sampled_from(sorted(EDITS)), typing.map(lambda text: f"type {text}")), max_size=40)


def done(draft: Draft, edit: str) -> Draft:
    if edit.startswith("type "):
        return draft.type(edit[5:])
    try:
        return EDITS[edit](draft)
    except ValueError:  # a second section of that name
        return draft


def signs_of(page: Page) -> Counter:
    """Every sign that stands on the page, blanks apart."""
    return Counter("".join(bar.text for section in page.sections for bar in section.bars).replace(" ", ""))


def read_again(song):
    """The song as its chart file says it: the same text, whatever the order of the pins."""
    return parse_chart(write_chart(song))


# --- back and forth


@given(edits)
def test_all_undos_give_the_start_and_all_redos_the_end(steps):
    start = draft = Draft()
    for step in steps:
        draft = done(draft, step)
        assert draft.bar is draft.page.sections[draft.at[0]].bars[draft.at[1]], "one is always in a bar"
    end = draft
    while draft.past:
        draft = draft.undo()
    assert draft.page == start.page
    while draft.future:
        draft = draft.redo()
    assert draft.page == end.page


@given(edits, st.sampled_from(PATHS))
def test_a_song_that_is_changed_comes_back_whole_too(steps, path):
    page = page_of(read_chart(path))
    draft = Draft(page)
    for step in steps:
        draft = done(draft, step)
    while draft.past:
        draft = draft.undo()
    assert draft.page == page


NOTHING_TAKEN = ["next", "left", "right", "up", "down", "insert", "section", "mark", "form", "meter", "name"]


@given(st.lists(st.one_of(typing.map(lambda text: f"type {text}"), st.sampled_from(NOTHING_TAKEN))))
def test_no_sign_that_was_typed_is_lost_however_wrong(steps):
    draft, typed = Draft(), Counter()
    for step in steps:
        draft = done(draft, step)
        if step.startswith("type "):
            typed.update(sign for sign in step[5:] if sign not in "|\n ")
        assert signs_of(draft.page) == typed


def test_one_undo_takes_back_a_bar_not_a_letter():
    draft = Draft()
    for sign in "Dm7 G7|Cmaj7":
        draft = draft.type(sign)
    assert [bar.text for bar in draft.undo().section.bars] == ["Dm7 G7"]
    assert draft.undo().undo().page == Page()


def test_a_repeat_sign_is_copied_with_what_it_repeats():
    draft = Draft().type("Dm7|%|G7").go_to(0, 1).start_mark().go(1).copy().go_to(0, 2).next_bar()
    assert [bar.text for bar in draft.paste().section.bars] == ["Dm7", "%", "G7", "Dm7", "G7", ""]


def test_copying_a_section_and_pasting_it_into_a_new_one():
    draft = Draft().type("C6|A7|Dm7|G7").start_mark().go_to(0, 0).copy().new_section().paste()
    assert [bar.text for bar in draft.page.sections[1].bars] == ["C6", "A7", "Dm7", "G7", ""]
    assert draft.at == (1, 4) and draft.type("C6").section.bars[4].text == "C6"


# --- what is wrong


def test_a_bar_at_fault_says_why_and_the_others_are_read():
    draft = Draft().type("Dm7|Hm7|G7:3|Dm7 G7 / |%|N.C.")
    faults = bar_faults(draft.page)
    assert set(faults) == {(0, 1), (0, 2), (0, 3), (0, 4)}
    assert "did you mean Bm7" in faults[0, 1] and "4/4" in faults[0, 2]
    assert "repeats the bar before" in faults[0, 4]
    read = so_far(draft.page)
    assert read is not None and dict(read.index) == {(0, 0): 0, (0, 5): 1}
    with pytest.raises(ChartError) as caught:
        song_of(replace(draft.page, title="A Title"))
    assert {fault.bar for fault in caught.value.faults} >= {2, 3, 4}


@given(
    st.lists(st.text("ABCDEFGHbm7 #/%:-13.", max_size=9), min_size=1, max_size=8),
    st.sampled_from(["4/4", "3/4", "6/8"]),
)
def test_bars_are_judged_as_in_a_chart_file(cells, meter):
    cells = [*cells, "C"]  # empty bars at the end are not meant
    page = Page(title="x", meter=meter, sections=(DraftSection("A", tuple(map(DraftBar, cells))),))
    chart = f'title = "x"\nkey = "C"\nmeter = "{meter}"\n[section.A]\nbars = """|{"|".join(f" {cell} " for cell in cells)}|"""\n'
    try:
        expected = {}
        parse_chart(chart)
    except ChartError as error:
        expected = {fault.bar: fault.message for fault in reversed(error.faults)}
    found = {bar + 1: why for (_, bar), why in bar_faults(page).items() if "cannot be read yet" not in why}
    assert found == expected


def test_whatever_else_is_wrong_is_said_when_the_song_is_made():
    draft = Draft(Page(title="T", tempo="fast", key="H", form="A C")).type("C6")
    with pytest.raises(ChartError) as caught:
        song_of(draft.page)
    said = "\n".join(fault.message for fault in caught.value.faults)
    assert "tempo is 'fast'" in said and "'H' is not a key" in said and "'C'" in said
    assert so_far(draft.page) is not None, "and its bars can be heard all the same"


# --- to a song and back


@given(songs().flatmap(lambda song: lessons(song).map(lambda lesson: replace(song, lesson=lesson))))
def test_a_song_becomes_a_draft_and_the_same_song_again(song):
    assert read_again(song_of(page_of(song))) == read_again(song)


@given(songs(), keys())
def test_a_draft_moves_to_another_key_as_its_song_does(song, key):
    assert read_again(song_of(moved(page_of(song), key))) == read_again(transpose(song, key))


def test_what_is_not_understood_stays_as_typed_in_another_key():
    page = moved(Draft().type("Dm7 Hx7|what? G7:2|%").page, Key.parse("D"))
    assert [bar.text for bar in page.sections[0].bars] == ["Em7 Hx7", "what? A7:2", "%"]


@given(songs())
def test_a_draft_is_plain_data_and_back(song):
    page = page_of(song)
    assert from_data(to_data(page)) == page


LESSONED = """
title = "Pins and Notes"
key = "C"
meter = "4/4"
pickup = 1
[section.A]
bars = "Dm7 | G7 | C6 | A7"
melody = "c2 | d8 | [L:1/4] B4 | c4 | e4 |"
[shells]
"A.2.1" = "root-seventh"
[lesson.notes]
"A.3" = "Hold on."
"""


def test_pins_notes_and_melody_travel_with_their_bars():
    song = parse_chart(LESSONED)
    draft = Draft(page_of(song)).insert().type("Em7")
    longer = song_of(draft.page)
    assert longer.pins == {("A", 3, 1): Pin("root-seventh")} and longer.lesson.bar_notes == {("A", 4): "Hold on."}
    before, after = section_melody(song, "A"), section_melody(longer, "A")
    bar = song.meter.bar_ticks
    assert [note for note in after if note.start_tick < 0] == [note for note in before if note.start_tick < 0]
    later = [replace(note, start_tick=note.start_tick + bar) for note in before if note.start_tick >= 0]
    assert [note for note in after if note.start_tick >= bar] == later
    shorter = song_of(draft.go_to(0, 2).delete().page)
    assert shorter.pins == {} and shorter.lesson.bar_notes == {("A", 3): "Hold on."}
    kept = [note for note in before if note.start_tick >= 2 * bar]
    assert [note for note in section_melody(shorter, "A") if note.start_tick >= 2 * bar] == kept, (
        "the unit of length stays"
    )
    other = song_of(Draft(page_of(song)).go_to(0, 1).clear_bar().type("Db7").page)
    assert other.pins == {}, "a pin is for its chord"


def test_bars_written_behind_a_melody_are_bars_of_rest():
    song = parse_chart(LESSONED)
    longer = song_of(Draft(page_of(song)).go_to(0, 3).next_bar().type("Fmaj7").page)
    assert section_melody(longer, "A")[:-1] == section_melody(song, "A")
    assert section_melody(longer, "A")[-1].pitch is None


# --- files


@pytest.mark.parametrize("path", spread(PATHS, 8, 3), ids=lambda path: path.stem)
def test_a_shipped_song_is_saved_as_the_students_own_in_its_place(path, paths, settings):
    song = read_chart(path)
    draft = Draft(page_of(song)).go_to(0, 0).clear_bar().type("N.C.")
    saved = save_song(song_of(draft.page), paths, settings)
    assert saved == paths.songs / path.name
    entry = next(entry for entry in list_songs(paths, settings) if entry.id == path.stem)
    assert entry.own and not entry.fault
    first = next(iter(song.sections))
    assert find_song(path.stem, paths, settings).sections[first].bars[0].chords[0].chord is None
    assert read_chart(path).sections[first].bars[0].chords[0].chord is not None, "the shipped file is as it was"


def test_saving_keeps_the_comments_and_what_did_not_change():
    old = LESSONED.replace("[section.A]", "# from Tuesday's sheet\n[section.A]").replace("| A7", "| A7 |  ")
    song = song_of(Draft(page_of(parse_chart(old))).set(tempo="96").page)
    text = with_comments(old, write_chart(song))
    assert "# from Tuesday's sheet" in text and "tempo = 96" in text and 'bars = "Dm7 | G7 | C6 | A7 |  "' in text
    assert write_chart(parse_chart(text)) == write_chart(song)


@given(edits, st.sampled_from(PATHS))
@settings(max_examples=16)
def test_a_saved_text_always_says_the_song_that_was_written(steps, path):
    draft = Draft(page_of(read_chart(path)))
    for step in steps:
        draft = done(draft, step)
    try:
        song = song_of(draft.page)
    except ChartError:
        return
    text = with_comments(path.read_text(encoding="utf-8"), write_chart(song))
    assert write_chart(parse_chart(text)) == write_chart(song)


def test_a_new_song_gets_a_name_that_no_other_has(paths, settings):
    page = Draft(Page(title="Ferry at Half Past Six")).type("C6").page
    assert save_song(song_of(page), paths, settings).stem == "ferry-at-half-past-six-2"
    assert song_id("Ça va, Öl? 3/4!", set()) == "ca-va-ol-3-4"
    assert song_id("雨", set()) == "song"


# --- the journal


@given(edits)
@settings(max_examples=16)
def test_after_every_keystroke_the_journal_is_the_state(tmp_path_factory, paths_in, steps):
    paths = paths_in(tmp_path_factory.mktemp("student"))
    draft, journal = Draft(), Journal(paths, new_id(paths))
    for step in steps:
        draft = done(draft, step)
        journal.keep(draft)
        (kept,) = kept_drafts(paths)
        assert (kept.id, kept.draft.page, kept.draft.at) == (journal.id, draft.page, draft.at)
    journal.forget()
    assert kept_drafts(paths) == []


@pytest.fixture(scope="session")
def paths_in():
    from companion.store.paths import find_paths

    return lambda home: find_paths({"COMPANION_HOME": str(home)})


TYPIST = """
import itertools, sys
from companion.store.paths import find_paths
from companion.authoring.draft import Draft
from companion.authoring.journal import Journal
draft, journal = Draft(), Journal(find_paths(), "new-1")
for number, sign in zip(itertools.count(1), itertools.cycle("Dm7 G7|Cmaj7|")):
    draft = draft.type(sign)
    journal.keep(draft, firmly=sign == "|")
    print(number, flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no kill -9 on this system")
@pytest.mark.parametrize("after", [1, 7, 8, 60, 203])
def test_a_draft_survives_kill_minus_nine(paths, after):
    typist = subprocess.Popen([sys.executable, "-c", TYPIST], stdout=subprocess.PIPE, text=True, env=dict(os.environ))
    told = 0
    for line in typist.stdout:
        told = int(line)
        if told >= after:
            break
    typist.kill()
    told = max([told, *(int(line) for line in typist.stdout if line.endswith("\n"))])
    typist.stdout.close()
    assert typist.wait() == -signal.SIGKILL
    (kept,) = kept_drafts(paths)

    def typed(count):
        cycle = "Dm7 G7|Cmaj7|"
        return Draft().type((cycle * (count // len(cycle) + 1))[:count]).page

    assert kept.draft.page in (typed(told), typed(told + 1)), "the last keystroke told, or the one being kept"


def test_a_damaged_draft_is_left_alone_and_stops_nothing(paths):
    Journal(paths, "change-a-song").keep(Draft().type("C6"))
    for name, text in {"new-1": "{", "new-2": '{"draft": 1, "at": [0], "page": {}}', "new-3": "[" * 100_000}.items():
        (paths.drafts / f"{name}.json").write_text(text, encoding="utf-8")
    (paths.drafts / "new-4.json").mkdir()
    assert [kept.id for kept in kept_drafts(paths)] == ["change-a-song"]
    assert new_id(paths) == "new-5"
    assert len(list(paths.drafts.iterdir())) == 5
