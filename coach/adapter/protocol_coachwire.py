"""pyserial's hook for the scheme coachwire://: hands python-OBD the face of a wire that is already open."""

from typing import Any

FACES: dict[str, Any] = {}
"""Open faces by their url; each is taken out when its link is set up."""


def serial_class_for_url(url: str) -> tuple[str, Any]:
    """pyserial asks which class serves the url; ours is the one face that waits under it."""
    return url, lambda *_args, **_settings: FACES[url]
