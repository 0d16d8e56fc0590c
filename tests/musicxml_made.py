"""MusicXML written for tests: small lead sheets of our own, one part, one note a bar or as many as are given."""

from __future__ import annotations

from dataclasses import dataclass, field

DIVISIONS = 24  # of a quarter note
HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)


def harmony(root: str, kind: str, degrees=(), bass: str = "", text: str = "", offset: int = 0) -> str:
    """A <harmony>. root, bass: "Bb", "F#". degrees: (type, value, alter). offset: in divisions."""
    shown = f' text="{text}"' if text else ""
    steps = "".join(
        f"<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
        f"<degree-type>{how}</degree-type></degree>"
        for how, value, alter in degrees
    )
    low = f"<bass>{_note('bass', bass)}</bass>" if bass else ""
    late = f"<offset>{offset}</offset>" if offset else ""
    return f"<harmony><root>{_note('root', root)}</root><kind{shown}>{kind}</kind>{low}{steps}{late}</harmony>"


def _note(what: str, name: str) -> str:
    alter = name.count("#") - name[1:].count("b")
    sign = f"<{what}-alter>{alter}</{what}-alter>" if alter else ""
    return f"<{what}-step>{name[0]}</{what}-step>{sign}"


def note(pitch: str, duration: int, more: str = "") -> str:
    """A note, "C5", or a rest, "". duration: in divisions."""
    if not pitch:
        return f"<note><rest/><duration>{duration}</duration><voice>1</voice></note>"
    alter = pitch.count("#") - pitch[1:].count("b")
    sign = f"<alter>{alter}</alter>" if alter else ""
    return (
        f"<note><pitch><step>{pitch[0]}</step>{sign}<octave>{pitch[-1]}</octave></pitch>"
        f"<duration>{duration}</duration>{more}<voice>1</voice></note>"
    )


@dataclass
class Measure:
    """body: harmonies, notes and directions in their order. left, right: what stands in the barlines."""

    body: str = ""
    quarters: float = 4
    left: str = ""
    right: str = ""
    attributes: str = ""

    def xml(self, number: int) -> str:
        body = self.body if "<note>" in self.body else self.body + note("", int(self.quarters * DIVISIONS))
        left = f'<barline location="left">{self.left}</barline>' if self.left else ""
        right = f'<barline location="right">{self.right}</barline>' if self.right else ""
        return f'<measure number="{number}">{self.attributes}{left}{body}{right}</measure>'


FORWARD = '<repeat direction="forward"/>'
BACKWARD = '<repeat direction="backward"/>'


def ending(number: str, kind: str) -> str:
    return f'<ending number="{number}" type="{kind}"/>'


def words(text: str, sound: str = "") -> str:
    return f"<direction><direction-type><words>{text}</words></direction-type>{sound}</direction>"


def sign(name: str, sound: str = "") -> str:
    return f"<direction><direction-type><{name}/></direction-type>{sound}</direction>"


def attributes(meter: str = "4/4", fifths: int = 0, mode: str = "major", more: str = "") -> str:
    beats, _, unit = meter.partition("/")
    return (
        f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{fifths}</fifths><mode>{mode}</mode></key>"
        f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>{more}</attributes>"
    )


@dataclass
class Score:
    measures: list[Measure] = field(default_factory=list)
    title: str = "A Sheet of Ours"
    first_number: int = 1

    def xml(self) -> str:
        body = "".join(measure.xml(number) for number, measure in enumerate(self.measures, self.first_number))
        return (
            f'{HEAD}<score-partwise version="4.0"><work><work-title>{self.title}</work-title></work>'
            f'<part-list><score-part id="P1"><part-name>Voice</part-name></score-part></part-list>'
            f'<part id="P1">{body}</part></score-partwise>'
        )


def read(xml: str, name: str = "made"):
    """(song, remarks) of a MusicXML text, in this process: as the child reads it, without the half second it takes."""
    from companion.chart.reader import parse_chart
    from companion.chart.writer import write_chart
    from companion.importing.compose import compose
    from companion.importing.guard import scan
    from companion.importing.musicxml import read_musicxml
    from companion.importing.timewise import to_partwise

    scanned = scan(xml)
    if scanned.is_timewise:
        xml = to_partwise(xml)
        scanned = scan(xml)
    sheet = read_musicxml(xml, scanned)
    song = compose(sheet, name)
    return parse_chart(write_chart(song), id=song.id), list(sheet.remarks)


def chorus(song) -> list[list[str]]:
    """The symbols of each bar of the chorus."""
    return [[placed.chord.symbol if placed.chord else "N.C." for placed in bar.chords] for bar in song.unroll()]
