"""The floor of the house: text and files. Knows nothing of music."""
