"""Visits: taken in, moved along, read and worked on; each entry checked and stored when it is made."""
