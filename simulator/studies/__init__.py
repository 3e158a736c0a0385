"""Studies: quantities of a scenario varied, or drawn at random, in very many cases."""
