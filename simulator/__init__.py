"""Predicts what every wattmeter in a three-phase circuit will read, and why."""

__version__ = "0.1.0"
