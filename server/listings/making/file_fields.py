"""The tables of what a listing file may say.

One truth: the reader, its error messages, `presolder listing --fields` and the tests of the README
follow these tables.
"""

from __future__ import annotations

from dsp.chain.ways import DIRECT, WAYS
from dsp.documents.field import Field, quantity
from dsp.parts.pot import KNOB_TOP
from dsp.sound.hum import HUM_ALLOWED
from dsp.sound.limiter import MOST_DB
from server.files.audio_formats import FORMATS

RATES = ("44100", "48000", "96000")
AS_WIRED = "as wired"
YES, NO = "yes", "no"
LOUDNESS_LUFS = (-60.0, 0.0)
LONGEST_S = 1800.0
"""Latest time within a clip, s: as long as the longest take."""
PLACEHOLDERS = {
    "wiring": "the wiring file's name",
    "instrument": "the wiring's own name",
    "take": "the take file's name",
    "position": "of the selector",
    "label": "of that position",
    "clips": "the name of the group of clips",
    "number": "of the clip within its instrument, from 1",
}
"""What a pattern of names may hold in braces."""
NAMES = "{wiring}-{take}-{position}-{clips}"

TOP_FIELDS: tuple[Field, ...] = (
    Field("name", "text", "heading of the index"),
    Field("wirings", "names", "wiring files, or patterns such as wirings/*.yaml", required=True),
    Field("takes", "names", "take files, or sound files", required=True),
    Field("positions", "positions", "of the selector: all, or a list", default="all"),
    Field("clips", "clips", "groups of clips, see below", default="one group, every knob at 10"),
    Field("formats", "formats", "names of formats, or maps, see below", default="[flac, mp3]"),
    Field("loudness", "loudness", f"LUFS to match, or {AS_WIRED}: true differences", default=AS_WIRED),
    Field(
        "limit",
        "choice",
        f"with a loudness: whether a limiter makes room, by {MOST_DB:g} dB at most",
        choices=(YES, NO),
        default=NO,
    ),
    Field(
        "through",
        "choice",
        "how clips are heard: as the input gets it, or through an amplifier",
        choices=tuple(WAYS),
        default=DIRECT.name,
    ),
    Field(
        "cabinet",
        "sound file",
        "impulse response in place of the loudspeaker of through, from this file's own folder",
    ),
    Field("hum", "hum", f"of a room, added to every clip: {HUM_ALLOWED}", default="none"),
    Field("names", "pattern", f"of the clips' files: {', '.join(PLACEHOLDERS)} in braces", default=NAMES),
    Field("out", "text", "folder for everything, from this file's own", required=True),
    Field("rate", "choice", "samples a second", choices=RATES, default="48000"),
    Field("sale", "sales", "picture, story, price and link of instruments, see below"),
    Field("artist", "text", "whom the files' tags and the pages' foot name, such as the workshop"),
    Field("address", "link", "where the folder will be on the web; previews of shared links need it"),
)
CLIPS_FIELDS: tuple[Field, ...] = (
    Field("name", "text", "short, for file names", required=True),
    Field("label", "text", "for people", default="the name"),
    Field("positions", "positions", "of the selector", default="those of the listing"),
    Field("takes", "names", "of those above", default="all"),
    Field("wirings", "names", "patterns of file names", default="all"),
    Field("set", "stands", "where knobs and switches stand: {tone: 4, split: 2}", default="knobs at 10"),
    Field("sweeps", "sweeps", "knobs that move, see below"),
    Field("flips", "flips", "switches that move, see below"),
)
SWEEP_FIELDS: tuple[Field, ...] = (
    Field("knob", "text", "which", required=True),
    quantity("from", "number", (0.0, KNOB_TOP), "where it starts"),
    quantity("to", "number", (0.0, KNOB_TOP), "where it ends"),
    quantity("start", "time", (0.0, LONGEST_S), "when it starts", "the clip's start"),
    quantity("end", "time", (0.0, LONGEST_S), "when it ends", "the clip's end"),
)
FLIP_FIELDS: tuple[Field, ...] = (
    quantity("at", "time", (0.0, LONGEST_S), "when"),
    Field("to", "text", "position", required=True),
    Field("switch", "text", "which", default="the selector"),
)
SALE_FIELDS: tuple[Field, ...] = (
    Field("wirings", "names", "patterns of file names", default="all"),
    Field("picture", "picture", "of the instrument: JPEG, PNG or WebP, from this file's own folder"),
    Field("story", "paragraph", "a paragraph for buyers"),
    Field("price", "price", "amount and currency's code: 1450 EUR"),
    Field("link", "link", "where it is sold"),
)
FOR_BUYERS = tuple(field for field in SALE_FIELDS if field.name != "wirings")
"""What one instrument's page says; the form of the bench asks for these."""
FOR_TAGS_AND_WEB = tuple(field for field in TOP_FIELDS if field.name in ("artist", "address"))
"""What the form of the bench asks for about a whole listing."""
FOR_HEARING = tuple(field for field in TOP_FIELDS if field.name in ("limit", "hum"))
"""What the form asks for about how all clips sound, besides the way."""
FORMAT_FIELDS: tuple[Field, ...] = (
    Field("format", "choice", "of the file", choices=tuple(FORMATS), required=True),
    Field("depth", "choice", "of wav and flac, bits", choices=("16", "24", "float"), default="24"),
    quantity("quality", "number", (0.0, 1.0), "of ogg, opus and mp3", "0.8"),
)
TABLES: dict[str, tuple[Field, ...]] = {
    "listing": TOP_FIELDS,
    "clips": CLIPS_FIELDS,
    "sweeps": SWEEP_FIELDS,
    "flips": FLIP_FIELDS,
    "formats": FORMAT_FIELDS,
    "sale": SALE_FIELDS,
}
"""Every table by the name of the field whose items it describes."""
