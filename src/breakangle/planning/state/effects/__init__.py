"""Effects beside neck and strings: each a file with its prior, its learning, its words, and when it is off."""
