"""The listing's pages in a real browser: as files and from a plain web host, on phone and desktop."""

from __future__ import annotations

import contextlib
import functools
import html
import http.server
import re
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser_fixtures import until
from listing_case import catalogue, run

HOSTILE = "</script><b onclick=x> & 'quotes' \"two\" $title"
MORE = (
    "address: https://shop.example/sounds\n"
    "formats: [flac, mp3]\nloudness: -26 LUFS\npositions: [1, 2, 5]\n"
    "clips:\n  - {name: open, label: All at 10}\n"
    "  - {name: warm, label: Tone at 2, set: {tone: 2}}\n"
    "  - {name: swell, label: Tone up, positions: [1], takes: [pluck_1.yaml],"
    " sweeps: [{knob: tone, from: 0, to: 10, start: 0.5 s, end: 1 s}]}\n"
)
PHONE, DESK = {"width": 390, "height": 844}, {"width": 1280, "height": 900}
CONTRAST = 4.5  # WCAG 2.2, success criterion 1.4.3, level AA


@pytest.fixture(scope="module")
def out(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("page with space")
    path = catalogue(folder, instruments=2, takes=2, more=MORE, tail_s=2.0)
    wiring = folder / "wirings" / "baritone_001.yaml"
    text = wiring.read_text().replace(
        "name: Baritone, two humbuckers, six-way rotary", f"name: '{HOSTILE.replace(chr(39), chr(39) * 2)}'"
    )
    wiring.write_text(text)
    run(path)
    return folder / "out"


@pytest.fixture
def browser(chromium: Any) -> Any:
    """Start chromium without a screen; sound plays without a touch."""
    return chromium


class Quiet(http.server.SimpleHTTPRequestHandler):
    """A plain web host."""

    def log_message(self, format: str, *args: Any) -> None:
        """Log nothing."""


@contextlib.contextmanager
def web_host(folder: Path) -> Iterator[str]:
    """Serve a folder as a plain web host; yield its address."""
    with http.server.ThreadingHTTPServer(
        ("127.0.0.1", 0), functools.partial(Quiet, directory=str(folder))
    ) as server:
        thread = threading.Thread(target=server.serve_forever)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()
        thread.join()


@pytest.fixture(scope="module")
def host(out) -> Iterator[str]:
    with web_host(out) as address:
        yield address


@pytest.fixture(params=["file", "host"])
def root(request, out, host) -> str:
    return out.as_uri() if request.param == "file" else host


@pytest.fixture
def page(browser) -> Iterator[Any]:
    """Open a page that records its messages and requests."""
    opened = browser.new_page(viewport=DESK, bypass_csp=False)
    opened.said, opened.asked = [], []
    opened.on("console", lambda message: opened.said.append(message.text))
    opened.on("pageerror", lambda error: opened.said.append(str(error)))
    opened.on("request", lambda request: opened.asked.append(request.url))
    yield opened
    opened.close()


STARTS = """
window.starts = [];
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (when, offset) {
  window.starts.push([when, offset, this.buffer.length, this.loop]);
  return start.call(this, when, offset);
};
"""
"""A script for the start of a page: notes when and at which place of its sound each source starts, s."""
NOW_S = "Number(document.querySelector('#now').textContent.split(' ')[0])"
RATE_HZ = 48_000


def starts_of(page: Any, count: int) -> list[list[Any]]:
    """Wait for so many starts and return them; no clock of this machine counts."""
    until(page, f"window.starts.length >= {count}")
    found: list[list[Any]] = page.evaluate("() => window.starts")
    assert len(found) == count
    return found


def from_step(starts: list[list[Any]]) -> float:
    """Return how far at most a source starts from where the first one is by then, in samples."""
    zero = [(when - offset) * RATE_HZ % length for when, offset, length, _ in starts]
    far = [abs(one - zero[0]) for one in zero]
    return max(min(away, length - away) for away, (*_, length, _) in zip(far, starts, strict=True))


def playing(page: Any) -> None:
    page.locator("#status").filter(has_text="Playing").wait_for(timeout=30_000)


@pytest.mark.browser
def test_it_plays_flips_and_keeps_its_place(page, root):
    page.add_init_script(STARTS)
    page.goto(f"{root}/baritone_000/index.html")
    assert page.inner_text("h1") == "Baritone, two humbuckers, six-way rotary"
    page.click("#play")
    playing(page)
    until(page, f"{NOW_S} > 0.2")
    page.focus("input[name=positions]:checked")
    page.keyboard.press("ArrowDown")
    page.locator("#status").filter(has_text="position 2").wait_for()
    starts = starts_of(page, 2)
    assert starts[1][1] > 0.0
    assert from_step(starts) < 1.0, "back to the start"
    now_s = page.evaluate(NOW_S)
    until(page, f"{NOW_S} !== {now_s}")
    assert page.inner_text("#heading").startswith("2")
    page.click("#play")
    assert page.inner_text("#status") == ""
    assert page.get_attribute("#play", "aria-label") == "Play"
    assert not page.said
    assert all(url.startswith((root, "data:")) for url in page.asked), "a request went elsewhere"


@pytest.mark.browser
def test_positions_run_in_step_to_the_sample(browser, out):
    """A position starts at the sample that the previous one has reached."""
    page = browser.new_page(viewport=DESK)
    page.add_init_script(STARTS)
    page.goto(f"{out.as_uri()}/baritone_000/index.html")
    page.click("#play")
    playing(page)
    page.focus("input[name=positions]:checked")
    for position in ("2", "5"):
        page.wait_for_timeout(400)
        page.keyboard.press("ArrowDown")
        page.locator("#status").filter(has_text=f"position {position}").wait_for()
    starts = starts_of(page, 3)
    page.close()
    assert len({length for _, _, length, _ in starts}) == 1
    assert all(loop for *_, loop in starts)
    assert from_step(starts) < 1e-3  # of a sample
    assert len({offset for _, offset, _, _ in starts}) == 3  # each flip came at a different place


@pytest.mark.browser
def test_another_take_begins_at_its_start(page, out):
    page.add_init_script(STARTS)
    page.goto(f"{out.as_uri()}/baritone_000/index.html")
    page.click("#play")
    playing(page)
    until(page, f"{NOW_S} > 0.2")
    page.check("input[name=takes][value='Pluck 1']")
    page.locator("#status").filter(has_text="Pluck 1").wait_for()
    assert [offset for _, offset, *_ in starts_of(page, 2)] == [0.0, 0.0]


@pytest.mark.browser
def test_what_is_heard_can_be_read_beside_the_player(page, out):
    """The line follows the sound unspoken; the list holds all of it, and the file the same."""
    page.goto(f"{out.as_uri()}/baritone_000/index.html")
    assert page.inner_text("#caption") == ""
    page.click("#play")
    playing(page)
    until(page, "document.querySelector('#caption').textContent.startsWith('chord B1')")
    assert page.locator("#caption").get_attribute("aria-hidden") == "true"
    page.click("text=What is heard, in words")
    rows = page.locator("#heard li").all_inner_texts()
    file = (out / "baritone_000" / (page.get_attribute("#captions", "href") or "")).read_text("utf-8")
    assert rows
    assert all(row.partition(" ")[2] in file for row in rows)
    page.check("input[name=takes][value='Pluck 1']")
    page.check("input[name=groups][value='Tone up']")
    page.locator("#heard li").filter(has_text="the tone knob moves from 0 to 10").wait_for()
    assert not page.said


@pytest.mark.long
@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["", "-light", "-dark"])
def test_the_player_in_a_page_of_another_origin_takes_the_height_it_needs(page, out, host, tmp_path, scheme):
    code = (out / "baritone_000" / "embed.html").read_text("utf-8")
    frame = html.unescape(re.findall(r"<textarea[^>]*>(.*?)</textarea>", code, re.DOTALL)[0])
    frame = frame.replace("https://shop.example/sounds", host).replace("#player", f"#player{scheme}")
    (tmp_path / "index.html").write_text(f"<!doctype html><title>Shop</title><p>Text</p>{frame}", "utf-8")
    page.emulate_media(color_scheme="light")
    with web_host(tmp_path) as shop:
        page.goto(shop)
        inside = page.frame_locator("iframe")
        inside.locator("#play").click()
        inside.locator("#status").filter(has_text="Playing").wait_for()
        assert inside.locator(".sale, .see, .files").filter(visible=True).count() == 0
        for width in (DESK, PHONE):
            page.set_viewport_size(width)
            frame_of = page.query_selector("iframe").content_frame()
            needed = "Math.ceil(document.body.getBoundingClientRect().height)"
            until(frame_of, f"Math.abs(innerHeight - {needed}) <= 1")
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        background = frame_of.evaluate("getComputedStyle(document.body).backgroundColor")
        assert background == ("rgb(15, 23, 25)" if scheme == "-dark" else "rgb(238, 242, 243)")


@pytest.mark.long
@pytest.mark.browser
def test_takes_and_knobs_are_chosen_and_shown(page, out):
    page.goto(f"{out.as_uri()}/baritone_000/index.html")
    first = page.get_attribute("#plot path.mine", "d")
    assert page.locator("#plot path").count() == 3
    page.check("input[name=groups][value='Tone at 2']")
    assert page.get_attribute("#plot path.mine", "d") != first
    assert "tone 2" in page.inner_text("#stands")
    page.check("input[name=takes][value='Pluck 1']")
    assert page.is_checked("input[name=groups][value='Tone at 2']")
    page.get_by_text("What is measured").click()
    facts = page.inner_text("#facts")
    assert "matched to -26 LUFS" in facts
    assert "−26.0 LUFS" in facts
    assert "modelled" in page.inner_text("#places")


@pytest.mark.browser
def test_knobs_that_only_one_take_has_are_offered_with_it_alone(page, out):
    page.goto(f"{out.as_uri()}/baritone_000/index.html")
    page.check("input[name=positions][value='5']")
    assert page.locator("input[name=groups]").count() == 2
    page.check("input[name=takes][value='Pluck 1']")
    page.check("input[name=groups][value='Tone up']")
    assert page.locator("input[name=positions]").count() == 1
    assert page.is_checked("input[name=positions][value='1']")
    assert "tone from 0 to 10" in page.inner_text("#stands")
    page.check("input[name=takes][value='Pluck 0']")
    assert page.is_checked("input[name=groups][value='All at 10']")
    assert page.locator("input[name=positions]").count() == 3


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_it_fits_and_can_be_read_and_touched(browser, out, size, scheme):
    page = browser.new_page(viewport=size, color_scheme=scheme)
    for place in ("index.html", "baritone_000/index.html", "baritone_001/index.html"):
        page.goto(f"{out.as_uri()}/{place}")
        assert page.evaluate("() => document.documentElement.scrollWidth") <= size["width"]
        poor = page.evaluate(CONTRASTS)
        assert poor, "the walk found no texts"
        assert not [one for one in poor if one["ratio"] < CONTRAST]
    for label in page.locator("label.pick, #play").all():
        assert label.bounding_box()["height"] >= 44
    page.close()


CONTRASTS = """() => {
  const parse = (text) => text.match(/[\\d.]+/g).map(Number);
  const linear = (c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4);
  const light = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
  const behind = (node) => {
    for (let one = node; one; one = one.parentElement) {
      const colour = parse(getComputedStyle(one).backgroundColor);
      if (colour.length < 4 || colour[3] > 0) return colour;
    }
    return [255, 255, 255];
  };
  const found = [];
  for (const node of document.querySelectorAll("body *")) {
    const own = [...node.childNodes].some((one) => one.nodeType === 3 && one.textContent.trim());
    if (!own || node.closest("svg, script, style, noscript") || !node.getClientRects().length) continue;
    const [a, b] = [light(parse(getComputedStyle(node).color)), light(behind(node))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    found.push({ text: node.textContent.slice(0, 30), ratio });
  }
  return found;
}"""


def height_agreed(page, frame, above: int = 0) -> int:
    """Wait until the frame is as tall as what it shows, and return that, in pixels."""
    for _ in range(1000):
        own = frame.locator("body").evaluate("(body) => Math.ceil(body.getBoundingClientRect().height)")
        if own > above and page.locator("iframe").evaluate("(one) => one.clientHeight") == own:
            return own
        page.wait_for_timeout(20)
    pytest.fail("the frame does not take the player's height")


@pytest.mark.browser
def test_a_frame_on_another_page_holds_the_player_alone_at_its_height(page, root):
    page.goto(f"{root}/baritone_001/embed.html")
    frame = page.frame_locator("iframe")
    frame.locator("#play").wait_for()
    wide = height_agreed(page, frame)
    assert not frame.locator(".see").is_visible()
    assert not frame.locator(".files").is_visible()
    frame.locator("#play").click()
    frame.locator("#play.on").wait_for()
    page.set_viewport_size(PHONE)  # narrower: the player grows, and its frame with it
    height_agreed(page, frame, above=wide)
    assert page.said == []


@pytest.mark.browser
def test_a_hostile_name_is_text(page, out):
    page.goto(f"{out.as_uri()}/baritone_001/index.html")
    assert page.inner_text("h1") == HOSTILE
    assert page.title() == HOSTILE
    assert page.locator("h1 b").count() == 0
    assert not page.said
    page.goto(f"{out.as_uri()}/index.html")
    assert HOSTILE in page.inner_text("ul")
    page.click("a.card >> nth=1")
    assert page.inner_text("h1") == HOSTILE


@pytest.mark.browser
def test_without_scripts_the_files_are_linked(browser, out):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{out.as_uri()}/baritone_000/index.html")
    assert "needs scripts" in page.inner_text("body")
    links = page.locator("table a")
    assert links.count() == (3 * 2 * 2 + 1) * 2
    assert (out / "baritone_000" / links.first.get_attribute("href")).exists()
    context.close()


@pytest.mark.browser
def test_a_missing_sound_is_reported_and_can_be_tried_again(page, out, tmp_path):
    copied = shutil.copytree(out, tmp_path / "copy")
    sounds = sorted((copied / "baritone_000" / "sound").glob("*"))
    texts = {path: path.read_text() for path in sounds}
    for path in sounds:
        path.unlink()
    page.goto(f"{copied.as_uri()}/baritone_000/index.html")
    page.click("#play")
    page.locator("#status").filter(has_text="Not played: the sound beside this page").wait_for()
    for path, text in texts.items():
        path.write_text(text)
    page.click("#play")
    playing(page)
