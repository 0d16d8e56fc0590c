"""What leaves the companion: sheets, MIDI files, practice tracks and text. `targets` has the table of endings and the
one function to call; heavy libraries are imported inside the modules that need them."""
