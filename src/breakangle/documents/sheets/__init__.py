"""What sheets say: the hand-back sheet, the bench sheet, and their sentences."""
