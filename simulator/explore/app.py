"""The page's routes: every answer follows from the address alone, nothing is stored."""

from __future__ import annotations

import html
from functools import lru_cache
from pathlib import Path
from string import Template
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.datastructures import MutableHeaders
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from simulator.errors import SimulatorError
from simulator.explore.answers import controls_object, readings_object
from simulator.explore.state import AddressError
from simulator.explore.why import Object, why_object

if TYPE_CHECKING:
    from collections.abc import Callable

    from starlette.requests import Request
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from simulator.explore.situation import Board
    from simulator.explore.state import State

LOOPBACK = "127.0.0.1"
PAGE = Path(__file__).parent / "page"

_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
}
# a drawing's own styles stand inside it
_DRAWING_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"
BAD_ADDRESS, NO_SOLUTION = 400, 422


def application(board: Board) -> Starlette:
    """Build the page.

    Parameters
    ----------
    board : Board
        What can be asked of it.

    Returns
    -------
    Starlette
        The application.
    """

    def state(request: Request) -> State:
        return board.state(request.scope["query_string"])

    def page(request: Request) -> Response:
        state(request)
        return FileResponse(PAGE / "index.html")

    def controls(_: Request) -> Response:
        return JSONResponse(controls_object(board))

    def readings(request: Request) -> Response:
        return JSONResponse(readings_object(board, state(request)))

    @lru_cache(64)
    def reasons(state: State) -> Object:
        return why_object(board, state)

    def why(request: Request) -> Response:
        return JSONResponse(reasons(state(request)))

    def figure(name: str) -> Callable[[Request], Response]:
        def answer(request: Request) -> Response:
            headers = {"Content-Security-Policy": _DRAWING_POLICY}
            drawing = board.figure(state(request), name)
            return Response(drawing, media_type="image/svg+xml", headers=headers)

        return answer

    def scenario_file(request: Request) -> Response:
        headers = {"Content-Disposition": 'attachment; filename="situation.toml"'}
        text = board.toml(state(request))
        return Response(text, media_type="application/toml", headers=headers)

    return Starlette(
        routes=[
            Route("/", page),
            Route("/controls", controls),
            Route("/readings", readings),
            Route("/why", why),
            Route("/phasors.svg", figure("phasors")),
            Route("/connections.svg", figure("connections")),
            Route("/scenario.toml", scenario_file),
            Mount("/page", StaticFiles(directory=PAGE)),
        ],
        middleware=[
            Middleware(_Headers),
            Middleware(TrustedHostMiddleware, allowed_hosts=[LOOPBACK, "localhost"]),
        ],
        exception_handlers={SimulatorError: _refuse},
    )


class _Headers:
    """Adds to every answer what keeps a browser from doing more with it than show it."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await self.app(scope, receive, send_with_headers)


def _refuse(request: Request, error: Exception) -> Response:
    """Say what is wrong, in the form in which the answer was expected."""
    status = BAD_ADDRESS if isinstance(error, AddressError) else NO_SOLUTION
    if request.url.path != "/":
        return JSONResponse({"error": str(error)}, status)
    page = Template((PAGE / "refused.html").read_text(encoding="utf-8"))
    return HTMLResponse(page.substitute(message=html.escape(str(error))), status)
