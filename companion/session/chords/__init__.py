"""Chords in root position: the rounds that wait on each chord and those with the click, and what the hand knows of them."""
