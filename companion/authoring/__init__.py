"""A song written in the app: the draft, its undo and its file."""
