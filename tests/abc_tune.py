"""A tune in ABC with most of what a lead sheet may carry: pickup, endings, parts, another meter, tuplets, and what is not understood."""

TUNE = """%abc-2.1
X:1
T:A Lamp in the Boathouse
C:ourselves
M:4/4
L:1/8
Q:1/4=132
K:F
C2|:"F6"F2A2 c2A2|"D7"d4 ^F4|"Gm7"G2B2 "C7"c2B2|1 "F6"A6 C2:|2 "F6"F6 z2||
P:B
[M:3/4]"Bb"{c}d2B2 [DF]2|"Zz"(3ABc d2 e2|!fine!f4 z2|[M:4/4]"C7"Z2|"^Slower"c8|]
w: la la
"""
