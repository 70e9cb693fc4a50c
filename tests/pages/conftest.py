"""Headless Chromium, and the demo in a process of its own."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Request, expect, sync_playwright
from tests.chromium import ARGUMENTS, CHROMIUM, MISSING, WHOLE
from tests.command import FORKS
from tests.pages import demo_process  # by its whole name: the process must find it too

HERE = Path(__file__).parent
OUT = HERE.parent / "out"
SCENARIO = HERE.parents[1] / "host" / "lampwarden" / "rig" / "scenario"
PHONE, DESK = (360, 740), (1440, 900)
LONG = bool(os.environ.get("LAMPWARDEN_LONG"))
PATIENCE_MS = 45_000  # beside others on two cores a page may take its time
expect.set_options(timeout=PATIENCE_MS)


def looks(*short: str, **more: tuple[tuple[int, int], str]) -> pytest.MarkDecorator:
    """Runs a test with these looks, "phone" or "desk"; in the long form with both, and with those in `more`."""
    known = {"phone": (PHONE, "dark"), "desk": (DESK, "light")}
    chosen = known | more if LONG else {name: known[name] for name in short}
    return pytest.mark.parametrize(("size", "scheme"), chosen.values(), ids=chosen)


class Shown:
    """A dashboard in a process of its own: `run` is given a line, says its address there, ends when it is closed."""

    def __init__(self, run: Callable[..., None], *about: object) -> None:
        self._line, theirs = FORKS.Pipe()
        self.process = FORKS.Process(target=run, args=(theirs, *about))
        self.process.start()
        theirs.close()
        try:
            self.address: str = self._line.recv()
        except EOFError:
            raise AssertionError("the dashboard did not start; see its traceback above") from None

    def close(self) -> None:
        self._line.close()
        self.process.join(60)
        if self.process.is_alive():
            self.process.kill()
            raise AssertionError("the dashboard did not end within a minute")


class DemoProcess(Shown):
    """The demo and a line to its simulated chamber, see demo_process.py."""

    def __init__(self, program: Path, speed: float, *, begin: bool) -> None:
        super().__init__(demo_process.run, program, speed, begin)

    def do(self, what: str, value: Any = None) -> Any:
        self._line.send((what, value))
        return self._line.recv()

    @property
    def truth(self) -> dict[str, Any]:
        """What the simulated lamps really do."""
        return self.do("truth")


@pytest.fixture
def demo() -> Iterator[Callable[..., DemoProcess]]:
    """Starts a demo: of the short trial unless another program is named."""
    started: list[DemoProcess] = []

    def start(program: Path = HERE / "trial.toml", speed: float = 60.0, *, begin: bool = True) -> DemoProcess:
        started.append(DemoProcess(program, speed, begin=begin))
        return started[-1]

    yield start
    for process in started:
        process.close()


@pytest.fixture(scope="package")  # longer, and its event loop would stand in the way of other rooms' tests
def launch() -> Iterator[Callable[..., Browser]]:
    """Starts a browser, with more arguments if given."""
    with sync_playwright() as playwright:

        def start(path: Path, *more: str) -> Browser:
            if not path.exists():
                pytest.skip(MISSING)
            return playwright.chromium.launch(executable_path=path, args=[*ARGUMENTS, *more])

        yield start


@pytest.fixture(scope="package")
def shell(launch: Callable[..., Browser]) -> Iterator[Browser]:
    browser = launch(CHROMIUM)
    yield browser
    browser.close()


@pytest.fixture(scope="module")
def chromium(request: pytest.FixtureRequest, launch: Callable[..., Browser]) -> Iterator[Browser]:
    if getattr(request.module, "WHOLE_BROWSER", False):
        browser = launch(WHOLE)
        yield browser
        browser.close()
    else:
        yield request.getfixturevalue("shell")


class Look:
    """One open page and what went wrong in it."""

    def __init__(self, page: Page, name: str) -> None:
        self.page, self.name = page, name
        self.foreign: list[str] = []
        self.errors: list[str] = []
        page.set_default_timeout(PATIENCE_MS)
        page.on("request", self._request)
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.errors.append(str(error)))

    def _request(self, request: Request) -> None:
        if not request.url.startswith(("http://localhost:", "ws://localhost:", "data:", "blob:")):
            self.foreign.append(request.url)

    def _console(self, message: ConsoleMessage) -> None:
        if message.type == "error":
            self.errors.append(message.text)

    def open(self, address: str) -> None:
        self.page.goto(address)
        self.says("Temperatures")

    def says(self, text: str) -> None:
        """Waits until the page says this."""
        self.page.get_by_text(text).first.wait_for()

    def headline(self, text: str) -> None:
        """Waits for a headline."""
        self.page.locator("h1", has_text=text).wait_for()

    def unfold(self, title: str) -> None:
        """Opens what is folded away under a title; again if the page moved under the click."""
        fold = self.page.locator("details", has=self.page.locator("summary", has_text=title)).last
        while fold.get_attribute("open") is None:
            fold.locator("summary").first.click()
            self.page.wait_for_timeout(100)

    def press(self, name: str) -> None:
        """Presses a button that can be seen."""
        self.page.get_by_role("button", name=name, exact=True).click()

    def shoot(self, label: str) -> None:
        """Saves the whole page under tests/out for somebody to look at, and checks that nothing sticks out sideways."""
        width = self.page.viewport_size["width"]
        assert self.page.evaluate("document.documentElement.scrollWidth") <= width, f"{label} is wider than {width} px"
        if "CI" not in os.environ:
            self.page.screenshot(path=OUT / f"{label}-{self.name}.png", full_page=True)


@pytest.fixture
def look(chromium: Browser) -> Iterator[Callable[..., Look]]:
    """Opens a page; at the end none may have asked a foreign host or reported an error."""
    contexts: list[BrowserContext] = []
    looks: list[Look] = []

    def open_page(address: str, size: tuple[int, int] = DESK, scheme: str = "light") -> Look:
        width, height = size
        context = chromium.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme, timezone_id="Europe/Oslo"
        )
        contexts.append(context)
        looks.append(Look(context.new_page(), f"{width}-{scheme}"))
        looks[-1].open(address)
        return looks[-1]

    yield open_page
    for context in contexts:
        context.close()
    assert [url for one in looks for url in one.foreign] == []
    assert [error for one in looks for error in one.errors] == []
