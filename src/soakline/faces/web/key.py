"""The key that opens the pages at this computer."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable
from threading import Lock

OPEN = "/open"


class Key:
    """The key in the address that the command prints: it opens the pages once, then there is a new one."""

    def __init__(self) -> None:
        """Make the first key."""
        self._lock = Lock()
        self._key = secrets.token_urlsafe(24)
        self.renewed: Callable[[], None] = lambda: None

    @property
    def path(self) -> str:
        """The path, with the key, that opens the pages."""
        return f"{OPEN}?key={self._key}"

    def take(self, key: str) -> bool:
        """Say whether that is the key; where it is, it is used up and the next one is told."""
        with self._lock:
            if not hmac.compare_digest(key.encode(), self._key.encode()):
                return False
            self._key = secrets.token_urlsafe(24)
        self.renewed()
        return True
