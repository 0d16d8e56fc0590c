from __future__ import annotations

import os

import pytest

from companion.base.files import write_text
from companion.errors import SettingsError, SongNotFound
from companion.store.library import find_song, list_songs
from companion.store.paths import find_paths
from companion.store.pins import load_pins, load_rest, save_pins, save_rest
from companion.theory.shell_kinds import Pin

SONG = """
title = "Lantern Street"
key = "F"
meter = "4/4"
tempo = 100
feel = "swing"
form = "A"
[section.A]
bars = "F6 | Bb7 | Gm7 C7 | F6"
"""


@pytest.fixture
def own_song(paths):
    paths.songs.mkdir(parents=True)
    path = paths.songs / "lantern-street.toml"
    path.write_text(SONG, encoding="utf-8")
    return path


def test_asking_for_paths_makes_no_folder(companion_home) -> None:
    assert find_paths().settings.is_relative_to(companion_home)
    assert not companion_home.exists()


def test_without_a_home_the_systems_folders_are_used(monkeypatch) -> None:
    import platformdirs

    monkeypatch.delenv("COMPANION_HOME")
    paths = find_paths()
    assert str(paths.settings).startswith(platformdirs.user_config_dir())
    assert str(paths.songs).startswith(platformdirs.user_data_dir())


def test_a_failed_write_leaves_the_old_file(tmp_path, monkeypatch) -> None:
    path = tmp_path / "kept.toml"
    path.write_text("old")

    def refuse(*_) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OSError, match="disk full"):
        write_text(path, "new")
    assert path.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["kept.toml"]


def test_own_songs_stand_beside_the_shipped(paths, settings, own_song) -> None:
    entries = {entry.id: entry for entry in list_songs(paths, settings)}
    assert entries["lantern-street"].own and entries["lantern-street"].bars == 4
    assert sum(not entry.own for entry in entries.values()) >= 12
    assert not any(entry.fault for entry in entries.values())


def test_an_own_song_replaces_the_shipped_one_of_its_id(paths, settings, own_song) -> None:
    own_song.rename(paths.songs / "ferry-at-half-past-six.toml")
    assert find_song("ferry-at-half-past-six", paths, settings).title == "Lantern Street"


def test_a_song_is_found_by_id_title_and_path(paths, settings, own_song) -> None:
    for name in ("lantern-street", "Lantern Street", "lantern STREET ", str(own_song)):
        assert find_song(name, paths, settings).title == "Lantern Street"


def test_a_song_not_there_names_the_nearest(paths, settings, own_song) -> None:
    with pytest.raises(SongNotFound, match="Lantern Street|lantern-street"):
        find_song("lantern stret", paths, settings)
    with pytest.raises(SongNotFound, match="no such file"):
        find_song("nowhere/x.toml", paths, settings)


def test_a_bad_file_is_listed_with_its_fault_and_stops_nothing(paths, settings, own_song) -> None:
    (paths.songs / "broken.toml").write_text("title = ")
    entries = {entry.id: entry for entry in list_songs(paths, settings)}
    assert "broken.toml:1" in entries["broken"].fault
    assert not entries["lantern-street"].fault


def test_pins_come_back_and_songs_do_not_disturb_each_other(paths) -> None:
    assert load_pins(paths, "a") == {}
    save_pins(paths, "a", {("A", 1, 1): Pin("root-third")})
    save_pins(paths, "b", {("B", 2, 1): Pin("root-fifth")})
    assert load_pins(paths, "a") == {("A", 1, 1): Pin("root-third")}
    save_pins(paths, "a", {})
    assert load_pins(paths, "a") == {} and load_pins(paths, "b") == {("B", 2, 1): Pin("root-fifth")}


def test_pins_keep_what_a_person_wrote_beside_them(paths) -> None:
    paths.pins.parent.mkdir(parents=True)
    text = """\
# for the lesson on Thursday
[a]  # the slow one
# my thumb is short
"A.1.1" = "root-third"  # not the seventh
"A.2.1" = "root-fifth"

# from here on the quick ones
["b-c"]
"A.1.1" = "root-third"
"""
    paths.pins.write_text(text)
    save_pins(paths, "a", {("A", 1, 1): Pin("root-seventh"), ("B", 1, 1): Pin("root-third")})
    changed = text.replace('"root-third"  # not', '"root-seventh"  # not').replace(
        '"A.2.1" = "root-fifth"', '"B.1.1" = "root-third"'
    )
    assert paths.pins.read_text() == changed
    save_pins(paths, "new", {("A", 1, 1): Pin("root-third")})
    save_pins(paths, "new", {})
    assert paths.pins.read_text().rstrip() == changed.rstrip()


def test_where_a_song_rests_stands_with_its_pins(paths) -> None:
    assert load_rest(paths, "a") is None
    save_pins(paths, "a", {("A", 1, 1): Pin("root-third")})
    save_rest(paths, "a", "endings")
    save_rest(paths, "b", "always")
    assert load_rest(paths, "a") == "endings" and load_pins(paths, "a") == {("A", 1, 1): Pin("root-third")}
    save_pins(paths, "a", {})
    assert load_rest(paths, "a") == "endings" and load_pins(paths, "a") == {}
    save_rest(paths, "a", None)
    assert load_rest(paths, "a") is None and load_rest(paths, "b") == "always"
    text = paths.pins.read_text()
    for damaged in ('"sometimes"', "3", "[]"):
        paths.pins.write_text(text.replace('"always"', damaged))
        with pytest.raises(SettingsError, match="rest_on_fifth.*expected one of never, endings, always"):
            load_rest(paths, "b")


def test_what_is_a_link_stays_one(paths, tmp_path) -> None:
    """Some keep their settings in a folder of their own and link to them."""
    kept = tmp_path / "kept.toml"
    kept.write_text("# mine\n")
    paths.pins.parent.mkdir(parents=True)
    paths.pins.symlink_to(kept)
    save_pins(paths, "a", {("A", 1, 1): Pin("root-third")})
    assert paths.pins.is_symlink() and kept.read_text().startswith("# mine\n") and "root-third" in kept.read_text()


@pytest.mark.parametrize("text", ["[a", "a = 3", '[a]\n"A.x.1" = "root-third"', '[a]\n"A.1.1" = 3'])
def test_damaged_pins_are_named(paths, text) -> None:
    paths.pins.parent.mkdir(parents=True)
    paths.pins.write_text(text)
    with pytest.raises(SettingsError, match="pins.toml"):
        load_pins(paths, "a")
    assert paths.pins.read_text() == text


def test_files_are_read_again_only_when_they_changed(paths, settings, own_song, monkeypatch) -> None:
    from companion.store import library

    list_songs(paths, settings)
    read: list[str] = []
    describe = library._describe
    monkeypatch.setattr(library, "_describe", lambda path, *rest: read.append(path.stem) or describe(path, *rest))
    assert list_songs(paths, settings) and read == []
    own_song.write_text(SONG.replace("Lantern Street", "Lantern Lane, Slowly"), encoding="utf-8")
    titles = [entry.title for entry in list_songs(paths, settings)]
    assert read == ["lantern-street"] and "Lantern Lane, Slowly" in titles
    own_song.unlink()
    assert "lantern-street" not in [entry.id for entry in list_songs(paths, settings)]


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"version": "0.1.0", "songs": {"x": [1]}}', '{"version": "0.1.0", "songs": 3}', "\x00"]
)
def test_a_damaged_list_of_songs_is_read_anew(paths, settings, own_song, text) -> None:
    good = list_songs(paths, settings)
    (paths.data / "songs-seen.json").write_text(text, encoding="utf-8")
    assert list_songs(paths, settings) == good


def test_a_long_list_is_told_while_it_grows(paths, settings, own_song, monkeypatch) -> None:
    from companion.store import library

    monkeypatch.setattr(library, "_TELL_EVERY_S", 0.0)
    sizes: list[int] = []
    entries = list_songs(paths, settings, lambda so_far: sizes.append(len(so_far)))
    assert sizes[0] == 1 and sizes[-1] == len(entries)


def test_a_plan_is_made_from_songs_played_and_the_latest_of_ones_own(paths, settings, own_song, monkeypatch) -> None:
    from companion.store import library

    monkeypatch.setattr(library, "_LATEST_OWN", 1)
    newer = paths.songs / "newer.toml"
    newer.write_text(SONG, encoding="utf-8")
    os.utime(own_song, (1, 1))
    ids = [song.id for song in library.read_songs(paths, settings)]
    assert "newer" in ids and "lantern-street" not in ids and len(ids) > 12
    assert "lantern-street" in [song.id for song in library.read_songs(paths, settings, {"lantern-street"})]
