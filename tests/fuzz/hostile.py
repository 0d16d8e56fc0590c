"""A student's folder full of files that mean harm, and what must never come of them."""

from __future__ import annotations

import os
from pathlib import Path

from companion.base.text import is_printable

# Written to the clipboard of a terminal that obeys (OSC 52), the C1 twin of ESC [, a turn of the direction of writing (Unicode UAX 9),
# a sign without width, a bell, a title of the window (OSC 0).
CLIPBOARD = "\x1b]52;c;SEFSTQ==\x07"
STEERING = (CLIPBOARD, "\x9b31m", "\u202e", "\u200b", "\x1b[2J", "\x1b]0;harm\x07")
# The same in bytes, as far as the program never writes them by itself.
NEVER = tuple(sign.encode() for sign in (CLIPBOARD[:9], "\x1b]0;harm", "\x9b31m", "\u202e", "\u200b", "\x07"))
# Each would leave a file called "ran" if anything took it for more than words.
PAYLOADS = (
    "[@click=app.quit]click[/]", "[link=file:///etc/passwd]link[/link]", "[red]red[/]", "{0.__class__.__init__.__globals__}", "%s%n%(x)s",
    "$(touch ran)", "`touch ran`", ";touch ran;", "!!python/object/apply:os.system ['touch ran']", "__import__('os').system('touch ran')",
    "<script>touch('ran')</script>&x;\"'", "../../ran", "/etc/ran", "C:\\\\ran", "=cmd|' /C touch ran'!A0",
)  # fmt: skip
CHART = 'title = "{}"\nkey = "F"\nmeter = "4/4"\ntempo = 300\nform = "A"\n# {}\n[section.A]\nbars = "F6 | Bb7 | Gm7 C7 | F6"\n'
LESSON = (
    '[lesson]\nnote = "{0}"\n[lesson.notes]\n"A.2" = "{0}"\n[[lesson.step]]\nsection = "A"\npasses = 1\nnote = "{0}"\n'
)
MUSICXML = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0"><work><work-title>{0}</work-title></work><part-list><score-part id="P1">'
    '<part-name>{0}</part-name></score-part></part-list><part id="P1"><measure number="{0}"><attributes><divisions>1</divisions><key><fifths>0</fifths>'
    "<mode>{0}</mode></key><time><beats>4</beats><beat-type>4</beat-type></time></attributes><direction><direction-type><words>{0}</words></direction-type>"
    "</direction><direction><direction-type><rehearsal>{0}</rehearsal></direction-type></direction><harmony><root><root-step>C</root-step></root>"
    '<kind text="{0}">other</kind></harmony><note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration><lyric><text>{0}</text></lyric></note>'
    "</measure></part></score-partwise>"
)
ABC = 'X:1\nT:{0}\nC:{0}\nM:{0}\nM:4/4\nL:1/4\nQ:{0}\nP:{0}\nK:C\n"C"C4|"{0}"D4|"^{0}"!{1}!E4|\nw: {0}\n'


def escaped(text: str) -> str:
    """For between TOML's quotes."""
    signs = {"\\": "\\\\", '"': '\\"'}
    return "".join(signs.get(sign) or (sign if is_printable(sign) else f"\\U{ord(sign):08X}") for sign in text)


def songs(folder: Path) -> None:
    """Good songs with harm in their words, songs with harm in their names, and what is no song at all."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, words in enumerate(PAYLOADS):
        chart = CHART.format(escaped(words), words) + LESSON.format(escaped(words))
        (folder / f"words-{number}.toml").write_text(chart, encoding="utf-8")
    for number, sign in enumerate(STEERING):
        good = CHART.format(f"Named {number}", "")
        (folder / f"name{sign}.toml").write_text(good, encoding="utf-8")
        (folder / f"title-{number}.toml").write_text(CHART.format(escaped(sign), ""), encoding="utf-8")
        (folder / f"raw-{number}.toml").write_text(CHART.format(sign, sign), encoding="utf-8")
        odd = "".join(f'"{escaped(sign)}{place}" = "{escaped(sign)}"\n' for place in range(3))
        (folder / f"key-{number}.toml").write_text(
            odd + good.replace("Bb7", f"B{sign}7").replace("[section.A]", f'["section"."A{escaped(sign)}"]')
        )
    (folder / "[@click=app.quit]name[\x1b[2J].toml").write_text("title = 1", encoding="utf-8")
    (folder / "[@click=app.quit]name[.toml").write_text("title = 1", encoding="utf-8")
    (folder / "[link='x']name[.toml").write_text(CHART.format("Named in brackets", ""), encoding="utf-8")
    (folder / "two\nlines.toml").write_text(CHART.format("Two Lines", ""), encoding="utf-8")
    with open(os.fsencode(folder) + b"/no-\xff-text.toml", "w") as file:  # a name that is no UTF-8
        file.write(CHART.format("No Text", ""))
    os.mkfifo(folder / "pipe.toml")
    (folder / "zero.toml").symlink_to("/dev/zero")
    (folder / "nowhere.toml").symlink_to("/etc/ran.toml")
    (folder / "round.toml").symlink_to("round.toml")
    (folder / "folder.toml").mkdir()
    with (folder / "huge.toml").open("wb") as file:
        file.truncate(10_000_000_000)  # takes no place on the disk
