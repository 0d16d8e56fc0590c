"""Settings, paths, the student's folders and, later, the practice log. Never meets the sound room."""
