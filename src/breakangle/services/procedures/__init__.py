"""Bench procedures: ours and the shop's own, and a visit's way through one."""
