"""Heights of the horizontals: as close as what stands above and below them allows."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

LANE = 0.4
"""Distance of lanes [cm]."""
_GAP = 1.3  # least distance of two levels
_SPARE = 0.3  # room beside a row on which nothing stands


@dataclass(frozen=True)
class _Room:
    """Room needed above and below a row, from left to right."""

    left: float
    right: float
    above: float
    below: float

    def meets(self, other: _Room) -> bool:
        return self.left < other.right and other.left < self.right


@dataclass
class Lane:
    """A horizontal wire between two levels that leads along a conductor to a node of it.

    Attributes
    ----------
    gap : int
        The level above it.
    row : str
        The conductor.
    slot : float
        Where it joins the conductor.
    joints : list of float
        Where wires join it, the one to the conductor among them.
    """

    gap: int
    row: str
    slot: float
    joints: list[float] = field(default_factory=list)


class Levels:
    """Levels of rows and their heights, 0 at the top and falling.

    Parameters
    ----------
    conductors : tuple of str
        The upper rows, one on each level.
    """

    def __init__(self, conductors: tuple[str, ...]) -> None:
        self.of = {row: k for k, row in enumerate(conductors)}
        self.lanes: list[Lane] = []
        self._rooms: dict[str, list[_Room]] = {}
        self._gaps: dict[str, float] = {}
        self._distances: list[float] = []
        self._heights: list[float] = []

    def needs(
        self, row: str, span: tuple[float, float], *, above: float = 0.0, below: float = 0.0
    ) -> None:
        """Ask for room along a row.

        Parameters
        ----------
        row : str
            The row.
        span : tuple of float
            From where to where.
        above, below : float, optional
            Room that something on it needs.
        """
        self._rooms.setdefault(row, []).append(_Room(*span, above, below))

    def needs_gap(self, row: str, height: float) -> None:
        """Ask for a distance between a row and the level above it.

        Parameters
        ----------
        row : str
            The row.
        height : float
            The least distance.
        """
        self._gaps[row] = max(height, self._gaps.get(row, 0.0))

    def settle(self, spans: dict[str, tuple[float, float]]) -> None:
        """Give every other row a level below the conductors, and every level its height.

        Parameters
        ----------
        spans : dict of str to tuple of float
            Each of these rows and from where to where it runs, in the order in which levels are
            given; rows that do not meet may share one.
        """
        n = len(self.of)
        taken: dict[int, list[tuple[float, float]]] = {}
        for row, (low, high) in spans.items():
            level = n
            while any(a < high + 1 and low < b + 1 for a, b in taken.get(level, ())):
                level += 1
            taken.setdefault(level, []).append((low, high))
            self.of[row] = level
        self._distances = [self._needed(k) for k in range(max(self.of.values()))]
        self._distances[:2] = [max(self._distances[:2])] * 2  # the lines are evenly spaced
        self._heights = [0.0, *(-d for d in itertools.accumulate(self._distances))]

    def _needed(self, k: int) -> float:
        """Least distance of a level and the next one."""
        upper, lower = self._rooms_at(k), self._rooms_at(k + 1)
        lanes = sum(lane.gap == k for lane in self.lanes)
        if lanes:
            room = self._below(k) + LANE * lanes + self._above(k + 1)
        else:  # what stands in different columns may share the height
            least = max(self._below(k), self._above(k + 1)) + _SPARE
            room = max([least, *(a.below + b.above for a in upper for b in lower if a.meets(b))])
        rows = [row for row, level in self.of.items() if level == k + 1]
        return max(_GAP, room, *(self._gaps.get(row, 0.0) for row in rows))

    def _rooms_at(self, k: int) -> list[_Room]:
        rows = [row for row, level in self.of.items() if level == k]
        return [room for row in rows for room in self._rooms.get(row, ())]

    def _above(self, k: int) -> float:
        return max((room.above for room in self._rooms_at(k)), default=_SPARE)

    def _below(self, k: int) -> float:
        return max((room.below for room in self._rooms_at(k)), default=_SPARE)

    def y(self, row: str) -> float:
        """Give the height of a row.

        Parameters
        ----------
        row : str
            The row.

        Returns
        -------
        float
            Its height.
        """
        return self._heights[self.of[row]]

    def above(self, row: str) -> float:
        """Give the height of the level above a row.

        Parameters
        ----------
        row : str
            A row that is not the top one.

        Returns
        -------
        float
            Its height.
        """
        return self._heights[self.of[row] - 1]

    @property
    def top(self) -> float:
        """Height above which nothing on the top row reaches."""
        return self._above(0)

    @property
    def bottom(self) -> float:
        """Height below which nothing on any row reaches."""
        return min(y - self._below(k) for k, y in enumerate(self._heights))

    def y_of_lane(self, lane: Lane) -> float:
        """Give the height of a lane; the lanes of the upper row lie above those of the lower one.

        Parameters
        ----------
        lane : Lane
            The lane.

        Returns
        -------
        float
            Its height.
        """
        beside = [other for other in self.lanes if other.gap == lane.gap]
        beside.sort(key=lambda other: self.of[other.row])
        below, above = self._below(lane.gap), self._above(lane.gap + 1)
        spare = self._distances[lane.gap] - below - above - LANE * len(beside)
        top = self._heights[lane.gap] - below - spare / 2
        return top - LANE * (beside.index(lane) + 0.5)
