"""Scenario files that the page starts from in these tests."""

from __future__ import annotations

# Cases U, B and the like of shared design page needs.md, section 6.
UNBALANCED = """
title = "U"
[supply]
wires = 4
sequence_voltages = { positive = "230 V" }
[[load]]
name = "ovens"
connection = "star"
star_point = "neutral"
L1 = "23 ohm"
L2 = "46 ohm"
L3 = "23 ohm @ 60 deg"
[method]
name = "three wattmeters to neutral"
"""

RESISTIVE = """
title = "three equal resistors"
[supply]
wires = 4
sequence_voltages = { positive = "230 V" }
[[load]]
connection = "star"
star_point = "neutral"
each = "23 ohm"
[method]
name = "one wattmeter to neutral"
line = "L1"
"""

OWN_METERS = """
title = "with meters, names and transformers of its own"
labels = ["A", "B", "C", "N"]
[supply]
wires = 4
phase_voltages = { A = "240 V", B = "228 V @ -120 deg", C = "240 V @ 120 deg" }
neutral_impedance = "0.05+0.02j ohm"
[[load]]
name = "works"
connection = "delta"
total = { power = "20 kW", power_factor = "0.8 lag", at = "400 V" }
[[load]]
name = "lamps"
connection = "line-to-neutral"
A = "30 ohm"
neutral_lead = "0.7 ohm"
[instrument.panel]
voltage_circuit = "30 kohm, 5 mH"
[instrument.plain]
[current_transformer.ct]
ratio = "50/5 A"
[[wattmeter]]
name = "Wa"
current = "A"
voltage = ["A", "S"]
instrument = "panel"
current_transformer = "ct"
reversed = ["voltage"]
[[wattmeter]]
name = "Wc"
current = "C"
voltage = ["C", "S"]
instrument = "panel"
current_transformer = "ct"
[[impedance]]
name = "stand-in"
between = ["B", "S"]
value = "30 kohm"
side = "supply"
[total]
power = "Wa + Wc"
"""

MOTOR = """
title = "a motor alone"
[supply]
wires = 3
voltage = "400 V"
[[load]]
connection = "motor"
slip = 0.003
circuit = { R1 = "0.6 ohm", X1 = "1 ohm", R2 = "0.6 ohm", X2 = "1 ohm", Xm = "45 ohm" }
[method]
name = "two wattmeters"
"""
