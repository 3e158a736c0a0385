"""Nodes in words: where on a conductor, or which point."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from simulator.installation.conductors import EARTH, SUPPLY_STAR_POINT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.metering.arrangement import Arrangement, WiredArrangement


class NodeNames:
    """Words for the nodes of a wired arrangement, the same for the same node.

    Parameters
    ----------
    wired : WiredArrangement
        The network, and which part of it is what.
    """

    def __init__(self, wired: WiredArrangement) -> None:
        arrangement = wired.arrangement
        self._phrases = {
            SUPPLY_STAR_POINT: "star point of the supply",
            EARTH: EARTH,
            **{k: k for k in arrangement.conductors.all},
            **{f"{k} source terminal": f"{k} at the source" for k in arrangement.conductors.lines},
            **{
                f"star point of {load.name}": f"star point of {load.name}"
                for load in arrangement.loads
            },
            **dict(_ends_of_leads(arrangement)),
            **dict(_places_on_conductors(arrangement)),
        }

    def phrase(self, node: str) -> str:
        """Name a node.

        Parameters
        ----------
        node : str
            The node.

        Returns
        -------
        str
            Its name in words.
        """
        return self._phrases.get(node, f"node {node}")


def _ends_of_leads(arrangement: Arrangement) -> Iterator[tuple[str, str]]:
    for load in arrangement.loads:
        for conductor in load.leads:
            node = load.terminal(conductor)
            if node != conductor:
                yield node, f"{load.name}, inner end of the lead in {conductor}"


def _places_on_conductors(arrangement: Arrangement) -> Iterator[tuple[str, str]]:
    for conductor in arrangement.conductors.all:
        meters = [
            meter.name
            for meter in arrangement.wattmeters
            if any(w.conductor == conductor for w in meter.windings)
        ]
        meters += [meter.name for meter in arrangement.ammeters if meter.conductor == conductor]
        if meters:
            supply_side = f"{conductor} on the supply side of {meters[0]}"
            yield f"{conductor} (supply side)", supply_side
            yield conductor, f"{conductor} on the load side of {meters[-1]}"
        for before, after in itertools.pairwise(meters):
            yield f"{conductor} after {before}", f"{conductor} between {before} and {after}"
