"""The left hand: its range, the low-interval limits, the solver, the reason for each choice. Sees chords, not songs."""
