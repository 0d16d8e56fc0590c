"""Two small songs for the tests of the session."""

EIGHT = """
title = "Eight Bars"
key = "F"
meter = "4/4"
tempo = 120
feel = "swing"
form = "A B"
[section.A]
bars = "F6 | D7 | Gm7 | C7"
[section.B]
bars = "A7 | D7 | Gm7 C7 | F6"
"""
FOUR = EIGHT.replace('"A B"', '"A"')
# The same with a melody over the left hand's range: long notes, a tie over a bar line, an off-beat, a rest.
SUNG = EIGHT.replace(
    'bars = "F6 | D7 | Gm7 | C7"',
    'bars = "F6 | D7 | Gm7 | C7"\nmelody = "f2 a2 c\'4 | c\'4 a2 ^f2- | ^f2 d z g4 | e2 g2 z4"',
).replace(
    'bars = "A7 | D7 | Gm7 C7 | F6"', 'bars = "A7 | D7 | Gm7 C7 | F6"\nmelody = "a4 e4 | ^f8 | g2 _b2 g2 e2 | f8"'
)
SUNG_FOUR = SUNG.replace('"A B"', '"A"')
