"""The listing's pages: static HTML that plays clips from a file or any web host, without a server.

The page holds its style, script and data. The sounds lie beside it as small scripts, loaded on demand: a page
opened as a file may load a script but not read the bytes of a sound file, and switching positions at the same
place needs those bytes.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from string import Template
from typing import Any
from urllib.parse import quote

from dsp.takes.performance import Performance
from dsp.units import count_words
from server.clips.list import LIST_NAME
from server.clips.record import clip_record
from server.files.audio_out import Written
from server.files.names import file_stem
from server.files.packaged import web_text
from server.files.pictures import picture_for_page
from server.listings.making.captions import captions_of, settings_words, web_vtt
from server.listings.making.embed import audio_code, frame_code
from server.listings.making.folder import ListingStore
from server.listings.making.instrument import ClipResult, FileResult, InstrumentResult
from server.listings.making.jobs import shown_hz
from server.listings.making.listing import Listing
from server.listings.making.plan import GroupedClip, Instrument
from server.listings.making.report import DONE, InstrumentReport
from server.listings.making.sale import PICTURE_NAME, Sale, address_of, product, sale_of

SCRIPTS = (
    "js/shared/dom.js",
    "js/shared/latest.js",
    "js/shared/plot.js",
    "js/shared/plot_grid.js",
    "js/player/level.js",
    "js/player/tap.js",
    "js/player/between.js",
    "js/player/true_peak.js",
    "js/player/gain_plan.js",
    "js/player/clips.js",
    "listing/sounds.js",
    "listing/view.js",
)
"""Modules written into the page, in the order of their imports. A page opened as a file loads no modules."""

LACKING = "covers: no font here has {}; a ? stands for each. Install one that has them and run it again"
MODULE_WORDS = re.compile(
    r"^import [^;]*;\n|^export (?=(?:async )?(?:function|const|let|class) )", re.MULTILINE
)
COMMENTS = re.compile(r"^[ \t]*/\*\*.*?\*/\n", re.MULTILINE | re.DOTALL)


def in_script(data: Any) -> str:
    """Write data as JSON that cannot end the script element around it."""
    text = json.dumps(_readable(data), ensure_ascii=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _readable(data: Any) -> Any:
    """Return data whose texts UTF-8 can hold; other bytes of file names become ``?``."""
    if isinstance(data, str):
        return data.encode(errors="replace").decode()
    if isinstance(data, dict):
        return {key: _readable(value) for key, value in data.items()}
    return [_readable(one) for one in data] if isinstance(data, list | tuple) else data


def address(path: str) -> str:
    """Write a path beside a page as an address in it."""
    return escape(quote(path, errors="surrogateescape"))


def plain_script(module: str) -> str:
    """Drop a module's imports, the word ``export`` and its documentation."""
    return MODULE_WORDS.sub("", COMMENTS.sub("", module))


def join_scripts() -> str:
    """Join the page's modules into one script with one scope.

    No two modules may declare the same name.
    """
    return "\n".join(plain_script(web_text(name)) for name in SCRIPTS)


def instrument_page(data: dict[str, Any], buyers: Buyers, artist: str) -> bytes:
    """Return the page of one instrument.

    Parameters
    ----------
    data : dict
        As the script reads it: ``instrument``, ``hz``, ``clips`` and what else it shows.
    buyers : Buyers
        What the page says to them and to whoever previews a link to it.
    artist : str
        Whom its foot names; empty for nobody.
    """
    clips = [
        {**clip, "script": quote(clip["script"], errors="surrogateescape"),
         "files": [{**file, "file": quote(file["file"], errors="surrogateescape")} for file in clip["files"]]}
        for clip in data["clips"]
    ]  # fmt: skip
    captions = {
        key: {**one, "file": quote(one["file"], errors="surrogateescape")}
        for key, one in data["captions"].items()
    }
    return _page(
        "listing/instrument.html",
        title=_shown(data["instrument"]),
        by=_by(artist),
        head=buyers.head(),
        sale=buyers.words(),
        script=join_scripts(),
        data=in_script({**data, "clips": clips, "captions": captions}),
        files="\n".join(_file_row(clip) for clip in data["clips"]),
    )


def embed_page(name: str, page: str, sound: str) -> bytes:
    """Return the page with the code for pages of the shop's own.

    Parameters
    ----------
    page, sound : str
        Addresses on the web of the instrument's page and of one clip.
    """
    return _page(
        "listing/embed.html",
        title=_shown(name),
        code=escape(frame_code(page, name)),
        preview=frame_code("index.html", name),
        audio=escape(audio_code(sound)),
    )


@dataclass(frozen=True)
class Buyers:
    """What an instrument's page says to buyers.

    Attributes
    ----------
    about : str
        In a few words, where there is no story.
    picture, image : str
        Place of the instrument's picture, empty without one; of what stands for the page.
    address : str
        Of the listing on the web; empty if nobody said.
    """

    instrument: Instrument
    about: str
    sale: Sale | None
    picture: str
    image: str
    address: str

    def head(self) -> str:
        """Return the metadata for previews (Open Graph) and shops (schema.org)."""
        story = self.sale.story if self.sale else ""
        page = address_of(self.address, f"{self.instrument.folder}/index.html")
        image = address_of(self.address, self.image)
        told = {"og:type": "website", "og:title": self.instrument.name}
        told |= {"og:description": story or self.about, "og:url": page, "og:image": image}
        lines = [f'<meta name="description" content="{_shown(story or self.about)}">']
        lines += [f'<meta property="{name}" content="{_shown(text)}">' for name, text in told.items() if text]
        if self.sale is not None:
            found = in_script(product(self.instrument.name, self.sale, page, image))
            lines.append(f'<script type="application/ld+json">{found}</script>')
        return "\n".join(lines)

    def words(self) -> str:
        """Return picture, story, price and link; nothing where nothing is said."""
        sale, parts = self.sale, []
        if sale is None:
            return ""
        if self.picture:
            name = _shown(self.instrument.name)
            parts.append(f'<img class="picture" src="{address(_relative(self.picture))}" alt="{name}">')
        words = f'<p class="story">{_shown(sale.story)}</p>' if sale.story else ""
        price = f"<b>{_shown(str(sale.price))}</b>" if sale.price else ""
        link = (
            f'<a class="buy" href="{_shown(sale.link)}" target="_top" rel="noopener">To the shop</a>'
            if sale.link
            else ""
        )
        if price or link:
            words += f'<p class="offer">{price}{link}</p>'
        return f'<section class="sale" aria-label="For sale">{"".join(parts)}<div>{words}</div></section>'


def _file_row(clip: dict[str, Any]) -> str:
    """Write a clip's files as a row of a table, which needs no script."""
    links = " ".join(
        f'<a href="{address(file["file"])}" download>{_shown(file["format"].upper())}</a>'
        for file in clip["files"]
    )
    words = (f"{clip['position']} {clip['label']}".strip(), clip["take"], clip["group"])
    return f"<tr>{''.join(f'<td>{_shown(word)}</td>' for word in words)}<td>{links}</td></tr>"


def index_page(name: str, instruments: Sequence[InstrumentReport], artist: str) -> bytes:
    """Return the page over all instruments that have clips.

    Parameters
    ----------
    name : str
        Name of the listing; a plain heading if empty.
    artist : str
        Whom its foot names; empty for nobody.
    """
    done = [one for one in instruments if one.state == DONE]
    cards = "\n".join(
        f'<li><a class="card" href="{address(one.folder)}/index.html">'
        f'<img src="{address(one.cover)}" alt="" width="120" height="120" loading="lazy">'
        f"<span><b>{_shown(one.name)}</b><i>{_shown(one.about)}</i></span></a></li>"
        for one in done
    )
    many = f"{len(done)} instrument{'' if len(done) == 1 else 's'}"
    title = _shown(name or "Listening to wirings")
    return _page("listing/index.html", title=title, cards=cards, many=many, by=_by(artist))


def _by(artist: str) -> str:
    """Return whom the foot of a page names, as a sentence; empty for nobody."""
    return f"Sounds by {_shown(artist)}. " if artist else ""


def _shown(text: str) -> str:
    return escape(text.encode(errors="replace").decode())


def _page(frame: str, **parts: str) -> bytes:
    page = Template(web_text(frame)).substitute(style=web_text("listing/listing.css"), **parts)
    return page.encode()


def write_instrument(result: InstrumentResult, listing: Listing, store: ListingStore) -> InstrumentReport:
    """Write an instrument's list of clips and its page; return its report.

    Raises
    ------
    InputError
        If the disk refuses.
    """
    instrument = result.instrument
    entries = [_entry(clip, file, listing) for clip in result.clips for file in clip.files]
    text = json.dumps({"clips": entries}, indent=1, ensure_ascii=False) + "\n"
    store.write(f"{instrument.folder}/{LIST_NAME}", text.encode(errors="backslashreplace"))
    sale = sale_of(listing.sales, instrument.wiring.file)
    picture = ""
    if sale is not None and sale.picture:
        picture = f"{instrument.folder}/{PICTURE_NAME}"
        store.write(picture, picture_for_page(Path(listing.where).parent / sale.picture))
    about = _about(result)
    buyers = Buyers(instrument, about, sale, picture, picture or result.clips[0].cover, listing.address)
    data = _page_data(result, listing)
    for one in data["captions"].values():
        store.write(f"{instrument.folder}/{one['file']}", one.pop("content"))
    store.write(f"{instrument.folder}/index.html", instrument_page(data, buyers, listing.artist))
    if listing.address:
        page = address_of(listing.address, f"{instrument.folder}/index.html")
        files = result.clips[0].files
        widest = next((one for one in files if one.encoding.format == "mp3"), files[0])
        sound = address_of(listing.address, widest.place)
        store.write(f"{instrument.folder}/embed.html", embed_page(instrument.name, page, sound))
    warnings = dict.fromkeys(text for one in entries for text in one["warnings"])
    if result.lacking:
        warnings[LACKING.format(" ".join(result.lacking))] = None
    return InstrumentReport(
        instrument.folder,
        instrument.name,
        instrument.wiring.file,
        DONE,
        len(result.clips),
        len(entries),
        result.reused,
        warnings=tuple(warnings),
        cover=buyers.image,
        about=about if sale is None or sale.price is None else f"{sale.price} · {about}",
    )


def _about(result: InstrumentResult) -> str:
    positions = len({one.clip.plan.setting.position for one in result.clips})
    takes = len({one.clip.plan.performance.take.file for one in result.clips})
    words = [count_words(positions, "position"), count_words(takes, "take")]
    return ", ".join([*words, count_words(len(result.clips), "clip")])


def _entry(clip: ClipResult, file: FileResult, listing: Listing) -> dict[str, Any]:
    """Return everything known about one file, as ``clips.json`` lists it."""
    facts = file.job.facts
    written = Written(
        Path(file.place), facts["frames"], facts["gain"], facts["true_peak"], facts.get("limiter_gain")
    )
    plan, rate_hz = clip.clip.plan, listing.rate_hz
    found = clip_record(
        plan,
        clip.measured,
        written,
        file.encoding,
        rate_hz=rate_hz,
        target_lufs=listing.loudness_lufs,
        lowered_db=clip.lowered_db,
    )
    return {
        **found,
        "clips": clip.clip.group.name,
        "clips_label": clip.clip.group.label,
        "cover": _relative(clip.cover),
        "sha256": file.job.files["clip"][1],
    }


def _page_data(result: InstrumentResult, listing: Listing) -> dict[str, Any]:
    """Return what the page shows and plays."""
    instrument = result.instrument
    wiring = instrument.wiring
    clips = [one.clip for one in result.clips]
    takes = _make_distinct(
        {one.plan.performance.take.file: _take_name(one.plan.performance) for one in clips}
    )
    groups = _make_distinct({one.group.name: one.group.label for one in clips})
    heard: dict[tuple[str, str], int] = {}
    for i, one in enumerate(clips):
        heard.setdefault(_heard(one), i)
    return {
        "instrument": instrument.name,
        "listing": listing.name,
        "matched": listing.loudness_lufs is not None,
        "hz": shown_hz(),
        "captions": {f"{i}": _captions_data(clips[clip], f"{i}") for i, clip in enumerate(heard.values())},
        "clips": [
            {
                **_clip_data(clip, wiring.labels, listing),
                "captions": f"{list(heard).index(_heard(clip.clip))}",
                "take": takes[clip.clip.plan.performance.take.file],
                "group": groups[clip.clip.group.name],
            }
            for clip in result.clips
        ],
    }


def _heard(clip: GroupedClip) -> tuple[str, str]:
    """Return what the captions of a clip depend on: the take, and what moves."""
    return clip.plan.performance.take.file, clip.group.name


def _captions_data(clip: GroupedClip, number: str) -> dict[str, Any]:
    """Return captions as the page reads them, with the file that holds them too."""
    captions = captions_of(clip.plan)
    name = file_stem([number, clip.plan.performance.name, clip.group.name])
    return {
        "file": f"captions/{name}.vtt",
        "content": web_vtt(captions),
        "cues": [[round(one.start_s, 3), round(one.end_s, 3), one.text] for one in captions],
    }


def _take_name(performance: Performance) -> str:
    return performance.take.name or performance.name


def _make_distinct(names: dict[str, str]) -> dict[str, str]:
    """Return names for people by what they name; equal names get a number."""
    seen: Counter[str] = Counter()
    alike = Counter(names.values())
    found = {}
    for what, name in names.items():
        seen[name] += 1
        found[what] = name if alike[name] == 1 else f"{name} ({seen[name]})"
    return found


def _clip_data(clip: ClipResult, labels: Any, listing: Listing) -> dict[str, Any]:
    plan = clip.clip.plan
    played = next(file for file in clip.files if file.script)
    facts = _entry(clip, played, listing)
    return {
        "sound": clip.sound,
        "script": _relative(played.script),
        "position": plan.setting.position,
        "label": labels.get(plan.setting.position, ""),
        "stands": settings_words(plan),
        "places": facts["coil_places"],
        "through": plan.heard_about,
        "level": facts["level"],
        "loudness_lufs": facts["loudness_lufs"],
        "true_peak_dbtp": facts["true_peak_dbtp"],
        "design_error_db": facts["design_error"]["level_db"],
        "meets": facts["design_error"]["meets_contract"],
        "seconds": facts["seconds"],
        "levels_db": clip.levels_db,
        "cover": _relative(clip.cover),
        "files": [{"format": f.encoding.format, "file": _relative(f.place)} for f in clip.files],
    }


def _relative(place: str) -> str:
    """Return a place as seen from its instrument's folder."""
    return Path(place).relative_to(Path(place).parts[0]).as_posix()
