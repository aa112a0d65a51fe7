"""What past visits tell: figures, seasons, drift, what necks have taught, what comes due."""
