"""Processes that work for this one on all cores, and end with it however it ends."""

from __future__ import annotations

import os
from concurrent.futures import ProcessPoolExecutor
from importlib import import_module
from multiprocessing import get_context, parent_process
from threading import Thread

_BRINGS = "soakline.layout.tried"


def workers() -> ProcessPoolExecutor:
    """Return an executor of processes, one a core, that bring in what a search needs while others still read.

    They are new processes, not copies of this one: threads of the numerical libraries do not survive a copy.
    """
    return ProcessPoolExecutor(mp_context=get_context("spawn"), initializer=_begin)


def _begin() -> None:
    Thread(target=_end_with_parent, daemon=True, name="end with the parent").start()
    import_module(_BRINGS)


def _end_with_parent() -> None:
    # A program that is killed says nothing to its workers: left alone they would wait for the next errand for ever.
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
