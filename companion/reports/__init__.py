"""What is told of a song's practising: as text, as a page, as drawings."""
