"""A practice companion for the jazz pianist's left hand. The rooms are described in DEVELOPERS.md."""

__version__ = "0.1.0"
