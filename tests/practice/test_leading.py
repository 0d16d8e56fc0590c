"""The table of what leads the music: read, written, learned, refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.practice.leading import LEADS, Switch, lead_of, learn, refusal

SWITCHES = st.one_of(
    st.builds(Switch, st.sampled_from(["key", "control"]), st.integers(0, 127)),
    st.builds(Switch, st.just("program"), st.integers(1, 128)),
    st.builds(Switch, st.just("page"), st.integers(0, 1)),
)


@given(SWITCHES)
def test_what_is_written_is_read(switch):
    assert Switch.parse(switch.text) == switch


def test_names_are_those_of_scientific_pitch_and_of_midi():
    """A piano's ends are A0 = 21 and C8 = 108 (MIDI 1.0 with C4 = 60, common practice); its table of controllers names the pedals."""
    assert [Switch("key", midi).text for midi in (21, 60, 108)] == ["key A0", "key C4", "key C8"]
    assert [Switch("control", number).words for number in (64, 66, 67)] == [
        "sustain pedal",
        "sostenuto pedal",
        "soft pedal",
    ]


@pytest.mark.parametrize(
    "text", ["", "key", "key H2", "key C10", "control 128", "control -1", "program 0", "program 129", "page left", "C8"]
)
def test_what_is_no_switch_is_refused(text):
    with pytest.raises(ValueError):
        Switch.parse(text)


@given(st.lists(st.tuples(st.sampled_from(list(LEADS)), SWITCHES), max_size=12))
def test_each_switch_does_what_it_learned_last_and_only_that(lessons):
    table = dict.fromkeys(LEADS, ())
    for lead, switch in lessons:
        table = learn(table, lead, switch)
    for switch, lead in {switch: lead for lead, switch in lessons}.items():
        assert lead_of(table, switch) == lead
    every = [switch for switches in table.values() for switch in switches]
    assert len(every) == len(set(every)) == len({switch for _, switch in lessons})


def test_keys_of_the_music_lead_nothing_and_cannot_be_learned():
    music = range(40, 61)
    table = learn(dict.fromkeys(LEADS, ()), "stop", Switch("key", 60))
    assert lead_of(table, Switch("key", 60)) == "stop" and lead_of(table, Switch("key", 60), music) == ""
    assert "C4 is music: your hands play from E2 to C4" in refusal(Switch("key", 60), music)
    assert not refusal(Switch("key", 61), music) and not refusal(Switch("control", 60), music)
