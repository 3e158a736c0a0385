"""Uncertainty of readings and totals by JCGM 100 and JCGM 101, through the whole network."""
