"""Listen: pitch by ear, live or from recordings."""
