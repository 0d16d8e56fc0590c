"""The screens: each takes keys and tells its widgets what to draw."""
