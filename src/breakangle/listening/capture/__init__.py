"""Sound in: files and phone recordings to blocks of samples, and where plucks begin."""
