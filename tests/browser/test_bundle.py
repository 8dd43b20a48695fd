"""A bundle in a real browser, opened as a file with the network off; and saved at the bench."""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from bench_page import open_bench
from browser_fixtures import Console, until
from customer_page import TAP_OUTPUT, Workshop, reload_until_kept, sound, tap_sound, until_heard
from playwright.sync_api import BrowserContext, Page, Route, expect
from proposal_case import Made, made
from server_process import Running

pytestmark = pytest.mark.browser

NOTE = "Warmer, please?"
FORMS = ("file", "folder")


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Save a proposal as a file and as a folder, as its workshop would."""
    folder = tmp_path_factory.mktemp("bundle")
    one: Made = made(folder).render()
    for form in ("file", "zip"):
        content = one.client.get(f"/api/proposals/{one.id}/bundle/{form}").content
        if form == "file":
            (folder / "sounds.html").write_bytes(content)
        else:
            zipfile.ZipFile(io.BytesIO(content)).extractall(folder / "unpacked")
    return folder


@dataclass
class Offline:
    """A browser without a network, and what it asked for."""

    context: BrowserContext
    requests: list[str] = field(default_factory=list)

    def open(self, file: Path) -> Page:
        """Open a file."""
        page = self.context.new_page()
        page.on("request", lambda request: self.requests.append(request.url))
        page.goto(file.as_uri())
        page.locator(".sound").first.wait_for()
        return page


@pytest.fixture
def offline(context: BrowserContext) -> Offline:
    """Take the network away."""
    context.set_offline(True)
    context.add_init_script(TAP_OUTPUT)
    return Offline(context)


def walk(page: Page) -> None:
    """Listen, flip, mark and write, as a customer does."""
    page.get_by_role("button", name="Play", exact=True).click()
    until_heard(page)
    tap_sound(page, 2)
    expect(sound(page, 2)).to_have_class("sound chosen heard")
    until_heard(page)
    picture = page.locator(".built-picture")
    expect(picture).to_have_js_property("complete", True)
    assert picture.evaluate("one => one.naturalWidth") > 0
    page.get_by_role("button", name="Favourite: Outer coils in parallel").click()
    page.get_by_label("Ask the workshop a question").fill(NOTE)
    page.get_by_role("button", name="Keep this note").click()
    expect(page.get_by_text("The workshop does not have it yet")).to_be_visible()


@pytest.mark.long
def test_a_file_plays_without_a_network_and_keeps_what_was_marked(saved: Path, offline: Offline) -> None:
    file = saved / "sounds.html"
    page = offline.open(file)
    walk(page)
    reload_until_kept(page, "1 favourite. This page is a file")
    expect(page.get_by_text(NOTE)).to_be_visible()
    expect(page.get_by_role("button", name="Choose and sign off")).to_be_visible()
    assert set(offline.requests) == {file.as_uri()}


@pytest.mark.long
def test_a_folder_plays_from_the_disk_with_scripts_beside_it(saved: Path, offline: Offline) -> None:
    folder = saved / "unpacked"
    page = offline.open(folder / "index.html")
    walk(page)
    for number in (1, 2, 3):
        tap_sound(page, number)
        expect(sound(page, number)).to_have_class("sound chosen heard")
    inside = {path.as_uri() for path in folder.rglob("*.*")}
    assert set(offline.requests) == inside


COMPARE = """async () => {
  const { first } = JSON.parse(document.getElementById("sent").textContent);
  const bytesOf = (text) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  const head = bytesOf(document.getElementById("piece-head").textContent);
  const rest = await new Promise((resolve) => {
    window.presolderPiece = (name, text) => resolve(bytesOf(text));
    const script = document.createElement("script");
    script.src = `sounds/${first.name}.js`;
    document.head.append(script);
  });
  const decode = async (bytes) =>
    (await new OfflineAudioContext(1, 1, 48000).decodeAudioData(bytes)).getChannelData(0);
  const whole = await decode(await new Blob([head, rest]).arrayBuffer());
  const start = await decode(head.buffer);
  const sure = start.length - 4800;
  let worst = 0;
  for (let k = 0; k < sure; k++) worst = Math.max(worst, Math.abs(start[k] - whole[k]));
  return { seconds: sure / 48000, worst };
}"""


@pytest.mark.long
def test_the_first_sound_begins_before_the_rest_of_it_has_come(saved: Path, offline: Offline) -> None:
    held: list[Route] = []

    def hold(route: Route) -> None:
        """Keep the first sound's rest waiting; let the other sounds pass."""
        if held:
            route.continue_()
        else:
            held.append(route)

    offline.context.route("**/sounds/*.mp3.js", hold)
    page = offline.open(saved / "unpacked" / "index.html")
    page.get_by_role("button", name="Play", exact=True).click()
    until_heard(page)
    expect(sound(page, 1)).to_contain_text("loading")
    held[0].continue_()
    expect(sound(page, 1)).to_have_class("sound chosen heard")
    until_heard(page)


@pytest.mark.long
def test_the_beginning_decodes_to_the_samples_of_the_whole(saved: Path, offline: Offline) -> None:
    page = offline.open(saved / "unpacked" / "index.html")
    found = page.evaluate(COMPARE)
    assert found["seconds"] > 1.0
    assert found["worst"] < 1e-4


@pytest.mark.long
def test_a_browser_that_keeps_nothing_is_told(saved: Path, offline: Offline) -> None:
    offline.context.add_init_script(
        "Object.defineProperty(window, 'localStorage', { get() { throw new Error('refused'); } })"
    )
    page = offline.open(saved / "sounds.html")
    expect(page.get_by_text("This browser keeps nothing")).to_be_visible()
    page.get_by_role("button", name="Favourite: Outer coils in parallel").click()
    expect(page.get_by_text("1 favourite. This page is a file")).to_be_visible()


@pytest.mark.long
def test_the_file_reaches_nobody_and_runs_nobody_elses_code(
    saved: Path, offline: Offline, console: Console
) -> None:
    console.expected.append("Content Security Policy")
    page = offline.open(saved / "sounds.html")
    page.evaluate(
        """() => {
          window.refused = [];
          document.addEventListener("securitypolicyviolation", (event) =>
            window.refused.push(event.effectiveDirective));
          const image = new Image();
          image.src = "https://example.com/seen.png";
          document.body.insertAdjacentHTML("beforeend", "<p id=foreign onclick='window.ran = 1'>x</p>");
          document.getElementById("foreign").click();
          fetch("https://example.com/sent").catch(() => undefined);
        }"""
    )
    for directive in ("img-src", "script-src-attr", "connect-src"):
        until(page, f"window.refused.includes('{directive}')")
    assert page.evaluate("() => window.ran") is None


@pytest.mark.long
def test_the_bench_saves_a_proposal_for_sending(page: Page, shared_server: Running, tmp_path: Path) -> None:
    offered = Workshop.at(shared_server).propose(takes=("demo:e_slide",)).ready()
    commission = offered.workshop.client.get(f"/api/proposals/{offered.id}").json()["items"][0]["version"]
    home = next(
        one["id"]
        for one in offered.workshop.client.get("/api/commissions").json()
        if commission in offered.workshop.client.get(f"/api/commissions/{one['id']}").text
    )
    open_bench(page, shared_server.url, home)
    page.get_by_role("button", name="Propose to the customer").click()
    page.get_by_role("button", name="Save Your baritone for sending").click()
    dialog = page.get_by_role("dialog").last
    for label, ending in (("One file", ".html"), ("Folder as ZIP", ".zip")):
        dialog.get_by_role("radio", name=label).check()
        with page.expect_download() as coming:
            dialog.get_by_role("button", name="Save", exact=True).click()
        expect(dialog.get_by_text(f"Saved as {coming.value.suggested_filename}")).to_be_visible()
        assert coming.value.suggested_filename.endswith(ending)
        coming.value.save_as(tmp_path / f"saved{ending}")
    assert (tmp_path / "saved.html").read_bytes().count(b'id="piece-') == 10  # five sounds, five pictures
    assert zipfile.is_zipfile(tmp_path / "saved.zip")
