"""What is laid on top of melody and shells to make a whole tune of them. Pure."""
