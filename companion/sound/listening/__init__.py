"""Hearing a piano through a microphone: sound in, verdicts on the notes that are due out. Pure: no device, no thread, no clock of its own."""

RATE = 16_000  # samples a second of all that is heard here
LONGEST_S = 30 * 60  # no recording is longer
