"""The procedures: ours and the shop's own."""
