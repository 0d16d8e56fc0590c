"""What README promises works: its commands run, and CI calls its very test command."""

from __future__ import annotations

import io
import re
import shlex
import subprocess
import sys
import tomllib
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
import soundfile
import strings_made
from desk import Desk, play

from companion.chart.reader import read_chart
from companion.cli.main import main
from companion.practice.model import Expected
from companion.session.drill import DrillSettings, new_drill
from companion.session.practice import Practice
from companion.session.stand import Stand
from companion.sound.messages import BeatReport
from companion.store.log.practice_log import PracticeLog
from companion.tui.draw.drill import draw_summary, summary_lines
from companion.tui.draw.view import View
from companion.tui.keymap import Keymap
from companion.tui.widgets.foot import foot_row
from companion.tui.widgets.stand_parts import rows_of_parts, stand_parts

REPOSITORY = Path(__file__).parent.parent
README = (REPOSITORY / "README.md").read_text(encoding="utf-8")


def commands() -> list[str]:
    """The indented lines that call the companion, without the words after them."""
    lines = [line.strip() for line in README.splitlines() if line.startswith("    companion")]
    return [re.split(r"\s{2,}", line)[0] for line in lines]


def section(title: str) -> str:
    return README.split(f"## {title}\n")[1].split("\n## ")[0]


def test_ci_calls_the_very_test_command() -> None:
    [command] = [line.strip() for line in section("Tests").splitlines() if line.startswith("    ")]
    assert command.startswith("python3 -m venv .venv && ")
    assert command in (REPOSITORY / ".ci" / "run").read_text(encoding="utf-8")


def test_readme_has_commands() -> None:
    assert len(commands()) >= 7


@pytest.mark.parametrize("command", commands())
def test_every_command_in_readme_runs(command: str, tmp_path: Path, monkeypatch, capsys) -> None:
    (tmp_path / "my-tune.toml").write_text(example_chart(), encoding="utf-8")
    arguments = shlex.split(command)[1:]
    if "my-sheet.musicxml" in arguments:
        run(tmp_path, "export", "my-tune.toml", "my-sheet.musicxml")
    (tmp_path / "my-book.abc").write_text(
        "".join(f'X:{number}\nT:Tune {number}\nK:F\n|"F"F4|\n\n' for number in (1, 2, 3))
    )
    if "my-take.mid" in arguments:
        run(tmp_path, "export", "my-tune.toml", "my-take.mid", "--parts", "left")
    if "my-both-hands.mid" in arguments:
        run(tmp_path, "export", "two-spoons", "my-both-hands.mid", "--parts", "left,melody")
    if "my-scale.wav" in arguments:
        soundfile.write(tmp_path / "my-scale.wav", strings_made.scale(), strings_made.RATE)
    if "from-my-student.zip" in arguments:
        run(tmp_path, "send", "my-tune.toml", "from-my-student.zip")
    if arguments and arguments[0] == "practise":  # nobody types, so it leaves; without this machine's devices
        arguments += ["--sound", "silent"]
    if arguments and arguments[0] == "play":  # quicker, and without this machine's devices
        arguments += ["--tempo", "400", "--count-in", "0", "--sound", "silent"]
    if "--choruses" in arguments:
        arguments += ["--choruses", "1"]
    if "--keys" in arguments:  # one bar in each
        arguments += ["--loop", "2-2"]
    if arguments[:1] == ["export"] and {each[-4:] for each in arguments} & {
        ".mp3",
        ".wav",
    }:  # minutes of sound are not needed
        arguments += ["--loop", "1-4", "--choruses", "2"]
    if not arguments or arguments[0] in ("play", "practise", "devices"):  # they start processes or open ports
        assert run(tmp_path, *arguments)
        return
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    try:
        code = main(arguments)
    except SystemExit as left:  # as `--help` does
        code = left.code
    told = capsys.readouterr()
    assert not code and told.out, told.err


def run(folder: Path, *arguments: str) -> str:
    """What the companion prints."""
    program = "import sys; from companion.cli.main import main\nif __name__ == '__main__': sys.exit(main())"
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        cwd=folder,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def example_chart() -> str:
    """The example under "Your own songs"."""
    lines = section("Your own songs").split("### ")[0].splitlines()
    first = next(number for number, line in enumerate(lines) if line.startswith("    title"))
    last = max(number for number, line in enumerate(lines) if line.startswith("    "))
    return "\n".join(line.removeprefix("    ") for line in lines[first : last + 1])


def test_the_example_lesson_fits_the_example_song() -> None:
    from companion.chart.reader import parse_chart

    lines = section("Your own songs").split("### For teachers")[1].splitlines()
    lesson = "\n".join(line.removeprefix("    ") for line in lines if line.startswith("    "))
    song = parse_chart(example_chart() + "\n" + lesson)
    assert song.lesson.notes_at("B", 3) and song.lesson.steps[0].listen and song.lesson.steps[1].passes == 3


def test_the_example_settings_are_settings(paths) -> None:
    from companion.store.settings import load_settings

    block = "\n".join(line.strip() for line in section("Your hand").splitlines() if line.startswith("    "))
    assert tomllib.loads(block)
    paths.settings.parent.mkdir(parents=True)
    paths.settings.write_text(block, encoding="utf-8")
    assert load_settings(paths).hand.reach == 12


def on_the_stand(view: View, size: tuple[int, int] = (80, 24)) -> list[str]:
    """The lines of the stand in a window of so many columns and rows, the keys below it too."""
    rows = rows_of_parts(view, *size)
    drawn = [
        row for part in stand_parts() for row in part.draw_view(view, size[0], rows[str(part.id)]) if rows[part.id]
    ]
    return ["".join(text for text, _ in row).rstrip() for row in [*drawn, foot_row(Keymap(), "stand", size[0])]]


@pytest.fixture
def third_beat(settings) -> View:
    """The second bar of the song on its third beat."""
    song = read_chart(REPOSITORY / "songs" / "ferry-at-half-past-six.toml")
    beat = BeatReport(0.0, 0, 1, 1, 2, 4, song.tempo_bpm)
    return View(Stand.put(song, settings), playing=True, beat=beat, sound="silent")


def test_the_first_screen_is_as_the_app_draws_it(third_beat) -> None:
    assert in_readme(on_the_stand(third_beat)) in README


def in_readme(lines: list[str]) -> str:
    return "\n".join(f"    {line}".rstrip() for line in lines) + "\n"


@pytest.mark.parametrize("need", ["keyboard", "written"])
@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)
def test_both_hands_and_the_written_bars_are_as_the_app_draws_them(third_beat, size, need) -> None:
    both = replace(third_beat, stand=third_beat.stand.with_hands("both"), need=need)
    lines = on_the_stand(both, size)
    picture = in_readme(lines)
    assert len(lines) == size[1] and picture in README, picture
    assert ("left 5" in picture and "right 2" in picture) if need == "keyboard" else "▶2" in picture


def summary_after_a_pass(settings) -> list[str]:
    """What the stand draws at 80 signs after a pass in which every change comes 40 ms late, and two of them half a beat."""
    song = read_chart(REPOSITORY / "songs" / "ferry-at-half-past-six.toml")
    stand = Stand.put(song, settings)
    keyed = {"keyboard": True, "now": lambda: datetime(2026, 1, 5, 18, tzinfo=UTC)}
    with PracticeLog.in_memory() as log:
        practice = Practice(stand, new_drill(stand, "play", DrillSettings()), log, **keyed)
        desk = Desk(practice, lambda moment: hands(moment.expected))

        def hands(strike: Expected) -> list[tuple[float, int]]:
            slow = strike.group.index in (2, 19)
            late_s = (0.5 * strike.beat_s if slow else 0.04) if strike.number == 0 else 0.0
            return [(late_s, note) for note in strike.notes]

        play(desk, 1)
        result, drill = practice.result, practice.drill
    assert result is not None
    lines = summary_lines(result, drill, stand, "r")
    view = View(stand, summary=lines, sound="silent")
    drawn = draw_summary(view, 80, len(lines) + 4)
    return [line for row in drawn if (line := "".join(text for text, _ in row).rstrip())]


def test_the_summary_of_a_pass_is_as_the_app_draws_it(settings) -> None:
    for line in summary_after_a_pass(settings):
        assert f"    {line}\n" in README, line
