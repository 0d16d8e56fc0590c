"""Fading the cues, climbing in tempo, both together, recall over days, free time."""
