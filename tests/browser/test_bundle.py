"""A bundle in a real browser, opened as a file with the network off; and saved at the bench."""

from __future__ import annotations

import io
import re
import zipfile
from base64 import b64decode
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
import soundfile
from bench_page import open_bench
from browser_fixtures import Console, until
from customer_page import TAP_OUTPUT, Workshop, reload_until_kept, sound, tap_sound, until_heard
from places import DEMO
from playwright.sync_api import BrowserContext, Locator, Page, Route, expect
from proposal_case import TAKE, Made, made
from server_process import Running
from turned_sound import RATE_HZ, SAME_DB, Floats, filtered, looped_error_db

from dsp.filters.design import design_bank
from server.wirings.text import load_wiring

pytestmark = pytest.mark.browser

NOTE = "Warmer, please?"
TURNING = re.compile(r"\.(json|model|flac)(\.\d+)?\.js$")
"""Names of what turns knobs, in a folder."""


@pytest.fixture(scope="module")
def offered(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(tmp_path_factory.mktemp("offered")).render()


@pytest.fixture(scope="module")
def saved(offered: Made, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Save a proposal as a file and as a folder, as its workshop would."""
    folder, one = tmp_path_factory.mktemp("bundle"), offered
    for form in ("file", "zip"):
        content = one.client.post(f"/api/proposals/{one.id}/bundle/{form}").content
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


def begin(page: Page, number: int) -> Locator:
    """Open the knobs of a sound and return their box."""
    tap_sound(page, number)
    expect(sound(page, number)).to_have_class("sound chosen heard")
    sound(page, number).get_by_role("button", name="Turn the knobs").click()
    sound(page, number).get_by_role("slider").first.wait_for()
    return sound(page, number).locator(".turn")


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
    turning = {path.as_uri() for path in folder.rglob("*.js") if TURNING.search(path.name)}
    assert set(offline.requests) == {path.as_uri() for path in folder.rglob("*.*")} - turning
    begin(page, 3)
    until_heard(page)
    later, parts = (
        Counter(found[1] for url in urls if (found := TURNING.search(url)))
        for urls in (offline.requests, turning)
    )
    assert later["flac"] == parts["flac"] > 2, "all stems of the take, in parts"
    assert later["json"] == 1
    assert later["model"] < parts["model"], "the model of this sound alone"


RECORD = """
window.recordings = [];
window.worklets = [];
const recorder = "data:text/javascript," + encodeURIComponent(`
  registerProcessor("recorder", class extends AudioWorkletProcessor {
    process([[samples]]) { if (samples) this.port.postMessage(samples.slice()); return true; }
  });`);
const join = AudioNode.prototype.connect, Worklet = AudioWorkletNode;
AudioNode.prototype.connect = function (to, ...more) {
  if (to instanceof AudioDestinationNode && this.context instanceof AudioContext) {
    const recording = [], { context } = this;
    window.recordings.push(recording);
    context.audioWorklet.addModule(recorder).then(() => {
      const node = new Worklet(context, "recorder", { channelCount: 1, channelCountMode: "explicit" });
      node.port.onmessage = ({ data }) => recording.push(data);
      join.call(this, node);
      join.call(node, to); // silence
    });
  }
  return join.call(this, to, ...more);
};
window.AudioWorkletNode = class extends Worklet {
  constructor(context, name, options) {
    super(context, name, options);
    window.worklets.push(name);
  }
};
"""
"""A script that records what a page sends to the loudspeaker, a recording a player."""
COARSE = """
const Convolver = ConvolverNode;
window.ConvolverNode = class extends Convolver {
  constructor(context, options) {
    if (context instanceof OfflineAudioContext) throw new Error("the self-test fails");
    super(context, options);
  }
};
"""
RECORDED = """seconds => {
  const blocks = window.recordings.at(-1).slice(-Math.ceil(seconds * 48000 / 128));
  const samples = new Float32Array(128 * blocks.length);
  blocks.forEach((block, k) => samples.set(block, 128 * k));
  let text = "";
  for (const one of new Uint8Array(samples.buffer)) text += String.fromCharCode(one);
  return btoa(text);
}"""
RECORDED_S, PART_S = 2.0, 0.25


def turn(box: Locator, name: str, steps: int) -> None:
    """Turn a knob down by whole numbers."""
    for _ in range(steps):
        box.get_by_role("slider", name=name).press("PageDown")


def stems_of(one: Made) -> Floats:
    """Return the stems as they are sent: what 16 bits cost is not the filters' error."""
    told = one.client.get(f"{one.link}/live/2/voice", params={"take": TAKE}).json()["stems"]
    rows = [soundfile.read(io.BytesIO(one.client.get(file["file"]).content))[0] for file in told["files"]]
    return np.asarray(told["gain"] * np.concatenate(rows, axis=1).T)


@pytest.mark.long
@pytest.mark.parametrize("means", ["convolver", "worklet"])
def test_a_turned_knob_in_a_file_is_that_of_the_servers_filters_and_can_be_wished_for(
    offered: Made, saved: Path, offline: Offline, means: str
) -> None:
    offline.context.add_init_script(RECORD)
    if means == "worklet":
        offline.context.add_init_script(COARSE)
    page = offline.open(saved / "sounds.html")
    box = begin(page, 2)
    turn(box, "Volume", 3)
    turn(box, "Tone", 6)
    knobs = {"volume": 7.0, "tone": 4.0}
    box.get_by_role("button", name="Wish for these settings").click()
    expect(box.get_by_role("button", name="Wished for, in your answer")).to_be_visible()
    expect(box).to_have_attribute(
        "data-applied", "10"
    )  # as it was kept, and nine presses: the last fade is over
    page.evaluate("() => { window.recordings.at(-1).length = 0; }")
    until(page, f"window.recordings.at(-1).length > {(RECORDED_S + PART_S) * RATE_HZ / 128}")
    recorded = np.frombuffer(b64decode(page.evaluate(RECORDED, RECORDED_S)), "<f4").astype(float)
    assert ("presolder-convolver" in page.evaluate("() => window.worklets")) == (means == "worklet")

    wiring = load_wiring(DEMO / "baritone.yaml")
    bank, stems = design_bank(wiring, wiring.setting("2", knobs)), stems_of(offered)
    samples = stems.shape[1]
    loop = filtered(bank, np.tile(stems, 3))[samples : 2 * samples]
    error_db = looped_error_db(recorded, loop, round(PART_S * RATE_HZ))
    print(means, round(error_db, 1))
    assert error_db <= SAME_DB

    with page.expect_download() as coming:
        page.get_by_role("button", name="Save", exact=True).click()
    sealed = Path(coming.value.path()).read_text(encoding="utf-8")
    answer = offered.client.post("/api/answers", json={"text": sealed}).json()
    unanswered = {"sound": None, "making": None, "label": "", "problem": ""}
    assert answer["wishes"] == [{"number": 2, "knobs": knobs, **unanswered}]
    assert answer["warnings"] == []
    assert set(offline.requests) == {(saved / "sounds.html").as_uri()}


COMPARE = """async () => {
  const { folder } = JSON.parse(document.getElementById("sent").textContent);
  const bytesOf = (text) => Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  const head = bytesOf(document.getElementById("piece-head").textContent);
  const rest = await new Promise((resolve) => {
    window.presolderPiece = (name, text) => resolve(bytesOf(text));
    const script = document.createElement("script");
    script.src = `sounds/${folder.first.name}.js`;
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
    pieces = re.findall(rb'id="piece-\w+\.(\w+)"', (tmp_path / "saved.html").read_bytes())
    assert Counter(pieces) == {b"mp3": 5, b"svg": 5, b"json": 5, b"model": 5, b"flac": 2}
    assert zipfile.is_zipfile(tmp_path / "saved.zip")
