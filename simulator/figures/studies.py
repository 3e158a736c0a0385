"""Curves of a study: readings, total and its error against a quantity that varied."""

from __future__ import annotations

import math
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import ScenarioError
from simulator.figures.plotting import Curve, Panel, draw_panel, prefix
from simulator.figures.sheet import new_sheet
from simulator.figures.style import DIM, PLAIN, Look, settings
from simulator.studies.kinds import POWER_FACTOR, angle_of_power_factor, power_factor_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from matplotlib.figure import Figure

    from simulator.figures.style import Style
    from simulator.phasors import FloatArray
    from simulator.studies.study import Axis, Study

MOST_CURVES = 6
MOST_POINTS = 20_000
TICKED = (-90, -60, -36.87, 0, 36.87, 60, 90)
"""Angles at which a power factor is written on an axis [deg]."""


def draw_study(study: Study, style: Style = PLAIN) -> Figure:
    """Draw the curves of a study against the quantity that has most values.

    Parameters
    ----------
    study : Study
        The study. Where each quantity varies with each, every combination of the other ones has
        a curve of its own.
    style : Style, optional
        The look.

    Returns
    -------
    Figure
        The curves.

    Raises
    ------
    ScenarioError
        If there is nothing to draw a curve against, or there are too many curves.
    """
    panels = _Panels(study, style).all()
    with settings():
        names = ", ".join(axis.name for axis in study.axes)
        figure, body = new_sheet(study.title, f"Varied: {names}")
        columns = min(len(panels), 2)
        boxes = body.grid(-(-len(panels) // columns), columns)
        for panel, box in zip(panels, boxes, strict=False):
            draw_panel(figure, box, panel)
    return figure


def coordinate(axis: Axis) -> tuple[FloatArray, str]:
    """Give the numbers of a quantity on an axis, and the axis its name.

    Parameters
    ----------
    axis : Axis
        The quantity.

    Returns
    -------
    x : ndarray of float, shape (n,)
        The numbers; infinite where the quantity is open.
    name : str
        The quantity, with the unit.

    Raises
    ------
    ScenarioError
        If its values lie on no line.
    """
    values, unit = axis.values, axis.unit.replace("ohm", "Ω").replace("deg", "°")
    if axis.kind is POWER_FACTOR:
        return np.degrees(angle_of_power_factor(values)), axis.name
    if not np.iscomplexobj(values):
        return np.asarray(values, dtype=np.float64), f"{axis.name} [{unit}]" if unit else axis.name
    closed = np.isfinite(values)
    finite = values[closed]

    def spread(numbers: FloatArray) -> FloatArray:
        x = np.full(len(values), np.inf)
        x[closed] = numbers
        return x

    direction = finite[np.argmax(np.abs(finite))] if len(finite) and finite.any() else 1.0
    along = finite / direction
    if np.all(np.abs(along.imag) <= 1e-9):
        part = "" if np.isreal(direction) else ", magnitude"
        return spread(along.real * abs(direction)), f"{axis.name}{part} [{unit}]"
    for part, numbers, other in (
        ("reactance", np.imag, np.real),
        ("resistance", np.real, np.imag),
        ("angle", lambda v: np.degrees(np.angle(v)), np.abs),
    ):
        if np.ptp(other(finite)) <= 1e-9 * np.abs(finite).max():
            return spread(
                numbers(finite)
            ), f"{axis.name}, {part} [{'°' if part == 'angle' else unit}]"
    raise ScenarioError("its values lie on no line that a curve could be drawn along", axis.name)


class _Panels:
    """The panels of one study."""

    def __init__(self, study: Study, style: Style) -> None:
        self.study, self.style = study, style
        if study.seed is not None:
            raise ScenarioError("a curve needs a quantity that varies step by step", "curve")
        lengths = [len(axis.values) for axis in study.axes]
        self.together = len(study.shape) < len(lengths)
        self.main = 0 if self.together else int(np.argmax(lengths))
        self.x, self.x_name = coordinate(study.axes[self.main])
        self.shown = np.isfinite(self.x)
        if len(np.unique(self.x[self.shown])) < 2:
            raise ScenarioError("a curve needs at least two values", study.axes[self.main].name)
        if len(self.x) > MOST_POINTS:
            raise ScenarioError(f"a curve can have at most {MOST_POINTS} points", "curve")
        others = [] if self.together else [a for a in study.axes if a is not study.axes[self.main]]
        self.others = list(product(*(range(len(axis.values)) for axis in others)))
        self.labels = [
            ", ".join(axis.texts[k] for axis, k in zip(others, places, strict=True))
            for places in self.others
        ]
        varied = f"A curve for each {', '.join(axis.name for axis in others)}" if others else ""
        open_cases = "" if self.shown.all() else "without the case in which it is open"
        self.line = "; ".join(part for part in (varied, open_cases) if part)
        if len(self.others) > MOST_CURVES:
            raise ScenarioError(
                f"at most {MOST_CURVES} curves can be told apart on a panel, and there would be "
                f"{len(self.others)}; give the other quantities fewer values",
                "curve",
            )

    def all(self) -> list[Panel]:
        found = [*self.alone()] if len(self.others) == 1 else [*self.compared()]
        return [panel for panel in found if panel.curves]

    def alone(self) -> Iterator[Panel]:
        """Yield panels on which each output is a curve."""
        study, unit = self.study, self.study.total_unit
        readings = {n: v for n, v in study.readings.items() if study.units[n] == "W"}
        about = {"true": study.true} if readings or study.total is not None else {}
        if study.total is not None:
            about = {"total": study.total} | about
        yield self.panel("readings", "Readings", readings | about, f"reading, power [{{}}{unit}]")
        if study.error_percent is not None:
            error = {"error": study.error_percent}
            yield self.panel("error", "Error of the total", error, "error of the total [%]")
        for letter, name in (("V", "Voltmeters"), ("A", "Ammeters")):
            meters = {n: v for n, v in study.readings.items() if study.units[n] == letter}
            yield self.panel(name.lower(), name, meters, f"reading [{{}}{letter}]")

    def compared(self) -> Iterator[Panel]:
        """Yield a panel for each output, with a curve for each value of the other quantities."""
        study = self.study
        units = {"W": "{}W", "V": "{}V", "A": "{}A"}
        if study.error_percent is None:
            for name, values in study.readings.items():
                y_name = f"{name} [{units[study.units[name]]}]"
                yield self.panel(name, name, self.split(values), y_name)
            return
        assert study.total is not None  # noqa: S101  (it has an error)
        unit = study.total_unit
        yield self.panel("total", "Indicated total", self.split(study.total), f"total [{{}}{unit}]")
        errors = self.split(study.error_percent)
        yield self.panel("error", "Error of the total", errors, "error of the total [%]")

    def split(self, values: FloatArray) -> dict[str, FloatArray]:
        turned = np.moveaxis(values, self.main, -1)
        return {
            label: turned[places] for label, places in zip(self.labels, self.others, strict=True)
        }

    def panel(self, name: str, heading: str, curves: dict[str, FloatArray], y_name: str) -> Panel:
        curves = {key: values.ravel()[self.shown] for key, values in curves.items()}
        scale, kilo = 1.0, ""
        if "{}" in y_name:
            scale, kilo = prefix(_largest(curves.values()))
        widths = {"total": 2.6, "true": 6.0}
        looks = {"total": Look(self.style.accent), "true": Look(DIM)}
        x = self.x[self.shown]
        return Panel(
            name,
            heading,
            self.line,
            self.x_name,
            y_name.replace("{}", kilo),
            [
                Curve(
                    key, x, values / scale, looks.get(key, self.style.series(k)), widths.get(key, 2)
                )
                for k, (key, values) in enumerate(curves.items())
            ],
            ticks=self.ticks(x),
            logarithmic=_is_logarithmic(x),
        )

    def ticks(self, x: FloatArray) -> dict[float, str]:
        """Write power factors where the axis has their angles."""
        if self.study.axes[self.main].kind is not POWER_FACTOR:
            return {}
        return {
            phi: power_factor_text(math.copysign(round(math.cos(math.radians(phi)), 4), phi))
            for phi in TICKED
            if x.min() - 1e-9 <= phi <= x.max() + 1e-9
        }


def _largest(curves: Iterable[FloatArray]) -> float:
    return max((float(np.nanmax(np.abs(v), initial=0)) for v in curves), default=0.0)


def _is_logarithmic(x: FloatArray) -> bool:
    """Tell whether steps are equal multiples."""
    if len(x) < 3 or x.min() <= 0:
        return False
    ratios = np.diff(np.log(x))
    return bool(np.ptp(ratios) <= 1e-9 * np.abs(ratios).max() and abs(ratios[0]) > 1e-3)
