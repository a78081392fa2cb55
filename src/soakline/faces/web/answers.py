"""The answer to each case text, worked out once and kept in memory as long as there is room."""

from __future__ import annotations

import logging
from collections import OrderedDict
from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock
from time import sleep
from typing import TYPE_CHECKING

from soakline.casefile.case import Case
from soakline.casefile.read import read_case
from soakline.errors import Finding, InputRefused
from soakline.settings import Settings
from soakline.workflows.answers import Plan
from soakline.workflows.try_out import Ground, ground_of

if TYPE_CHECKING:
    from soakline.workflows.plan import Asked

MOST_KEPT = 128
_MOST_GROUNDS = 16
_FAULT = Finding(
    "refuse",
    "",
    "not for what was entered: a fault of the application itself kept it from answering; the text stands as it was "
    "saved; tell whoever looks after this computer",
)


@dataclass(frozen=True, slots=True, eq=False)
class Answered:
    """What one case text gives: the case and its plan, or neither where it is refused, and the findings."""

    case: Case | None
    plan: Plan | None
    findings: tuple[Finding, ...]


class Answers:
    """Answers by case text; asked twice at once, the second waits for the first."""

    def __init__(self, settings: Settings) -> None:
        """Plan with these settings."""
        self._settings = settings
        # A ground asked for twice at once is laid twice: it takes milliseconds.
        self._ground_of = lru_cache(_MOST_GROUNDS)(self._lay_ground)
        self._kept: OrderedDict[tuple[str | bytes, bool], Future[Answered]] = OrderedDict()
        self._lock = Lock()

    def to(self, text: str | bytes) -> Answered:
        """Return the whole answer to a case text."""
        return self._get(text, with_reach=True)

    def at_a_glance(self, text: str | bytes) -> Answered:
        """Return the answer to a case text without reach and order, which take longest."""
        return self._get(text, with_reach=False)

    def unplanned(self, text: str | bytes) -> Answered:
        """Return what a case text says, without a plan: enough to name a case that is closed."""
        return Answered(read_case(text).case, None, ())

    def keep(self, text: str | bytes, said: Answered) -> None:
        """Keep an answer that was worked out elsewhere in the place of the whole answer to a case text."""
        future = Future[Answered]()
        future.set_result(said)
        with self._lock:
            self._kept[text, True] = future
            self._kept.move_to_end((text, True))

    def prepare(self, texts: Sequence[str], pause_s: float) -> None:
        """Work out the kept cases before somebody asks: all at a glance, after ``pause_s`` each whole."""
        for text in texts:
            self.at_a_glance(text)
        sleep(pause_s)
        for text in texts:
            self.to(text)

    def ground_of(self, text: str) -> Ground:
        """Return what stays while ports are moved over a case; its plan must show reach."""
        return self._ground_of(text)

    def _lay_ground(self, text: str) -> Ground:
        case = self.to(text).case
        if case is None:
            msg = "a refused case has no ground to try ports on"
            raise ValueError(msg)
        return ground_of(case, self._settings)

    def _get(self, text: str | bytes, *, with_reach: bool) -> Answered:
        asked = (text, with_reach)
        with self._lock:
            known = self._kept.get(asked)
            mine = known or Future[Answered]()
            self._kept[asked] = mine
            self._kept.move_to_end(asked)
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        if known is None:
            self._work_out(asked, mine)
        return mine.result()

    def _work_out(self, asked: tuple[str | bytes, bool], future: Future[Answered]) -> None:
        try:
            future.set_result(_answer(*asked, self._settings))
        except BaseException as fault:
            with self._lock:
                self._kept.pop(asked, None)
            future.set_exception(fault)
            raise


def answer_with(text: str | bytes, settings: Settings, asked: Asked) -> Answered:
    """Work out the answer to a case text; what goes wrong inside is told as a finding, not raised."""
    from soakline.workflows.plan import plan_case, refused_findings  # noqa: PLC0415  # as below

    reading = read_case(text)
    if reading.case is None:
        return Answered(None, None, refused_findings(reading))
    try:
        plan = plan_case(reading.case, reading.findings, settings, asked)
    except InputRefused as refused:
        return Answered(None, None, refused.findings)
    except Exception:
        # One case must not take the list of all others with it.
        logging.getLogger(__name__).exception("A case could not be worked out")
        return Answered(None, None, (_FAULT,))
    return Answered(reading.case, plan, plan.findings)


def _answer(text: str | bytes, with_reach: bool, settings: Settings) -> Answered:  # noqa: FBT001 - half of a key
    # Brings the numerical libraries along: the pages are up before the first case asks for them.
    from soakline.workflows.plan import Asked  # noqa: PLC0415

    return answer_with(text, settings, Asked() if with_reach else Asked(models=()))
