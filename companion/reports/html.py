"""The report as one HTML page that needs nothing else: no script, no font, no picture from elsewhere. Plots are inline
SVG."""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence
from datetime import date

from companion.base.text import plural, shown
from companion.practice.planning.lessons import step_words
from companion.practice.planning.progress import SongProgress
from companion.reports.chart import chart_rows, is_told, legend, symbols
from companion.reports.plots import WEEKS_SHOWN, day_words, days_shown, one_day_words, target_words
from companion.reports.report import NAMES_HEAD, HandReport, Report, recent_days, steps_head

_STYLE = """
body { font: 16px/1.5 Georgia, serif; max-width: 46rem; margin: 2rem auto; padding: 0 1rem;
  color: #222; background: #fff }
h1 { font-size: 1.6rem; margin-bottom: 0 } h2 { font-size: 1.35rem; margin: 2.4rem 0 0 }
h3 { font-size: 1.15rem; margin: 1.8rem 0 .4rem }
table { border-collapse: collapse; width: 100% }
th, td { text-align: left; padding: .2rem .6rem .2rem 0; vertical-align: top }
th { font-weight: normal; color: #666; border-bottom: 1px solid #ccc } td.n, th.n { text-align: right }
svg { width: 100%; height: auto } svg text { font: 12px sans-serif; fill: #444 }
.note { color: #555; font-style: italic }
.chart { table-layout: fixed } .chart th { border: 0; width: 1.6rem } .chart b { font-size: 1.05rem }
.chart td { border-left: 1px solid #999; padding: .3rem 0 .3rem .4rem; font-size: .8rem }
.chart td:last-child { border-right: 1px solid #999 } .chart span.told { white-space: nowrap }
@media print { body { margin: 0; padding: 0; font-size: 13px } .chart td { font-size: 10px } h3, tr, svg { break-after: avoid; break-inside: avoid } }
"""
# In each shape itself, not in the style above: what prints or mails a page may not apply that inside a picture.
_BLUE, _GREY, _AXIS = 'fill="#1b5e7a"', 'fill="#e6e6e6"', 'stroke="#999"'
_LINE, _TARGET, _AHEAD = 'fill="none" stroke="#1b5e7a" stroke-width="2"', 'stroke="#a33"', ' stroke-dasharray="4 4"'
_WIDTH, _HEIGHT, _LEFT, _BOTTOM, _TOP = 640, 220, 44, 24, 12


def report_html(report: Report) -> str:
    """The page, as text to be saved in UTF-8."""
    song = report.song
    parts = [
        f"<h1>{escape(song.title)}</h1>",
        f"<p>{escape(str(song.key))}, {escape(str(song.meter))}, {song.tempo_bpm:g} a minute. "
        f"Practice report of {escape(report.day_words)}.</p>",
    ]
    for hand in report.hands:
        parts += ([f"<h2>{hand.words}</h2>"] if len(report.hands) > 1 else []) + _hand_parts(hand)
    parts.append(_headed("Chords in root position", _list(report.chords)))
    parts.append(_headed(NAMES_HEAD, _list(report.names)))
    parts.append(_headed(steps_head(report), _steps(report)))
    body = "\n".join(filter(None, parts))
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(song.title)}: practice report</title>\n<style>{_STYLE}</style>\n</head>\n"
        f"<body>\n{body}\n</body>\n</html>\n"
    )


def _hand_parts(hand: HandReport) -> list[str]:
    progress = hand.progress
    days = _table(("day", "minutes", "passes", "clean", "fastest clean"), recent_days(progress))
    return [
        _paragraph([hand.standing, *progress.news]),
        _headed("Bar by bar", _chart(progress)),
        _headed("Tempo", tempo_svg(progress)),
        _headed("Minutes a day", minutes_svg(progress)),
        _headed("Sections", _sections(progress)),
        _headed("From symbols", _list(progress.from_symbols)),
        _headed("Does the left hand run by itself", _list(progress.by_itself)),
        _headed("From memory in other keys", _list(progress.in_other_keys)),
        _headed("Costliest changes", _list(change.words for change in progress.changes)),
        _headed("Bars that slipped", _list(bar.words for bar in progress.weak_bars)),
        _headed("How it was practised", _paragraph(hand.how)),
        _headed("The last two weeks", days),
    ]


def escape(text: str) -> str:
    """A text for between tags or quotes: no markup, and nothing that steers."""
    return html.escape(shown(text))


# --- plots


def tempo_svg(progress: SongProgress) -> str:
    """The fastest clean pass of each day against the target; "" where none is known."""
    days = [(date.fromisoformat(day.day), day.best_bpm) for day in progress.days if day.best_bpm is not None]
    if not days:
        return ""
    if len(days) == 1:
        day, bpm = days[0]
        return _paragraph([f"{bpm:.0f} on {day_words(day)}, the fastest clean pass; {target_words(progress)}."])
    first, last = days[0][0], max(progress.today, days[-1][0])
    tempi = [bpm for _, bpm in days] + [progress.target_bpm]
    low, high = 10 * (min(tempi) // 10) - 10, 10 * (max(tempi) // 10) + 20

    def x(day: date) -> float:
        return _LEFT + (day - first).days / (last - first).days * (_WIDTH - _LEFT - 14)

    def y(bpm: float) -> float:
        return _TOP + (high - bpm) / (high - low) * (_HEIGHT - _BOTTOM - _TOP)

    points = [(x(day), y(bpm)) for day, bpm in days]
    line = " ".join(f"{across:.1f},{down:.1f}" for across, down in points)
    dots = "".join(
        f'<circle {_BLUE} cx="{across:.1f}" cy="{down:.1f}" r="4"><title>{day.isoformat()}: {bpm:.0f}</title></circle>'
        for (across, down), (day, bpm) in zip(points, days)
    )
    target = y(progress.target_bpm)
    kind = _TARGET if progress.passed_on else _TARGET + _AHEAD
    return _svg(
        f"Fastest clean pass of each day, {first.isoformat()} to {last.isoformat()}",
        _axes(first, last, ((low, y(low)), (high, y(high))))
        + f'<line {kind} x1="{_LEFT}" y1="{target:.1f}" x2="{_WIDTH}" y2="{target:.1f}"/>'
        + f'<text x="{_LEFT + 6}" y="{target - 5:.1f}">{escape(target_words(progress))}</text>'
        + f'<polyline {_LINE} points="{line}"/>{dots}',
    )


def minutes_svg(progress: SongProgress) -> str:
    """A bar a day over the last weeks; "" where nothing was played in them."""
    if len(progress.days) == 1:
        return _paragraph([one_day_words(progress)])
    shown = days_shown(progress, 7 * WEEKS_SHOWN)
    minutes = {day.day: day.seconds / 60 for day in progress.days}
    values = [(day, minutes[day.isoformat()]) for day in shown if day.isoformat() in minutes]
    if not values:
        return ""
    most = max(value for _, value in values)
    room = _HEIGHT - _BOTTOM - _TOP
    step = (_WIDTH - _LEFT) / len(shown)
    bars = "".join(
        f'<rect {_BLUE} x="{_LEFT + shown.index(day) * step + 1:.1f}" y="{_TOP + room * (1 - value / most):.1f}" '
        f'width="{step - 2:.1f}" height="{room * value / most:.1f}">'
        f"<title>{day.isoformat()}: {plural(round(value), 'minute')}</title></rect>"
        for day, value in values
    )
    return _svg(
        f"Minutes a day, {shown[0].isoformat()} to {shown[-1].isoformat()}",
        _axes(shown[0], shown[-1], ((0, _HEIGHT - _BOTTOM), (most, _TOP))) + bars,
    )


def _axes(first: date, last: date, marks: Iterable[tuple[float, float]]) -> str:
    floor = _HEIGHT - _BOTTOM
    figures = "".join(
        f'<text x="{_LEFT - 6}" y="{down + 4:.1f}" text-anchor="end">{value:.0f}</text>' for value, down in marks
    )
    return (
        f'<line {_AXIS} x1="{_LEFT}" y1="{floor}" x2="{_WIDTH}" y2="{floor}"/>{figures}'
        f'<text x="{_LEFT}" y="{_HEIGHT - 6}">{first.day} {first:%b}</text>'
        f'<text x="{_WIDTH}" y="{_HEIGHT - 6}" text-anchor="end">{last.day} {last:%b}</text>'
    )


def _svg(words: str, inside: str) -> str:
    return f'<svg viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" aria-label="{escape(words)}">{inside}</svg>'


# --- the chart


def _chart(progress: SongProgress) -> str:
    """Four bars a row, what is known of each below its chords, in signs and figures."""
    if not is_told(progress):
        return ""
    rows = []
    section = None
    for row in chart_rows(progress.chart, full="■", empty="□"):
        name = "" if row.section == section else row.section
        section = row.section
        cells = "".join(
            f'<td><span class="note">{bar.bar}</span> <b>{escape(symbols(bar))}</b>'
            + "".join(
                f'<br><span class="told">{what} {words[number]}</span>'
                for what, words in row.figures.items()
                if words[number]
            )
            + "</td>"
            for number, bar in enumerate(row.bars)
        )
        rows.append(f"<tr><th>{escape(name)}</th>{cells}</tr>")
    return f'<table class="chart">{"".join(rows)}</table>{_paragraph(legend(progress))}'


# --- text


def _sections(progress: SongProgress) -> str:
    rows = [
        f"<tr><td>{escape(section.section)}</td><td>{_strength_bar(section.strength)}</td>"
        f"<td>{escape(section.words)}</td>"
        f'<td class="n">{_percent(section.hand)}</td><td class="n">{_percent(section.memory)}</td></tr>'
        for section in progress.sections
    ]
    head = (
        '<tr><th>section</th><th></th><th></th><th class="n">right lately</th><th class="n">chance of recall</th></tr>'
    )
    return f"<table>{head}{''.join(rows)}</table>"


def _strength_bar(strength: float | None) -> str:
    return (
        f'<svg viewBox="0 0 200 12" style="width: 12rem" role="img" aria-label="{_percent(strength) or "unknown"}">'
        f'<rect {_GREY} width="200" height="12"/>'
        f'<rect {_BLUE} width="{200 * (strength or 0):.0f}" height="12"/></svg>'
    )


def _steps(report: Report) -> str:
    rows = "".join(
        f"<tr><td>{'☑' if state.done else '☐'}</td><td>{state.number}.</td>"
        f"<td>{escape(step_words(state.step, report.song))}{_note(state.step.note)}</td>"
        f'<td class="n">{state.clean} of {state.step.passes}</td></tr>'
        for state in report.steps
    )
    return f'<table><tr><th></th><th></th><th>step</th><th class="n">clean passes</th></tr>{rows}</table>'


def _note(text: str) -> str:
    return f'<br><span class="note">{escape(text)}</span>' if text else ""


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    rows = list(rows)
    if not rows:
        return ""
    lines = [_row("th", head), *(_row("td", row) for row in rows)]
    return f"<table>{''.join(lines)}</table>"


def _row(tag: str, cells: Sequence[str]) -> str:
    """A row whose first cell is text and the others figures."""
    first, *others = (escape(cell) for cell in cells)
    return f"<tr><{tag}>{first}</{tag}>" + "".join(f'<{tag} class="n">{cell}</{tag}>' for cell in others) + "</tr>"


def _list(items: Iterable[str]) -> str:
    lines = "".join(f"<li>{escape(item)}</li>" for item in items)
    return f"<ul>{lines}</ul>" if lines else ""


def _paragraph(sentences: Sequence[str]) -> str:
    return f"<p>{escape(' '.join(sentences))}</p>"


def _headed(head: str, text: str) -> str:
    return f"<h3>{escape(head)}</h3>\n{text}" if text else ""


def _percent(share: float | None) -> str:
    return "" if share is None else f"{100 * share:.0f} %"
