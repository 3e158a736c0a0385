"""What stands beside the symbols: names, readings, values."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from simulator.figures.connections.page import Label, Page, Side
from simulator.figures.connections.texts import NAME, extent, fold
from simulator.figures.style import HEADING, TEXT
from simulator.figures.words import quantity
from simulator.formatting import format_impedance
from simulator.installation.loads import Connection

if TYPE_CHECKING:
    from simulator.installation.loads import Load
    from simulator.installation.transformers import InstrumentTransformer
    from simulator.metering.readings import Reading

_WIDTH = 2.9  # at which names are broken
_BETWEEN = 0.12
_CONNECTIONS = {
    Connection.STAR: "star",
    Connection.DELTA: "delta",
    Connection.LINE_TO_LINE: "line to line",
    Connection.LINE_TO_NEUTRAL: "line to neutral",
    Connection.MOTOR: "motor",
}


@dataclass(frozen=True)
class Caption:
    """Lines of text one below the other.

    Attributes
    ----------
    lines : tuple of (str, float, bool)
        Text, font size [pt] and whether it is bold.
    """

    lines: tuple[tuple[str, float, bool], ...]

    @property
    def width(self) -> float:
        """Its width [cm]."""
        return max(extent(t, size, bold=bold)[0] for t, size, bold in self.lines)

    @property
    def height(self) -> float:
        """Its height [cm]."""
        heights = [extent(t, size, bold=bold)[1] for t, size, bold in self.lines]
        return sum(heights) + _BETWEEN * (len(heights) - 1)

    def write(self, page: Page, x: float, top: float, side: Side = "left") -> None:
        """Write it.

        Parameters
        ----------
        page : Page
            Where.
        x, top : float
            Its upper corner, or the middle of its upper edge.
        side : str, optional
            Which side of the text is at `x`.
        """
        for text, size, bold in self.lines:
            page.labels.append(Label(text, (x, top), side, "top", size, bold))
            top -= extent(text, size, bold=bold)[1] + _BETWEEN


def named(name: str, *values: str) -> Caption:
    """Caption a symbol with its name and what else is to be said.

    Parameters
    ----------
    name : str
        The name, broken into lines where it is long.
    *values : str
        Readings or values.

    Returns
    -------
    Caption
        The caption.
    """
    head = fold(name, _WIDTH, NAME, bold=True), NAME, True
    return Caption((head, *plain(*values).lines))


def plain(*values: str) -> Caption:
    """Caption a symbol that needs no name.

    Parameters
    ----------
    *values : str
        What is to be said.

    Returns
    -------
    Caption
        The caption.
    """
    return Caption(tuple((value, TEXT, False) for value in values))


def heading(name: str, what: str, width: float = 3.0) -> Caption:
    """Head a part of the drawing.

    Parameters
    ----------
    name : str
        What it is called.
    what : str
        What it is.
    width : float, optional
        Width at which the name is broken, if it is more than the least one [cm].

    Returns
    -------
    Caption
        The heading.
    """
    folded = fold(name, max(width, 3.0), HEADING, bold=True)
    return Caption(((folded, HEADING, True), (what, TEXT, False)))


def load_heading(load: Load, width: float = 3.0) -> Caption:
    """Name a load and say how it is connected.

    Parameters
    ----------
    load : Load
        The load.
    width : float, optional
        Width at which the name is broken [cm].

    Returns
    -------
    Caption
        The heading.
    """
    return heading(load.name, _CONNECTIONS[load.connection], width)


def reading_caption(reading: Reading, *, shows_circuit: bool) -> Caption:
    """Caption a wattmeter.

    Parameters
    ----------
    reading : Reading
        What it reads.
    shows_circuit : bool
        Whether the impedance of its voltage circuit belongs into the drawing.

    Returns
    -------
    Caption
        Name and reading; behind transformers also what the instrument itself shows.
    """
    meter, is_zero = reading.meter, reading.direction == "zero"
    values = ["0 W" if is_zero else quantity(reading.watts, "W")]
    if meter.ratio != 1 and not is_zero:
        values.append(f"(shows {quantity(reading.at_instrument, 'W')})")
    if meter.instrument.compensated:
        values.append("compensated")
    if shows_circuit and not meter.instrument.senses_only:
        values.append(f"voltage circuit\n{impedance_text(meter.instrument.voltage_circuit)}")
    return named(meter.name, *values)


def impedance_text(Z: complex) -> str:
    """Write an impedance.

    Parameters
    ----------
    Z : complex
        The impedance [ohm].

    Returns
    -------
    str
        For example "25+10j Ω".
    """
    return format_impedance(Z).replace("ohm", "Ω").replace("-", "−")


def impedance_kind(Z: complex) -> str:
    """Tell how an impedance is drawn.

    Parameters
    ----------
    Z : complex
        The impedance [ohm].

    Returns
    -------
    str
        Kind of the symbol.
    """
    return "open" if math.isinf(Z.real) else "impedance"


def transformer_caption(transformer: InstrumentTransformer, unit: Literal["A", "V"]) -> Caption:
    """Caption a current or voltage transformer.

    Parameters
    ----------
    transformer : InstrumentTransformer
        The transformer.
    unit : str
        Unit of its rated quantities.

    Returns
    -------
    Caption
        Its name and its ratio.
    """
    name = fold(transformer.name, _WIDTH, TEXT)
    return plain(f"{name}\n{ratio_text(transformer, unit)}")


def ratio_text(transformer: InstrumentTransformer, unit: Literal["A", "V"]) -> str:
    """Write a transformer's ratio.

    Parameters
    ----------
    transformer : InstrumentTransformer
        The transformer.
    unit : str
        Unit of its rated quantities.

    Returns
    -------
    str
        For example "100/5 A", or "20 : 1" where no rated quantities are known.
    """
    primary, secondary = transformer.rated_primary, transformer.rated_secondary
    if primary is None or secondary is None:
        return f"{transformer.ratio:.4g} : 1"
    return f"{primary:.6g}/{secondary:.6g} {unit}"
