"""The commands as a student calls them, a few of them in processes of their own."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from cli.calls import companion


def process(*arguments: str, code: int = 0) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(
        [sys.executable, "-c", "import sys; from companion.cli.main import main; sys.exit(main())", *arguments],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == code, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    return done


def test_a_process_answers_with_words_and_a_code() -> None:
    """The same words as in the tests' own process."""
    said = process("songs", "--json")
    assert not said.stderr and said.stdout == companion("songs", "--json").stdout
    fault = process("shells", "no such song at all", code=1)
    assert not fault.stdout and fault.stderr == companion("shells", "no such song at all", code=1).stderr


def test_version_and_help_answer() -> None:
    assert companion("--version").stdout.startswith("companion 0.")
    words = companion("--help").stdout
    for command in ("songs", "check", "shells", "play", "devices", "where"):
        assert command in words
        assert "usage: companion " + command in companion(command, "--help").stdout


def test_version_imports_nothing_heavy() -> None:
    program = (
        "import sys; from companion.cli.main import main\n"
        "try: main(['--version'])\n"
        "except SystemExit: pass\n"
        "print([m for m in ('textual','mido','rtmidi','numpy','sqlite3','miniaudio','companion.theory') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_songs_are_listed_for_people_and_programs() -> None:
    rows = json.loads(companion("songs", "--json").stdout)
    assert len(rows) >= 12
    assert set(rows[0]) == {
        *("id", "title", "key", "meter", "tempo", "feel", "form", "bars"),
        *("changes_a_minute", "shells", "start_here"),
    }
    text = companion("songs").stdout
    assert all(row["title"] in text and row["id"] in text for row in rows)
    assert [row["id"] for row in rows if row["start_here"]] == [rows[0]["id"]], (
        "the easiest, and nothing was played yet"
    )
    assert "changes a minute, " in text.splitlines()[0] and text.splitlines()[0].endswith("start here")
    porridge = next(row for row in rows if row["id"] == "porridge-and-brass")
    # Counted by hand: 9 changes in twelve bars of four at 112, the way back included; three dominants, one shell each.
    assert (porridge["changes_a_minute"], porridge["shells"]) == (round(9 / (48 / 112), 3), 3)


def test_songs_come_in_the_order_that_is_wanted(companion_home) -> None:
    def order_of(*arguments: str) -> list[str]:
        return [row["id"] for row in json.loads(companion("songs", "--json", *arguments).stdout)]

    by_title = order_of("--order", "title")
    assert by_title == sorted(by_title) and set(by_title) == set(order_of())
    tempos = [row["tempo"] for row in json.loads(companion("songs", "--json", "--order", "tempo").stdout)]
    assert tempos == sorted(tempos)
    assert order_of() != by_title
    settings = companion_home / "config" / "settings.toml"
    settings.parent.mkdir(parents=True, exist_ok=True)
    settings.write_text('[screen]\nsong_order = "title"\n', encoding="utf-8")
    assert order_of() == by_title, "the order that is kept"


def test_where_prints_paths(companion_home) -> None:
    assert str(companion_home) in companion("where").stdout


def test_devices_names_the_library_of_the_system_that_is_missing(tmp_path, monkeypatch) -> None:
    """A MIDI library that is installed but cannot be loaded (glibc's own words, dlerror(3)) is not one that is not installed."""
    words = "libasound.so.2: cannot open shared object file: No such file or directory"
    for name in ("rtmidi", "rtmidi2"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "__init__.py").write_text(f"raise ImportError({words!r})\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    said = process("devices").stdout
    assert said.count("the MIDI library rtmidi cannot be loaded, as the system's libasound.so.2 is missing") == 2
    assert "is installed" not in said


def test_check_names_every_fault_of_every_file(tmp_path) -> None:
    first, second = tmp_path / "first.toml", tmp_path / "second.toml"
    head = 'title = "T"\nkey = "C"\nmeter = "4/4"\ntempo = 100\nfeel = "swing"\nform = "A"\n[section.A]\n'
    first.write_text(head + 'bars = """\nC6 | Hm7 |\nDm7 | G7:3 |\n"""\n')
    second.write_text(head + 'bars = "C6 | G7"\n')
    done = companion("check", str(first), str(second), str(tmp_path / "none.toml"), code=1)
    assert f"{first}:9" in done.stderr and "bar 2" in done.stderr and "Hm7" in done.stderr
    assert f"{first}:10" in done.stderr and "bar 4" in done.stderr
    assert "none.toml" in done.stderr
    assert f"{second}: good" in done.stdout


def test_one_bar_is_a_bar(companion_home) -> None:
    folder = companion_home / "songs"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "one.toml").write_text(
        'title = "One"\nkey = "C"\nmeter = "4/4"\ntempo = 100\nfeel = "swing"\nform = "A"\n[section.A]\nbars = "C6"\n'
    )
    assert companion("check", str(folder)).stdout.rstrip().endswith(", 1 bar")
    assert "   1 bar   one " in companion("songs").stdout


def test_check_says_where_a_folder_holds_no_chart(tmp_path) -> None:
    assert "no chart file" in companion("check", str(tmp_path), code=1).stderr


def test_check_finds_the_shipped_songs_good() -> None:
    from companion.store.paths import shipped_folder

    companion("check", str(shipped_folder() / "songs"))


def shells(*arguments: str) -> dict:
    return json.loads(companion("shells", *arguments, "--json").stdout)


def test_shells_of_a_line() -> None:
    part = shells("--chords", "Dm7 | G7 | Cmaj7 | A7")
    chords = part["chords"]
    assert [chord["symbol"] for chord in chords] == ["Dm7", "G7", "Cmaj7", "A7"]
    assert {chord["bar"] for chord in chords} == {1, 2, 3, 4}
    for chord in chords:
        assert [chord["shell"], *chord["midi"]] in chord["options"]
        assert len(chord["notes"]) == 2 and chord["why"] and chord["fingers"]
    path = [chord["midi"] for chord in chords]
    moved = sum(abs(a - b) for x, y in zip(path, path[1:] + path[:1], strict=True) for a, b in zip(x, y, strict=True))
    assert part["movement"] == moved


def test_shells_obey_the_hand_and_the_key() -> None:
    part = shells(
        "--chords", "Dm7 G7 | Cmaj7", "--key", "Eb", "--low", "F2", "--high-root", "G3", "--high", "D4", "--reach", "10"
    )
    assert [chord["symbol"] for chord in part["chords"]] == ["Ebm7", "Ab7", "Dbmaj7"], "the line is in D minor"
    for chord in part["chords"]:
        for _, low, high in chord["options"]:
            assert 41 <= low <= 55 and high <= 62 and high - low <= 10


def test_shells_of_a_song_are_readable() -> None:
    text = companion("shells", "ferry-at-half-past-six").stdout
    assert "Ferry at Half Past Six" in text and "root-" in text and "semitones" in text


@pytest.mark.parametrize(
    ("arguments", "words", "code"),
    [
        (("shells", "--chords", "Xq7 | G7"), "Xq7", 1),
        (("shells", "--chords", ""), "bar", 1),
        (("shells", "no such song at all"), "no song", 1),
        (("shells",), "SONG", 1),
        (("shells", "ferry-at-half-past-six", "--chords", "C6"), "SONG", 1),
        (("shells", "--chords", "C6", "--low", "C5"), "root", 1),
        (("shells", "--chords", "C6", "--low", "Q"), "pitch", 2),
        (("shells", "--chords", "C6", "--reach", "99"), "3 to 19", 2),
        (("shells", "--chords", "C6", "--key", "Q"), "key", 2),
        (("dance",), "dance", 2),
        (("check", "/dev/null/x"), "/dev/null/x", 1),
    ],
)
def test_nonsense_gets_one_clear_sentence_and_a_code(arguments, words, code) -> None:
    assert words in companion(*arguments, code=code).stderr
