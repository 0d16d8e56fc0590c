"""Today's plan, lessons, progress, and the sums they are read from."""
