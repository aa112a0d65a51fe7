"""The body itself, tapped: the notes it sings, how long each rings."""
