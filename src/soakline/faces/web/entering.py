"""Take a typed or sent case file in: its text as it is kept, and the label and purpose it goes by."""

from __future__ import annotations

from collections.abc import Mapping

from soakline.casefile.case import Case
from soakline.casefile.read import read_case
from soakline.casefile.write import write_case
from soakline.errors import Finding
from soakline.faces.web.answers import Answers
from soakline.faces.web.fields import number_of
from soakline.guard.gate import FIRST_CALL, STOPS
from soakline.record.cases import NewCase

EMPTY = """\
format = "soakline-case/1"
label = ""                            # a label, never a patient's name
purpose = "care"                      # care or teaching
time_zone = "UTC"                     # such as "Europe/Oslo"

[wound]
face = "front"                        # side of the body part that the opening faces: front, back, left, right
part = "trunk"                        # trunk, upper arm, forearm, thigh, lower leg
# girth_cm = 100                      # of that part at the level of the opening

[wound.opening]                       # 12 o'clock is the head (trunk) or proximal (limb)
# length_cm = 6                       # along 12-6; leave out what was not measured
# width_cm = 6                        # along 9-3
# depth_cm = 2                        # straight in, skin to bed

# [[wound.undermining]]               # one block for each range of hours; from the edge along the probe
# from = 12
# to = 6
# reach_cm = 4
# height_cm = { low = 1.0, likely = 1.5, high = 2.0 }   # pocket height: bed to underside of the kept skin

# [[port]]
# name = "I1"
# kind = "instillation"               # instillation or suction
# clock = 3
# from_edge_cm = 3.5                  # into the pocket; 0 is the edge
# unit = "A"

# [[unit]]
# name = "A"
# fill_ml = 60
# fill_min = 2
# dwell_min = 8
# suction_min = 170
# pressure_mmhg = -125

[posture]
allowed = ["supine", "left 30", "right 30"]

[gate]                                # "yes", "no" or "unknown"; a stop left out or unknown keeps the gate shut
""" + "".join(f'# {stop.key} = ""{"":{max(1, 31 - len(stop.key))}}# {stop.says}\n' for stop in (*STOPS, *FIRST_CALL))


def typed(text: str) -> str:
    r"""Return a text from a page as it is kept: browsers end its lines in their own way.

    >>> typed("a\r\nb")
    'a\nb'
    """
    return text.replace("\r\n", "\n")


def begun(told: Mapping[str, str]) -> str:
    """Return the empty case file with what is told at a first call, by key; what is not told stays as it is empty.

    >>> "girth_cm = 96" in begun({"label": "Demo", "wound.girth_cm": "96"}).splitlines()
    True
    """
    return write_case(EMPTY, {key: number_of(text) if key.endswith("_cm") else text for key, text in told.items()})


def take_in(sent: str | bytes, answers: Answers) -> NewCase | tuple[Finding, ...]:
    """Return the case to keep, or the findings where its file, or what it measures, is refused."""
    said = answers.at_a_glance(sent)
    return _new(said.case, sent) if said.case else said.findings


def demo_case(sent: bytes) -> NewCase | None:
    """Return an invented case that comes with the program, or None where its file cannot be read."""
    case = read_case(sent).case
    return _new(case, sent) if case else None


def shown(text: str | bytes) -> str:
    """Return a text as a page can show it, with a sign in place of each byte that is no letter."""
    return text if isinstance(text, str) else text.decode(errors="replace")


def _new(case: Case, sent: str | bytes) -> NewCase:
    return NewCase(case.label, case.purpose, sent if isinstance(sent, str) else sent.decode())
