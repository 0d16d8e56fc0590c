"""The hand, its limits, and the least-movement path of shells with the reason for each choice. Sees chords, not songs."""
