"""Very many cases of one topology: the network is compiled once into array operations.

`compile_network` writes the network's equations with named values left open (`system`), finds
an order of elimination in which most of the work is with constants and is done once
(`expressions`, `elimination`, `equations`), and records the rest as operations over an axis of
cases (`recorder`, `tape`). Few cases, an audit, and every case for which the fixed order of
pivots is not good enough go to LAPACK (`stack`, `careful`).
"""

from simulator.network.many.program import (
    Phasors,
    Products,
    Program,
    Term,
    compile_network,
)
from simulator.network.many.system import Current, Voltage

__all__ = ["Current", "Phasors", "Products", "Program", "Term", "Voltage", "compile_network"]
