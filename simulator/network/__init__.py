"""The field's core: elements between named nodes and their phasors; no three-phase word here."""
