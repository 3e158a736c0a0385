"""The page in a real browser: every control by mouse and by keyboard, two browsers, times.

Run with ``pytest -m browser``; it takes Debian's chromium and ``pip install -e '.[browser]'``.
"""

from __future__ import annotations

import json
import shutil
import time
from contextlib import ExitStack
from statistics import median
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qsl, urlsplit

import pytest

from simulator.cli import main
from tests.explore.files import MOTOR, OWN_METERS, UNBALANCED
from tests.explore.test_server import served

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Locator, Page

pytestmark = pytest.mark.browser

QUIET = (
    "--no-sandbox",  # CI is root
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
FLOATING = "wires=4&method=three+wattmeters+to+a+floating+star+point"
ARTIFICIAL = "method=one+wattmeter+with+artificial+neutral"
SLIDERS = ["U1", "U2", "U3", "Nsupply", "pf", "I1", "I2", "I3", "Nload", "coil1", "coil2", "coil3"]
CHOICES = {"wires": "3", "sequence": "L3-L2-L1", "line": "L3"}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright  # noqa: PLC0415

    with sync_playwright() as playwright:
        path = shutil.which("chromium") or "/usr/bin/chromium"
        browser = playwright.chromium.launch(executable_path=path, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served() as (address, _):
        yield address


class Visitor:
    """Someone in front of the page, who notices anything it says to the console."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address = page, address
        self.complaints: list[str] = []
        page.on("console", lambda message: self.hear(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("request", self.watch)

    def hear(self, text: str) -> None:
        if "status of 422" not in text:  # no drawing where there is no solution
            self.complaints.append(text)

    def watch(self, request: Any) -> None:
        if not request.url.startswith((self.address, "data:")):
            self.complaints.append(f"asked elsewhere: {request.url}")

    def open(self, query: str = "") -> None:
        self.page.goto(f"{self.address}?{query}" if query else self.address)
        self.settled()

    def settled(self) -> None:
        """Wait until the readings on the board belong to where the controls stand."""
        same = "document.body.dataset.wanted === document.body.dataset.readings"
        until = time.monotonic() + 10
        while not self.page.evaluate(f"'wanted' in document.body.dataset && {same}"):
            assert time.monotonic() < until, "the readings do not come"
            time.sleep(0.005)

    def drawn(self) -> None:
        """Wait until the drawings do, too."""
        query = self.page.evaluate("document.body.dataset.wanted")
        self.page.wait_for_selector(f'body[data-connections="{query}"]', state="attached")

    def control(self, name: str) -> Locator:
        return self.page.locator(f"#control-{name}")

    def query(self) -> str:
        return urlsplit(self.page.url).query

    def watts(self) -> dict[str, float]:
        cells = self.page.locator("#readings li:has([data-watts])")
        return {
            cell.locator("b").inner_text(): float(
                cell.locator("[data-watts]").get_attribute("data-watts") or "nan"
            )
            for cell in cells.all()
        }

    def shown(self) -> list[str]:
        return self.page.locator("#readings .number").all_inner_texts()

    def total(self) -> tuple[float, float]:
        values = self.page.locator("#sum [data-value]")
        both = [float(v.get_attribute("data-value") or "nan") for v in values.all()]
        return both[0], both[1]

    def download(self, folder: Path) -> Path:
        with self.page.expect_download() as waiting:
            self.page.locator("#download").click()
        file = folder / "situation.toml"
        waiting.value.save_as(file)
        return file

    def drag(self, name: str, part: float) -> None:
        """Drag a slider's thumb to a part of its length, by mouse."""
        self.control(name).scroll_into_view_if_needed()
        box = self.control(name).bounding_box()
        assert box
        at = int(self.control(name).input_value()) / int(
            self.control(name).get_attribute("max") or 1
        )
        y = box["y"] + box["height"] / 2

        def x(part: float) -> float:
            return box["x"] + 8 + part * (box["width"] - 16)

        mouse = self.page.mouse
        mouse.move(x(at), y)
        mouse.down()
        for k in range(1, 6):
            mouse.move(x(at + (part - at) * k / 5), y)
        mouse.up()
        self.settled()


@pytest.fixture
def address_of(tmp_path: Path) -> Iterator[Callable[[str], str]]:
    """Serve a scenario's text for as long as a test takes."""
    with ExitStack() as servers:

        def address_of(text: str) -> str:
            file = tmp_path / "start.toml"
            file.write_text(text)
            return servers.enter_context(served(str(file)))[0]

        yield address_of


@pytest.fixture
def visit(
    browser: Browser,
    address: str,
    address_of: Callable[[str], str],  # noqa: ARG001  (its servers must outlive the visitors)
) -> Iterator[Callable[..., Visitor]]:
    """Open the page in a browser of its own."""
    visitors: list[Visitor] = []

    def visit(query: str = "", at: str = address, **settings: Any) -> Visitor:
        page = browser.new_context(**settings).new_page()
        visitor = Visitor(page, at)
        visitors.append(visitor)
        visitor.open(query)
        return visitor

    yield visit
    for visitor in visitors:
        visitor.page.context.close()
        assert visitor.complaints == []


@pytest.fixture
def read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Callable[[Visitor], None]:
    """Compare what is on the board with ``read --json`` of the downloaded file."""

    def read(visitor: Visitor) -> None:
        file = visitor.download(tmp_path)
        assert main(["read", str(file), "--json"]) == 0
        found = json.loads(capsys.readouterr().out)
        assert visitor.watts() == {r["name"]: r["watts"] for r in found["readings"]}
        total = found["total"]
        assert visitor.total() == (total["indicated"], total["true"])
        assert visitor.page.locator("#reason").inner_text() == total["reason"]

    return read


def moved(visitor: Visitor) -> dict[str, str]:
    return dict(parse_qsl(visitor.query()))


@pytest.mark.parametrize("name", SLIDERS)
def test_sliders(visit: Callable[..., Visitor], read: Callable[[Visitor], None], name: str) -> None:
    visitor = visit(f"{FLOATING}&I1=40&Nload=0.5")
    before = visitor.watts(), visitor.total()
    at_first = visitor.control(name).input_value()
    visitor.drag(name, 0.83)
    by_mouse = visitor.control(name).input_value()
    assert by_mouse != at_first
    assert (visitor.watts(), visitor.total()) != before
    read(visitor)
    visitor.control(name).focus()
    for key in ("ArrowLeft", "PageDown", "ArrowUp"):
        visitor.page.keyboard.press(key)
    visitor.settled()
    by_keys = visitor.control(name).input_value()
    assert by_keys != by_mouse
    read(visitor)
    said = visitor.control(name).get_attribute("aria-valuetext")
    assert said == visitor.page.locator(f"output[for=control-{name}]").inner_text()
    visitor.control(name).press("Home")
    visitor.settled()
    assert visitor.control(name).input_value() == "0"


@pytest.mark.parametrize("name", [*CHOICES, "method"])
def test_choices(visit: Callable[..., Visitor], read: Callable[[Visitor], None], name: str) -> None:
    visitor = visit("wires=4&I1=40")
    at_first = visitor.control(name).input_value()
    visitor.control(name).focus()
    visitor.page.keyboard.press("ArrowUp" if name == "wires" else "ArrowDown")
    visitor.settled()
    assert visitor.control(name).input_value() == CHOICES.get(name, "three wattmeters to a line")
    assert visitor.control(name).input_value() != at_first
    read(visitor)
    visitor.control(name).click()  # by mouse: the list opens, and a key would choose in it
    visitor.page.keyboard.press("Escape")
    visitor.control(name).select_option(at_first)
    visitor.settled()
    assert moved(visitor) == {"wires": "4", "I1": "40"}
    read(visitor)


def test_every_method(visit: Callable[..., Visitor], read: Callable[[Visitor], None]) -> None:
    visitor = visit("wires=4&I1=40")
    options = visitor.control("method").locator("option")
    names = [option.get_attribute("value") or "" for option in options.all()]
    assert len(names) == 12
    for name in names:
        visitor.control("method").select_option(name)
        visitor.settled()
        read(visitor)


def test_reversed_circuits(visit: Callable[..., Visitor], read: Callable[[Visitor], None]) -> None:
    visitor = visit(FLOATING)
    right = visitor.watts()
    boxes = visitor.page.locator("input[name=reversed]")
    assert boxes.count() == 6
    for k in range(6):
        boxes.nth(k).click()
        visitor.settled()
        read(visitor)
        if k % 2 == 0:
            name = f"W{k // 2 + 1}"
            assert visitor.watts()[name] == pytest.approx(-right[name])
    assert visitor.watts() == pytest.approx(right)
    boxes.first.focus()
    visitor.page.keyboard.press("Space")
    visitor.settled()
    assert visitor.watts()["W1"] == pytest.approx(-right["W1"])
    assert visitor.shown()[0].startswith("−")
    assert "below zero" in visitor.page.locator("#readings li").first.inner_text()


def test_artificial_neutral(visit: Callable[..., Visitor], read: Callable[[Visitor], None]) -> None:
    visitor = visit(ARTIFICIAL)
    assert visitor.page.locator("label[for=control-coil2]").inner_text() == "R1 from L3 to P"
    for name in ("coil1", "coil2", "coil3"):
        visitor.drag(name, 0.1)
        read(visitor)


def test_keyboard_alone(visit: Callable[..., Visitor]) -> None:
    visitor = visit()
    visitor.drawn()
    reached = set()
    for _ in range(60):
        visitor.page.keyboard.press("Tab")
        reached.add(visitor.page.evaluate("document.activeElement.id"))
    usable = {"cover", "download", "again", "phasors-link", "connections-link"}
    usable |= {f"control-{n}" for n in ("wires", "sequence", "U1", "pf", "I3", "method", "line")}
    assert usable <= reached
    assert "control-Nload" not in reached  # it does nothing on three wires, and says so
    assert visitor.control("Nload").is_disabled()
    assert (
        visitor.page.locator("#why-not-Nload").inner_text() == "there is no neutral on three wires"
    )


def test_back_and_forth(visit: Callable[..., Visitor]) -> None:
    visitor = visit()
    first = visitor.shown()
    visitor.control("pf").focus()
    for _ in range(3):
        visitor.page.keyboard.press("ArrowRight")
    visitor.settled()
    second = visitor.shown()
    visitor.drag("I1", 0.9)
    third, address = visitor.shown(), visitor.page.url
    assert len({str(x) for x in (first, second, third)}) == 3
    for expected in (second, first):
        visitor.page.go_back()
        visitor.settled()
        assert visitor.shown() == expected
    assert visitor.query() == ""
    assert visitor.control("pf").get_attribute("aria-valuetext") == "0.8 lag, φ 36.9°"
    again = visit(urlsplit(address).query)  # shared with a colleague
    assert again.shown() == third
    again.page.locator("#again").click()
    again.settled()
    assert again.shown() == first


def test_two_browsers_at_once(visit: Callable[..., Visitor]) -> None:
    one, other = visit(), visit(FLOATING)
    alone = {name: visit(name).watts() for name in ("I1=50", f"{FLOATING}&I1=50")}
    for _ in range(10):
        for visitor in (one, other):
            visitor.control("I1").focus()
            visitor.page.keyboard.press("ArrowRight")
    for visitor, key in ((one, "I1=50"), (other, f"{FLOATING}&I1=50")):
        visitor.settled()
        assert visitor.watts() == alone[key]


def test_what_changed_is_said(visit: Callable[..., Visitor]) -> None:
    visitor = visit("wires=4&method=three+wattmeters+to+neutral")
    visitor.control("I1").focus()
    visitor.page.keyboard.press("End")
    visitor.settled()
    said = visitor.page.locator("#readings .was").all_inner_texts()
    assert said == ["was 1847.5 W", "unchanged", "unchanged"]  # derived: 5542.6 W / 3


def test_covered_answer(visit: Callable[..., Visitor]) -> None:
    visitor = visit()
    button = visitor.page.locator("#cover")
    button.click()
    assert visitor.shown() == ["? W", "? W"]
    assert not visitor.page.locator("#phasors").is_visible()
    assert visitor.page.locator("#reason").inner_text().startswith("Say which readings will change")
    visitor.drag("pf", 0.5)
    assert visitor.shown() == ["? W", "? W"]
    button.press("Enter")
    assert visitor.shown() == ["3464.1 W", "3464.1 W"]  # derived: 4000·cos 30°
    visitor.drawn()
    assert visitor.page.locator("#phasors").is_visible()


def test_no_solution(visit: Callable[..., Visitor]) -> None:
    visitor = visit("I1=-100&I2=-100")
    visitor.control("I3").focus()
    visitor.page.keyboard.press("Home")
    visitor.settled()
    assert "nothing fixes the potential" in visitor.page.locator("#problem").inner_text()
    assert not visitor.page.locator("#answers").locator("figure").first.is_visible()
    visitor.control("I3").press("End")
    visitor.settled()
    assert visitor.page.locator("#problem").inner_text() == ""
    visitor.drawn()
    assert visitor.page.locator("#phasors").is_visible()


def test_hostile_address(browser: Browser, address: str) -> None:
    page = browser.new_page()
    dialogs: list[str] = []
    page.on("dialog", lambda dialog: dialogs.append(dialog.message))
    response = page.goto(f"{address}?pf=<script>alert(1)</script>")
    assert response is not None
    assert response.status == 400
    assert "'<script>alert(1)</script>'" in page.locator("p.reason").inner_text()
    page.get_by_role("link", name="Begin with a clean board").click()
    page.wait_for_selector("#readings li")
    assert page.locator("#readings li").count() == 2
    assert dialogs == []
    page.close()


@pytest.mark.parametrize("text", [UNBALANCED, OWN_METERS], ids=["U", "own meters"])
def test_file(
    visit: Callable[..., Visitor],
    read: Callable[[Visitor], None],
    address_of: Callable[[str], str],
    text: str,
) -> None:
    visitor = visit(at=address_of(text))
    read(visitor)
    for name in ("turn", "I1", "U2", "Nload"):
        visitor.drag(name, 0.3)
        read(visitor)
    visitor.page.locator("input[name=reversed]").first.click()
    visitor.settled()
    read(visitor)


def test_motor(visit: Callable[..., Visitor], address_of: Callable[[str], str]) -> None:
    visitor = visit(at=address_of(MOTOR))
    for name in ("pf", "I1", "I2", "I3"):
        assert visitor.control(name).is_disabled()
    words = visitor.page.locator("#group-load").inner_text()
    assert "a motor's currents follow from its own circuit" in words


@pytest.mark.parametrize("width", [360, 1024, 1920])
@pytest.mark.parametrize(
    "query", ["", f"{FLOATING}&coil2=-50&I1=100", "pf=0.1lag", "I1=-100&I2=-100"]
)
def test_nothing_sticks_out(visit: Callable[..., Visitor], width: int, query: str) -> None:
    visitor = visit(query, viewport={"width": width, "height": 800})
    fits(visitor, width)


def test_nothing_sticks_out_of_a_file(
    visit: Callable[..., Visitor], address_of: Callable[[str], str]
) -> None:
    at = address_of(OWN_METERS.replace("20 kW", "210 kW"))  # six digits before the point
    for width in (360, 1024, 1920):
        fits(visit(at=at, viewport={"width": width, "height": 800}), width)


def fits(visitor: Visitor, width: int) -> None:
    assert visitor.page.evaluate("document.documentElement.scrollWidth") == width
    strip = visitor.page.locator("#strip")
    for number in strip.locator(".number").all():
        box, room = number.bounding_box(), strip.bounding_box()
        assert box
        assert room
        assert box["x"] + box["width"] <= room["x"] + room["width"]
    visitor.page.locator("footer").scroll_into_view_if_needed()
    assert strip.locator(".number").first.is_visible()


HIDDEN = """() => {
  const strip = document.getElementById("strip"), focused = document.activeElement;
  if (focused.closest(".board, body > .skip") || focused === document.body) return null;
  const [a, b] = [strip, focused].map((element) => element.getBoundingClientRect());
  const shown = b.top >= a.bottom - 1 || a.bottom <= 0;
  return shown && b.bottom <= innerHeight + 1 || b.height > innerHeight / 2 ? null : focused.id;
}"""


@pytest.mark.parametrize(("width", "height"), [(360, 640), (640, 400), (1920, 1080)])
def test_what_has_the_focus_is_in_sight(
    visit: Callable[..., Visitor], width: int, height: int
) -> None:
    # 640 by 400 is a window of 1280 by 800 at twice its size
    visitor = visit(FLOATING, viewport={"width": width, "height": height})
    visitor.drawn()
    for key in ["Tab"] * 40 + ["Shift+Tab"] * 40:
        visitor.page.keyboard.press(key)
        assert visitor.page.evaluate(HIDDEN) is None


def test_on_a_projector_what_is_moved_stays_beside_what_follows(
    visit: Callable[..., Visitor],
) -> None:
    visitor = visit(viewport={"width": 1920, "height": 1080})
    visitor.drawn()
    visitor.page.locator("#connections").evaluate("image => image.scrollIntoView()")
    heights = [
        (box["y"], box["y"] + box["height"])
        for name in ("#control-pf", "#connections", "#strip")
        if (box := visitor.page.locator(name).bounding_box())
    ]
    (top, bottom), (drawing, _), (_, strip) = heights
    assert strip <= top < bottom <= 1080
    assert drawing < 400
    first = visitor.page.locator("#connections").get_attribute("src")
    visitor.control("pf").press("ArrowRight")
    visitor.drawn()
    assert visitor.page.locator("#connections").get_attribute("src") != first


def style(visitor: Visitor, selector: str, name: str) -> str:
    code = "(element, name) => getComputedStyle(element)[name]"
    return str(visitor.page.locator(selector).first.evaluate(code, name))


def test_on_paper(visit: Callable[..., Visitor]) -> None:
    visitor = visit(f"{FLOATING}&coil2=-50&I1=100&reversed=W1.current", color_scheme="dark")
    visitor.drawn()
    visitor.page.emulate_media(media="print", color_scheme="dark")
    for selector in ("#strip .number", "#reason", ".moved output", "#table td.here"):
        assert style(visitor, selector, "color") == "rgb(0, 0, 0)"
        assert visitor.page.locator(selector).first.is_visible()
    for selector in ("body", "#strip", ".because"):
        assert style(visitor, selector, "backgroundColor") == "rgb(255, 255, 255)"
    for selector in ("#cover", "#download", "#control-I1", "#phasors-link"):
        assert not visitor.page.locator(selector).is_visible()
    shown = [b for b in visitor.page.locator("input[name=reversed]").all() if b.is_visible()]
    assert [b.get_attribute("value") for b in shown] == ["W1.current"]
    assert visitor.page.locator("footer .caution").is_visible()


def test_without_colours_and_without_motion(visit: Callable[..., Visitor]) -> None:
    visitor = visit("I1=40&wires=4", forced_colors="active", reduced_motion="reduce")
    visitor.drawn()
    assert style(visitor, "#control-pf", "appearance") == "auto"  # the browser's own colours
    assert style(visitor, "#strip", "borderTopStyle") == "solid"
    assert style(visitor, "#phasors", "transitionProperty") == "none"
    assert visitor.page.locator(".verdict dd").inner_text().startswith("✗ off by")
    here = visitor.page.locator("#table td.here").all_inner_texts()
    assert here
    assert all(text.startswith("▸ ✗") for text in here)


def test_an_address_of_another_file(
    browser: Browser, visit: Callable[..., Visitor], address_of: Callable[[str], str]
) -> None:
    visitor = visit(at=address_of(UNBALANCED))
    visitor.control("I1").press("End")
    visitor.settled()
    assert set(moved(visitor)) == {"I1", "file"}
    again = visit(visitor.query(), at=visitor.address)
    assert again.watts() == visitor.watts()
    other = browser.new_page()
    response = other.goto(f"{address_of(MOTOR)}?{visitor.query()}")
    assert response is not None
    assert response.status == 400
    assert "another one" in other.locator("p.reason").inner_text()
    other.close()


WATCH = """() => {
  window.moves = [];
  addEventListener("input", () => window.moves.push({ at: performance.now() }), true);
  new MutationObserver((changes) => {
    const move = window.moves.at(-1);
    requestAnimationFrame(() => {
      for (const { attributeName } of changes) {
        if (move) move[attributeName.slice(5)] ??= performance.now() - move.at;
      }
    });
  }).observe(document.body, { attributes: true });
}"""
PAINTED = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))"
BUDGETS = {"readings": 100, "phasors": 300, "connections": 800}  # ms, from the brief of the page


def test_times(visit: Callable[..., Visitor], capsys: pytest.CaptureFixture[str]) -> None:
    """Report how long after a move each answer is on the page.

    Nothing is judged but that each answer comes: how fast depends on what else the machine does.
    """
    visitor = visit("U1=1")  # drawn in no other test
    visitor.drawn()
    visitor.page.evaluate(WATCH)
    visitor.control("I1").focus()
    for _ in range(9):
        visitor.page.keyboard.press("ArrowRight")
        visitor.drawn()
        visitor.page.evaluate(PAINTED)
    moves = visitor.page.evaluate("window.moves")
    assert len(moves) == 9
    with capsys.disabled():
        print("\n  From a move to its answer on the page [ms]:")  # noqa: T201  (a report)
        for what, budget in BUDGETS.items():
            times = sorted(move[what] for move in moves)
            line = f"{what}: {times[0]:.0f} to {times[-1]:.0f}, median {median(times):.0f}"
            print(f"  {line} (goal {budget})")  # noqa: T201
