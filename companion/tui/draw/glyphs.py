"""Our own letters on a grid seven dots high, as wide as each needs, for chord symbols, note names and what a pass came to.

Each glyph is seven rows; "#" is a dot. Drawn so that nothing can be taken for something else: B and D have feet that 8 and 0 lack,
5 has no hook at its foot as an S has, 6 leans where ♭ and b stand upright. Figures are narrow: "m7♭5" must fit beside its root.
"""

from __future__ import annotations

HEIGHT = 7

_SHEET = """
A: .###. #...# #...# ##### #...# #...# #...#
B: ####. .#..# .#..# .###. .#..# .#..# ####.
C: .###. #...# #.... #.... #.... #...# .###.
D: ####. .#..# .#..# .#..# .#..# .#..# ####.
E: ##### #.... #.... ####. #.... #.... #####
F: ##### #.... #.... ####. #.... #.... #....
G: .###. #...# #.... #.### #...# #...# .###.
N: #...# ##..# ##..# #.#.# #..## #..## #...#
M: #...# ##.## #.#.# #.#.# #...# #...# #...#
0: .###. #...# #...# #...# #...# #...# .###.
1: .#. ##. .#. .#. .#. .#. ###
2: .##. #..# ...# ..#. .#.. #... ####
3: ###. ...# ...# .##. ...# ...# ###.
4: #..# #..# #..# #### ...# ...# ...#
5: #### #... ###. ...# ...# ...# ###.
6: ..## .#.. #... ###. #..# #..# .##.
7: #### ...# ...# ..#. ..#. .#.. .#..
8: .##. #..# #..# .##. #..# #..# .##.
9: .##. #..# #..# .### ...# ..#. ##..
♯: .#.#. ##### .#.#. .#.#. ##### .#.#. .....
♭: #... #... #.#. ##.# #..# #.#. ##..
m: ..... ..... ####. #.#.# #.#.# #.#.# #.#.#
a: .... .... .##. ...# .### #..# .###
j: ..# ... ..# ..# ..# #.# .#.
d: ...# ...# .### #..# #..# #..# .###
i: # . # # # # #
s: .... .... .### #... .##. ...# ###.
u: .... .... #..# #..# #..# #..# .###
g: .... .### #..# #..# .### ...# ###.
o: .... .... .##. #..# #..# #..# .##.
n: .... .... ###. #..# #..# #..# #..#
l: #. #. #. #. #. #. .#
t: .#. .#. ### .#. .#. .#. .##
b: #... #... ###. #..# #..# #..# ###.
h: #... #... ###. #..# #..# #..# #..#
°: .##. #..# #..# .##. .... .... ....
ø: ....# .###. #..## #.#.# ##..# .###. #....
Δ: ..... ..#.. ..#.. .#.#. .#.#. #...# #####
+: ..... ..#.. ..#.. ##### ..#.. ..#.. .....
-: .... .... .... #### .... .... ....
/: ....# ....# ...#. ..#.. .#... #.... #....
(: .# #. #. #. #. #. .#
): #. .# .# .# .# .# #.
.: . . . . . . #
,: .. .. .. .. .. .# #.
…: ..... ..... ..... ..... ..... ..... #.#.#
r: .... .... #.## ##.. #... #... #...
f: ..## .#.. ###. .#.. .#.. .#.. .#..
"""


def _read_sheet() -> dict[str, tuple[str, ...]]:
    return {line[0]: tuple(line[2:].split()) for line in _SHEET.strip().splitlines()}


GLYPHS = _read_sheet()
_SPACE = (".",) * HEIGHT
# Other signs that lead sheets carry, drawn as the one above that means the same.
_SAME = {"△": "Δ", "∆": "Δ", "º": "°", "Ø": "ø", "−": "-", "–": "-", "^": "Δ", "#": "♯"}
_WIDER = {"𝄪": "♯♯", "𝄫": "♭♭"}


def known(text: str) -> bool:
    """Whether every character has a glyph."""
    return all(char in GLYPHS or char == " " for char in _plain(text))


def _plain(text: str) -> str:
    return "".join(_WIDER.get(char, _SAME.get(char, char)) for char in text)


def dots(text: str) -> tuple[str, ...]:
    """Seven rows of dots for a word, one empty column between letters. Raises KeyError where a glyph is missing."""
    glyphs = [_SPACE if char == " " else GLYPHS[char] for char in _plain(text)]
    return tuple(".".join(glyph[row] for glyph in glyphs) for row in range(HEIGHT))


def dots_width(text: str) -> int:
    """Columns of dots that `dots` needs."""
    return len(dots(text)[0]) if text else 0
