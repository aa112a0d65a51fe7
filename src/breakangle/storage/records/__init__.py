"""Records read and written: versions, journal, entries, devices, what is due, lists for a screen."""
