"""Practising by lines of text: what is told, what is typed, and what stands between these and the conductor."""
