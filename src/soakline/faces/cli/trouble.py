"""Trouble on the terminal: one question at a time, each reply by its number."""

from __future__ import annotations

import re

import typer

from soakline.casefile.case import Case
from soakline.errors import Finding, InputRefused
from soakline.settings import Settings
from soakline.therapy.trouble import End, Question
from soakline.workflows.answers import Plan
from soakline.workflows.in_trouble import ask, say_beside


def ask_through(case: Case, plan: Plan, settings: Settings, replies: str | None) -> None:
    """Ask until an end is reached; ``replies`` are numbers from 1 with points between, None asks for each.

    Raises InputRefused for a reply that its question does not have.
    """
    given = [] if replies is None else _given(replies)
    try:
        steps, now = ask(settings, given)
    except ValueError as error:
        says = f"{replies}: a question has no such reply; leave --replies out to be asked"
        raise InputRefused([Finding("refuse", "--replies", says)]) from error
    for step in steps:
        typer.echo(f"{step.question.asks} {step.reply.says}.")
    while isinstance(now, Question):
        _show(now, case, plan)
        if replies is not None:
            return
        given.append(_chosen(len(now.answers)) - 1)
        _, now = ask(settings, given)
    _show_end(now)


def _chosen(count: int) -> int:
    while True:
        number: int = typer.prompt("Number", type=int)
        if 1 <= number <= count:
            return number
        typer.echo(f"{number}: allowed is a number from 1 to {count}.")


def _given(replies: str) -> list[int]:
    if not re.fullmatch(r"[1-9]\d?(\.[1-9]\d?)*", replies):
        says = f'"{replies}": allowed are numbers from 1 with points between, such as 2.1'
        raise InputRefused([Finding("refuse", "--replies", says)])
    return [int(part) - 1 for part in replies.split(".")]


def _show(question: Question, case: Case, plan: Plan) -> None:
    typer.echo(f"\n{question.asks}")
    for line in say_beside(case, plan, question.beside):
        typer.echo(f"  By this case: {line}.")
    for number, reply in enumerate(question.answers, 1):
        typer.echo(f"  {number}  {reply.says}")


def _show_end(end: End) -> None:
    typer.echo(f"\n{end.says}")
    for line in end.do:
        typer.echo(f"  ·  {line}")
    typer.echo(f"  Call: {end.call}.")
    typer.echo("The equipment's instructions and local policy come first. In doubt: stop and call.")
