from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest

from companion.errors import SettingsError
from companion.groove.model import Arrangement, Click
from companion.hands.hand import Hand
from companion.session.stand_changes import changed_playing
from companion.sound.messages import SoundConfig
from companion.store.settings import load_settings, save_settings, shipped_settings


def write(paths, text: str) -> None:
    paths.settings.parent.mkdir(parents=True, exist_ok=True)
    paths.settings.write_text(text, encoding="utf-8")


def test_the_shipped_file_says_what_the_code_defaults_to(settings) -> None:
    assert settings.hand == Hand()
    playing, plain = settings.playing, Arrangement(bars=())
    assert (playing.pattern, playing.click, playing.bass) == (plain.pattern, plain.click, plain.bass)
    assert (playing.demonstrate, playing.count_in_bars) == ("left" in plain.parts, plain.count_in_bars)
    assert playing.swing_ratio is None and playing.seed == plain.seed


def test_the_shipped_voices_are_those_of_the_sound_room(settings) -> None:
    from companion.session.sound_settings import sound_config

    shipped, plain = sound_config(settings), SoundConfig()
    assert {
        name: (voice.channel, voice.program, voice.note, voice.accent_note) for name, voice in shipped.voices.items()
    } == {name: (voice.channel, voice.program, voice.note, voice.accent_note) for name, voice in plain.voices.items()}
    assert shipped.mode == plain.mode == "auto"


def test_own_lines_win_over_the_shipped(paths) -> None:
    write(paths, '[playing]\nbass = "walking"\n[hand]\nlowest_root = "F2"\n[hand.limits]\n"fifth" = "C2"\n')
    settings = load_settings(paths)
    assert settings.playing.bass == "walking"
    assert settings.playing.click == Click()
    assert settings.hand.lowest_root == 41
    assert settings.hand.limits != Hand().limits


def test_the_left_hands_former_table_is_still_read(paths) -> None:
    """Files written before the parts had their names say [sound.shell]."""
    write(paths, "[sound.shell]\nvolume = 0.25\nprogram = 5\n")
    voice = load_settings(paths).sound.voices["left"]
    assert (voice.volume, voice.program, voice.channel) == (0.25, 5, 1)
    save_settings(paths, {"sound.left.volume": 0.5})
    voice = load_settings(paths).sound.voices["left"]
    assert (voice.volume, voice.program) == (0.5, 5)


DAMAGE = [
    ('[playing]\nbas = "walking"', "did you mean playing.bass?"),
    ("[playing]\ncount_in_bars = 9", "a whole number from 0 to 2"),
    ("[playing]\ncount_in_bars = true", "a whole number from 0 to 2"),
    ("[playing]\nswing_ratio = 9", "1 to 3.5"),
    ("[playing]\ndemonstrate = 1", "true or false"),
    ('[sound]\nmode = "loud"', '"builtin"'),
    ("[sound.bass]\nvolume = 2", "a number from 0 to 1"),
    ("[sound.shell]\nvolume = 2", "sound.shell.volume is 2, expected a number from 0 to 1"),
    ("[sound.bass]\nvolume = nan", "a number from 0 to 1"),
    ('[hand]\nlowest_root = "H2"', "C4 is middle C"),
    ('[hand]\nlowest_root = "F3"\nhighest_root = "E2"', "root"),
    ("hand = 3", "hand"),
    ("[keys]\nstart-stop = 3", "list of keys"),
    ("no equals sign", "well-formed"),
    ("[hand", "well-formed"),
]


@pytest.mark.parametrize(("text", "expected"), DAMAGE)
def test_damage_is_named_and_left_alone(paths, text: str, expected: str) -> None:
    write(paths, text)
    with pytest.raises(SettingsError) as caught:
        load_settings(paths)
    assert expected in str(caught.value) and str(paths.settings) in str(caught.value)
    assert paths.settings.read_text(encoding="utf-8") == text
    assert shipped_settings(paths).hand == Hand()


def test_every_fault_is_named_at_once(paths) -> None:
    write(paths, '[playing]\nbas = "x"\ncount_in_bars = 7\n[sound]\nmode = 3\n')
    with pytest.raises(SettingsError) as caught:
        load_settings(paths)
    assert len(str(caught.value).splitlines()) == 3


def test_not_a_text_file(paths) -> None:
    paths.settings.parent.mkdir(parents=True)
    paths.settings.write_bytes(b"\xff\xfe\x00x")
    with pytest.raises(SettingsError, match="UTF-8"):
        load_settings(paths)
    paths.settings.unlink()
    paths.settings.mkdir()
    with pytest.raises(SettingsError, match="cannot be read"):
        load_settings(paths)


def test_saving_keeps_the_students_comments(paths) -> None:
    write(paths, '# mine\n[playing]\nbass = "roots"  # for now\n')
    save_settings(paths, {"playing.bass": "walking"})
    save_settings(paths, {"sound.midi_out": "Piano"})
    text = paths.settings.read_text(encoding="utf-8")
    assert "# mine" in text and "# for now" in text
    assert tomllib.loads(text) == {"playing": {"bass": "walking"}, "sound": {"midi_out": "Piano"}}
    assert load_settings(paths).sound.midi_out == "Piano"


def test_a_new_line_does_not_part_a_table_from_the_comment_above_it(paths) -> None:
    write(paths, '[playing]\nbass = "roots"\n\n# so as not to wake anyone\n[sound]\nmode = "midi"\n')
    save_settings(paths, {"playing.pattern": "whole"})
    text = paths.settings.read_text(encoding="utf-8")
    assert text == (
        '[playing]\nbass = "roots"\npattern = "whole"\n\n# so as not to wake anyone\n[sound]\nmode = "midi"\n'
    )


def test_a_bad_value_is_not_saved(paths) -> None:
    write(paths, "# mine\n")
    with pytest.raises(SettingsError, match="0 to 2"):
        save_settings(paths, {"playing.count_in_bars": 5})
    assert paths.settings.read_text(encoding="utf-8") == "# mine\n"


@pytest.mark.parametrize("value", ["true", "false"])
def test_what_older_companions_asked_of_sixth_chords_is_read_and_means_the_default(paths, value):
    paths.settings.parent.mkdir(parents=True, exist_ok=True)
    paths.settings.write_text(f"[hand]\nsixth_shells = {value}\n", encoding="utf-8")
    assert load_settings(paths).hand == shipped_settings(paths).hand


@pytest.mark.parametrize("asked", [None, 0, 1, 2])
def test_a_count_in_that_was_set_is_kept_and_one_by_the_tempo_too(paths, asked):
    """As the stand is left with it, in one evening and the next."""
    save_settings(paths, {"playing.count_in_bars": 2 if asked != 2 else 0})
    before = load_settings(paths).playing
    for name, value in changed_playing(before, replace(before, count_in_bars=asked)).items():
        save_settings(paths, {name: value})
    assert load_settings(paths).playing.count_in_bars == asked
