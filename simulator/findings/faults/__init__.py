"""Wiring faults: what each would read, and which of them explain the readings that were seen."""
