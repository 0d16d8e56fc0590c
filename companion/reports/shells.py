"""The left hand of a song as text, shell by shell, with the reason for each."""

from __future__ import annotations

from companion.base.text import plural
from companion.session.stand import Stand


def shells_text(stand: Stand) -> str:
    """A head line, then a line a chord under the name of its section."""
    song, part = stand.song, stand.part
    lines = [
        f"{song.title}   {song.key}   {song.meter}   {' '.join(song.form)}",
        f"Both notes together travel {plural(part.movement, 'semitone')} in a chorus; with what breaks the upper line it costs {part.cost}.",
    ]
    if stand.room is not None and stand.room.said:
        lines.append(stand.room.said)
    for bar in stand.bars:
        if bar.bar == 1:
            lines += ["", f"{bar.section}" + (f" ({bar.occurrence})" if stand.song.form.count(bar.section) > 1 else "")]
        for number, (placed, choice) in enumerate(stand.choices_at(bar.index)):
            if choice.repeat:
                lines.append(f"     {choice.repeat}:")
            where = f"{bar.bar:>3}" if number == 0 else "   "
            symbol = placed.symbol
            shell = choice.shell
            notes = " ".join(f"{name:<4}" for name in shell.names) if shell else ""
            kind = shell.kind if shell else "rest"
            lines.append(f"{where}  {symbol:<10} {kind:<13} {notes:<10} {choice.fingers:<4} {choice.why}".rstrip())
    return "\n".join(lines)
