"""From readings to conclusions: total, reactive power, power factor, impedance, or a refusal."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.findings.balanced import ROOT3, BalancedLoad
from simulator.findings.reason import amount
from simulator.findings.self_checks import count_readings, self_checks

if TYPE_CHECKING:
    from simulator.findings.self_checks import Check, Hypothesis
    from simulator.findings.station import Station
    from simulator.quantities import PowerFactor

_ONLY_THE_TOTAL = (
    "{}: {} readings give the total, but no angle, reactive power or impedance follows from them."
)

_NO_POWER = "All readings are zero: there is no angle to speak of."


@dataclass(frozen=True)
class Given:
    """What was read, and how.

    Attributes
    ----------
    readings : dict of str to float
        One, two or three readings by name [W]. Two: first the wattmeter in the line before the
        common line, then the one in the line after it, in cyclic label order.
    lines : tuple of str, shape (3,)
        Names of the lines.
    common : str
        The line on which both voltage circuits of two wattmeters end.
    sequence : {1, -1}
        Whether the lines peak in label order.
    voltage : float or None
        Line-to-line voltage, rms [V].
    current : float or None
        Line current, rms [A].
    power_factor : PowerFactor or None
        Of the load, for one or three wattmeters.
    tolerance : float
        Relative difference up to which two values count as equal.
    objection : str or None
        Why the load's angle cannot follow from the readings, if that is known beforehand: the start
        of a sentence.
    """

    readings: dict[str, float]
    lines: tuple[str, str, str] = ("L1", "L2", "L3")
    common: str = "L2"
    sequence: int = 1
    voltage: float | None = None
    current: float | None = None
    power_factor: PowerFactor | None = None
    tolerance: float = 0.02
    objection: str | None = None

    @property
    def meter_lines(self) -> tuple[str, str]:
        """The lines of two wattmeters: the one before the common line, the one after it."""
        k = self.lines.index(self.common)
        return self.lines[k - 1], self.lines[(k + 1) % 3]

    def equal(self, a: float, b: float) -> bool:
        """Tell whether two values are equal within the tolerance.

        Parameters
        ----------
        a, b : float
            The values.

        Returns
        -------
        bool
            True if they differ by no more than its part of the larger one.
        """
        return math.isclose(a, b, rel_tol=self.tolerance)


@dataclass(frozen=True)
class Inference:
    """What follows from readings, and what does not.

    Attributes
    ----------
    given : Given
        What was read.
    readings : dict of str to float
        The readings as they count [W].
    indicated : float
        What the readings make together [W].
    active : float or None
        Active power [W]; None if it does not follow.
    load : BalancedLoad or None
        The load; None if it does not follow.
    claim : BalancedLoad or None
        The load that the formula would have claimed, where it was refused.
    refused : str or None
        Why something does not follow, in one sentence.
    checks : tuple of Check
        Self-checks with the line voltage and the line current.
    hypotheses : tuple of Hypothesis
        The ways to count readings whose sign is in doubt; empty if there is no doubt.
    settled : bool
        Whether voltage and current decide between the hypotheses.
    station : Station or None
        The solved scenario that says what is true.
    """

    given: Given
    readings: dict[str, float]
    indicated: float
    active: float | None
    load: BalancedLoad | None = None
    claim: BalancedLoad | None = None
    refused: str | None = None
    checks: tuple[Check, ...] = ()
    hypotheses: tuple[Hypothesis, ...] = ()
    settled: bool = False
    station: Station | None = None

    @property
    def voltage(self) -> float | None:
        """Line-to-line voltage, given or worked out, rms [V]."""
        return _other(self.load, self.given.voltage, self.given.current)

    @property
    def current(self) -> float | None:
        """Line current, given or worked out, rms [A]."""
        return _other(self.load, self.given.current, self.given.voltage)

    @property
    def star(self) -> complex | None:
        """Impedance of a phase in star [ohm]; a third of the one in delta."""
        load, V, I = self.load, self.voltage, self.current
        if load is None or not load.apparent or V is None or I is None or load.active < 0:
            return None
        return V / (ROOT3 * I) * complex(load.active, load.reactive) / load.apparent


def infer(given: Given) -> Inference:
    """Draw from readings what follows from them.

    Parameters
    ----------
    given : Given
        One reading to a neutral, two readings to a common line, or three to a common point.

    Returns
    -------
    Inference
        Conclusions, checks and refusals.

    Examples
    --------
    >>> import simulator
    >>> found = simulator.infer(simulator.Given({"W1": 2000, "W2": 4000}, voltage=400))
    >>> found.active, f"{found.load.power_factor:.3f}", found.load.sense, f"{found.current:.1f} A"
    (6000, '0.866', 'lag', '10.0 A')
    """
    return _two(given) if len(given.readings) == 2 else _to_neutral(given)


def _other(load: BalancedLoad | None, known: float | None, partner: float | None) -> float | None:
    """Give the known one of V and I, or work it out from S = √3·V·I."""
    if known is not None or load is None or partner is None:
        return known
    return load.apparent / (ROOT3 * partner)


def _two(given: Given) -> Inference:
    hypotheses = count_readings(given)
    as_read = hypotheses[0]
    if given.objection:
        return _refuse(given, as_read, _ONLY_THE_TOTAL.format(given.objection, "two"))
    fitting = [h for h in hypotheses if h.fits]
    settled = len(fitting) == 1 and len(hypotheses) > 1
    chosen = fitting[0] if settled else as_read
    if chosen is as_read and min(given.readings.values()) >= 0:
        hypotheses, settled = (), False  # nothing to doubt
    checks = self_checks(chosen.load, given)
    if not all(check.holds for check in checks):
        return _refuse(given, as_read, _contradiction(checks), checks, hypotheses)
    total = sum(chosen.readings.values())
    return Inference(
        given,
        chosen.readings,
        total,
        total,
        chosen.load,
        refused=None if chosen.load.apparent else _NO_POWER,
        checks=checks,
        hypotheses=hypotheses,
        settled=settled,
    )


def _refuse(
    given: Given,
    as_read: Hypothesis,
    refused: str,
    checks: tuple[Check, ...] = (),
    hypotheses: tuple[Hypothesis, ...] = (),
) -> Inference:
    total = sum(as_read.readings.values())
    return Inference(
        given,
        as_read.readings,
        total,
        total,
        claim=as_read.load,
        refused=refused,
        checks=checks,
        hypotheses=hypotheses,
    )


def _contradiction(checks: tuple[Check, ...]) -> str:
    broken = next(check for check in checks if not check.holds)
    left, right = (amount(x, broken.unit).strip() for x in (broken.left, broken.right))
    return (
        f"{broken.relation} does not hold ({left} against {right}): the load is unbalanced, or a "
        "meter is wrongly wired or read, so no angle, reactive power or impedance follows."
    )


def _to_neutral(given: Given) -> Inference:
    """Conclude from one reading, or from three, to a neutral or a star point."""
    watts = list(given.readings.values())
    one = len(watts) == 1
    total = 3 * watts[0] if one else math.fsum(watts)
    load = _load_to_neutral(given, total)
    checks = self_checks(load, given) if load and not given.objection else ()
    refused = _unlike(given, watts)
    if refused is None and not all(check.holds for check in checks):
        refused = _contradiction(checks)
    if refused is None and load is None:
        refused = (
            "Watts to a neutral say nothing about the angle: power factor, reactive power and "
            "impedance need the line voltage and a line current, or a power factor above 0."
        )
    if refused is None and load is not None and not load.apparent:
        refused = _NO_POWER
    return Inference(
        given,
        given.readings,
        total,
        active=None if one and given.objection else total,
        load=load if refused in (None, _NO_POWER) else None,
        refused=refused,
        checks=checks,
    )


def _load_to_neutral(given: Given, total: float) -> BalancedLoad | None:
    factor = given.power_factor
    if factor is not None:
        tangent = math.tan(math.radians(factor.angle_deg))
        return BalancedLoad(total, total * tangent) if factor.value else None
    if given.voltage is None or given.current is None:
        return None
    S = ROOT3 * given.voltage * given.current
    squared = (S - abs(total)) * (S + abs(total))
    return BalancedLoad(total, math.sqrt(max(squared, 0.0)), sense_known=squared <= 0)


def _unlike(given: Given, watts: list[float]) -> str | None:
    """Say why readings to a neutral are not those of a balanced load; None if they may be."""
    low, high = min(watts), max(watts)
    if given.objection and len(watts) == 1:
        return f"{given.objection}: one reading says nothing about the other two lines."
    if given.objection:
        return _ONLY_THE_TOTAL.format(given.objection, "three")
    if not given.equal(low, high):
        return (
            f"The readings differ by more than {100 * given.tolerance:g} %: the load is "
            "unbalanced or a meter wrongly connected, so no one power factor or impedance follows."
        )
    if low < 0:
        return (
            "A negative reading to a neutral means a reversed circuit or power that flows back, "
            "and watts alone do not tell which: no power factor or impedance follows."
        )
    return None
