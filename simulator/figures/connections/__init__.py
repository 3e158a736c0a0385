"""The connection diagram and the list of connections that goes with it."""
