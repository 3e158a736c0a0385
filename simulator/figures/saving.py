"""Figures to files: whole or not at all, the same bytes for the same figure."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.errors import ScenarioError
from simulator.figures.style import settings
from simulator.figures.words import printable
from simulator.files import write_whole

if TYPE_CHECKING:
    from collections.abc import Mapping

    from matplotlib.figure import Figure

DPI = 150
"""Resolution of a png file [dots per inch]."""


def _metadata(title: str) -> dict[str, dict[str, Any]]:
    return {
        ".svg": {"Title": title, "Creator": "Blondel", "Date": None},
        ".png": {"Title": title, "Software": "Blondel"},
        ".pdf": {"Title": title, "Creator": "Blondel", "CreationDate": None},
    }


def save(figure: Figure, path: str | Path, title: str, *, overwrite: bool = False) -> None:
    """Write a figure to a file, in the format its ending names.

    Parameters
    ----------
    figure : Figure
        The figure.
    path : str or Path
        The file, ending in .svg, .png or .pdf.
    title : str
        The scenario's title, embedded in the file.
    overwrite : bool, optional
        Whether a file that exists may be replaced.

    Raises
    ------
    ScenarioError
        If the ending is another one, the file exists, or it cannot be written.
    """
    path = Path(path)
    metadata = _metadata(printable(title))
    ending = path.suffix.lower()
    if ending not in metadata:
        raise ScenarioError("expected a file that ends in .svg, .png or .pdf", str(path))
    content = BytesIO()
    with settings():
        figure.savefig(content, format=ending[1:], dpi=DPI, metadata=metadata[ending])
    write_whole(path, content.getvalue(), overwrite=overwrite)


def save_figures(
    figures: Mapping[str, Figure], path: Path, title: str, *, overwrite: bool = False
) -> list[Path]:
    """Write figures to files; of several, each file carries its figure's name.

    Parameters
    ----------
    figures : mapping of str to Figure
        The figures by name.
    path : Path
        The file for a single one; ``OUT.svg`` becomes ``OUT-phasors.svg`` and so on for several.
    title : str
        The scenario's title, embedded in the files.
    overwrite : bool, optional
        Whether files that exist may be replaced.

    Returns
    -------
    list of Path
        The files.

    Raises
    ------
    ScenarioError
        If the ending is none of the three, or one of the files exists or cannot be written. No
        file is written if one exists.

    Examples
    --------
    >>> from pathlib import Path
    >>> from tempfile import TemporaryDirectory
    >>> import simulator
    >>> scenario = simulator.scenario_from({
    ...     "title": "Heaters",
    ...     "supply": {"wires": 4, "voltage": "400 V"},
    ...     "load": [
    ...         {"connection": "line-to-neutral", "L1": "20 ohm", "L2": "40 ohm", "L3": "40 ohm"}
    ...     ],
    ...     "method": {"name": "one wattmeter to neutral"},
    ... })
    >>> figures = simulator.figures_of(simulator.solve(scenario), ["phasors", "connections"])
    >>> with TemporaryDirectory() as folder:
    ...     files = simulator.save_figures(figures, Path(folder) / "heaters.svg", scenario.title)
    >>> [file.name for file in files]
    ['heaters-phasors.svg', 'heaters-connections.svg']
    """
    paths = {
        name: path if len(figures) == 1 else path.with_stem(f"{path.stem}-{name}")
        for name in figures
    }
    for file in paths.values():
        if file.exists() and not overwrite:
            raise ScenarioError("the file exists; --overwrite replaces it", str(file))
    for name, figure in figures.items():
        save(figure, paths[name], title, overwrite=overwrite)
    return list(paths.values())
