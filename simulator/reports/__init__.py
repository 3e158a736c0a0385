"""Results as text, tables and machine-readable objects."""
