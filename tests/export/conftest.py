"""Songs on the stand, and the published schema of MusicXML."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from companion.export import track
from companion.session.stand import Stand
from companion.sound.note_files import NoteFiles
from companion.store.library import find_song, list_songs
from companion.store.paths import find_paths
from companion.store.settings import load_settings

REPOSITORY = Path(__file__).parent.parent.parent
SONG_IDS = sorted(path.stem for path in (REPOSITORY / "songs").glob("*.toml"))


@pytest.fixture(scope="session", autouse=True)
def notes_are_kept(tmp_path_factory) -> Iterator[None]:
    """What notes a track needs are made once for all tests, as the app's sound process keeps its own."""
    folder = tmp_path_factory.mktemp("notes")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(track, "NoteFiles", lambda _: NoteFiles(folder))
        yield


@pytest.fixture
def on_stand(paths, settings) -> Callable[[str], Stand]:
    """Puts a song on the stand by its id."""
    return lambda song_id: Stand.put(find_song(song_id, paths, settings), settings)


@pytest.fixture(scope="session")
def all_stands(tmp_path_factory, deep) -> list[Stand]:
    """Songs of ours on the stand, every eighth from the easiest to the hardest, all of them with `--deep`; a stand is never changed, so once is enough."""
    paths = find_paths({"COMPANION_HOME": str(tmp_path_factory.mktemp("home"))})
    settings = load_settings(paths)
    return [
        Stand.put(find_song(entry.id, paths, settings), settings)
        for entry in list_songs(paths, settings)[:: 1 if deep else 8]
    ]


# What musicxml.xsd takes from the two schemas it imports from the net (W3C: xml.xsd; XLink 1.1).
_IMPORTED = {
    "xml": ("http://www.w3.org/XML/1998/namespace", ("lang", "space")),
    "xlink": ("http://www.w3.org/1999/xlink", ("href", "type", "role", "title", "show", "actuate")),
}


@pytest.fixture(scope="session")
def musicxml_schema(tmp_path_factory):
    """MusicXML 3.1's schema as partitura carries it (W3C). All that we write of 4.0 was in 3.1 already."""
    etree = pytest.importorskip("lxml.etree")
    partitura = pytest.importorskip("partitura")
    folder = tmp_path_factory.mktemp("schema")
    for name, (namespace, attributes) in _IMPORTED.items():
        declared = "".join(f'<xs:attribute name="{attribute}" type="xs:string"/>' for attribute in attributes)
        head = f'<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{namespace}">'
        (folder / f"{name}.xsd").write_text(f"{head}{declared}</xs:schema>", encoding="utf-8")
    text = (Path(partitura.__file__).parent / "assets" / "musicxml.xsd").read_text(encoding="utf-8")
    local = re.sub(r'schemaLocation="[^"]*/(xml|xlink)\.xsd"', r'schemaLocation="\1.xsd"', text)
    (folder / "musicxml.xsd").write_text(local, encoding="utf-8")
    return etree.XMLSchema(etree.parse(str(folder / "musicxml.xsd")))
