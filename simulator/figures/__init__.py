"""Figures of a result; matplotlib is imported only in this room."""
