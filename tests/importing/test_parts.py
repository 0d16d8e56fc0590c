"""Several parts in one score, each as it sounds; scores written measure after measure.

Sources: MusicXML 4.0, <transpose> and <score-timewise>; music21 (BSD licence) turns the same parts into sounding pitches.
"""

from __future__ import annotations

from musicxml_made import DIVISIONS, Measure, Score, attributes, chorus, harmony, note, read, words

from companion.chart.melody import chorus_melody

BAR = 4 * DIVISIONS


def transpose(diatonic: int, chromatic: int, octave: int = 0) -> str:
    change = f"<octave-change>{octave}</octave-change>" if octave else ""
    return f"<transpose><diatonic>{diatonic}</diatonic><chromatic>{chromatic}</chromatic>{change}</transpose>"


def two_parts(first: Measure, second: Measure) -> str:
    """A score of two parts, one measure each."""
    part = lambda id, measure: f'<part id="{id}">{measure.xml(1)}</part>'
    whole = Score([first]).xml()
    head = whole[: whole.index("<part-list>")]
    listed = "".join(f'<score-part id="{id}"><part-name>{id}</part-name></score-part>' for id in ("P1", "P2"))
    return f"{head}<part-list>{listed}</part-list>{part('P1', first)}{part('P2', second)}</score-partwise>"


def sounding(song) -> list[str]:
    return [note.pitch.name for note in chorus_melody(song) if note.pitch]


def test_chords_of_a_piano_stay_under_the_melody_of_a_trumpet():
    trumpet = Measure(note("D5", BAR), attributes=attributes(fifths=2, more=transpose(-1, -2)))
    piano = Measure(harmony("C", "major-seventh") + note("", BAR), attributes=attributes())
    song, remarks = read(two_parts(trumpet, piano))
    assert (song.key.name, chorus(song), sounding(song)) == ("C", [["Cmaj7"]], ["C5"])
    assert any("moved from D to C" in remark for remark in remarks)


def test_chords_over_a_transposing_part_come_under_a_melody_at_pitch():
    flute = Measure(note("C5", BAR), attributes=attributes())
    alto = Measure(
        harmony("A", "dominant", bass="C#") + note("", BAR), attributes=attributes(fifths=3, more=transpose(-5, -9))
    )
    song, _ = read(two_parts(flute, alto))
    assert (song.key.name, chorus(song), sounding(song)) == ("C", [["C7/E"]], ["C5"])


def test_a_part_that_sounds_an_octave_lower_says_so():
    guitar = Measure(note("C5", BAR), attributes=attributes(more=transpose(0, 0, -1)))
    song, remarks = read(Score([guitar]).xml())
    assert sounding(song) == ["C4"] and song.key.name == "C"
    assert "the part is for a transposing instrument; moved 1 octave down, as it sounds" in remarks


def test_a_part_sounds_where_music21_says_that_it_does():
    import music21

    for steps in ((-1, -2), (-5, -9), (-1, -2, -1), (0, 0, -1), (2, 3), (-4, -7)):
        xml = Score([Measure(note("F#5", BAR), attributes=attributes(fifths=1, more=transpose(*steps)))]).xml()
        part = music21.converter.parse(xml, format="musicxml").parts[0].toSoundingPitch()
        assert [each.midi for each in part.flatten().pitches] == [
            note.pitch.midi for note in chorus_melody(read(xml)[0]) if note.pitch
        ]


def test_a_score_written_measure_after_measure_is_read():
    partwise = Score([Measure(harmony(root, "major") + note("C5", BAR)) for root in "CF"]).xml()
    partwise = partwise.replace('<measure number="1">', f'<measure number="1">{attributes()}')
    body = (
        partwise[partwise.index('<part id="P1">') :]
        .replace('<part id="P1">', "")
        .replace("</part></score-partwise>", "")
    )
    body = (
        body.replace('<measure number="1">', '<measure number="1"><part id="P1">')
        .replace('<measure number="2">', '<measure number="2"><part id="P1">')
        .replace("</measure>", "</part></measure>")
    )
    head = (
        partwise[: partwise.index('<part id="P1">')]
        .replace("score-partwise", "score-timewise")
        .replace("Partwise", "Timewise")
    )
    song, _ = read(f"{head}{body}</score-timewise>")
    assert chorus(song) == chorus(read(partwise)[0]) == [["C"], ["F"]] and sounding(song) == ["C5", "C5"]


def test_chords_typed_as_words_are_taken_and_a_sheet_without_any_says_so_once():
    typed = Score(
        [Measure(words("Am7") + note("C5", BAR), attributes=attributes()), Measure(words("D7") + note("C5", BAR))]
    )
    song, remarks = read(typed.xml())
    assert chorus(song) == [["Am7"], ["D7"]] and any("are taken as chords" in remark for remark in remarks)
    _, remarks = read(Score([Measure(note("C5", BAR), attributes=attributes())]).xml())
    assert sum("the sheet has no chord symbols" in remark for remark in remarks) == 1
