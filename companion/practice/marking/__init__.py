"""What was played against what was expected."""
