"""Levelling frets with the least metal: what comes off which crown, how sure it is, what is left."""
