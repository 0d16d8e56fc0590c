"""A song file can do no harm: no code runs, nothing is written outside, and what would steer a terminal is shown as text.

Every command and the app run in a real pseudo-terminal over a folder of hostile files (hostile.py), under an audit hook (PEP 578) that
notes each file opened for writing, each process started and each connection made.
Sources: ECMA-48 (control sequences, C1), XTerm Control Sequences (OSC 0 and 52), Unicode UAX 9 (bidirectional controls), CWE-22, CWE-59,
CWE-94, CWE-150 and CWE-611 of the Common Weakness Enumeration.
"""

from __future__ import annotations

import json
import os
import re
import sys
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from fuzz.hostile import ABC, LESSON, MUSICXML, NEVER, PAYLOADS, STEERING, escaped, songs
from store.passes import PASS
from terminal import Terminal, environment

from companion.base.files import is_device_name
from companion.base.ids import song_id
from companion.base.text import is_printable, plain, shown
from companion.chart.reader import parse_chart, read_chart
from companion.chart.writer import create_chart
from companion.errors import ChartError, CompanionError
from companion.export.formats import FORMATS, export
from companion.export.options import ExportOptions
from companion.session.stand import Stand
from companion.store.library import find_song, list_songs
from companion.store.log.practice_log import PracticeLog
from companion.store.song_file import save_song

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows has no pseudo-terminals, pipes in folders or such names"
)

# Runs commands one after the other in this process and notes what they do beyond reading.
DRIVER = """
import json, os, sys

def watch(notes):
    def note(*what):
        print(json.dumps(what), file=notes, flush=True)
    def audit(event, arguments):
        if event == "open":
            path, _, flags = arguments
            if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC) and not isinstance(path, int):
                note("open", os.path.abspath(os.fsdecode(path)))
        elif event in ("os.rename", "os.remove", "os.mkdir", "os.link", "os.symlink", "os.rmdir", "os.truncate", "os.chmod"):
            note("open", os.path.abspath(os.fsdecode(arguments[0])))
        elif event in ("os.system", "os.exec", "os.posix_spawn", "subprocess.Popen", "socket.connect", "socket.bind"):
            note(event, [str(each) for each in arguments[:2]])
    sys.addaudithook(audit)

def run(todo):
    from companion.cli.main import main
    for number, arguments in enumerate(todo):
        try:
            code = main([os.fsdecode(bytes.fromhex(each)) for each in arguments])
        except SystemExit as end:
            code = end.code
        print(f"=== {number} ended with {code}", flush=True)

if __name__ == "__main__":
    with open(sys.argv[1]) as file:
        todo = json.load(file)
    watch(open(sys.argv[2], "a"))
    os.chdir(sys.argv[3])
    run(todo)
"""


class Place:
    """A student's home with hostile files in it, and a folder to stand in."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        # On a fresh checkout Python would keep what it compiles beside the modules: no file that the commands open.
        self.env = environment(folder) | {"HOME": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
        self.home = folder / "home"
        self.songs = self.home / "songs"
        songs(self.songs)
        (self.home / "config").mkdir()
        (self.home / "config" / "settings.toml").write_text('[sound]\nmode = "silent"\n')
        (folder / "here").mkdir()
        for number, sign in enumerate((*STEERING, *PAYLOADS)):
            legal = (
                "".join(each for each in sign if each >= " ")
                .replace("&", "&amp;")
                .replace("<", "&lt;")
                .replace('"', "&quot;")
            )
            (folder / f"in-{number}.musicxml").write_text(MUSICXML.format(legal), encoding="utf-8")
            (folder / f"in-{number}.abc").write_text(ABC.format(sign, sign), encoding="utf-8")
        for sign in STEERING:
            for ending in (".abc", ".mid", ".toml", ".png"):
                (folder / f"in{sign}{ending}").write_text(ABC.format("T", "fine"))
        os.mkfifo(folder / "pipe.mid")
        (folder / "huge.mid").touch()
        os.truncate(folder / "huge.mid", 10_000_000_000)

    def commands(self, *todo: list[str | bytes]) -> tuple[str, list]:
        """What they write onto the terminal, and what was noted."""
        (self.folder / "driver.py").write_text(DRIVER)
        words = [[os.fsencode(each).hex() for each in arguments] for arguments in todo]
        (self.folder / "todo.json").write_text(json.dumps(words))
        arguments = [str(self.folder / name) for name in ("driver.py", "todo.json", "notes", "here")]
        drawn = b""
        with Terminal(arguments, self.env) as terminal:
            try:
                while terminal.read(90) is not None:
                    pass
            except RuntimeError:
                drawn = terminal.drawn
        text = drawn.decode("utf-8")
        assert f"=== {len(todo) - 1} ended with" in text, text[-2000:]
        return text, [json.loads(line) for line in (self.folder / "notes").read_text().splitlines()]

    def check_nothing_was_done(self, notes: list) -> None:
        for what, where in notes:
            if what == "open":
                assert where.startswith((str(self.folder), "/dev/", "/tmp/pymp-", "/proc/self")), where
            elif what in ("subprocess.Popen", "os.posix_spawn"):  # the second is how Python 3.13 does the first
                assert where[0] == sys.executable and "companion.importing.child" in where[1], where
            else:
                raise AssertionError((what, where))
        assert not list(self.folder.rglob("ran")) and not Path("/etc/ran").exists()


@pytest.fixture
def place(tmp_path, monkeypatch) -> Place:
    monkeypatch.delenv("COMPANION_HOME")
    return Place(tmp_path)


def check_shown(text: str) -> None:
    """Nothing but signs that show themselves, line ends and tabs."""
    odd = {sign for sign in text if not (is_printable(sign) or sign in "\r\n\t")}
    assert not odd, sorted(re.findall(f".{{0,60}}[{re.escape(''.join(odd))}].{{0,20}}", text))[:5]


def test_every_command_shows_hostile_words_as_text(place):
    passes = [
        replace(PASS, id=f"p{number}", song_id=f"words-{number}", title=words) for number, words in enumerate(PAYLOADS)
    ]
    passes += [
        replace(PASS, id=f"s{number}", song_id=f"s{sign}", title=f"T{sign}", loop_name=sign)
        for number, sign in enumerate(STEERING)
    ]
    from companion.store.paths import find_paths

    with PracticeLog.open(find_paths(place.env)) as log:
        for record in passes:
            log.add_pass(record)
    files = sorted(os.listdir(os.fsencode(place.songs)))
    paths = [os.fsencode(place.songs) + b"/" + name for name in files]
    bad = [b"name" + sign.encode() for sign in STEERING]
    outside = [str(path) for path in sorted(place.folder.glob("in*.abc"))]
    todo = [
        ["songs"], ["songs", "--json"], ["check", str(place.songs)], ["check", *paths], ["today"], ["today", "--afresh", "--json"], ["where"],
        ["log"], ["log", "--json"], ["log", "--csv"], ["log", "--all"], ["import", *outside],
        ["import", *(str(path) for path in sorted(place.folder.glob("in-?.musicxml"))[:2])],
        *(["shells", path] for path in paths[::5]), *(["shells", name] for name in bad), ["shells", "--chords", f"C | {STEERING[0]}"],
        *(["report", f"words-{number}"] for number in range(4)), ["report", "words-0", "--html", "page.html"],
        *(["export", f"words-{number}", f"out-{number}.txt"] for number in range(3)), ["export", "words-0", f"out{STEERING[0]}.txt"],
        ["export", "words-0", f"out{STEERING[1]}/x.mid"], ["export", "words-0", f"x{STEERING[2]}"], ["log", bad[0]], ["report", bad[1]],
        *(["mark", "words-0", str(path)] for path in sorted(place.folder.glob("*.mid"))), ["play", bad[2]], ["stand", bad[3]],
        ["play", "words-0", "--loop", STEERING[0]], [STEERING[0]], ["export", "words-0", "x.mid", "--key", STEERING[1]],
        ["play", "words-1", "--sound", "silent", "--loop", "1", "--count-in", "0"], ["log", "--delete", bad[4], "--yes"],
    ]  # fmt: skip
    text, notes = place.commands(*todo)
    check_shown(text)
    assert plain(STEERING[0][:6]) in text and PAYLOADS[0] in text and "Traceback" not in text
    place.check_nothing_was_done(notes)
    codes = [int(code) for code in re.findall(r"=== \d+ ended with (\d+)", text)]
    assert len(codes) == len(todo) and set(codes) <= {0, 1, 2}
    made = sorted(place.songs.iterdir(), key=str)
    assert all(path.parent == place.songs for path in made) and len(made) > len(files)
    assert sorted((place.folder / "here").iterdir())  # what was exported lies where one stands


def test_the_app_shows_hostile_words_as_text(place):
    """A hostile song on the stand with its lesson and its progress, the list of songs, pages that say what is wrong, a path completed by tab."""
    drawn = b""
    with Terminal([str(place.folder / "companion"), "stand", "words-0"], place.env) as terminal:

        def press(keys: bytes, awaited: bytes) -> None:
            """awaited: drawn once the keys are obeyed."""
            nonlocal drawn
            drawn += terminal.drawn
            terminal.drawn = b""
            terminal.press(keys)
            terminal.wait_for(awaited, 40)
            while terminal.read(0.1) is not None:
                pass

        terminal.wait_for(b"stopped", 40)
        press(b"o", b"What else")
        press(b"i", b"none so far|0 of 1")  # the lesson
        press(b"\x1b", b"stopped")
        press(b"\x1bOS", re.escape(b"Progress: [@click=app.quit]click[/]"))
        press(b"\x1b", b"stopped")
        press(b"\x1b", b"Which song")
        press(b"name", rb"9 of \d+, 34 unreadable")
        press(b"\x1b[B\r", re.escape(b"[@click=app.quit]name[ cannot be read"))
        press(b"\x1b", b"Which song|songs")
        for _ in STEERING[:2]:
            press(b"\x1b[B\r", b"cannot be printed")
            press(b"\x1b", b"name")
        press(b"\x1b", rb"(\d+) of \1, 34 unreadable")
        press(b"\x1b[B" * 66, rb"\.toml: ")
        press(b"\x1b[19~", b"completes")
        press(b"in", b"x1b")  # ~/in
        press(b"\x1b[200~ \x1b]52;c;SEFSTQ==\xc2\x9b31m\xe2\x80\xae pasted\x1b[201~", b"pasted")
        drawn += terminal.drawn
        os.kill(terminal.pid, 0)  # still there: nothing quit it
    drawn = re.sub(rb"\x1b]22;[a-z-]*\x07", b"", drawn)  # Textual's own: the shape of the pointer
    for never in NEVER:
        assert never not in drawn, re.findall(b".{0,80}" + re.escape(never) + b".{0,20}", drawn)[:3]
    assert not list(place.folder.rglob("ran"))


async def test_titles_of_boxes_are_no_markup(paths, settings):
    """A click on a song's title runs nothing (Textual, "Content markup": actions)."""
    from companion.tui.keymap import Keymap
    from companion.tui.screens.ask import AskScreen
    from companion.tui.screens.pick import Item, PickScreen
    from companion.tui.screens.read import ReadScreen
    from companion.tui.themed_app import ThemedApp
    from companion.tui.themes import THEMES

    class Bare(ThemedApp):
        keymap = Keymap({})
        leaving = False

    words = "[@click=app.quit]x[/] \x1b[2J"
    app = Bare(THEMES[0].name)
    async with app.run_test():
        for screen, box in (
            (ReadScreen(words, words), "#page"),
            (PickScreen(words, [Item(words, 1)]), "#pick"),
            (AskScreen(words, "", words), "#ask"),
        ):
            await app.push_screen(screen)
            title = screen.query_one(box)._border_title
            assert title.plain == plain(words) and not title.spans
            await app.pop_screen()


# --- what is written goes into its folder, whatever it is called

TITLES = (
    "../../x", "/etc/x", "..", ".", "C:\\x", "\\\\server\\x", "CON", "nul", "Com1", "aux.toml", "-rf", "~", "~root", "$HOME", "a/b", "x" * 120,
    "\N{COMBINING ACUTE ACCENT}" * 60, "日本", "...", "a:b*?", "%2e%2e%2f", *(payload[:120] for payload in PAYLOADS),
)  # fmt: skip


@pytest.mark.parametrize("title", TITLES)
def test_a_title_names_no_place(title, paths, settings, tmp_path):
    song = replace(parse_chart('title = "T"\nkey = "C"\nmeter = "4/4"\n[section.A]\nbars = "C"\n'), title=title)
    saved = save_song(song, paths, settings)
    again = save_song(song, paths, settings)
    assert saved != again and {saved.parent, again.parent} == {paths.songs}
    assert re.fullmatch(r"[a-z0-9][a-z0-9-]{0,70}\.toml", saved.name) and not is_device_name(saved.name)
    assert read_chart(saved).title == title
    made = create_chart(replace(song, id=song_id(title, set())), tmp_path / "to")
    assert made.parent == tmp_path / "to"
    home = paths.songs.parent
    written = {path for place in (tmp_path, home) for path in place.rglob("*") if path.is_file()}
    assert written == {saved, again, made}


@pytest.mark.parametrize("title", TITLES)
def test_an_imported_title_names_no_place(title, tmp_path):
    from companion.importing import import_file

    path = tmp_path / "in.abc"
    path.write_text(ABC.format("x", "fine").replace("T:x", f"T:{title}"), encoding="utf-8")
    result = import_file(path)
    assert re.fullmatch(r"[a-z0-9][a-z0-9-]{0,120}", result.song.id)
    made = create_chart(result.song, tmp_path / "to")
    assert made.parent == tmp_path / "to" and not is_device_name(made.name)


def test_a_link_in_the_song_folder_leads_no_writing_outside(paths, settings, tmp_path):
    """CWE-59: saving over a link replaces the link; what it pointed to stays."""
    outside = tmp_path / "outside.toml"
    text = 'title = "Link"\nkey = "C"\nmeter = "4/4"\n[section.A]\nbars = "C"\n'
    outside.write_text(text)
    paths.songs.mkdir(parents=True)
    (paths.songs / "link.toml").symlink_to(outside)
    (paths.songs / "dangling.toml").symlink_to(tmp_path / "new.toml")
    song = find_song("link", paths, settings)
    assert save_song(replace(song, title="Changed"), paths, settings) == paths.songs / "link.toml"
    assert outside.read_text() == text and not (paths.songs / "link.toml").is_symlink()
    assert create_chart(replace(song, id="dangling"), paths.songs).name == "dangling-2.toml"
    assert save_song(replace(song, id="", title="Dangling"), paths, settings).name == "dangling-3.toml"
    assert not (tmp_path / "new.toml").exists()


def test_what_is_no_song_is_a_sentence_each(paths, settings):
    songs(paths.songs)
    entries = [entry for entry in list_songs(paths, settings) if entry.own]
    faults = {entry.path.name: entry.fault for entry in entries if entry.fault}
    for name, words in (
        ("pipe.toml", "not an ordinary file"), ("zero.toml", "not an ordinary file"), ("nowhere.toml", "no such file"), ("folder.toml", "a folder"),
        ("huge.toml", "larger than"), ("round.toml", "cannot be read"), ("two\nlines.toml", "the file's name has signs that cannot be printed"),
    ):  # fmt: skip
        assert words in faults[name], faults[name]
    for sign in STEERING:
        assert "the file's name has signs that cannot be printed" in faults[f"name{sign}.toml"]
    for entry in entries:
        assert entry.fault or (
            is_all_shown(entry.id) and is_all_shown(entry.title) and not any(sign in entry.title for sign in STEERING)
        )
        assert is_all_shown(entry.fault)


def is_all_shown(text: str) -> bool:
    return all(map(is_printable, text))


# --- what goes out

HARM = '<script>x</script>&amp;&x;"\'<!--]]>\\input{x} #eval("x") ' + "".join(STEERING)


@pytest.fixture
def hostile_stand(settings) -> Stand:
    """A song whose title got past every reader."""
    chart = 'title = "T"\nkey = "F"\nmeter = "4/4"\n[section.A]\nbars = "F6 | Bb7 | Gm7 C7 | F6"\nmelody = "F8 | z8 | z8 | z8"\n'
    song = parse_chart(chart + LESSON.format("harm"), id="harm")
    lesson = replace(song.lesson, note=HARM, steps=tuple(replace(step, note=HARM) for step in song.lesson.steps))
    return Stand.put(replace(song, title=HARM, lesson=lesson), settings)


@pytest.mark.parametrize("ending", [kind.ending for kind in FORMATS if kind.ending not in (".wav", ".flac")])
def test_exports_hold_words_as_words(hostile_stand, settings, tmp_path, ending):
    options = ExportOptions(choruses=1 if ending == ".mp3" else None)
    [path] = export(hostile_stand, tmp_path / f"out{ending}", options, settings)
    data = path.read_bytes()
    for never in NEVER:
        assert never not in data or (
            len(never) == 1 and ending in (".mid", ".mp3", ".pdf")
        )  # there 7 is a number among others
    if ending in (".svg", ".musicxml"):
        root = ElementTree.fromstring(data.decode())
        tags = {element.tag.rpartition("}")[2].lower() for element in root.iter()}
        assert not tags & {"script", "foreignobject", "image", "a", "iframe", "link"}
        assert not any(name.lower().startswith("on") for element in root.iter() for name in element.attrib)
        text = "".join([*root.itertext(), *(element.get("aria-label", "") for element in root.iter())])
        assert "<script>x</script>" in re.sub(r"\s+(?=[</])", "", text) and b"<!ENTITY" not in data


def test_a_report_for_the_browser_holds_words_as_words(hostile_stand, paths):
    from companion.reports.html import report_html
    from companion.reports.report import make_report
    from companion.session.overview import now_here

    with PracticeLog.open(paths) as log:
        page = report_html(make_report(log, hostile_stand.song, now_here()))
    tags: list[str] = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag, attrs):
            tags.append(tag)
            assert not any(name.startswith("on") or name in ("src", "href") for name, _ in attrs)

    Reader().feed(page)
    assert "script" not in tags and "h1" in tags and "&lt;script&gt;" in page
    check_shown(page)


def test_words_are_shown_line_by_line():
    assert shown("one\n\ttwo\x1b[2J\r\u202e") == "one\n\ttwo\\x1b[2J\\r\\u202e"
    assert shown("fermé ♭ 日本") == "fermé ♭ 日本"


@pytest.mark.parametrize("words", [*STEERING, *PAYLOADS])
def test_a_song_with_harm_in_it_is_read_as_words_or_not_at_all(words):
    """A title, a name of a section, a chord, a comment, a note: as they stand, or a fault."""
    text = escaped(words)
    for chart in (
        f'title = "{text}"\nkey = "C"\nmeter = "4/4"\n[section.A]\nbars = "C"\n',
        f'title = "T"\nkey = "{text}"\nmeter = "4/4"\n[section."{text}"]\nbars = "C {text}"\n',
        f'title = "T"\nkey = "C"\nmeter = "4/4"\nform = "{text}"\n[section.A]\nbars = "C"\nmelody = "{text}"\n# {words}\n',
        f'title = "T"\nkey = "C"\nmeter = "4/4"\n[section.A]\nbars = "C"\n{LESSON.format(text)}[shells]\n"A.1.1{text}" = "{text}"\n',
    ):
        try:
            song = parse_chart(chart)
        except ChartError as error:
            assert isinstance(error, CompanionError) and all(map(is_all_shown, str(error).split("\n")))
        else:
            assert song.title == words.strip() and is_all_shown(song.title)
