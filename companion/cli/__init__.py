"""The commands. Each imports what it needs when it is called, so that --version and --help answer at once."""
