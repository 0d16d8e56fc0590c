"""Patterns of the left hand, click, bass, swing, count-in: from bars with shells to events in exact musical time. Pure."""
