"""The left hand's shells: which two notes of every chord, by the least way through the form, and why."""
