"""A practice companion for students of jazz piano. The rooms are described in DEVELOPERS.md."""

__version__ = "0.1.0"
