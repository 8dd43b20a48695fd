"""The browsers of Debian for a walk through a page: Chromium, Firefox and WebKit by one set of verbs.

Each is driven by what it has of its own: Chromium by playwright, Firefox by WebDriver BiDi on its
remote port (W3C, WebDriver BiDi), WebKit by Debian's WebKitWebDriver (W3C, WebDriver). They get
free ports, folders and a sink of sound of their own, and only what was started here is stopped.

A missing program skips a test and says what to install; in CI it fails.
"""

from __future__ import annotations

import base64
import contextlib
import json
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

import pytest
from browser_fixtures import WAIT_MS
from playwright.sync_api import Page
from selenium.webdriver import Remote
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.client_config import ClientConfig
from selenium.webdriver.remote.remote_connection import RemoteConnection
from selenium.webdriver.remote.websocket_connection import WebSocketConnection
from selenium.webdriver.webkitgtk.options import Options
from selenium.webdriver.webkitgtk.service import Service

WAIT_S = WAIT_MS / 1000
LOOK_AGAIN_S = 0.05
ANSWER_AGAIN_S = 0.005
LONGEST_LOG = 4000
START_S = 60.0
"""A start takes some seconds. Only a program that hangs takes this long."""
NOWHERE = "http://127.0.0.1:9"
"""A proxy where nobody answers (RFC 863's port): whoever asks it has no network."""
LIBRARIES = Path("/usr/lib")
FIREFOX = {
    "app.normandy.enabled": False,
    "app.update.enabled": False,
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.homepage_override.mstone": "ignore",
    "datareporting.policy.dataSubmissionEnabled": False,
    "intl.accept_languages": "en-GB",
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
    "remote.active-protocols": 1,
    "toolkit.telemetry.enabled": False,
}
"""Settings of a new profile: no first-run pages, no errands of the browser's own."""
OFFLINE = {
    "network.proxy.type": 1,
    "network.proxy.http": "127.0.0.1",
    "network.proxy.http_port": 9,
    "network.proxy.ssl": "127.0.0.1",
    "network.proxy.ssl_port": 9,
    "network.proxy.allow_hijacking_localhost": True,
}


class Hand(Protocol):
    """A browser with a page, as a walk uses it."""

    name: str

    def go(self, url: str) -> None:
        """Open an address."""

    def run(self, expression: str) -> Any:
        """Return the value of an expression of JavaScript, awaited."""

    def click(self, css: str) -> None:
        """Press the element, as a finger or mouse does."""

    def type(self, css: str, text: str) -> None:
        """Type into an element that has the focus."""

    def resize(self, width: int, height: int) -> None:
        """Give the page a size, px."""

    def picture(self, file: Path) -> None:
        """Save what is seen."""


KEYS = {"Home": "\ue011", "End": "\ue010"}
"""Keys as WebDriver writes them (W3C, WebDriver, 17.4.2)."""
MARK = "data-hand"
FIND = """(() => {
  const said = (one) => (one.getAttribute("aria-label") ?? one.textContent).trim();
  document.querySelector("[%(mark)s]")?.removeAttribute("%(mark)s");
  const found = [...document.querySelectorAll(%(css)s)].find(
    (one) => one.checkVisibility() && !one.disabled && said(one).startsWith(%(words)s));
  found?.setAttribute("%(mark)s", "");
  found?.scrollIntoView({ block: "center" });
  return Boolean(found);
})()"""


def until(hand: Hand, expression: str, *, within_s: float = WAIT_S) -> Any:
    """Wait until an expression is true, and return its value."""
    begun = time.monotonic()
    while not (found := hand.run(expression)):
        assert time.monotonic() - begun < within_s, f"{hand.name}: not within {within_s:g} s: {expression}"
        time.sleep(LOOK_AGAIN_S)
    return found


def tap(hand: Hand, css: str, words: str = "") -> None:
    """Tap the first element that is seen, can be used and begins with these words."""
    find = FIND % {"mark": MARK, "css": json.dumps(css), "words": json.dumps(words)}
    until(hand, find)
    hand.click(f"[{MARK}]")


def _has_focus(hand: Hand, css: str) -> bool:
    """Tap a field, and tell if it has the focus: a page that moves meanwhile is tapped beside it."""
    tap(hand, css)
    return bool(hand.run(f"document.activeElement.hasAttribute({json.dumps(MARK)})"))


def write(hand: Hand, css: str, text: str) -> None:
    """Tap a field and type into it, or press a key of `KEYS` there."""
    begun = time.monotonic()
    while not _has_focus(hand, css):
        assert time.monotonic() - begun < WAIT_S, f"{hand.name}: no focus at {css}"
    hand.type(f"[{MARK}]", KEYS.get(text, text))


@dataclass
class ChromiumHand:
    """Chromium, by playwright."""

    page: Page
    name: str = "chromium"

    def go(self, url: str) -> None:
        """Open an address."""
        self.page.goto(url)

    def run(self, expression: str) -> Any:
        """Return the value of an expression of JavaScript, awaited."""
        return json.loads(self.page.evaluate(f"async () => {_as_json(expression)}"))

    def click(self, css: str) -> None:
        """Press the element, as a finger or mouse does."""
        self.page.locator(css).click()

    def type(self, css: str, text: str) -> None:
        """Type into an element that has the focus."""
        names = {sign: name for name, sign in KEYS.items()}
        if text in names:
            self.page.keyboard.press(names[text])
        else:
            self.page.keyboard.type(text)

    def resize(self, width: int, height: int) -> None:
        """Give the page a size, px."""
        self.page.set_viewport_size({"width": width, "height": height})

    def picture(self, file: Path) -> None:
        """Save what is seen."""
        self.page.screenshot(path=file)


@dataclass
class FirefoxHand:
    """Firefox, by WebDriver BiDi."""

    line: WebSocketConnection
    context: str
    name: str = "firefox"

    def go(self, url: str) -> None:
        """Open an address."""
        self._ask("browsingContext.navigate", url=url, wait="complete")

    def run(self, expression: str) -> Any:
        """Return the value of an expression of JavaScript, awaited."""
        wanted = {"expression": f"(async () => {_as_json(expression)})()", "awaitPromise": True}
        answer = self._ask("script.evaluate", target={"context": self.context}, **wanted)
        assert answer["type"] == "success", answer["exceptionDetails"]["text"]
        return json.loads(answer["result"]["value"])

    def click(self, css: str) -> None:
        """Press the element, as a finger or mouse does."""
        wanted = {"expression": f"document.querySelector({json.dumps(css)})", "awaitPromise": False}
        found = self._ask("script.evaluate", target={"context": self.context}, **wanted)["result"]
        origin = {"type": "element", "element": {"sharedId": found["sharedId"]}}
        move = {"type": "pointerMove", "x": 0, "y": 0, "origin": origin}  # its middle, wherever it is then
        press = [{"type": kind, "button": 0} for kind in ("pointerDown", "pointerUp")]
        self._act({"type": "pointer", "id": "finger", "actions": [move, *press]})

    def type(self, css: str, text: str) -> None:
        """Type into an element that has the focus."""
        keys = [{"type": kind, "value": sign} for sign in text for kind in ("keyDown", "keyUp")]
        self._act({"type": "key", "id": "keys", "actions": keys})

    def resize(self, width: int, height: int) -> None:
        """Give the page a size, px."""
        self._ask("browsingContext.setViewport", viewport={"width": width, "height": height})

    def picture(self, file: Path) -> None:
        """Save what is seen."""
        file.write_bytes(base64.b64decode(self._ask("browsingContext.captureScreenshot")["data"]))

    def _act(self, source: dict[str, Any]) -> None:
        self._ask("input.performActions", actions=[source])

    def _ask(self, method: str, **more: Any) -> dict[str, Any]:
        place = {} if "target" in more else {"context": self.context}
        return _ask(self.line, method, **place, **more)


def _ask(line: WebSocketConnection, method: str, **more: Any) -> dict[str, Any]:
    """Return the result of a command of WebDriver BiDi."""
    answer = line.send_cmd(method, more)
    assert "result" in answer, f"{method}: {answer}"
    found: dict[str, Any] = answer["result"]
    return found


@dataclass
class WebKitHand:
    """WebKit, by WebDriver."""

    driver: Remote
    name: str = "webkit"

    def go(self, url: str) -> None:
        """Open an address."""
        self.driver.get(url)

    def run(self, expression: str) -> Any:
        """Return the value of an expression of JavaScript, awaited."""
        script = f"""const done = arguments[arguments.length - 1];
          (async () => {_as_json(expression)})().then((text) => done({{ text }}),
            (error) => done({{ error: String(error) }}));"""
        answer = self.driver.execute_async_script(script)
        assert "text" in answer, answer
        return json.loads(answer["text"])

    def click(self, css: str) -> None:
        """Press the element, as a finger or mouse does."""
        self.driver.find_element(By.CSS_SELECTOR, css).click()

    def type(self, css: str, text: str) -> None:
        """Type into an element that has the focus."""
        self.driver.find_element(By.CSS_SELECTOR, css).send_keys(text)

    def resize(self, width: int, height: int) -> None:
        """Give the page a size, px; the window is as much larger as its bars need."""
        self.driver.set_window_size(width, height)
        for _ in range(3):
            inner = self.run("[innerWidth, innerHeight]")
            outer = self.driver.get_window_size()
            if inner == [width, height]:
                return
            self.driver.set_window_size(
                outer["width"] + width - inner[0], outer["height"] + height - inner[1]
            )
            time.sleep(0.2)

    def picture(self, file: Path) -> None:
        """Save what is seen."""
        self.driver.save_screenshot(str(file))


def _as_json(expression: str) -> str:
    """The body of a function whose value always has a form in JSON."""
    return f"JSON.stringify((await ({expression})) ?? null)"


def program(name: str, package: str) -> str:
    """Return a program's path. Where it is missing the test skips; in CI it fails."""
    found = shutil.which(name)
    if found is None:
        _missing(package)
    assert found is not None
    return found


def _missing(package: str) -> None:
    needed = f"missing: apt-get install {package}"
    if os.environ.get("CI") == "true":
        pytest.fail(f"{needed}; CI must install it")
    pytest.skip(needed)


def mini_browser() -> str:
    """Return the path of WebKit's own small browser, which Debian keeps beside the library."""
    found = sorted(LIBRARIES.glob("*/webkit2gtk-4.*/MiniBrowser"))
    if not found:
        _missing("webkit2gtk-driver")
    return str(found[-1])


@dataclass
class Started:
    """Programs that were started here, stopped in the opposite order."""

    folder: Path
    environment: dict[str, str] = field(default_factory=dict)
    stack: contextlib.ExitStack = field(default_factory=contextlib.ExitStack)

    def run(self, *words: str, **more: Any) -> subprocess.Popen[bytes]:
        """Start a program; what it prints goes into a log."""
        log = self.stack.enter_context((self.folder / f"{Path(words[0]).name}.log").open("ab"))
        process = subprocess.Popen(
            words, stdout=log, stderr=log, env={**os.environ, **self.environment}, **more
        )
        self.stack.callback(_stop, process)
        return process


def _stop(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait(10)


def _until_there(found: Callable[[], Any], process: subprocess.Popen[bytes], what: str) -> Any:
    """Wait for what a program brings about, and return it."""
    begun = time.monotonic()
    while not (it := found()):
        assert process.poll() is None, f"{what} ended with {process.poll()}"
        assert time.monotonic() - begun < START_S, f"{what} did not start"
        time.sleep(LOOK_AGAIN_S)
    return it


def start_sink(started: Started) -> None:
    """Start a sink of sound that nobody hears: without one a browser's clock of sound stands still."""
    socket = started.folder / "sound"
    modules = ("module-null-sink", f"module-native-protocol-unix auth-anonymous=1 socket={socket}")
    loads = [word for one in modules for word in ("-L", one)]
    home = {"HOME": str(started.folder), "XDG_RUNTIME_DIR": str(started.folder)}
    started.environment.update(home)
    words = ("-n", "--daemonize=no", "--exit-idle-time=-1", "--disable-shm=yes", "--use-pid-file=no")
    process = started.run(program("pulseaudio", "pulseaudio"), *words, *loads)
    _until_there(socket.exists, process, "pulseaudio")
    started.environment["PULSE_SERVER"] = f"unix:{socket}"


def start_screen(started: Started) -> None:
    """Start a screen that nobody sees, on a free number."""
    reading, writing = os.pipe()
    words = ("-displayfd", str(writing), "-screen", "0", "1600x1400x24", "-nolisten", "tcp")
    process = started.run(program("Xvfb", "xvfb"), *words, pass_fds=(writing,))
    os.close(writing)
    with os.fdopen(reading) as end:
        number = end.readline().strip()
    assert number, f"Xvfb ended with {process.poll()}"
    started.environment["DISPLAY"] = f":{number}"


def start_firefox(started: Started, *, offline: bool) -> FirefoxHand:
    """Start Firefox with a profile of its own."""
    profile = started.folder / "profile"
    profile.mkdir()
    settings = {**FIREFOX, **(OFFLINE if offline else {})}
    lines = [f"user_pref({json.dumps(key)}, {json.dumps(value)});" for key, value in settings.items()]
    (profile / "user.js").write_text("\n".join(lines))
    words = ("--headless", "--no-remote", "--remote-debugging-port", "0", "--profile", str(profile))
    process = started.run(program("firefox-esr", "firefox-esr"), *words, "about:blank")
    told = profile / "WebDriverBiDiServer.json"
    at = _until_there(lambda: told.exists() and _read(told), process, "firefox-esr")
    line = WebSocketConnection(f"ws://{at['ws_host']}:{at['ws_port']}/session", START_S, ANSWER_AGAIN_S)
    started.stack.callback(line.close)
    _ask(line, "session.new", capabilities={})
    return FirefoxHand(line, _ask(line, "browsingContext.getTree")["contexts"][0]["context"])


def _read(file: Path) -> Any:
    """Return a file's JSON; None while it is being written."""
    try:
        return json.loads(file.read_text())
    except ValueError:
        return None


def start_webkit(started: Started, *, offline: bool) -> WebKitHand:
    """Start WebKit's small browser under its driver."""
    start_screen(started)
    options = Options()
    options.binary_location = mini_browser()
    for word in ("--automation", *((f"--proxy={NOWHERE}",) if offline else ())):
        options.add_argument(word)
    service = Service(
        program("WebKitWebDriver", "webkit2gtk-driver"), env={**os.environ, **started.environment}
    )
    started.stack.callback(service.stop)
    service.start()
    connection = RemoteConnection(client_config=ClientConfig(service.service_url))
    driver = Remote(connection, options=options)
    started.stack.callback(driver.quit)
    driver.set_script_timeout(WAIT_S)
    return WebKitHand(driver)


START = {"firefox": start_firefox, "webkit": start_webkit}


@contextlib.contextmanager
def opened(name: str, *, offline: bool = False) -> Iterator[Hand]:
    """Start Firefox or WebKit, and stop it at the end. What was printed is shown where a test fails.

    Parameters
    ----------
    name : str
        Key of `START`.
    offline : bool
        Whether the browser reaches nobody.
    """
    with tempfile.TemporaryDirectory(prefix="engine-", ignore_cleanup_errors=True) as folder:
        started = Started(Path(folder))
        try:
            with started.stack:
                start_sink(started)
                yield START[name](started, offline=offline)
        finally:
            for log in Path(folder).glob("*.log"):
                print(f"{log.name}:\n{log.read_text(errors='replace')[-LONGEST_LOG:]}")
