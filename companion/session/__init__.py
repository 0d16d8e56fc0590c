"""What stands on the stand: song, key, tempo, loop, shells and groove together. The app and the commands both use it."""
