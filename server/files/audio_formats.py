"""File formats of clips: what each can hold, and how libsndfile is asked for it."""

from __future__ import annotations

from dataclasses import dataclass

from dsp.errors import InputError, nearest

MPEG_RATES_HZ = (8000, 11025, 12000, 16000, 22050, 24000, 32000, 44100, 48000)
OPUS_RATES_HZ = (8000, 12000, 16000, 24000, 48000)  # RFC 6716, section 2.1.3
LEAST_COMPRESSION, MOST_COMPRESSION = 0.0, 0.99  # libsndfile's scale; its MP3 writer refuses 1.0


@dataclass(frozen=True)
class FileFormat:
    """What one file format can hold.

    Attributes
    ----------
    sndfile : str
        libsndfile's name for it.
    subtypes : dict
        libsndfile's subtype by depth; the first is the default. Lossy formats have one, ``""``.
    rates_hz : tuple of int
        Rates that it can hold; empty for any.
    compression : tuple of float
        libsndfile's scale, at quality 1 and at quality 0.
    """

    sndfile: str
    subtypes: dict[str, str]
    rates_hz: tuple[int, ...] = ()
    compression: tuple[float, float] = (LEAST_COMPRESSION, MOST_COMPRESSION)

    @property
    def lossy(self) -> bool:
        """Whether decoded samples differ by more than rounding."""
        return "" in self.subtypes


FORMATS = {
    "wav": FileFormat("WAV", {"float": "FLOAT", "24": "PCM_24", "16": "PCM_16"}),
    "flac": FileFormat("FLAC", {"24": "PCM_24", "16": "PCM_16"}),
    "ogg": FileFormat("OGG", {"": "VORBIS"}),
    # About 160 kb/s a channel, beyond which nobody hears a difference, down to 40 (common practice).
    "opus": FileFormat("OGG", {"": "OPUS"}, OPUS_RATES_HZ, (0.4, 0.85)),
    "mp3": FileFormat("MP3", {"": "MPEG_LAYER_III"}, MPEG_RATES_HZ),
}


@dataclass(frozen=True)
class Encoding:
    """How a clip is stored.

    Attributes
    ----------
    format : {"wav", "flac", "ogg", "opus", "mp3"}
    depth : {"16", "24", "float"}
        Empty for the format's default: float for WAV, 24 for FLAC. Lossy formats have no depth.
    quality : float
        0 to 1 (best), for lossy formats; the bit rate varies.

    Raises
    ------
    InputError
        For an unknown format, depth or quality, or ones that do not go together.
    """

    format: str = "wav"
    depth: str = ""
    quality: float = 0.8

    def __post_init__(self) -> None:
        if self.format not in FORMATS:
            raise InputError("format", self.format, ", ".join(FORMATS), nearest(self.format, FORMATS))
        depths = self._format.subtypes
        if not self.depth:
            object.__setattr__(self, "depth", next(iter(depths)))
        if self.depth not in depths:
            allowed = "no depth" if self.lossy else ", ".join(depths)
            raise InputError("depth", f"{self.depth} for {self.format}", allowed)
        if not 0.0 <= self.quality <= 1.0:
            raise InputError("quality", str(self.quality), "0 to 1")

    @property
    def _format(self) -> FileFormat:
        return FORMATS[self.format]

    @property
    def lossy(self) -> bool:
        """Whether the format is Ogg Vorbis, Opus or MP3."""
        return self._format.lossy

    @property
    def plain_volts(self) -> bool:
        """Whether samples may exceed 1: floating-point WAV."""
        return self.depth == "float"

    def check_rate(self, rate_hz: int) -> None:
        """Refuse a rate that the format cannot hold.

        Raises
        ------
        InputError
        """
        rates = self._format.rates_hz
        if rates and rate_hz not in rates:
            allowed = ", ".join(map(str, rates))
            raise InputError("rate", f"{rate_hz} Hz for {self.format}", f"{allowed} Hz", "or another format")

    def options(self) -> dict[str, object]:
        """Return keyword arguments for soundfile, in libsndfile's terms."""
        options: dict[str, object] = {
            "format": self._format.sndfile,
            "subtype": self._format.subtypes[self.depth],
        }
        if self.lossy:
            least, most = self._format.compression
            options["compression_level"] = least + (most - least) * (1.0 - self.quality)
        if self.format == "mp3":
            options["bitrate_mode"] = "VARIABLE"
        return options


def encoder_version() -> str:
    """Return the version of the library that writes the files."""
    import soundfile

    return str(soundfile.__libsndfile_version__)
