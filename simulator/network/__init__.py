"""The field's core: elements between named nodes, and the phasors that follow. No three-phase word in here."""
