"""A file to import is meant by whatever was typed or pasted into the line that asks for it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from companion.importing import why_not
from companion.tui.actions import BY_ID
from companion.tui.screens.importing import path_typed

HOME = Path(os.path.expanduser("~"))
# (typed behind "~/", the file)
TYPED = (
    ("~/tune.abc", HOME / "tune.abc"),
    ("~//tmp/tune.abc", Path("/tmp/tune.abc")),
    ("~/~/tune.abc", HOME / "tune.abc"),
    ("~/'/tmp/a tune.abc' ", Path("/tmp/a tune.abc")),
    ("/tmp/tune.abc", Path("/tmp/tune.abc")),
    ("~//tmp/a\\ tune.abc", Path("/tmp/a tune.abc")),
    ("~/file:///tmp/a%20tune.abc", Path("/tmp/a tune.abc")),  # RFC 8089
)


@pytest.mark.parametrize(("text", "path"), TYPED)
def test_a_whole_path_may_be_typed_or_pasted(text, path):
    assert path_typed(text, "~/") == path


@pytest.mark.parametrize("name", ["a.pdf", "a.png", "a.mp3"])
def test_a_file_that_cannot_be_read_names_the_key_that_writes_a_song(name):
    assert f"({BY_ID['write'].keys[0].upper()} in the app's list of songs)" in why_not(Path(name))
