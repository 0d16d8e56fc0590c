"""Drawing in characters: pure functions from data to rows of (text, role). Nothing here knows Textual."""
