"""Plans and papers that were given out: kept whole, so that each can be worked out again and printed again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

from sqlalchemy import Engine, select
from sqlalchemy.orm import Session

from soakline.record.cases import KeptCase, may_see, text_hash
from soakline.record.log import add_entry
from soakline.record.opening import reading_session, writing_session
from soakline.record.schema import CaseRow, CaseVersionRow, PaperRow, PlanRow

PLAN_KEPT, PAPER_PRINTED = "plan given out", "paper printed"


@dataclass(frozen=True, slots=True)
class NewPlan:
    """A plan to keep: which version of the program and of its rules gave which JSON answer, under which settings."""

    program_version: str
    rules_version: str
    settings: str
    answer: str


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """A plan as it was given out, with the text it answers."""

    id: int
    case_id: int
    version_id: int
    text: str
    program_version: str
    rules_version: str
    settings: str
    answer: str
    kept_at: datetime


@dataclass(frozen=True, slots=True)
class NewPaper:
    """A paper to keep: what it is, and its bytes."""

    kind: str
    media_type: str
    content: bytes


@dataclass(frozen=True, slots=True)
class KeptPaper:
    """A paper as it was printed, and of which case, version and plan."""

    id: int
    case_id: int
    version_id: int
    plan_id: int
    kind: str
    media_type: str
    content: bytes
    program_version: str
    printed_at: datetime


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One line of the list of papers: all but the bytes."""

    id: int
    version_id: int
    kind: str
    program_version: str
    printed_at: datetime


def keep_plan(engine: Engine, kept: KeptCase, new: NewPlan, now: datetime) -> int:
    """Keep a plan of one text of a case and return its number; the same plan again is not kept twice."""
    with writing_session(engine) as session:
        return _plan_id(session, kept, new, now)


def keep_paper(engine: Engine, kept: KeptCase, plan: NewPlan, paper: NewPaper, now: datetime) -> int:
    """Keep a paper with the plan that it was filled from, both or none, and return the paper's number."""
    with writing_session(engine) as session:
        row = PaperRow(
            plan_id=_plan_id(session, kept, plan, now),
            kind=paper.kind,
            media_type=paper.media_type,
            content=paper.content,
            content_hash=sha256(paper.content).hexdigest(),
            printed_at=now,
        )
        session.add(row)
        session.flush()
        told = {"paper": row.id, "plan": row.plan_id, "kind": row.kind, "sha256": row.content_hash}
        add_entry(session.connection(), PAPER_PRINTED, now, told, case_id=kept.id)
        return row.id


def find_paper(engine: Engine, paper_id: int) -> KeptPaper | None:
    """Return one paper, byte for byte as it was printed, or None where there is none that may be seen."""
    with reading_session(engine) as session:
        row = session.get(PaperRow, paper_id)
        plan = session.get(PlanRow, row.plan_id) if row else None
        if row is None or plan is None or not may_see(session.get(CaseRow, plan.case_id)):
            return None
        return _paper(row, plan)


def list_papers(engine: Engine, case_id: int) -> tuple[PaperLine, ...]:
    """Return every paper of a case that may be seen, the last printed first."""
    lines = select(PaperRow.id, PlanRow.version_id, PaperRow.kind, PlanRow.program_version, PaperRow.printed_at)
    of_case = lines.join(PlanRow).where(PlanRow.case_id == case_id).order_by(PaperRow.id.desc())
    with reading_session(engine) as session:
        if not may_see(session.get(CaseRow, case_id)):
            return ()
        return tuple(PaperLine(*row) for row in session.execute(of_case))


def plans_kept(engine: Engine) -> Iterator[KeptPlan]:
    """Give every plan that was kept, with its text, one after the other."""
    same = (CaseVersionRow.case_id == PlanRow.case_id) & (CaseVersionRow.version_id == PlanRow.version_id)
    with reading_session(engine) as session:
        for plan, text in session.execute(
            select(PlanRow, CaseVersionRow.text).join(CaseVersionRow, same).order_by(PlanRow.id)
        ):
            yield KeptPlan(
                plan.id,
                plan.case_id,
                plan.version_id,
                text,
                plan.program_version,
                plan.rules_version,
                plan.settings,
                plan.answer,
                plan.kept_at,
            )


def settings_text(**settings: float | bool | list[str]) -> str:
    """Write the settings that a plan rests on as they are kept.

    >>> settings_text(seed=7, draws=256)
    '{"draws":256,"seed":7}'
    """
    return json.dumps(settings, sort_keys=True, separators=(",", ":"))


def _plan_id(session: Session, kept: KeptCase, new: NewPlan, now: datetime) -> int:
    answer_hash = text_hash(new.answer)
    known = select(PlanRow.id).filter_by(
        case_id=kept.id,
        version_id=kept.version_id,
        program_version=new.program_version,
        rules_version=new.rules_version,
        settings=new.settings,
        answer_hash=answer_hash,
    )
    found = session.scalar(known.limit(1))
    return found if found is not None else _add_plan(session, kept, new, answer_hash, now)


def _add_plan(session: Session, kept: KeptCase, new: NewPlan, answer_hash: str, now: datetime) -> int:
    row = PlanRow(
        case_id=kept.id,
        version_id=kept.version_id,
        program_version=new.program_version,
        rules_version=new.rules_version,
        settings=new.settings,
        answer=new.answer,
        answer_hash=answer_hash,
        kept_at=now,
    )
    session.add(row)
    session.flush()
    told = {
        "plan": row.id,
        "version": row.version_id,
        "program": row.program_version,
        "rules": row.rules_version,
        "settings": row.settings,
        "answer_sha256": row.answer_hash,
    }
    add_entry(session.connection(), PLAN_KEPT, now, told, case_id=kept.id)
    return row.id


def _paper(row: PaperRow, plan: PlanRow) -> KeptPaper:
    return KeptPaper(
        row.id,
        plan.case_id,
        plan.version_id,
        plan.id,
        row.kind,
        row.media_type,
        row.content,
        plan.program_version,
        row.printed_at,
    )
