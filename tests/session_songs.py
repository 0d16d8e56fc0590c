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
