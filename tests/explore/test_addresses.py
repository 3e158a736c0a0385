"""Addresses that name no situation: one clear message, as a page and as JSON, never markup."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING
from urllib.parse import quote

import pytest

from tests.explore.files import MOTOR, OWN_METERS, UNBALANCED

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.explore.conftest import Page

PATHS = ("/", "/readings", "/why", "/phasors.svg", "/connections.svg", "/scenario.toml")
each_path = pytest.mark.parametrize("path", PATHS)

HOSTILE = [
    ("x=1", "nothing here is called 'x'"),
    ("PF=1", "nothing here is called 'PF'; did you mean 'pf'?"),
    ("I1=NaN", "I1: expected one of -100, -95, -90, …, 90, 95, 100; got 'NaN'"),
    ("I1=1e999", "I1: expected one of"),
    ("I1=inf", "I1: expected one of"),
    ("I1=50.0", "I1: expected one of"),
    ("I1=7", "I1: expected one of"),
    ("I1=", "I1: expected one of"),
    ("I1", "I1: expected one of"),
    ("I1=-0", "I1: expected one of"),
    ("pf=0.8", "pf: expected one of 0lead"),
    ("pf=2lag", "pf: expected one of"),
    ("wires=5", "wires: expected one of 3, 4; got '5'"),
    ("wires=%E0%A5%A9", "wires: expected one of 3, 4; got '३'"),
    ("wires=3&wires=4", "wires: expected it only once"),
    ("reversed=none&reversed=none", "reversed: expected it only once"),
    ("method=guess", "method: expected one of"),
    ("method=as+in+the+file", "method: expected one of"),
    ("line=N", "line: expected one of L1, L2, L3; got 'N'"),
    ("reversed=W1", "reversed: expected 'none', or a list such as"),
    ("reversed=", "reversed: expected 'none', or a list such as"),
    ("reversed=W1.current,", "reversed: expected 'none', or a list such as"),
    ("reversed=W3.current", "reversed: there is no wattmeter 'W3' here"),
    ("sequence=%F0%9F%8E%B2", "sequence: expected one of"),
    ("sequence=%00%1b[31m", "sequence: expected one of L1-L2-L3, L3-L2-L1; got '\\x00\\x1b[31m'"),
    ("I1=%FF", "address: expected plain text"),
    (quote("<script>alert(1)</script>") + "=1", "nothing here is called '<script>alert(1)<"),
    ("pf=" + quote("</p><script>alert(1)</script>"), "pf: expected one of"),
    ("pf=" + quote("\"'><img src=x onerror=alert(1)>"), "pf: expected one of"),
    ("pf=${message}%24%7Bmessage%7D", "pf: expected one of"),
    ("pf=" + "9" * 2000, "address: expected at most 1000 characters, got 2003"),
    ("&".join(f"p{k}=1" for k in range(5000)), "address: expected at most 1000 characters"),
    ("file=12345678", "file: the address needs a scenario file, the page has none"),
    ("a=1&" * 240, "nothing here is called 'a'"),
]
ids = [query[:40] for query, _ in HOSTILE]


@each_path
@pytest.mark.parametrize(("query", "message"), HOSTILE, ids=ids)
def test_refused(page: Page, path: str, query: str, message: str) -> None:
    response = page.get(f"{path}?{query}")
    assert response.status_code == 400
    assert "Traceback" not in response.text
    if path == "/":
        assert response.headers["content-type"].startswith("text/html")
        assert html.escape(message) in response.text
        assert "<script" not in response.text
        assert "<img" not in response.text
    else:
        assert response.headers["content-type"] == "application/json"
        assert response.json()["error"].startswith(message)
        assert len(response.json()["error"]) < 500


@pytest.mark.parametrize(
    ("text", "query", "message"),
    [
        (MOTOR, "I1=5&file=0", "file: expected "),
        (MOTOR, "I1=5", "I1: it cannot be moved here: a motor's currents follow"),
        (MOTOR, "pf=1", "pf: expected one of file; got '1'"),
        (MOTOR, "Nload=open", "Nload: it cannot be moved here: there is no neutral"),
        (UNBALANCED, "wires=3", "wires: it cannot be moved here: the file says"),
        (UNBALANCED, "pf=1", "nothing here is called 'pf'"),
        (UNBALANCED, "turn=31", "turn: expected one of -90, -89, -88, …, 28, 29, 30; got '31'"),
        (OWN_METERS, "reversed=W1.current", "reversed: there is no wattmeter 'W1' here"),
        (OWN_METERS, "line=L1", "line: expected one of A, B, C; got 'L1'"),
        (UNBALANCED, "I1=5&file=0&file=0", "file: expected "),
        (UNBALANCED, "I1=5&file=", "file: expected "),
    ],
)
def test_what_a_file_does_not_allow(
    page_of: Callable[[str], Page], text: str, query: str, message: str
) -> None:
    response = page_of(text).get(f"/readings?{query}")
    assert response.status_code == 400
    assert response.json()["error"].startswith(message)


def test_an_address_of_another_file_is_refused(page_of: Callable[[str], Page]) -> None:
    one, other = page_of(UNBALANCED), page_of(UNBALANCED.replace("46 ohm", "47 ohm"))
    mine = one.ask("/controls")["file"]
    assert len(mine) == 8
    assert page_of(UNBALANCED.replace("= ", "=  ")).ask("/controls")["file"] == mine  # said alike
    assert one.watts(f"I1=5&file={mine}") == one.watts("I1=5")
    refused = other.get(f"/readings?I1=5&file={mine}")
    assert refused.status_code == 400
    words = f"file that the page was started from; got '{mine}', another one"
    assert refused.json()["error"].endswith(words)


@pytest.mark.parametrize(
    ("query", "message"),
    [
        ("I1=-100&I2=-100&I3=-100", "nothing fixes the potential of 'star point of workshop'"),
        ("wires=4&Nload=open&I1=-100&I2=-100&I3=-100", "nothing fixes the potential"),
        ("method=three+wattmeters+to+neutral", "method: 'three wattmeters to neutral' is for 4 w"),
    ],
)
def test_no_solution_is_said_in_words(page: Page, query: str, message: str) -> None:
    assert page.get(f"/?{query}").status_code == 200  # the page opens, and shows the words
    answer = page.ask(f"/readings?{query}")
    assert answer["problem"].startswith(message)
    assert answer["readings"] == []
    assert answer["total"] is None
    assert answer["circuits"]  # the controls go on living
    for path in PATHS[2:5]:
        response = page.get(f"{path}?{query}")
        assert response.status_code == 422
        assert response.json()["error"].startswith(message)


def test_a_file_may_take_the_name_of_the_star_point(page_of: Callable[[str], Page]) -> None:
    named = UNBALANCED.replace('star_point = "neutral"', 'star_point = "P"')
    query = "method=three+wattmeters+to+a+floating+star+point"
    problem = page_of(named).ask(f"/readings?{query}")["problem"]
    assert problem.startswith("method: this method makes a star point 'P', but the file calls")


@pytest.mark.parametrize("host", ["example.org", "127.0.0.1.example.org", "192.168.1.7", "[::1]"])
@each_path
def test_other_hosts_are_refused(page: Page, path: str, host: str) -> None:
    # a page elsewhere whose name has been made to point here
    response = page.client.get(path, headers={"host": f"{host}:8000"})
    assert response.status_code == 400


def test_nothing_can_be_sent(page: Page) -> None:
    for method in ("POST", "PUT", "DELETE", "PATCH"):
        assert page.client.request(method, "/readings").status_code == 405
    assert page.get("/page/../app.py").status_code == 404
    assert page.get("/page/%2e%2e/app.py").status_code == 404
    assert page.get("/nowhere").status_code == 404
