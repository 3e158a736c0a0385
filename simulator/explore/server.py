"""Serving the page to this machine alone."""

from __future__ import annotations

import gc
import socket
import sys
import threading
from contextlib import suppress
from typing import TYPE_CHECKING

import uvicorn

from simulator.errors import ScenarioError, SimulatorError
from simulator.explore.app import LOOPBACK, application
from simulator.explore.situation import Board
from simulator.explore.state import State

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.scenario.models import Scenario


def serve(scenario: Scenario | None, port: int, ready: Callable[[str], None]) -> None:
    """Serve the page until it is interrupted.

    Parameters
    ----------
    scenario : Scenario or None
        What it starts from; None for a balanced load on 400 V.
    port : int
        The port; 0 for a free one.
    ready : Callable
        Is called with the page's address when a browser can open it.

    Raises
    ------
    ScenarioError
        If the port cannot be had.
    """
    try:
        listener = socket.create_server((LOOPBACK, port))
    except OSError as error:
        raise ScenarioError(f"port {port} cannot be had: {error.strerror}", "--port") from error
    gc.set_threshold(50_000, 20, 100)  # a drawing leaves thousands of small objects behind
    sys.setswitchinterval(0.0005)  # readings do not queue behind a drawing
    with listener:
        board = Board(scenario)
        threading.Thread(target=_warm_up, args=(board,), daemon=True).start()
        ready(f"http://{LOOPBACK}:{listener.getsockname()[1]}/")
        config = uvicorn.Config(
            application(board),
            log_level="warning",
            access_log=False,
            server_header=False,
            lifespan="off",
            timeout_graceful_shutdown=1,
        )
        uvicorn.Server(config).run(sockets=[listener])


def _warm_up(board: Board) -> None:
    """Load what drawing takes before the first drawing is asked for."""
    with suppress(SimulatorError):
        board.figure(State(), "phasors")
