"""Scenario texts to build tests from; each piece is one table."""

from __future__ import annotations

THREE = 'title = "t"\n[supply]\nwires = 3\nvoltage = "400 V"\n'
FOUR = THREE.replace("wires = 3", "wires = 4")
STAR = (
    '[[load]]\nname = "ovens"\nconnection = "star"\n'
    'L1 = "25 ohm"\nL2 = "25+10j ohm"\nL3 = "40 ohm"\n'
)
W1 = '[[wattmeter]]\nname = "W1"\ncurrent = "L1"\nvoltage = ["L1", "L2"]\n'
W2 = '[[wattmeter]]\nname = "W2"\ncurrent = "L3"\nvoltage = ["L3", "L2"]\n'
TOTAL = '[total]\npower = "W1 + W2"\n'
THREE_WIRES = THREE + STAR + W1 + W2 + TOTAL
FOUR_WIRES = FOUR + STAR + 'star_point = "neutral"\n' + W1 + W2 + TOTAL
MOTOR = (
    '[[load]]\nname = "fan"\nconnection = "motor"\nslip = 0.022\n'
    'circuit = { R1 = "0.641 ohm", X1 = "1.106 ohm", R2 = "0.332 ohm", X2 = "0.464 ohm", '
    'Xm = "26.3 ohm", Rc = "open" }\n'
)


def replaced(text: str, old: str, new: str) -> str:
    """Replace what occurs exactly once, so that a test never changes nothing unnoticed."""
    assert text.count(old) == 1, f"{old!r} occurs {text.count(old)} times"
    return text.replace(old, new)


def load(lines: str, supply: str = THREE) -> str:
    """Write a scenario with one load."""
    return f"{supply}[[load]]\n{lines}\n{W1}"


def meter(lines: str, rest: str = "", supply: str = THREE) -> str:
    """Write a scenario with one wattmeter, and what stands after it."""
    star = STAR if "wires = 3" in supply else STAR + 'star_point = "neutral"\n'
    return f'{supply}{star}[[wattmeter]]\nname = "W1"\n{lines}\n{rest}'
