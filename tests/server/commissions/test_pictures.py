"""Small pictures of the list: made once, kept by content, and never waited for by the list itself."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import pytest
from places import DEMO
from server_client import client_of

from server.documents.pictures import Pictures


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PRESOLDER_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache" / "pictures"


def test_a_picture_is_made_once_and_kept_by_its_content(
    tmp_path: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = (DEMO / "twelve.yaml").read_text(encoding="utf-8")
    with client_of(tmp_path / "data") as client:
        for title in ("One", "Another, with the same wiring"):
            client.post("/api/commissions", json={"title": title, "wiring_text": text})
        rows = client.get("/api/commissions").json()
        assert not cache.exists(), "the list waits for no picture"
        addresses = [f"/api/versions/{row['wirings'][0]['version']}/picture" for row in rows]
        first = client.get(addresses[0])
        assert first.status_code == 200, first.text
        assert first.headers["content-type"].startswith("image/svg+xml")
        root = ElementTree.fromstring(first.text)
        tags = {one.tag.rpartition("}")[2] for one in root.iter()}
        assert "text" not in tags, "too small for words"
        assert first.text.count('class="wire') > 10
        assert [path.suffix for path in cache.iterdir()] == [".json"]
        version = rows[0]["wirings"][0]["version"]
        drawn = client.post("/api/draft/drawing", json={"draft": {"version": version, "edits": []}}).json()
        assert set(drawn["laid"]["places"]) == {part["name"] for part in drawn["facts"]["parts"]}
        edits = [{"path": ["parts", "tone_cap", "capacitance"], "value": "47 nF"}]
        edited = client.post(
            "/api/draft/drawing", json={"draft": {"version": version, "edits": edits}}
        ).json()
        assert edited["laid"] is None, "it is the picture of the version"
        monkeypatch.setattr(Pictures, "_make", lambda *_: pytest.fail("made again"))
        assert client.get(addresses[1]).text == first.text
        assert client.get("/api/versions/nothing/picture").status_code == 404


def test_old_pictures_give_way_beyond_the_bound(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from server.files import cache as kept

    monkeypatch.setattr(kept, "MOST_TEXT_BYTES", 250)
    for k in range(4):
        assert kept.kept_text("pictures", f"n{k}", "svg", lambda: "x" * 100) == "x" * 100
    assert len(list(cache.iterdir())) == 2
    assert (cache / "n3.svg").is_file()
    (cache / "n3.svg").write_text("", encoding="utf-8")
    assert kept.kept_text("pictures", "n3", "svg", lambda: "again") == "again", "an empty file is none"
