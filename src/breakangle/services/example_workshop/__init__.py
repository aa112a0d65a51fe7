"""The example workshop: invented people, instruments, shelf and visits, on simulated instruments."""
