"""The practice log (SQLite), the only database."""
