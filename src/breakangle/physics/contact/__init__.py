"""Contact of a plucked string with the crowns: screen, exact decision, severity. Units: mm, N, g/m."""
