"""The names of the shells, for a pin in a chart as for the hand that plays it."""

# Every name a shell can have: what lies below, what lies above. The octaves are the last resort, for a chord that has
# no other tone to set above its root or bass.
SHELL_KINDS = (
    "root-third",
    "root-fourth",
    "root-fifth",
    "root-sixth",
    "root-seventh",
    "root-octave",
    "bass-root",
    "bass-third",
    "bass-fourth",
    "bass-fifth",
    "bass-sixth",
    "bass-seventh",
    "bass-octave",
)
