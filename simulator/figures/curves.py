"""Curves: readings, their ratio and the error of the total, one quantity varied at a time."""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import ScenarioError
from simulator.figures.mismatch import against_mismatch
from simulator.figures.plotting import Curve, Panel, draw_panel, prefix
from simulator.figures.sheet import new_sheet
from simulator.figures.style import DIM, PLAIN, Look, Style, settings
from simulator.figures.sweeps import (
    PowerFactorSweep,
    against_neutral_impedance,
    against_power_factor,
    against_unbalance,
    angle_of_load,
    apparent_power,
    error_percent,
    reading_ratio,
)
from simulator.figures.words import circumstances, power_factor, quantity

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.figure import Figure

    from simulator.figures.sweeps import ErrorSweep
    from simulator.findings.result import Result
    from simulator.phasors import FloatArray

_POWER_FACTORS = {-60.0: "0.5", -30.0: "0.866", 0.0: "1", 30.0: "0.866", 60.0: "0.5"}
_POWER_FACTORS |= {-90.0: "0 lead", 90.0: "0 lag"}
_ERROR = "error of the total [%]"


def draw_curves(result: Result, names: Sequence[str] | None = None, style: Style = PLAIN) -> Figure:
    """Draw curves around a scenario, each on a panel of its own.

    Parameters
    ----------
    result : Result
        The result of the scenario.
    names : sequence of str, optional
        Keys of `CURVES`; all that make sense for the scenario if not given.
    style : Style, optional
        The look.

    Returns
    -------
    Figure
        The curves.

    Raises
    ------
    ScenarioError
        If a curve that was asked for, or every one, does not apply; it says why.
    """
    curves = _Curves(result, style)
    panels = curves.applying() if names is None else [curves.panel(name) for name in names]
    with settings():
        figure, body = new_sheet(result.measurement.title, f"Curves: {circumstances(result)}")
        columns = 1 if len(panels) == 1 else 2 if len(panels) <= 4 else 3
        boxes = body.grid(-(-len(panels) // columns), columns)
        for panel, box in zip(panels, boxes, strict=False):
            draw_panel(figure, box, panel)
    return figure


class _Curves:
    """The panels around one result; what several of them need is computed once."""

    def __init__(self, result: Result, style: Style) -> None:
        self.result, self.style = result, style

    def panel(self, name: str) -> Panel:
        if name not in CURVES:
            raise ScenarioError(f"no curve is called '{name}'; known are {', '.join(CURVES)}")
        try:
            return CURVES[name](self)
        except ScenarioError as error:
            raise ScenarioError(error.message, f"curve '{name}'") from error

    def applying(self) -> list[Panel]:
        found, reasons = [], []
        for name in CURVES:
            try:
                found.append(self.panel(name))
            except ScenarioError as error:
                reasons.append(str(error))
        if not found:
            raise ScenarioError(f"no curve makes sense here: {'; '.join(reasons)}", "figure")
        return found

    @cached_property
    def sweep(self) -> PowerFactorSweep:
        return against_power_factor(self.result)

    @cached_property
    def own_angle(self) -> float:
        """Angle of the scenario's own load, where it can be marked."""
        angle = angle_of_load(self.result)
        return angle if abs(angle) <= 90 else math.nan

    @cached_property
    def balanced(self) -> str:
        return f"balanced star of {quantity(apparent_power(self.result), 'VA')}"

    def readings(self) -> Panel:
        sweep, total = self.sweep, self.result.total
        values = dict(sweep.readings)
        looks = {name: self.style.series(k) for k, name in enumerate(values)}
        own = {name: reading.watts for name, reading in self.result.readings.items()}
        scale, kilo = prefix(max(float(np.abs(v).max()) for v in values.values()))
        y_name = f"reading [{kilo}W]"
        if total and sweep.total is not None and sweep.true is not None:
            values["total"], looks["total"] = sweep.total, Look(self.style.accent)
            own["total"] = total.indicated
            y_name += f", total [{kilo}{'var' if total.reactive else 'W'}]"
            values["true"], looks["true"] = sweep.true, Look(DIM)
        widths = {"total": 2.6, "true": 6.0}
        curves = [
            Curve(name, sweep.angles, v / scale, looks[name], widths.get(name, 1.8))
            for name, v in values.items()
        ]
        return Panel(
            "power-factor",
            "Readings against power factor",
            f"On a {self.balanced}; rings: this scenario itself",
            "power factor",
            y_name,
            curves,
            [(self.own_angle, watts / scale) for watts in own.values()],
            ticks=_POWER_FACTORS,
        )

    def ratio(self) -> Panel:
        names = list(self.result.readings)
        if len(names) != 2:
            raise ScenarioError(f"a ratio needs two wattmeters, and there are {len(names)}")
        sweep = self.sweep
        first, second = (sweep.readings[name] for name in names)
        curves = []
        order = np.argsort(np.abs(sweep.angles))[::-1]  # from power factor 0 to 1
        for k, (name, sign) in enumerate((("lag", 1), ("lead", -1))):
            part = order[sign * sweep.angles[order] >= 0]
            factor = np.cos(np.radians(sweep.angles[part]))
            y = reading_ratio(first[part], second[part])
            curves.append(Curve(name, factor, y, self.style.series(k), 2.2))
        watts = [np.array([self.result[name].watts]) for name in names]
        own = math.cos(math.radians(self.own_angle)), float(reading_ratio(*watts)[0])
        return Panel(
            "ratio",
            "Ratio of the readings against power factor",
            f"On a {self.balanced}; ring: this scenario itself",
            "power factor",
            "smaller / larger reading",
            curves,
            [own],
            ticks={0.0: "0", 0.25: "0.25", 0.5: "0.5", 0.707: "0.707", 0.866: "0.866", 1.0: "1"},
        )

    def unbalance(self) -> Panel:
        sweep = against_unbalance(self.result)
        return Panel(
            "unbalance",
            "Error against unbalance",
            f"A {self.balanced}, {power_factor(self.own_angle)}, then one line changed",
            "change of one line's admittance [%]",
            _ERROR,
            self.errors(sweep),
        )

    def mismatch(self) -> Panel:
        return Panel(
            "mismatch",
            "Error against unequal voltage circuits",
            "This load; all circuits at the star point equal, then the first one changed",
            "change of one voltage circuit [%]",
            _ERROR,
            self.errors(against_mismatch(self.result)),
        )

    def neutral(self) -> Panel:
        sweep = against_neutral_impedance(self.result)
        own = abs(self.result.measurement.supply.neutral_impedance)
        return Panel(
            "neutral-impedance",
            "Error against neutral impedance",
            "This load; the neutral between supply and meters gets a resistance",
            "resistance of the neutral [Ω]",
            _ERROR,
            self.errors(sweep),
            [(own, error_percent(self.result))] if sweep.x[0] <= own <= sweep.x[-1] else [],
            logarithmic=True,
        )

    def errors(self, sweep: ErrorSweep) -> list[Curve]:
        """Turn errors into curves; one that lies on zero says so."""
        if all(np.isnan(values).all() for values in sweep.errors.values()):
            raise ScenarioError("there is no error in percent where the total should be zero")
        return [
            Curve(name, sweep.x, values, self.style.series(k), 2.2, _on_zero(values))
            for k, (name, values) in enumerate(sweep.errors.items())
        ]


def _on_zero(errors: FloatArray) -> str:
    return ": on zero" if np.nanmax(np.abs(errors), initial=0) < 1e-7 else ""


CURVES: dict[str, Callable[[_Curves], Panel]] = {
    "power-factor": _Curves.readings,
    "ratio": _Curves.ratio,
    "unbalance": _Curves.unbalance,
    "mismatch": _Curves.mismatch,
    "neutral-impedance": _Curves.neutral,
}
"""The curves by name."""
