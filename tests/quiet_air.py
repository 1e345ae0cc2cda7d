"""A table that lists somebody everywhere, too weak to be heard: what it holds is known, and clear."""

from __future__ import annotations

from pathlib import Path


def quiet_air(folder: Path) -> Path:
    """Return the file of such a table."""
    path = folder / "quiet.csv"
    path.write_text(
        "low_khz,high_khz,service,label,level\n1,900000,ism,far away,-190 dBm\n", encoding="utf-8"
    )
    return path
