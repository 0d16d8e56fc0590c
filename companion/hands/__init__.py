"""What a hand plays and why. Sees chords and notes, not songs."""
