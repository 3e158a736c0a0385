"""Supplies, loads and transformers: what stands in the installation, as elements of a network."""
