"""What stays on disk: settings, paths, song folders, own pins and the practice log. Never meets sound."""
