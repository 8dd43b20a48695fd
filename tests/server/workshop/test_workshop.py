"""The workshop's name, contact and picture: set at the bench, shown on every proposal."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from proposal_case import Made, again, made
from server_client import KEY

from server.files import pictures
from server.proposals.views import for_file
from server.workshop import routes

PLACE = b"SECRETPLACE"


@pytest.fixture
def proposal(tmp_path: Path) -> Made:
    return made(tmp_path)


def photograph(kind: str = "JPEG", size: tuple[int, int] = (800, 400), mode: str = "RGB") -> bytes:
    """Return a red picture that was taken lying on its side, and says where."""
    exif = Image.Exif()
    exif[0x0112], exif[0x010E] = 6, PLACE.decode()  # orientation, description (EXIF 2.3, section 4.6)
    written = io.BytesIO()
    Image.new(mode, size, "red").save(written, kind, exif=exif)
    assert PLACE in written.getvalue()
    return written.getvalue()


def bring(one: Made, content: bytes) -> Any:
    return one.client.post("/api/workshop/picture", content=content)


def test_name_and_contact_stand_on_every_proposal(proposal: Made) -> None:
    assert proposal.offer()["workshop"] is None
    texts = {"name": "North Bench", "contact": " +49 000 123 "}
    assert proposal.client.put("/api/workshop", json=texts).json() == {
        "name": "North Bench", "contact": "+49 000 123", "picture": None,
    }  # fmt: skip
    for one in (proposal, proposal.another()):
        assert one.offer()["workshop"] == {"name": "North Bench", "contact": "+49 000 123", "picture": None}
    assert again(proposal).get("/api/workshop").json()["name"] == "North Bench"
    for bad in ({"name": "a" * 201}, {"name": "two\nlines"}, {"more": 1}):
        assert proposal.client.put("/api/workshop", json=bad).status_code == 422


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_is_made_anew_small_upright_and_bare(proposal: Made, kind: str) -> None:
    shown = bring(proposal, photograph(kind)).json()["picture"]
    assert proposal.client.get(shown).headers["content-type"] == "image/jpeg"
    address = proposal.offer()["workshop"]["picture"]
    answer = proposal.client.get(address)
    assert "immutable" in answer.headers["cache-control"]
    assert PLACE not in answer.content
    with Image.open(io.BytesIO(answer.content)) as found:
        assert (found.format, found.size) == ("JPEG", (120, 240)), "turned upright"
        assert not found.getexif()
        assert "icc_profile" not in found.info
    assert len(answer.content) < 20_000


def test_a_file_holds_the_picture_itself(proposal: Made) -> None:
    bring(proposal, photograph())
    first = for_file(proposal.store, proposal.id, lambda sha256, ending: f"{sha256}.{ending}")
    kind, _, text = first["workshop"]["picture"].partition(",")
    assert kind == "data:image/jpeg;base64"
    assert base64.b64decode(text) == proposal.client.get(proposal.offer()["workshop"]["picture"]).content


def test_a_picture_is_taken_away_and_the_old_one_is_not_served(proposal: Made) -> None:
    bring(proposal, photograph())
    old = proposal.offer()["workshop"]["picture"]
    assert proposal.client.delete("/api/workshop/picture").json()["picture"] is None
    assert proposal.client.get(old).status_code == 404
    assert proposal.client.get("/api/workshop/picture").status_code == 404
    assert proposal.offer()["workshop"] is None


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"no picture",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        photograph()[:300],
        b"GIF89a" + b"\0" * 40,
    ],
    ids=["nothing", "text", "svg", "cut", "another kind"],
)
def test_what_is_no_picture_changes_nothing(proposal: Made, content: bytes) -> None:
    bring(proposal, photograph())
    before = proposal.offer()["workshop"]
    answer = bring(proposal, content)
    assert answer.status_code == 422
    assert answer.json()["problems"][0]["where"] == "picture"
    assert proposal.offer()["workshop"] == before


def test_too_large_a_file_or_picture_is_refused(proposal: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(routes, "LARGEST_PICTURE", 1 << 20)
    answer = bring(proposal, b"\0" * ((1 << 20) + 1))
    assert answer.status_code == 413
    assert answer.json()["problems"][0]["allowed"] == "up to 1 MB"
    monkeypatch.setattr(pictures, "MOST_PIXELS", 1_000_000)
    answer = bring(proposal, photograph("PNG", (1001, 1000)))
    assert answer.status_code == 422
    assert "1001 by 1000 pixels" in answer.json()["problems"][0]["got"]


def test_only_the_bench_sets_it(proposal: Made) -> None:
    outside = again(proposal, host="192.0.2.1", key=KEY)
    assert outside.get("/api/workshop").status_code == 401
    assert outside.put("/api/workshop", json={"name": "Mine"}).status_code == 401
    assert outside.post("/api/workshop/picture", content=photograph()).status_code == 401
    assert proposal.offer()["workshop"] is None
