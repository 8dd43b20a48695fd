"""What lies beside the clips of an instrument: their list and the page that plays them."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

from dsp.takes.performance import Performance
from server.clips.list import LIST_NAME
from server.clips.plan import describe_flip, describe_sweep
from server.clips.record import clip_record
from server.files.audio_out import Written
from server.listings.making.folder import ListingStore
from server.listings.making.jobs import shown_hz
from server.listings.making.listing import Listing
from server.listings.making.made import Made, MadeClip, MadeFile, relative
from server.listings.making.page import instrument_page
from server.listings.making.report import DONE, InstrumentReport


def write_instrument(made: Made, listing: Listing, store: ListingStore) -> InstrumentReport:
    """Write an instrument's list and page; what came of it.

    Raises
    ------
    InputError
        When the disk refuses.
    """
    instrument = made.instrument
    entries = [_entry(clip, file, listing) for clip in made.clips for file in clip.files]
    text = json.dumps({"clips": entries}, indent=1, ensure_ascii=False) + "\n"
    store.write(f"{instrument.folder}/{LIST_NAME}", text.encode(errors="backslashreplace"))
    store.write(f"{instrument.folder}/index.html", instrument_page(_page_data(made, listing)))
    warnings = dict.fromkeys(text for one in entries for text in one["warnings"])
    return InstrumentReport(
        instrument.folder,
        instrument.name,
        instrument.wiring.file,
        DONE,
        len(made.clips),
        len(entries),
        made.reused,
        warnings=tuple(warnings),
        cover=made.clips[0].cover,
        about=_about(made),
    )


def _about(made: Made) -> str:
    positions = len({clip.clip.plan.setting.position for clip in made.clips})
    takes = len({clip.clip.plan.performance.take.file for clip in made.clips})
    words = [f"{positions} position{'s' * (positions != 1)}", f"{takes} take{'s' * (takes != 1)}"]
    return ", ".join([*words, f"{len(made.clips)} clips"])


def _entry(made: MadeClip, file: MadeFile, listing: Listing) -> dict[str, Any]:
    """Every fact of one file, as ``clips.json`` lists it."""
    facts = file.kept.facts
    written = Written(Path(file.place), facts["frames"], facts["gain"], facts["true_peak"])
    plan, rate_hz = made.clip.plan, listing.rate_hz
    found = clip_record(
        plan, made.measured, written, file.encoding, rate_hz=rate_hz, target_lufs=listing.loudness_lufs
    )
    return {
        **found,
        "clips": made.clip.group.name,
        "clips_label": made.clip.group.label,
        "cover": relative(made.cover),
        "sha256": file.kept.files["clip"][1],
    }


def _page_data(made: Made, listing: Listing) -> dict[str, Any]:
    """What the page shows and plays."""
    instrument = made.instrument
    wiring = instrument.wiring
    clips = [one.clip for one in made.clips]
    takes = _unlike({one.plan.performance.take.file: _take_name(one.plan.performance) for one in clips})
    groups = _unlike({one.group.name: one.group.label for one in clips})
    return {
        "instrument": instrument.name,
        "listing": listing.name,
        "matched": listing.loudness_lufs is not None,
        "hz": shown_hz(),
        "clips": [
            {
                **_clip_data(clip, wiring.labels, listing),
                "take": takes[clip.clip.plan.performance.take.file],
                "group": groups[clip.clip.group.name],
            }
            for clip in made.clips
        ],
    }


def _take_name(performance: Performance) -> str:
    return performance.take.name or performance.name


def _unlike(names: dict[str, str]) -> dict[str, str]:
    """Names for people by what they name; those alike get a number."""
    seen: Counter[str] = Counter()
    alike = Counter(names.values())
    found = {}
    for what, name in names.items():
        seen[name] += 1
        found[what] = name if alike[name] == 1 else f"{name} ({seen[name]})"
    return found


def _clip_data(made: MadeClip, labels: Any, listing: Listing) -> dict[str, Any]:
    plan = made.clip.plan
    played = next(file for file in made.files if file.script)
    facts = _entry(made, played, listing)
    moves = [*map(describe_sweep, plan.sweeps), *map(describe_flip, plan.flips)]
    return {
        "sound": made.sound,
        "script": relative(played.script),
        "position": plan.setting.position,
        "label": labels.get(plan.setting.position, ""),
        "stands": plan.settings_text,
        "moves": moves,
        "places": facts["coil_places"],
        "level": facts["level"],
        "loudness_lufs": facts["loudness_lufs"],
        "true_peak_dbtp": facts["true_peak_dbtp"],
        "design_error_db": facts["design_error"]["level_db"],
        "meets": facts["design_error"]["meets_contract"],
        "seconds": facts["seconds"],
        "levels_db": made.levels_db,
        "cover": relative(made.cover),
        "files": [{"format": f.encoding.format, "file": relative(f.place)} for f in made.files],
    }
