"""The scenario file: its models, reading it, and turning it into a network."""
