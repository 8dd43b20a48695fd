"""Sealed answers: the page and the server agree on every byte, and no changed text passes."""

from __future__ import annotations

import base64
import json
import os
import random
import re
import shutil
import subprocess
import zlib
from typing import Any

import pytest
from answer_case import seal_text
from places import ROOT

from dsp.errors import InputError
from server.answers.sealing import MOST_BYTES, MOST_CHARACTERS, is_sealed, open_text, squeeze
from server.proposals.signoffs import canonical
from server.refusals import TooLarge

SECRET = bytes(range(32))
SIGNS = 'abcZ 09äßЖ漢🎸\U0010ffff\uffff\u2028"\\/\n\t\b\f\x01\x7f<>&'
BASE64 = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"


def words(rng: random.Random, most: int) -> str:
    return "".join(rng.choices(SIGNS, k=rng.randrange(most)))


def random_said(rng: random.Random) -> dict[str, Any]:
    """Return what a customer says, any letters and knobs among it."""
    numbers = range(1, 25)
    return {
        "favourites": rng.sample(numbers, rng.randrange(6)),
        "notes": [
            {"number": rng.choice([None, *numbers]), "text": words(rng, 60)} for _ in range(rng.randrange(4))
        ],
        "wishes": [
            {"number": rng.choice(numbers), "knobs": {words(rng, 6): rng.uniform(0.0, 10.0) for _ in "abc"}}
            for _ in range(rng.randrange(3))
        ],
        "heard": [{"number": rng.choice(numbers), "take": words(rng, 9)} for _ in range(rng.randrange(4))],
        "sign": {"number": rng.choice(numbers), "name": words(rng, 30)} if rng.random() < 0.5 else None,
        "when": rng.randrange(2_000_000_000_000),
        "random": [rng.randrange(256) for _ in range(6)],
    }


@pytest.mark.parametrize("many", [200, pytest.param(10_000, marks=pytest.mark.long)])
def test_answers_of_the_page_are_read_with_equal_bytes(many: int) -> None:
    if shutil.which("node") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("node is missing; CI must install it")
        pytest.skip("node is missing")
    rng = random.Random(14)
    asked = [random_said(rng) for _ in range(many)]
    secrets = [rng.randbytes(32) for _ in asked]
    lines = [
        json.dumps(
            [{"proposal": "p", "sent": "5" * 64, "secret": base64.urlsafe_b64encode(secret).decode()}, said]
        )
        for said, secret in zip(asked, secrets, strict=True)
    ]
    done = subprocess.run(
        ["node", "tests/web/seal_answers.mjs"], cwd=ROOT, input="\n".join(lines).encode(),
        capture_output=True, check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr.decode()[-2000:]
    answers = [json.loads(line) for line in done.stdout.decode().strip().split("\n")]
    assert len(answers) == len(asked)
    for said, secret, (text, sealed, digits) in zip(asked, secrets, answers, strict=True):
        assert squeeze(digits) == sealed
        read, content = open_text(sealed)
        assert read == text == canonical(content)
        assert is_sealed(sealed, secret)
        assert content["fav"] == sorted(said["favourites"])
        assert content["notes"] == [
            [note["number"], re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]", " ", note["text"])]
            for note in said["notes"]
        ]
        assert len(content["wish"]) == len(said["wishes"])
        for (number, knobs), wish in zip(content["wish"], said["wishes"], strict=True):
            assert number == wish["number"]
            assert knobs == pytest.approx(wish["knobs"], abs=0.00501)


def test_every_single_character_changed_is_refused() -> None:
    """Also those whose bits base 64 and deflate leave unused: the seal covers the text itself."""
    text = canonical({"f": 1, "notes": [[1, "Grüße"]], "r": "0001020304ff"})
    sealed = seal_text(text, SECRET)
    assert open_text(sealed)[0] == text
    assert is_sealed(sealed, SECRET)
    passed = 0
    for place in range(len(sealed)):
        for sign in (*BASE64, ".", "=", "é"):
            if sign == sealed[place]:
                continue
            changed = sealed[:place] + sign + sealed[place + 1 :]
            try:
                open_text(changed)
            except InputError:
                continue
            passed += 1
            assert not is_sealed(changed, SECRET), f"character {place} as {sign}"
    assert passed > 1000, "the seal itself is put to the test"
    assert not is_sealed(sealed, bytes(32))


def test_white_space_does_not_matter() -> None:
    sealed = seal_text(canonical({"f": 1}), SECRET)
    wrapped = " \r\n".join(sealed[k : k + 7] for k in range(0, len(sealed), 7)) + "\n\u00a0"
    assert squeeze(wrapped) == sealed


@pytest.mark.parametrize("cut", [0, 5, 11, 30, -1])
def test_a_text_that_was_cut_is_refused_in_words(cut: int) -> None:
    sealed = seal_text(canonical({"f": 1, "notes": [[1, "two words"]]}), SECRET)
    with pytest.raises(InputError, match="the whole text as the customer's page gave it"):
        open_text(sealed[:cut])


def test_a_bomb_is_not_unpacked() -> None:
    """Half a hundred megabytes fit a text of the allowed length; a gigabyte does not."""
    packing = zlib.compressobj(9, zlib.DEFLATED, -zlib.MAX_WBITS)
    body = packing.compress(b" " * 50_000_000) + packing.flush()
    assert len(body) < MOST_CHARACTERS * 3 // 4
    bomb = f"presolder1.{base64.urlsafe_b64encode(body).decode().rstrip('=')}.{'A' * 22}"
    with pytest.raises(TooLarge, match="up to 64 kB"):
        open_text(squeeze(bomb))
    with pytest.raises(TooLarge, match=f"up to {MOST_CHARACTERS}"):
        squeeze("a" * (MOST_CHARACTERS + 1))
    longest = canonical({"a": "x" * (MOST_BYTES - 8)})
    assert len(longest) == MOST_BYTES
    assert open_text(seal_text(longest, SECRET))[0] == longest


@pytest.mark.parametrize(
    "text", ['{"b":1,"a":2}', "[1]", '{"a": 1}', '{"a":NaN}', "no JSON", "[" * 60_000, '{"a":1.0e0}']
)
def test_what_is_not_canonical_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        open_text(seal_text(text, SECRET))


def test_digits_that_were_changed_are_refused() -> None:
    """Most other digits are other bytes, which the seal refuses; the rest are no bytes at all."""
    sealed = seal_text(canonical({"f": 1, "notes": [[1, "Grüße"]]}), SECRET)
    content = b"".join(base64.urlsafe_b64decode(one + "==") for one in sealed.split(".")[1:])
    widths = {1: 3, 2: 5, 3: 8, 4: 10, 5: 13, 6: 15, 7: 17}
    parts = [content[k : k + 7] for k in range(0, len(content), 7)]
    digits = "".join(str(int.from_bytes(part, "big")).zfill(widths[len(part)]) for part in parts)
    assert squeeze(f"PRESOLDER1.\n{digits[:20]} {digits[20:]}") == sealed
    for place, sign in enumerate(digits):
        changed = digits[:place] + ("7" if sign != "7" else "8") + digits[place + 1 :]
        try:
            found = squeeze(f"PRESOLDER1.{changed}")
            open_text(found)
        except InputError:
            continue
        assert not is_sealed(found, SECRET), f"digit {place}"
    with pytest.raises(InputError, match="changed on its way"):
        squeeze(f"PRESOLDER1.{digits}1")
    with pytest.raises(InputError, match="changed on its way"):
        squeeze("PRESOLDER1." + "9" * 17)
