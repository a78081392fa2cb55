"""What a site sets for itself, read once where the program starts and passed down."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import time
from difflib import get_close_matches
from ipaddress import ip_address
from pathlib import Path

from soakline.errors import Finding, InputRefused
from soakline.sources import source

PREFIX = "SOAKLINE_"
_ISSUER = re.compile(r"(https://[^\s?#]+|http://127\.0\.0\.1[^\s?#]*)")
_SITE = re.compile(r"https://[a-z0-9]([a-z0-9.-]*[a-z0-9])?(:[1-9][0-9]{0,4})?")
ORIGINS: Mapping[str, str] = {
    "canister_share": "fluids.canister_share",
    "anaesthetic_window_h": "anaesthetic.window",
    "reading_error_ml": "fluids.reading_error",
    "shift_starts": "site.shifts",
}
"""Settings that rest on common practice and no more, each with the key in ``sources`` that says so."""


@dataclass(frozen=True, slots=True)
class Settings:
    """All settings of one run; ``docs/settings.md`` says what each does and what it may be.

    ``canister_share``, 0–1, is how full a canister is planned to get; source key ``fluids.canister_share``.
    ``anaesthetic_window_h`` is how far back doses are added up; source key ``anaesthetic.window``.
    ``reading_error_ml`` is how far a canister mark may be off; source key ``fluids.reading_error``.
    ``shift_starts`` are the hours at which shifts begin; source key ``site.shifts``.
    ``off_time_limit_h`` in any 24 h, ``pain_check_h`` and ``hang_time_h`` of a bag are None where none is set.
    ``solution_c`` is how warm the site wants the solution when it hangs, in °C, and ``warm_min`` how many minutes that
    takes; None where the site does not say.
    ``delivery_h`` are the hours of open days that a delivery takes, None where the site does not say.
    ``site_asks`` are those of consent and photographs that the site asks for; source key ``gate.site_asks``.
    ``spare_count`` is how many spares of each part the site counts for a stay.
    ``site_address`` is where a ward's people open the pages, None for this computer alone; with it they sign in.
    ``tls_certificate`` and ``tls_key`` are files in PEM, ``proxy`` is the one computer that requests may come from.
    ``session_idle_min`` without a request, and ``session_h`` in all, are how long somebody stays signed in.
    ``oidc_issuer`` is the site's provider of identities; it knows this program by ``oidc_client_id`` and a secret.
    ``draws`` plausible wounds are drawn from ``seed``; ``spacing_cm`` is the grid's; ``memory_mb`` bounds one case.
    """

    data_folder: Path
    database_url: str
    examples_folder: Path
    formulary: Path | None
    catalogue: Path | None
    trouble: Path | None
    delivery_h: float | None
    spare_count: int
    site_asks: tuple[str, ...]
    canister_share: float
    anaesthetic_window_h: float
    reading_error_ml: float
    off_time_limit_h: float | None
    pain_check_h: float | None
    hang_time_h: float | None
    solution_c: float | None
    warm_min: float | None
    shift_starts: tuple[time, ...]
    seed: int
    draws: int
    spacing_cm: float
    memory_mb: int
    largest_case_bytes: int
    site_address: str | None
    tls_certificate: Path | None
    tls_key: Path | None
    proxy: str | None
    session_idle_min: int
    session_h: int
    oidc_issuer: str | None
    oidc_client_id: str | None
    oidc_secret_file: Path | None

    @classmethod
    def from_environment(cls, environ: Mapping[str, str] | None = None, **arguments: str | None) -> Settings:
        """Read each setting from SOAKLINE_ and its name in capitals; an argument goes before that, None leaves it.

        Raises InputRefused with all that cannot be used at once: an unknown name, no number, out of its bounds.

        >>> Settings.from_environment({"SOAKLINE_DATA_FOLDER": "/srv/ward"}).database_url
        'sqlite:////srv/ward/soakline.db'
        """
        around = os.environ if environ is None else environ
        canister_share = float(source(ORIGINS["canister_share"]).value)
        window_h = float(source(ORIGINS["anaesthetic_window_h"]).value)
        error_ml = float(source(ORIGINS["reading_error_ml"]).value.split(", ")[-1])
        entries = _Entries(_given(around, arguments))
        data_folder = entries.folder("data_folder") or _data_folder(around)
        settings = cls(
            data_folder=data_folder,
            database_url=entries.text("database_url") or f"sqlite:///{(data_folder / 'soakline.db').as_posix()}",
            examples_folder=entries.folder("examples_folder") or _examples_folder(),
            formulary=entries.folder("formulary"),
            catalogue=entries.folder("catalogue"),
            trouble=entries.folder("trouble"),
            delivery_h=entries.number_or_none("delivery_h", 1.0, 720.0),
            spare_count=entries.whole("spare_count", 0, 0, 20),
            site_asks=entries.some_of("site_asks", ("consent", "photographs")),
            canister_share=entries.number("canister_share", canister_share, 0.5, 1.0),
            anaesthetic_window_h=entries.number("anaesthetic_window_h", window_h, 12.0, 168.0),
            reading_error_ml=entries.number("reading_error_ml", error_ml, 0.0, 500.0),
            off_time_limit_h=entries.number_or_none("off_time_limit_h", 0.25, 24.0),
            pain_check_h=entries.number_or_none("pain_check_h", 0.25, 24.0),
            hang_time_h=entries.number_or_none("hang_time_h", 1.0, 240.0),
            solution_c=entries.number_or_none("solution_c", 4.0, 40.0),
            warm_min=entries.number_or_none("warm_min", 1.0, 1440.0),
            shift_starts=entries.hours("shift_starts", source(ORIGINS["shift_starts"]).value),
            seed=entries.whole("seed", 20_261_120, 0, 2**32 - 1),
            draws=entries.one_of("draws", 256, (16, 32, 64, 128, 256, 512, 1024, 2048, 4096)),
            spacing_cm=entries.number("spacing_cm", 0.25, 0.1, 1.0),
            memory_mb=entries.whole("memory_mb", 1024, 64, 65_536),
            largest_case_bytes=entries.whole("largest_case_bytes", 1_000_000, 1_000, 10_000_000),
            site_address=entries.site("site_address"),
            tls_certificate=entries.folder("tls_certificate"),
            tls_key=entries.folder("tls_key"),
            proxy=entries.ip("proxy"),
            session_idle_min=entries.whole("session_idle_min", 30, 5, 720),
            session_h=entries.whole("session_h", 12, 1, 24),
            oidc_issuer=entries.issuer("oidc_issuer"),
            oidc_client_id=entries.text("oidc_client_id"),
            oidc_secret_file=entries.folder("oidc_secret_file"),
        )
        entries.refuse_if_any()
        return settings


def say_origin(name: str) -> str:
    """Say what a setting rests on and how a site changes it; raises KeyError for one that needs no source.

    >>> say_origin("canister_share")
    'a canister is changed before it is full: at 90 % (common practice, no source; set SOAKLINE_CANISTER_SHARE)'
    """
    fact = source(ORIGINS[name])
    return f"{fact.says} ({fact.citation}; set {PREFIX}{name.upper()})"


@dataclass(slots=True)
class _Entries:
    """What was written for each setting, by its name, and what is found against it."""

    given: dict[str, str]
    findings: list[Finding] = field(default_factory=list[Finding])

    def text(self, name: str) -> str | None:
        return self.given.get(name) or None

    def folder(self, name: str) -> Path | None:
        written = self.text(name)
        return Path(written).expanduser().absolute() if written else None

    def number(self, name: str, default: float, low: float, high: float) -> float:
        written = self.text(name)
        if written is None:
            return default
        try:
            value = float(written)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            self._against(name, f"a number from {low:g} to {high:g}, with a point")
            return default
        return value

    def number_or_none(self, name: str, low: float, high: float) -> float | None:
        return None if self.text(name) is None else self.number(name, low, low, high)

    def hours(self, name: str, default: str) -> tuple[time, ...]:
        written = self.text(name) or default
        found = [_hour(part.strip()) for part in written.split(",")]
        starts = sorted({hour for hour in found if hour is not None})
        if None in found or not starts:
            self._against(name, "one or more hours such as 07:00, 15:00, 23:00")
        return tuple(starts)

    def whole(self, name: str, default: int, low: int, high: int) -> int:
        written = self.text(name)
        if written is None:
            return default
        if not (written.isascii() and written.isdigit() and low <= int(written) <= high):
            self._against(name, f"a whole number from {low} to {high}")
            return default
        return int(written)

    def one_of(self, name: str, default: int, allowed: tuple[int, ...]) -> int:
        written = self.text(name)
        if written is None:
            return default
        if written not in map(str, allowed):
            self._against(name, f"one of {', '.join(map(str, allowed))}")
            return default
        return int(written)

    def some_of(self, name: str, allowed: tuple[str, ...]) -> tuple[str, ...]:
        written = self.text(name)
        if written is None:
            return allowed
        chosen = [] if written == "none" else [part.strip() for part in written.split(",")]
        if not set(chosen) <= set(allowed):
            self._against(name, f"some of {', '.join(allowed)}, with commas between, or none")
        return tuple(part for part in allowed if part in chosen)

    def site(self, name: str) -> str | None:
        written = self.text(name)
        if written is not None and not _SITE.fullmatch(written):
            self._against(
                name, "https:// and the host, and a port where it is not 443, such as https://soakline.example"
            )
        return written

    def issuer(self, name: str) -> str | None:
        written = self.text(name)
        if written is not None and not _ISSUER.fullmatch(written):
            self._against(name, "the https address by which the provider names itself (http at this computer alone)")
        return written

    def ip(self, name: str) -> str | None:
        written = self.text(name)
        try:
            return None if written is None else str(ip_address(written))
        except ValueError:
            self._against(name, "the address of one computer, such as 127.0.0.1")
            return None

    def refuse_if_any(self) -> None:
        known = [f.name for f in fields(Settings)]
        for name in sorted(self.given.keys() - set(known)):
            near = get_close_matches(name, known, n=1)
            hint = f"did you mean {PREFIX}{near[0].upper()}?" if near else "remove it"
            self.findings.append(Finding("refuse", PREFIX + name.upper(), f"not a setting; {hint}"))
        if self.findings:
            raise InputRefused(self.findings)

    def _against(self, name: str, allowed: str) -> None:
        says = f'"{self.given[name]}": allowed is {allowed}; change it, or leave it out for the default'
        self.findings.append(Finding("refuse", PREFIX + name.upper(), says))


def _hour(written: str) -> time | None:
    try:
        return time.fromisoformat(written) if len(written) == len("07:00") else None
    except ValueError:
        return None


def _given(around: Mapping[str, str], arguments: Mapping[str, str | None]) -> dict[str, str]:
    written = {name.removeprefix(PREFIX).lower(): value for name, value in around.items() if name.startswith(PREFIX)}
    return written | {name: value for name, value in arguments.items() if value is not None}


def _data_folder(around: Mapping[str, str]) -> Path:
    if sys.platform == "win32":
        return Path(around.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "Soakline"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "Soakline"
    shared = Path(around.get("XDG_DATA_HOME", ""))
    return (shared if shared.is_absolute() else Path.home() / ".local" / "share") / "soakline"


def _examples_folder() -> Path:
    here = Path(__file__).parent
    packaged = here / "examples"
    return packaged if packaged.is_dir() else here.parents[1] / "examples"
