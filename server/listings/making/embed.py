"""The code that puts an instrument's player on a page of the shop's own."""

from __future__ import annotations

from html import escape

FIRST_TALL = 560
"""Height of the frame until the player tells its own, px."""
MOST_TALL = 4000
SIZE_SCRIPT = f"""<script>
addEventListener("message", ({{ source, data }}) => {{
  const tall = Math.min(Number(data?.presolderTall), {MOST_TALL});
  for (const frame of document.querySelectorAll("iframe"))
    if (frame.contentWindow === source && tall > 0) frame.style.height = `${{tall}}px`;
}});
</script>"""
"""Any page may send a message; only the height of the frame that sent it follows."""


def frame_code(page: str, name: str) -> str:
    """Return a frame with the player of a page, and the script that sizes it."""
    style = f"width:100%;height:{FIRST_TALL}px;border:0"
    frame = f'<iframe src="{escape(page)}#player" title="Listen to {escape(name)}" style="{style}"'
    return f'{frame} loading="lazy" allow="autoplay"></iframe>\n{SIZE_SCRIPT}'


def audio_code(sound: str) -> str:
    """Return the browser's own player for one sound."""
    return f'<audio controls preload="none" src="{escape(sound)}"></audio>'
