"""The drawings of a visit."""
