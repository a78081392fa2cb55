"""Searches for layouts that run on this computer while pages go on: one at a time, each can be stopped."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import dataclass, field
from threading import Event, Lock, Thread
from typing import TYPE_CHECKING

from soakline.faces.web.answers import Answered, Answers, answer_with
from soakline.faces.workers import workers
from soakline.settings import Settings

if TYPE_CHECKING:
    from soakline.layout.search import Standing


class _Stopped(BaseException):
    """Somebody stopped a search; no fault of the program."""


@dataclass(frozen=True, slots=True)
class Running:
    """How a search under way stands: in whole per cent, and in words."""

    percent: int
    says: str


class Searches:
    """Searches by case text; what they find takes the place of the answer that is kept."""

    def __init__(self, settings: Settings, answers: Answers) -> None:
        """Search with these settings, and put what is found into these answers."""
        self._settings = settings
        self._answers = answers
        self._jobs: dict[str, _Job] = {}
        self._lock = Lock()
        # One search takes all cores: the next waits for it.
        self._turn = Lock()

    def start(self, text: str) -> None:
        """Begin to search for a case text, unless that is under way."""
        with self._lock:
            if text in self._jobs:
                return
            job = self._jobs[text] = _Job()
        Thread(target=self._search, args=(text, job), daemon=True, name="search layouts").start()

    def stop(self, text: str) -> None:
        """Stop the search for a case text, if there is one."""
        with self._lock:
            job = self._jobs.pop(text, None)
        if job:
            job.stop.set()

    def running(self, text: str) -> Running | None:
        """Return how the search for a case text stands, None where none is under way."""
        with self._lock:
            job = self._jobs.get(text)
        return job and job.stands

    def _search(self, text: str, job: _Job) -> None:
        try:
            with self._turn:
                job.go_on()
                with workers() as executor:
                    self._answers.keep(text, self._find(text, job, executor))
        except _Stopped:
            return
        finally:
            with self._lock:
                if self._jobs.get(text) is job:
                    del self._jobs[text]

    def _find(self, text: str, job: _Job, executor: Executor) -> Answered:
        # Brings the numerical libraries along, as in ``answers``.
        from soakline.workflows.in_words import say_standing  # noqa: PLC0415
        from soakline.workflows.plan import Asked  # noqa: PLC0415

        def told(standing: Standing) -> None:
            job.stands = Running(int(100.0 * standing.share), say_standing(standing))
            job.go_on()

        asked = Asked(search=True, executor=executor, progress=lambda _: job.go_on(), told=told)
        return answer_with(text, self._settings, asked)


@dataclass(slots=True)
class _Job:
    stop: Event = field(default_factory=Event)
    stands: Running = Running(0, "the places first")

    def go_on(self) -> None:
        if self.stop.is_set():
            raise _Stopped
