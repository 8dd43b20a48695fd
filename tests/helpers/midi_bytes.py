"""MIDI files made byte by byte, without the library that reads them."""

from __future__ import annotations

from collections.abc import Sequence

FORMAT_0 = bytes.fromhex(
    "4D546864 00000006 0000 0001 0060"
    "4D54726B 0000003B"
    "00FF580404021808 00FF510307A120 00C005 00C12E 00C246"
    "00923060 003C60 60914340 60904C20 8140823040 003C40 00814340 00804C40 00FF2F00"
)
"""The example of Standard MIDI Files 1.0 (RP-001, Appendix 2) as one track."""
FORMAT_1 = bytes.fromhex(
    "4D546864 00000006 0001 0004 0060"
    "4D54726B 00000014 00FF580404021808 00FF510307A120 8300FF2F00"
    "4D54726B 00000010 00C005 8140904C20 81404C00 00FF2F00"
    "4D54726B 0000000F 00C12E 60914340 82204300 00FF2F00"
    "4D54726B 00000015 00C246 00923060 003C60 83003000 003C00 00FF2F00"
)
"""The same as four tracks."""
END = bytes.fromhex("FF2F00")


def length(number: int) -> bytes:
    """Return a variable-length quantity."""
    found = [number & 0x7F]
    while number := number >> 7:
        found.append(0x80 | number & 0x7F)
    return bytes(reversed(found))


def track(*events: tuple[int, bytes]) -> bytes:
    """Return a track of events, each after some ticks; its end follows."""
    content = b"".join(length(after) + data for after, data in (*events, (0, END)))
    return b"MTrk" + len(content).to_bytes(4) + content


def midi(*tracks: bytes, form: int = 1, division: int = 480) -> bytes:
    """Return a file of tracks."""
    numbers = b"".join(number.to_bytes(2) for number in (form, len(tracks), division))
    return b"MThd" + (6).to_bytes(4) + numbers + b"".join(tracks)


def on(key: int, velocity: int = 100, channel: int = 1) -> bytes:
    return bytes([0x8F + channel, key, velocity])


def off(key: int, channel: int = 1) -> bytes:
    return bytes([0x7F + channel, key, 0])


def bend(share: float, channel: int = 1) -> bytes:
    """Return a pitch bend, -1 to 1 of its range."""
    number = min(round(8192 + 8192 * share), 16383)
    return bytes([0xDF + channel, number & 0x7F, number >> 7])


def control(number: int, value: int, channel: int = 1) -> bytes:
    return bytes([0xAF + channel, number, value])


def melody(keys: Sequence[int], ticks: int = 240, channel: int = 1) -> bytes:
    """Return a track of notes, one after the other, each an eighth at 480 ticks a quarter."""
    return track(
        *(event for key in keys for event in ((0, on(key, channel=channel)), (ticks, off(key, channel))))
    )


def chord(keys: Sequence[int], ticks: int = 480, velocity: int = 100) -> tuple[tuple[int, bytes], ...]:
    """Return the events of notes together."""
    return (
        *((0, on(key, velocity)) for key in keys),
        *((ticks if place == 0 else 0, off(key)) for place, key in enumerate(keys)),
    )
