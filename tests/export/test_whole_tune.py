"""Arrangements on paper and as MusicXML: every note of both hands read back by music21 and by partitura."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

import music21
import pytest
from export.readers import Note, by_mido, by_music21, by_partitura, near
from export.test_musicxml import assert_valid

from companion.arranging.choice import KINDS, ArrangementChoice
from companion.arranging.model import ArrangedBar, ArrangedStroke
from companion.chart.reader import parse_chart
from companion.export.formats import export
from companion.export.midi import midi_bytes
from companion.export.musicxml import musicxml_text
from companion.export.notation import Span
from companion.export.options import ExportOptions
from companion.export.score import MoreVoice, Score, ScoreBar, score_of
from companion.export.whole_tune import is_arranged, whole_tune
from companion.export.written_out import voices
from companion.session.arranged import arranged, intro_bars
from companion.session.stand import Stand
from companion.theory.key import Key
from companion.theory.meter import Meter

etree = pytest.importorskip("lxml.etree")

WHOLE = ArrangementChoice(voices=3, intro="vamp", ending="tag")


def sounding(bars: Iterable[ArrangedBar]) -> list[Note]:
    """Every key that goes down, from the arrangement alone. A pickup lies before the first bar line that follows it."""
    notes, start = [], 0
    bars = list(bars)
    for bar in bars:
        for staff, strokes in ((1, bar.right), (2, bar.left)):
            for stroke in strokes:
                for key in stroke.keys:
                    is_inner = stroke.inner_ticks is not None and key != stroke.keys[-1]
                    ticks = stroke.inner_ticks if is_inner else stroke.ticks
                    notes.append(((start + stroke.tick) / 960, ticks / 960, key, staff))
        if bar.bar:
            start += bar.meter.bar_ticks
    return notes


def shifted(notes: list[Note], quarters: float) -> list[Note]:
    return [(onset + quarters, *rest) for onset, *rest in notes]


@pytest.mark.xdist_group("music21")
def test_every_note_comes_back(on_stand, musicxml_schema, tmp_path) -> None:
    """Four voices and the blues ending, each shell once and in a pattern; whole tunes with ornaments: test_read_back.py."""
    stand = on_stand("left-sock-blues").change(arranged=replace(WHOLE, ending="blues", voices=4))
    for pattern in ("whole", "charleston"):
        played = stand.change(pattern=pattern)
        text = musicxml_text(whole_tune(played, written_pattern=pattern != "whole"))
        assert_valid(musicxml_schema, text)
        said = near(sounding(arranged(played)))
        assert near(by_music21(text)) == said
        assert near(by_partitura(text, tmp_path / "x.musicxml")) == said


def test_what_stands_beside_the_notes(on_stand) -> None:
    stand = on_stand("half-a-word-before").change(arranged=WHOLE)
    score = whole_tune(stand)
    assert [bar.section for bar in score.bars if bar.section] == ["Intro", *stand.song.form, "Ending"]
    assert [bar.number for bar in score.bars][:5] == [0, 0, 0, 0, 1] and score.bars[-1].number == len(score.bars) - 4
    assert sum(bar.words == "rit." for bar in score.bars) == 1
    tempi = [bar.tempo_bpm for bar in score.bars if bar.tempo_bpm is not None]
    assert tempi[0] == stand.tempo_bpm > tempi[-1] and tempi == sorted(tempi, reverse=True)
    loop = whole_tune(stand.with_loop(range(2, 4), "bars 3 to 4"))
    assert [bar.number for bar in loop.bars] == [3, 4]


def test_a_tune_with_its_pickup_and_no_introduction_begins_with_it(on_stand, musicxml_schema, tmp_path) -> None:
    stand = on_stand("half-a-word-before").change(arranged=ArrangementChoice(voices=2), pattern="whole")
    text = musicxml_text(whole_tune(stand))
    assert_valid(musicxml_schema, text)
    pickup = float(stand.song.pickup)
    assert near(by_music21(text)) == near(shifted(sounding(arranged(stand)), pickup))


def test_only_what_was_chosen_makes_an_arrangement(on_stand, settings, tmp_path) -> None:
    stand = on_stand("two-spoons")
    assert not is_arranged(stand) and not is_arranged(stand.change(arranged=ArrangementChoice(seed=7)))
    for choice in (ArrangementChoice(voices=2), ArrangementChoice(intro="vamp"), ArrangementChoice(ending="held")):
        assert is_arranged(stand.change(arranged=choice))
    (path,) = export(stand.change(arranged=WHOLE), tmp_path / "x.musicxml", ExportOptions(), settings)
    assert "Intro" in path.read_text(encoding="utf-8")


# --- graces and tremolos, from strokes made up


def struck(tick: int, ticks: int, names: str, fingers: str = "", **more) -> ArrangedStroke:
    pitches = tuple(names.split())
    keys = tuple(music21.pitch.Pitch(name).midi for name in pitches)
    return ArrangedStroke(tick, ticks, keys, pitches, tuple(map(int, fingers.split())), **more)


BAR = 4 * 960
GRACE = 120
STROKES = [
    # a quarter shortened by the grace that takes its time, the note it leads to on 2 with company that ends before it
    struck(0, 960 - GRACE, "C5", "3", melody=72),
    struck(960 - GRACE, GRACE, "D#5", "2", ornament="slide"),
    struck(960, 2880, "C5 G5 E6", "1 2 5", melody=88, inner_ticks=1920),
    # a tremolo of a whole bar, sixteen strokes, over the bar line
    *(
        struck(
            BAR + 240 * number,
            240,
            "C5 E6" if number % 2 == 0 else "E5 G5",
            "1 5" if number % 2 == 0 else "2 3",
            ornament="tremolo",
        )
        for number in range(16)
    ),
]
LEFT = [struck(0, 2 * BAR, "C3 E3", "5 3")]


@pytest.fixture(scope="session")
def ornamented() -> Score:
    lines = [0, BAR, 2 * BAR]
    right, left = voices(STROKES, lines, fingers=True), voices(LEFT, lines, fingers=True)
    key, meter = Key.parse("C"), Meter(4, 4)
    bars = tuple(
        ScoreBar(
            number + 1, meter, key, "", False, (), left[0][number], right[0][number],
            more=tuple(MoreVoice("right", voice[number]) for voice in right[1:] if voice[number]),
        )
        for number in range(2)
    )  # fmt: skip
    return Score("Ornaments", key, 100, "straight", bars)


def test_a_grace_gives_its_time_back_and_a_tremolo_is_one_sign(ornamented) -> None:
    first, second = ornamented.bars
    spans = [(float(span.start), float(span.length)) for span in first.melody]
    assert spans == [(0, 1), (1, 3)]
    assert [str(pitch) for grace in first.melody[1].what.graces for pitch in grace.pitches] == ["D#5"]
    inner = [span for span in first.more[0].spans if span.what != "blank"]
    assert [(float(span.start), float(span.length)) for span in inner] == [(1, 2)]
    assert [(float(span.length), span.what.second is not None) for span in second.melody] == [(4, True)]
    assert isinstance(first.left[0], Span) and first.left[0].what.goes_on and second.left[0].what.from_before


@pytest.mark.xdist_group("music21")
def test_readers_know_graces_and_tremolos(ornamented, musicxml_schema, tmp_path) -> None:
    """MusicXML 4.0: <grace slash="yes"/>, no duration; <tremolo type="start"> and "stop", each chord with the value of the whole in the time of half of it."""
    text = musicxml_text(ornamented)
    root = assert_valid(musicxml_schema, text)
    (grace,) = root.findall("part/measure/note/grace/..")
    assert grace.find("grace").get("slash") == "yes" and grace.find("duration") is None
    assert (
        grace.findtext("pitch/step") + grace.findtext("pitch/octave") == "D5"
        and grace.findtext("accidental") == "sharp"
    )
    halves = root.findall("part/measure/note/notations/ornaments/tremolo")
    assert [(half.get("type"), half.text) for half in halves] == [("start", "3"), ("stop", "3")]
    score = music21.converter.parse(text, format="musicxml", forceSource=True)
    upper = list(score.parts[0].flatten().notes)
    (small,) = [note for note in upper if note.duration.isGrace]
    assert small.pitch.midi == 75 and small.duration.slash
    (spanner,) = score.recurse().getElementsByClass("TremoloSpanner")
    halves = [[pitch.midi for pitch in chord.pitches] for chord in spanner.getSpannedElements()]
    assert halves == [[72, 88], [76, 79]] and spanner.numberOfMarks == 3
    assert [chord.quarterLength for chord in spanner.getSpannedElements()] == [2, 2]
    partitura = pytest.importorskip("partitura")
    (tmp_path / "x.musicxml").write_text(text, encoding="utf-8")
    part = partitura.load_musicxml(str(tmp_path / "x.musicxml"))[0]
    assert [note.midi_pitch for note in part.iter_all(partitura.score.GraceNote)] == [75]


def test_they_are_drawn(ornamented) -> None:
    pytest.importorskip("verovio")
    from companion.export.sheet import pages_of, sheet_of

    (page,) = pages_of([sheet_of(ornamented)])
    assert page.count('class="fTrem"') == 1
    heads = re.findall(
        r'href="#E0A4-\w+" transform="translate\([^)]*\) scale\(([\d.]+)', page
    )  # SMuFL 1.4: noteheadBlack
    assert sorted(heads)[0] == "0.525" and set(heads) == {"0.525", "0.7"}, "one small head among large ones"


def test_a_second_voice_gets_its_signs_in_the_order_of_time() -> None:
    """An F sharp in one voice on 1, an F natural in the other on 3: the natural is written, as for one voice (common practice)."""
    strokes = [
        struck(0, BAR, "C5", "5"),
        struck(0, 960, "F#4", "2"),
        struck(960, 960, "F#4", "2"),
        struck(1920, 1920, "F4", "2"),
    ]
    right = voices(strokes, [0, BAR], fingers=True)
    rest, more = right[0][0], (MoreVoice("right", right[1][0]),)
    bar = ScoreBar(1, Meter(4, 4), Key.parse("C"), "", False, (), rest, right[0][0], more=more)
    text = musicxml_text(Score("x", Key.parse("C"), 80, "straight", (bar,), hands="right"))
    score = music21.converter.parse(text, format="musicxml", forceSource=True)
    notes = sorted(score.flatten().notes, key=lambda note: (note.offset, note.pitch.midi))
    shown = [
        (note.pitch.nameWithOctave, bool(note.pitch.accidental and note.pitch.accidental.displayStatus))
        for note in notes
    ]
    assert shown == [("F#4", True), ("C5", False), ("F#4", False), ("F4", True)]


def test_a_note_held_over_the_bar_line_leaves_its_company_there(musicxml_schema) -> None:
    """One chord whose top alone is tied on, no second voice; fingers once; stems apart only where two voices sound."""
    strokes = [
        struck(0, 2880, "C5", "3", melody=72),
        struck(2880, 1920, "F4 D5", "1 4", melody=74, inner_ticks=960),
        struck(4800, 2880, "G4 E5", "1 5", melody=76, inner_ticks=960),
    ]
    right = voices(strokes, [0, BAR, 2 * BAR], fingers=True)
    assert len(right) == 2 and not right[1][0], "the second bar alone has two voices"
    bars = tuple(
        ScoreBar(
            number + 1, Meter(4, 4), Key.parse("C"), "", False, (), right[0][number], right[0][number],
            more=tuple(MoreVoice("right", voice[number]) for voice in right[1:] if voice[number]),
        )
        for number in range(2)
    )  # fmt: skip
    text = musicxml_text(Score("x", Key.parse("C"), 80, "straight", bars, hands="right"))
    assert_valid(musicxml_schema, text)
    read = sorted(note[:3] for note in by_music21(text))
    assert read == [(0, 3, 72), (3, 1, 65), (3, 2, 74), (5, 1, 67), (5, 3, 76)]
    notes = etree.fromstring(text.encode()).findall("part/measure/note")
    shown = [
        (note.findtext("pitch/step"), note.findtext("stem"), note.findtext("notations/technical/fingering"))
        for note in notes
        if note.find("pitch") is not None
    ]
    assert shown == [
        ("C", "down", "3"), ("F", "down", "1"), ("D", "down", "4"), ("D", "down", None), ("E", "up", "5"),
        ("E", "down", None), ("G", "down", "1"),
    ]  # fmt: skip


def test_no_chord_is_printed_once_until_a_chord_comes(settings) -> None:
    song = parse_chart(
        'title = "x"\nkey = "C"\nmeter = "4/4"\nform = "A"\n[section.A]\nbars = "N.C. | N.C. | C | N.C. | N.C."\n'
    )
    score = score_of(Stand.put(song, settings))
    for to_engrave, wanted in ((True, ["N.C.", None, "", "N.C.", None]), (False, ["N.C.", "N.C.", "", "N.C.", "N.C."])):
        root = etree.fromstring(musicxml_text(score, to_engrave=to_engrave).encode())
        kinds = [measure.find("harmony/kind") for measure in root.findall("part/measure")]
        assert [None if kind is None else kind.get("text") for kind in kinds] == wanted


def test_thirty_two_bars_with_introduction_and_ending_take_two_pages(on_stand) -> None:
    pytest.importorskip("verovio")
    from companion.export.sheet import pages_of, sheet_of

    choice = replace(WHOLE, ornaments=("fill", "walk"))
    assert len(pages_of([sheet_of(whole_tune(on_stand("ferry-at-half-past-six").change(arranged=choice)))])) == 2


def test_mido_reads_the_same_notes_of_the_midi_file(on_stand, settings) -> None:
    """12/8, straight, so that nothing is moved; a bar is counted in."""
    stand = on_stand("goose-weather").change(arranged=replace(WHOLE, ornaments=("fill", "walk")), pattern="charleston")
    read = near(by_mido(midi_bytes(stand, ExportOptions(parts=("left", "right")), settings)))
    said = near(shifted(sounding(arranged(stand)), stand.song.meter.bar_ticks / 960))
    assert [(onset, key, staff) for onset, _, key, staff in read] == [
        (onset, key, staff) for onset, _, key, staff in said
    ]
    short = [(one, other) for one, other in zip(read, said) if not other[1] - 0.1 <= one[1] <= other[1]]
    assert not short, "a hand lifts a little before it strikes the same keys again"


def test_of_several_choruses_the_last_leads_into_the_ending_and_the_others_back_to_the_first_bar(
    on_stand, settings
) -> None:
    """What the left hand plays from the last chorus on is what it plays from the only one; its walk back to the first bar is in the others alone."""
    stand = on_stand("two-spoons").change(arranged=replace(WHOLE, ornaments=("walk",)), pattern="whole")
    once, thrice = (
        [note for note in near(by_mido(midi_bytes(stand, options, settings))) if note[3] == 2]
        for options in (ExportOptions(choruses=1), ExportOptions(choruses=3))
    )
    bar = stand.song.meter.bar_ticks / 960
    form = bar * len(stand.bars)
    last_bar = once[0][0] + bar * len(intro_bars(stand)) + form - bar

    def of(notes: list[Note], since: float, until: float = 1e9) -> list[tuple[float, ...]]:
        return [(round(onset - since, 3), key) for onset, _, key, _ in notes if since <= onset < until]

    assert of(thrice, last_bar + 2 * form) == of(once, last_bar)
    back, on = of(thrice, last_bar, last_bar + bar), of(once, last_bar, last_bar + bar)
    assert back == of(thrice, last_bar + form, last_bar + form + bar) != on
    for walk, after in ((back, once[0][0] + bar * len(intro_bars(stand))), (on, last_bar + bar)):
        assert abs(walk[-1][1] - of(once, after)[0][1]) <= 2, "by step into what comes next"


@pytest.mark.xdist_group("music21")
def test_slides_and_tremolos_of_a_tune_leave_the_notes_as_they_are_written(on_stand, musicxml_schema) -> None:
    """With the graces taken out, and each tremolo read as the chord that it is, the tune is the one without them."""
    stand = on_stand("two-spoons").change(arranged=replace(WHOLE, ornaments=KINDS), pattern="whole")
    bars = arranged(stand)
    slides = [stroke for bar in bars for stroke in bar.right if stroke.ornament == "slide"]
    text = musicxml_text(whole_tune(stand))
    root = assert_valid(musicxml_schema, text)
    graces = root.findall("part/measure/note/grace/..")
    assert len(graces) == len(slides) > 3
    assert [int(grace.findtext("notations/technical/fingering")) for grace in graces] == [s.fingers[0] for s in slides]
    plain = replace(stand.arranged, ornaments=tuple(kind for kind in KINDS if kind not in ("slide", "tremolo")))
    said = near(sounding(arranged(stand.change(arranged=plain))))
    trembling = {(round(onset, 3), key) for onset, key in _plain(root)}
    read = near(by_music21(etree.tostring(root, encoding="unicode")))
    assert [(onset, key) for onset, _, key, _ in read] == [(onset, key) for onset, _, key, _ in said]
    # In a tremolo all notes are held to its end, where company may end before.
    short = [(one, other) for one, other in zip(read, said) if one != other]
    assert trembling and all((one[0], one[2]) in trembling for one, _ in short)


def _plain(root) -> list[tuple[float, int]]:
    """Take graces out, and make each tremolo one chord; returns (onset in quarters, MIDI number) of what is in one."""
    divisions, found, start = int(root.findtext("part/measure/attributes/divisions")), [], 0
    for measure in root.iter("measure"):
        at, mark = 0, ""
        for element in list(measure):
            duration = int(element.findtext("duration") or 0)
            if element.tag == "backup":
                at -= duration
            elif element.tag == "forward":
                at += duration
            elif element.find("grace") is not None:
                measure.remove(element)
            elif element.tag == "note":
                tremolo = element.find("notations/ornaments/tremolo")
                mark = mark if element.find("chord") is not None else "" if tremolo is None else tremolo.get("type")
                at += 0 if element.find("chord") is not None else duration
                if mark:
                    onset = at - duration * (2 if mark == "stop" else 1)
                    pitch = element.findtext("pitch/step") + (element.findtext("pitch/octave") or "")
                    found.append(
                        (
                            (start + onset) / divisions,
                            music21.pitch.Pitch(pitch).midi + int(element.findtext("pitch/alter") or 0),
                        )
                    )
                    element.find("duration").text = str(2 * duration)
                    element.remove(element.find("time-modification"))
                    if mark == "stop" and element.find("chord") is None:
                        element.insert(0, etree.Element("chord"))
        start += at
    return found
