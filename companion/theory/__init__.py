"""Notes, intervals, meter, keys and chord symbols. Pure: no files, no clock, no device."""
