"""Captions of clips: notes, sweeps and flips; as a file that another program reads."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from places import DEMO

from dsp.sound.movement import Flip, Sweep
from dsp.takes.captions import Caption
from dsp.wiring.model import Setting
from server.clips.plan import plan_clip
from server.listings.making.captions import captions_of, settings_words, web_vtt
from server.takes.load import load_take
from server.wirings.text import load_wiring

CAPTIONS = (Caption(0.0, 61.5, "E2 & <b> riff"), Caption(61.5, 3723.25, "the tone knob"))


def test_what_moves_is_said_beside_what_is_played() -> None:
    wiring, take = load_wiring(DEMO / "baritone.yaml"), load_take(DEMO / "low_riff.yaml")
    setting = Setting("1", {"volume": 10.0, "tone": 0.0})
    plan = plan_clip(
        wiring, take, setting, [Sweep("tone", 0.0, 10.0, 1.0, 4.0)], [Flip(5.0, "2"), Flip(7.0, "3")]
    )
    assert settings_words(plan) == "volume 10, tone from 0 to 10, selector to 2 at 5 s, selector to 3 at 7 s"
    found = captions_of(plan)
    assert Caption(1.0, 4.0, "the tone knob moves from 0 to 10") in found
    assert Caption(5.0, 7.0, "selector in position 2") in found
    assert Caption(7.0, take.seconds, "selector in position 3") in found
    assert any("B1" in one.text and "palm-muted" in one.text for one in found)
    assert [one.start_s for one in found] == sorted(one.start_s for one in found)


def test_a_recording_is_called_one(tmp_path: Path) -> None:
    plan = plan_clip(load_wiring(DEMO / "baritone.yaml"), load_take(DEMO / "e_slide.yaml"), Setting("1", {}))
    (only,) = captions_of(plan)
    assert only.text.endswith(", a recording")
    assert (only.start_s, only.end_s) == (0.0, plan.performance.seconds)


@pytest.mark.reference
def test_another_program_reads_the_file(tmp_path: Path) -> None:
    """ffmpeg turns WebVTT (W3C) into another form of subtitles: the same times and words."""
    if not shutil.which("ffmpeg"):
        if os.environ.get("CI") == "true":
            pytest.fail("ffmpeg is missing")
        pytest.skip("ffmpeg is missing")
    file = tmp_path / "a.vtt"
    file.write_bytes(web_vtt(CAPTIONS))
    words = ["ffmpeg", "-v", "error", "-i", str(file), "-f", "srt", "-"]
    printed = subprocess.run(words, capture_output=True, text=True, check=True).stdout
    assert re.findall(r"(\S+) --> (\S+)", printed) == [
        ("00:00:00,000", "00:01:01,500"), ("00:01:01,500", "01:02:03,250"),
    ]  # fmt: skip
    assert "E2 & <b> riff" in printed.replace("&amp;", "&").replace("&lt;", "<").replace("&gt;", ">")
