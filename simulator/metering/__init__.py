"""Wattmeters and their companions: what each senses and shows; the catalogue of methods."""
