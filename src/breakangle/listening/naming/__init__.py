"""Which string and which note was played, and what several notes together say."""
