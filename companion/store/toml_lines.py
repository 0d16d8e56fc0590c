"""Changing a line of a TOML file that a person keeps by hand, so that everything else stays as it was typed (tomlkit)."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tomlkit.items import AbstractTable
    from tomlkit.toml_document import TOMLDocument


def put_line(table: AbstractTable | TOMLDocument, key: str, value: object) -> None:
    """Set key = value. A new line comes after the last one of the table; what stands below that, empty lines and
    comments, most likely speaks of the table that follows and stays below. Raises what tomlkit raises."""
    from tomlkit.items import AbstractTable

    body = table.value.body if isinstance(table, AbstractTable) else table.body
    below = []
    while key not in table and body and body[-1][0] is None:
        below.append(body.pop())
    table[key] = value
    body += reversed(below)
