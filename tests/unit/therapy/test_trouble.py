"""Questions in trouble: every way ends, the gravest is asked first, and a site's own are checked by name."""

from dataclasses import replace

import pytest

from soakline.casefile.trouble import read_trouble, trouble_of
from soakline.errors import InputRefused
from soakline.settings import Settings
from soakline.therapy.trouble import End, Question, Reply, Trouble, check_trouble, follow

SHIPPED = trouble_of(None)
ASKED = Question("a", "Is it red?", (Reply("yes", "z"), Reply("no", "b")), "signs")
MORE = Question("b", "Is it full?", (Reply("yes", "z"), Reply("no", "y")))
ENDS = (End("z", "stop", (), "the surgeon"), End("y", "go on", (), "nobody"))
SMALL = Trouble("ward 3", None, "a", ("Look.",), (ASKED, MORE), ENDS)


def every_way(trouble):
    """Give each way from the first question to an end, as its replies."""
    open_ways = [()]
    while open_ways:
        way = open_ways.pop()
        now = follow(trouble, way)[1]
        if isinstance(now, End):
            yield way, now
        else:
            open_ways += [(*way, number) for number in range(len(now.answers))]


def test_every_way_through_the_shipped_questions_ends_within_six_replies_with_somebody_to_call():
    ways = list(every_way(SHIPPED))
    assert max(len(way) for way, _ in ways) <= 6
    assert {end.id for _, end in ways} == {end.id for end in SHIPPED.ends}
    assert all(end.call and end.do for _, end in ways)


def test_colour_gas_and_blood_come_first_and_lead_to_stop_at_once():
    first = follow(SHIPPED, [])[1]
    assert first.beside == "signs"
    assert follow(SHIPPED, [0])[1].id == "stop"
    assert "not sure" in first.answers[0].says


def test_a_side_that_never_darkens_is_followed_to_its_branch_though_no_alarm_sounds():
    steps, end = follow(SHIPPED, [1, 4, 0, 2])
    assert [step.question.id for step in steps] == ["signs", "what", "branch", "branch-clamp"]
    assert steps[2].question.beside == "suction ports"
    assert "no alarm need sound" in end.says


@pytest.mark.parametrize("replies", [[2], [-1], [0, 0]])
def test_a_reply_that_is_not_there_is_no_way(replies):
    with pytest.raises(ValueError, match="reply"):
        follow(SMALL, replies)


def said(trouble):
    return {found.where: found.says for found in check_trouble(trouble)}


def with_answers(question, *answers):
    return replace(question, answers=tuple(Reply(*one) for one in answers))


def test_a_whole_set_of_questions_has_nothing_against_it():
    assert check_trouble(SMALL) == ()
    assert check_trouble(SHIPPED) == ()


@pytest.mark.parametrize(
    ("broken", "where", "says"),
    [
        (replace(SMALL, first="q"), "trouble.first", '"q" is no question'),
        (replace(SMALL, first="b"), "trouble.question.b.beside", "before all else"),
        (replace(SMALL, questions=(ASKED, MORE, MORE)), "trouble.b.id", "names two places"),
        (
            replace(SMALL, questions=(ASKED, with_answers(MORE, ("yes", "z"), ("no", "x")))),
            "trouble.question.b.answers",
            'leads to "x", which is neither',
        ),
        (
            replace(SMALL, questions=(ASKED, with_answers(MORE, ("yes", "y")))),
            "trouble.question.b.answers",
            "at least two",
        ),
        (
            replace(SMALL, questions=(ASKED, with_answers(MORE, ("yes", "y"), ("no", "a")))),
            "trouble.question",
            "go round: a → b → a",
        ),
        (replace(SMALL, ends=(*ENDS, End("x", "lost", (), "nobody"))), "trouble.x", "nothing leads to"),
        (replace(SMALL, ends=(ENDS[0], replace(ENDS[1], source="no.key"))), "trouble.end.y.source", "no source"),
    ],
)
def test_what_cannot_be_walked_is_named(broken, where, says):
    assert says in said(broken)[where]


FILE = """
version = "ward 3, 2026"
first = "a"
card = ["Look."]
[[question]]
id = "a"
asks = "Is it red?"
beside = "signs"
answers = [{ says = "yes", to = "z" }, { says = "no", to = "z" }]
[[end]]
id = "z"
says = "done"
do = []
call = "nobody"
"""


def test_a_sites_own_file_takes_the_place_of_the_shipped_one(tmp_path):
    file = tmp_path / "ours.toml"
    file.write_text(FILE)
    settings = Settings.from_environment({"SOAKLINE_TROUBLE": str(file)})
    assert trouble_of(settings.trouble).version == "ward 3, 2026"


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ('beside = "signs"', 'beside = "stars"', "trouble.question.0.beside"),
        ('asks = "Is it red?"\n', "", "trouble.question.0.asks"),
        ('call = "nobody"', "call = 3", "trouble.end.0.call"),
        ('first = "a"', "first = ", "trouble"),
        ('to = "z" }]', 'to = "q" }]', "trouble.question.a.answers"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_with_its_field(old, new, where):
    assert old in FILE
    with pytest.raises(InputRefused) as refused:
        read_trouble(FILE.replace(old, new))
    assert where in [found.where for found in refused.value.findings]


def test_a_file_that_is_not_there_is_refused_with_what_to_do(tmp_path):
    with pytest.raises(InputRefused, match=r"none\.toml cannot be read"):
        trouble_of(tmp_path / "none.toml")
