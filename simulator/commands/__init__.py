"""The commands: each a thin skin over the rooms, one module each."""
