"""What the right hand plays: the melody, and with which fingers."""
