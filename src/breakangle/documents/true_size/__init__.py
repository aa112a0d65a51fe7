"""What templates at true size are made of: geometry, outline, tiles, kinds and their registry."""
