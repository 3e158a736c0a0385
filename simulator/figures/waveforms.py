"""Waveforms of one wattmeter: voltage, current, and their product, whose mean is the reading."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import ScenarioError
from simulator.figures.placing import Label, place_labels
from simulator.figures.plotting import add_plot, limits, prefix
from simulator.figures.sheet import Box, foot_panel, frame, head_panel, new_sheet
from simulator.figures.style import GUIDE, INK, PLAIN, Style, settings
from simulator.figures.words import circumstances, quantity

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from simulator.figures.placing import Segment
    from simulator.findings.result import Result
    from simulator.metering.readings import Reading
    from simulator.phasors import FloatArray

CYCLES = 2
SAMPLES = 240
"""Samples in a cycle."""


@dataclass(frozen=True)
class Waveforms:
    """What a wattmeter's circuits feel as time passes.

    Attributes
    ----------
    time : ndarray of float, shape (n,)
        Time [s].
    voltage : ndarray of float, shape (n,)
        Voltage of its voltage circuit [V].
    current : ndarray of float, shape (n,)
        Current of its current circuit [A].
    product : ndarray of float, shape (n,)
        What its pointer averages: their product, with the instrument's own error [W].
    mean : float
        Mean of the product over a cycle [W].
    """

    time: FloatArray
    voltage: FloatArray
    current: FloatArray
    product: FloatArray
    mean: float


def waveforms_of(reading: Reading, frequency: float) -> Waveforms:
    """Turn a wattmeter's phasors into functions of time.

    Parameters
    ----------
    reading : Reading
        Its reading.
    frequency : float
        Frequency [Hz].

    Returns
    -------
    Waveforms
        Two cycles from t = 0, ``v(t) = √2·Re(V·exp(jωt))``.
    """
    time = np.arange(CYCLES * SAMPLES + 1) / (SAMPLES * frequency)
    turn = np.sqrt(2) * np.exp(2j * np.pi * frequency * time)
    voltage, current = (reading.voltage * turn).real, (reading.current * turn).real
    acting = (reading.voltage * reading.meter.instrument.voltage_factor * turn).real
    product = acting * current
    return Waveforms(time, voltage, current, product, float(product[:-1].mean()))


def draw_waveforms(result: Result, meter: str | None = None, style: Style = PLAIN) -> Figure:
    """Draw v, i and v·i of one wattmeter over two cycles.

    Parameters
    ----------
    result : Result
        The result.
    meter : str, optional
        Name of the wattmeter; the first one if not given.
    style : Style, optional
        The look.

    Returns
    -------
    Figure
        The waveforms.

    Raises
    ------
    ScenarioError
        If there is no such wattmeter.
    """
    names = list(result.readings)
    if not names:
        raise ScenarioError("waveforms need a wattmeter, and this scenario has none", "figure")
    if meter is not None and meter not in names:
        raise ScenarioError(
            f"no wattmeter is called '{meter}'; there are {', '.join(names)}", "figure"
        )
    with settings():
        return _draw(result, result[meter or names[0]], style)


def _draw(result: Result, reading: Reading, style: Style) -> Figure:
    waves = waveforms_of(reading, result.measurement.supply.frequency)
    title = f"Waveforms of {reading.name}: {circumstances(result)}"
    figure, body = new_sheet(result.measurement.title, title)
    upper, lower = body.stack(0.47)
    ms = 1000 * waves.time
    meter = reading.meter

    frame(figure, upper)
    upper = head_panel(figure, upper, "What its circuits feel")
    names = (
        f"v, {meter.voltage[0]} to {meter.voltage[1]}, {quantity(abs(reading.voltage), 'V')} rms",
        f"i, {meter.current_text}, {quantity(abs(reading.current), 'A')} rms",
    )
    volts = add_plot(figure, _inset(upper), "", "voltage v [V]")
    amperes = volts.twinx()
    amperes.spines["right"].set_visible(True)
    amperes.set_ylabel("current i [A]")
    looks = style.voltage, style.current
    segments: list[Segment] = []
    labels = []
    for k, (axes, values) in enumerate(((volts, waves.voltage), (amperes, waves.current))):
        axes.set_xlim(0, ms[-1])
        largest = float(np.abs(values).max()) or 1.0
        axes.set_ylim(-1.5 * largest, 1.5 * largest)
        look = looks[k]
        axes.plot(ms, values, color=look.colour, linestyle=look.dash, linewidth=2, gid="vi"[k])
        height = values * (volts.get_ylim()[1] / axes.get_ylim()[1])  # on the voltage's axis
        segments += pairwise(zip(ms.tolist(), height.tolist(), strict=True))
        # The voltage's name at its first crest, the current's at its last trough.
        best = int(np.argmin(height[SAMPLES:])) + SAMPLES if k else int(np.argmax(height[:SAMPLES]))
        at = float(ms[best]), float(height[best])
        towards = -90 if k else 90
        labels.append(Label(names[k], at, towards, colour=look.colour, weight="bold"))
    place_labels(volts, labels, segments=segments)

    frame(figure, lower)
    lower = head_panel(figure, lower, "Their product v·i, and its mean: the reading")
    lower = foot_panel(figure, lower, _facts(reading))
    scale, kilo = prefix(float(np.abs(waves.product).max()))
    watts = add_plot(figure, _inset(lower), "time [ms]", f"v·i [{kilo}W]")
    product = waves.product / scale
    watts.set_xlim(0, ms[-1])
    low, high = limits([product])
    watts.set_ylim(low, high + 0.16 * (high - low))
    fill = partial(watts.fill_between, ms, product, interpolate=True, linewidth=0)
    fill(where=product >= 0, facecolor=style.positive)
    fill(where=product <= 0, facecolor=style.negative, edgecolor=GUIDE, hatch="////")
    watts.plot(ms, product, color=INK, linewidth=1.6, gid="product")
    dash = (0, (8, 3))
    mean = waves.mean / scale
    watts.axhline(mean, color=style.accent, linewidth=1.8, linestyle=dash, gid="mean")
    watts.text(
        *(ms[-1], watts.get_ylim()[1]),
        f"dashed: mean {quantity(reading.at_instrument, 'W')}, {reading.direction}",
        color=style.accent,
        weight="bold",
        horizontalalignment="right",
        verticalalignment="top",
    )
    return figure


def _inset(box: Box) -> Box:
    """Leave room below a heading, and for the axis on the right."""
    return Box(box.left, box.bottom, box.width - 0.65, box.height - 0.08)


def _facts(reading: Reading) -> list[str]:
    facts = ["Shaded: v·i drives the pointer upscale; hatched: downscale. It shows the mean."]
    if reading.meter.instrument.voltage_factor != 1:
        facts.append("The product has the instrument's own error in it.")
    if reading.meter.ratio != 1:
        facts.append(
            f"At the instrument; times {reading.meter.ratio:.6g} for the transformers: "
            f"{quantity(reading.watts, 'W')}."
        )
    return facts
