"""What the solved phasors mean: readings, totals, powers, and why a total is wrong."""
