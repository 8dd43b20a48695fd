"""How far a run has come: what is done, how fast, how much longer."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Tally:
    """Counts the sound that is done, and says how long the rest will take.

    Attributes
    ----------
    total_s : float
        Sound of all files there are to be.
    n_formats : int
        Files of each clip: rates are told of clips.
    started_s : float
        Time at the start.
    done_s, made_s : float
        Sound of files that are there; of those, what this run has made.
    files : dict of str to int
        Files done, per instrument.
    """

    total_s: float
    n_formats: int
    started_s: float
    done_s: float = 0.0
    made_s: float = 0.0
    files: dict[str, int] = field(default_factory=dict)

    def add(self, instrument: str, seconds: float, *, made: bool) -> None:
        """Count one file of an instrument, its length in seconds."""
        self.done_s += seconds
        self.made_s += seconds if made else 0.0
        self.files[instrument] = self.files.get(instrument, 0) + 1

    def give_up(self, seconds: float) -> None:
        """Leave out sound, in seconds, that will not come."""
        self.total_s -= seconds

    @property
    def share(self) -> float:
        """Of the work that is done, 0 to 1."""
        return 1.0 if self.total_s <= 0.0 else min(self.done_s / self.total_s, 1.0)

    def rate(self, now_s: float) -> float | None:
        """Seconds of clips made a second, by the time now; None before any."""
        elapsed = now_s - self.started_s
        return None if self.made_s <= 0.0 or elapsed <= 0.0 else self.made_s / self.n_formats / elapsed

    def remaining_s(self, now_s: float) -> float | None:
        """Time the rest will take, s, by the time now; None before any."""
        rate = self.rate(now_s)
        return None if rate is None else max(self.total_s - self.done_s, 0.0) / self.n_formats / rate


def clock(seconds: float) -> str:
    """A time from seconds as people read it: 2 h 05 min, 3 min 20 s, 8 s."""
    whole = round(seconds)
    if whole >= 3600:
        return f"{whole // 3600} h {whole % 3600 // 60:02d} min"
    return f"{whole // 60} min {whole % 60:02d} s" if whole >= 60 else f"{whole} s"
