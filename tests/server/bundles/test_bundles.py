"""Bundles of a proposal: all that the page needs is in them, nothing else, and nothing leaves them."""

from __future__ import annotations

import base64
import hashlib
import io
import itertools
import json
import re
import zipfile
import zlib
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest
from hostile import KEPT
from proposal_case import TAKE, Made, made
from talk_case import said, wish

from server.answers.manifests import find_manifest
from server.bench.hearing import Bench, open_bench
from server.bundles import making
from server.bundles.live import LiveKnobs, make_live_knobs
from server.bundles.page import PART_BYTES, Piece, dense, make_page, piece_parts
from server.proposals.clip_files import clips_folder
from server.refusals import Unknown

SENT = re.compile(r'<script type="application/json" id="sent">(.*?)</script>')
PIECE = re.compile(r'<script type="text/plain" id="piece-([^"]+)">([^<]*)</script>')
POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy" content="([^"]+)">')


@pytest.fixture(scope="module")
def proposal(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Make a proposal of three sounds, rendered."""
    return made(tmp_path_factory.mktemp("bundles")).render()


def saved(one: Made, form: str = "file") -> bytes:
    answer = one.client.post(f"/api/proposals/{one.id}/bundle/{form}")
    assert answer.status_code == 200, answer.text
    return answer.content


def sent_in(page: str) -> dict[str, Any]:
    found = SENT.search(page)
    sent: dict[str, Any] = json.loads(found[1] if found else packed_in(page)[3])
    return sent


def packed_in(page: str) -> list[str]:
    """Return the parts that a folder's page unpacks."""
    packed = re.search(r'<script type="text/plain" id="packed">(.*?)</script>', page)
    assert packed
    content = base64.b85decode(packed[1].replace(",", "<"))  # RFC 1924, but for the sign that begins elements
    return zlib.decompress(content, -zlib.MAX_WBITS).decode().split("\0")


def inflated(text: str) -> bytes:
    """Return what was deflated (RFC 1951) and written in base 64."""
    return zlib.decompress(base64.b64decode(text), -zlib.MAX_WBITS)


def sha256_of(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def test_a_file_holds_every_sound_and_picture_as_the_server_has_it(proposal: Made) -> None:
    page = saved(proposal).decode()
    offer, pieces = sent_in(page)["offer"], dict(PIECE.findall(page))
    named = [item["clips"][TAKE]["mp3"] for item in offer["items"]]
    named += [item["picture"]["file"] for item in offer["items"]]
    assert named == list(pieces)[:6], "what is heard and seen comes before what turns knobs"
    for name, text in list(pieces.items())[:6]:
        (file,) = clips_folder(proposal.data).glob(f"??/{name.replace('.', '*.')}")
        content = inflated(text) if name.endswith("svg") else base64.b64decode(text)
        assert content == file.read_bytes()
    online = proposal.offer()
    assert [(one["label"], one["words"]) for one in offer["items"]] == [
        (one["label"], one["words"]) for one in online["items"]
    ]
    assert offer["takes"] == online["takes"]


def test_the_sound_that_plays_first_stands_first(proposal: Made) -> None:
    page = saved(proposal).decode()
    offer = sent_in(page)["offer"]
    first = offer["items"][0]["clips"][offer["takes"][0]["id"]]["mp3"]
    assert PIECE.findall(page)[0][0] == first


def test_a_file_turns_knobs_by_the_models_and_stems_of_the_server(proposal: Made) -> None:
    page = saved(proposal).decode()
    sent, pieces = sent_in(page), dict(PIECE.findall(page))
    named = {}
    for number, name in enumerate(sent["voices"][TAKE], 1):
        mine = json.loads(inflated(pieces[name]))
        url = f"{proposal.link}/live/{number}/voice"
        online = proposal.client.get(url, params={"take": TAKE}).json()
        both = [(one["model"], *one["stems"]["files"]) for one in (mine, online)]
        for here, there in zip(*both, strict=True):
            content = proposal.client.get(there["file"]).content
            assert base64.b64decode(pieces[here["file"]]) == content
            assert here["bytes"] == there["bytes"] == len(content)
            named[here["file"]] = hashlib.sha256(content).hexdigest()
        for one in (mine, online):
            del one["model"], one["stems"]["files"]
        assert mine == online
    assert list(sent["voices"]) == [TAKE]
    assert len(named) == 5, "a model for each of three sounds, and the stems of four coils in two files"
    assert all(digest.startswith(name.partition(".")[0]) for name, digest in named.items())
    with proposal.store.read() as db:
        kept = find_manifest(db, sent["answer"]["sent"])
    assert kept
    assert {*kept.manifest["stems"].values(), *kept.manifest["models"].values()} == set(named.values())
    knobs = [set(item["knobs"]) for item in kept.manifest["items"]]
    assert all({"volume", "tone"} <= one for one in knobs), "a wish for them is taken in"


def live(one: Made, bench: Bench, room: float, more: float) -> LiveKnobs:
    """Make the live knobs twice: the second time one take has some."""
    return make_live_knobs(
        bench,
        one.store,
        one.id,
        (TAKE, TAKE),
        lambda has_some: more if has_some else room,
        lambda share: None,
    )


def test_takes_without_room_are_left_out(proposal: Made) -> None:
    bench = open_bench(proposal.store, proposal.client.app.state.library)  # type: ignore[attr-defined]
    none = live(proposal, bench, 0.0, 0.0)
    assert (none.voices, none.pieces, none.left_out) == ({}, {}, {TAKE: ""})
    one = live(proposal, bench, 1e9, 0.0)
    assert list(one.voices) == list(one.left_out) == [TAKE]
    assert live(proposal, bench, one.size, one.size).left_out == {}
    assert live(proposal, bench, one.size - 1, 0.0).voices == {}


def test_a_file_without_room_for_knobs_says_so(proposal: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(making, "MOST_MAILED", 0)
    answer = proposal.client.post(f"/api/proposals/{proposal.id}/bundle/file")
    assert sent_in(answer.text)["voices"] == {}
    assert len(PIECE.findall(answer.text)) == 6
    note = unquote(answer.headers["X-Note"])
    assert "do not turn with “Slide on an E, real guitar”: the file would be too large" in note
    with zipfile.ZipFile(io.BytesIO(saved(proposal, "zip"))) as zipped:
        assert list(sent_in(zipped.read("index.html").decode())["voices"]) == [TAKE]


def test_a_take_that_is_gone_turns_no_knobs(proposal: Made) -> None:
    def gone(take: str) -> Any:
        raise Unknown("take", take, "the id of a take")

    text = proposal.client.get(f"/api/versions/{proposal.version}").json()["text"]
    bench = Bench(lambda version: str(text), gone, lambda *of: None)
    found = live(proposal, bench, 1e9, 1e9)
    assert found.voices == {}
    assert "the id of a take" in found.left_out[TAKE]


def test_a_file_names_no_address_and_nothing_of_the_workshop(proposal: Made) -> None:
    page = saved(proposal).decode()
    outside = re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.DOTALL)
    assert re.findall(r'(?:src|href)="(?!data:)[^"]*"', outside) == []
    text = page + json.dumps(sent_in(page))
    for hidden in (proposal.token, "/api/p/", "Secret job", "Secret client", proposal.commission):
        assert hidden not in text
    assert "flac" not in json.dumps(sent_in(page)["offer"])


def test_the_policy_allows_the_files_own_code_alone(proposal: Made) -> None:
    page = saved(proposal).decode()
    found = POLICY.search(page)
    assert found
    rules = dict(rule.split(" ", 1) for rule in found[1].split("; "))
    script = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    style = re.findall(r"<style>(.*?)</style>", page, re.DOTALL)
    assert len(script) == len(style) == 1
    assert rules.pop("script-src") == f"'sha256-{sha256_of(script[0])}' 'strict-dynamic' data:"
    assert rules.pop("style-src") == f"'sha256-{sha256_of(style[0])}'"
    assert rules == {
        "default-src": "'none'", "img-src": "data:", "base-uri": "'none'", "form-action": "'none'",
    }  # fmt: skip
    assert page.index(found[0]) < min(page.index("<script"), page.index("<style"))


def test_the_same_proposal_gives_the_same_bytes(proposal: Made) -> None:
    for form in ("file", "zip"):
        assert saved(proposal, form) == saved(proposal, form)


def test_a_zip_holds_the_page_and_a_script_for_each_piece(proposal: Made) -> None:
    with zipfile.ZipFile(io.BytesIO(saved(proposal, "zip"))) as zipped:
        files = {entry.filename: zipped.read(entry) for entry in zipped.infolist()}
        assert {entry.date_time for entry in zipped.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    page = files.pop("index.html").decode()
    sent, pieces = sent_in(page), dict(PIECE.findall(saved(proposal).decode()))
    assert sent["folder"]["path"] == "sounds"
    first = sent["folder"]["first"]["name"]
    clip = sent["offer"]["items"][0]["clips"][TAKE]
    assert sent["folder"]["first"] == {"name": clip["mp3"], "seconds": clip["seconds"]}
    head = base64.b64decode(dict(PIECE.findall(page))["head"])
    assert 0 < len(head) < len(base64.b64decode(pieces[first]))
    assert any(name.endswith(".flac.1.js") for name in files)
    for name, text in pieces.items():
        found = head if name == first else b""
        for k in itertools.count():
            part = f"{name}.{k}" if k else name
            script = re.fullmatch(
                r'presolderPiece\("(.+)", "(.*)"\);\n', files.pop(f"sounds/{part}.js").decode()
            )
            assert script
            assert script[1] == part
            found += base64.b64decode(script[2])
            if name == first or len(base64.b64decode(script[2])) < sent["folder"]["part"]:
                break
        assert found == base64.b64decode(text)
    assert not files


def test_a_script_loses_indentation_and_comments_alone() -> None:
    script = "a = 1;\n\n  // why\n  b = `x\n\n    y\n// z`;\n  c = 2; // kept\n"
    assert dense(script) == "a = 1;\nb = `x\n\n    y\n// z`;\nc = 2; // kept\n"
    typed = 'const a = /** @type {number[]} */ ([]), b = (/** @type {string} */ c) => "/** c */" + c;\n'
    assert dense(typed) == 'const a = ([]), b = (c) => "/** c */" + c;\n'
    assert (
        dense("d = `/** @type {x} */\n/** @type {y} */ z`;\n")
        == "d = `/** @type {x} */\n/** @type {y} */ z`;\n"
    )


def test_lines_of_a_script_that_go_on_are_joined_but_not_in_templates() -> None:
    assert dense("f({\n  a,\n  b: [\n    1,\n  ],\n});\n") == "f({a,b: [1,],});\n"
    assert dense("a = `x,\n  {\n`;\nb(\n  // why\n  c, // kept\n  d, // {\n);\n") == (
        "a = `x,\n  {\n`;\nb(c, // kept\nd, // {\n);\n"
    )


def test_a_part_that_is_whole_is_never_the_last() -> None:
    for size, lengths in ((PART_BYTES - 1, [PART_BYTES - 1]), (PART_BYTES, [PART_BYTES, 0])):
        parts = piece_parts(Piece("a.flac", b"x" * size))
        assert [part.name for part in parts] == ["a.flac", "a.flac.1"][: len(lengths)]
        assert [len(part.content) for part in parts] == lengths


def test_the_folders_page_is_packed_and_holds_what_its_policy_allows(proposal: Made) -> None:
    with zipfile.ZipFile(io.BytesIO(saved(proposal, "zip"))) as zipped:
        page = zipped.read("index.html").decode()
    style, guard, convolver, _, script = packed_in(page)
    whole = saved(proposal).decode()
    for part, element in ((style, "<style>"), (guard, 'id="guard">'), (convolver, 'id="convolver">'),
                          (script, "<script>")):  # fmt: skip
        assert f"{element}{part}</" in whole
    (unpack,) = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    policy = POLICY.search(page)
    assert policy
    allowed = f"'sha256-{sha256_of(script)}' 'sha256-{sha256_of(unpack)}' 'strict-dynamic' data:"
    assert f"script-src {allowed};" in policy[1]
    assert f"style-src 'sha256-{sha256_of(style)}';" in policy[1]
    assert len(page) < 100_000  # with the beginning of the first sound: two seconds at 400 kbit/s


def test_a_hostile_title_ends_no_element(proposal: Made) -> None:
    title = f"</script></title>{KEPT['script']}\u2028"
    page = make_page({"offer": {"title": title}}).decode()
    assert sent_in(page)["offer"]["title"] == title
    assert page.count("<script") == 4  # what was sent, two worklets, and the page's own
    assert "&lt;/script&gt;" in page


def test_only_a_write_keeps_what_is_sent(proposal: Made) -> None:
    def kept() -> list[tuple[object, ...]]:
        with proposal.store.read() as db:
            tables = ("manifests", "proposals")
            return [tuple(row) for one in tables for row in db.execute(f"SELECT * FROM {one}")]

    before = kept()
    address = f"/api/proposals/{proposal.id}/bundle/file"
    for method in ("GET", "HEAD", "OPTIONS"):
        assert proposal.client.request(method, address).status_code == 405
    without_mark = proposal.client.post(address, headers={"X-Presolder": ""})
    assert without_mark.status_code == 403, "another page cannot make one"
    assert kept() == before
    saved(proposal)
    assert sent_in(saved(proposal).decode())["answer"]["sent"] in [row[0] for row in kept()]


def test_the_name_tells_nothing_of_the_customer(proposal: Made) -> None:
    answer = proposal.client.post(f"/api/proposals/{proposal.id}/bundle/file")
    found = re.search(r'filename="([^"]+)"', answer.headers["Content-Disposition"])
    assert found
    assert re.fullmatch(r"sounds-to-choose-from-\d{4}-\d\d-\d\d\.html", found[1])
    assert answer.headers["X-Note"] == ""


def test_what_cannot_be_saved_is_told(proposal: Made, tmp_path: Path) -> None:
    waiting = proposal.another()
    answer = waiting.client.post(f"/api/proposals/{waiting.id}/bundle/file")
    assert answer.status_code == 409
    assert answer.json()["problems"][0]["got"] == "sounds that are being prepared"
    assert proposal.client.post("/api/proposals/none/bundle/file").status_code == 404
    assert proposal.client.post(f"/api/proposals/{proposal.id}/bundle/tar").status_code == 422


def test_a_bundle_saved_later_holds_the_sounds_that_wishes_became(tmp_path: Path) -> None:
    one = made(tmp_path).render()
    before = sent_in(saved(one).decode())
    wanted = wish(2, tone=3.0)
    one.client.post(f"{one.link}/operations", json=said(wanted))
    one.client.post(f"/api/proposals/{one.id}/variants", json={"wish": wanted["id"]})
    half = sent_in(saved(one).decode())
    assert len(half["offer"]["items"]) == 3, "half a sound is in no file"
    assert "making" not in half["offer"]["wishes"][0], "the same offer is the same file"
    page = saved(one.render()).decode()
    after, pieces = sent_in(page), dict(PIECE.findall(page))
    assert [item["number"] for item in after["offer"]["items"]] == [1, 2, 3, 4]
    assert after["offer"]["items"][3]["clips"][TAKE]["mp3"] in pieces
    assert len(after["voices"][TAKE]) == 4
    assert after["offer"]["wirings"][0]["sounds"] == [1, 2, 3, 4]
    with one.store.read() as db:
        sent = [find_manifest(db, told["answer"]["sent"]) for told in (before, after)]
    assert [len(manifest.manifest["items"]) for manifest in sent if manifest] == [3, 4]
    assert sent_in(saved(one).decode()) == after, "the same offer is the same file"
