"""Taking in: whose instrument it is, what it is, what is wrong with it; corrected later."""
