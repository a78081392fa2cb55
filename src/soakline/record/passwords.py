"""Passwords: which are taken, the argon2id hash that is kept of them, and a first one to hand over."""

from __future__ import annotations

import secrets
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

SHORTEST, LONGEST = 12, 72
"""Letters of a password; the estimate of how long a guess takes reads no more than 72."""
_GUESSED_SLOWLY = 3
# No 0 and O, 1 and I: it is read out or copied by hand.
_LETTERS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
# The low-memory choice of RFC 9106 (64 MiB, three passes), as the library sets it.
_HASHER = PasswordHasher()


def hash_password(password: str) -> str:
    """Return the argon2id hash of a password, with its salt and costs in it."""
    return _HASHER.hash(password)


def is_password(password: str, kept_hash: str | None) -> bool:
    """Say whether a password is the one whose hash is kept; it takes as long where none is kept."""
    try:
        return _HASHER.verify(kept_hash or _nobodys_hash(), password) and kept_hash is not None
    except (VerificationError, InvalidHashError):
        return False


def say_weak(password: str, name: str) -> str | None:
    """Say why a password is not taken and what to do, or None where it is taken.

    >>> say_weak("short", "kari")
    'it has 5 characters; allowed are 12 to 72; some words of your own choice in a row are long and easy to keep'
    >>> say_weak("passwordpassword", "kari")
    'it is one of those guessed first; take some words that do not belong together'
    """
    if not SHORTEST <= len(password) <= LONGEST:
        return (
            f"it has {len(password)} characters; allowed are {SHORTEST} to {LONGEST}; some words of your own choice in "
            "a row are long and easy to keep"
        )
    # Its lists of words take a while to load, and are asked when somebody takes a password.
    from zxcvbn import zxcvbn  # noqa: PLC0415

    if zxcvbn(password, user_inputs=[name, "soakline"])["score"] < _GUESSED_SLOWLY:
        return "it is one of those guessed first; take some words that do not belong together"
    return None


def first_password() -> str:
    """Return a password to hand over once: 80 bits, in groups to be read out.

    >>> len(first_password())
    19
    """
    return "-".join("".join(secrets.choice(_LETTERS) for _ in range(4)) for _ in range(4))


@cache
def _nobodys_hash() -> str:
    return _HASHER.hash(secrets.token_urlsafe(16))
