"""A file to import is meant by whatever was typed or pasted into the line that asks for it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

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
