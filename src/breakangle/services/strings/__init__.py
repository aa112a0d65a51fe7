"""Strings: pull, feel, sizes for wished pulls, winds on a post, and what lies on the shelf."""
