"""Reading kinds, one file each: what is read, how, how well, and what the model expects it to be."""
