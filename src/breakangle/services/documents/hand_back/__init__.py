"""Handing back: what stands open is asked, then the visit is closed, its sheet kept, and amended only with a reason."""
