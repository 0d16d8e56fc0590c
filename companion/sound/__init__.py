"""Clock, player, MIDI in and out and the built-in sound. The only room with processes, threads and devices."""
