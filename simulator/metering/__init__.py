"""Wattmeters and their companions: what each senses, what it shows, and the catalogue of methods."""
