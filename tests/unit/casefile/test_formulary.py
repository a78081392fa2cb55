"""A site's formulary from its file: added to what is cited, signed, and refused by field where it cannot hold."""

import pytest

from soakline.casefile.formulary import read_formulary
from soakline.casefile.read import read_case
from soakline.errors import InputRefused
from soakline.guard.solutions import Dressing, meetings
from soakline.settings import Settings
from soakline.workflows.guarding import check_guards

FILE = """
version = "2026-3"
signed_by = "pharmacist in charge"
signed_on = 2026-11-02

[[solutions]]
name = "saline"
strength = "0.9 %"
hang_h = 24

[[pairs]]
first = "saline"
second = "polyurethane"
verdict = "tested: no reaction seen"
says = "looked at over 24 h"
"""


def refused(text):
    with pytest.raises(InputRefused) as found:
        read_formulary(text)
    return {one.where: one.says for one in found.value.findings}


def test_the_site_adds_to_what_is_cited_and_signs():
    site = read_formulary(FILE)
    assert site.version == "2026-3, signed by pharmacist in charge on 2026-11-02"
    verdicts = [
        meetings([given], Dressing(foam_material="polyurethane", skin_preparation="chlorhexidine"), site)
        for given in ("saline", "hypochlorite")
    ]
    assert [[one.verdict for one in met] for met in verdicts] == [
        ["not shown compatible", "tested: no reaction seen"],
        ["conflict", "not shown compatible"],
    ]


def test_a_site_that_says_nothing_of_a_closed_pocket_does_not_take_the_cited_warning_away():
    site = read_formulary(FILE.replace('name = "saline"', 'name = "hydrogen peroxide"'))
    assert next(one for one in site.solutions if one.name == "hydrogen peroxide").not_for_closed_pockets


def test_a_site_adds_its_own_names_and_keeps_those_that_are_cited():
    site = read_formulary(FILE.replace('name = "saline"', 'name = "saline"\nalso = ["normal salt water"]'))
    assert next(one for one in site.solutions if one.name == "saline").also == ("normal salt water", "sodium chloride")


@pytest.mark.parametrize(
    ("change", "where", "says"),
    [
        (('signed_by = "pharmacist in charge"', ""), "formulary.signed_by", "write it"),
        (("hang_h = 24", "hang_h = -1"), "formulary.solutions.0.hang_h", "0.1 to 720 h"),
        (("hang_h", "hang"), "formulary.solutions.0.hang", "allowed are name, also, strength, hang_h"),
        (("tested: no reaction seen", "compatible"), "formulary.pairs.0.verdict", "conflict"),
        (("version =", "version"), "formulary", "not TOML"),
    ],
)
def test_bad_input_is_refused_with_its_field_and_what_is_allowed(change, where, says):
    assert says in refused(FILE.replace(*change))[where]


def test_a_cited_conflict_cannot_be_called_tested():
    text = FILE.replace('"saline"\nsecond = "polyurethane"', '"Hypochlorite"\nsecond = "chlorhexidine"')
    assert "precipitates at once" in refused(text)["formulary.pairs.0.verdict"]


def test_a_solution_listed_twice_is_refused():
    twice = FILE + '\n[[solutions]]\nname = "Saline"\n'
    assert "formulary.solutions.1.name" in refused(twice)


CASE = """format = "soakline-case/1"
[[unit]]
name = "A"
solution = "saline"
[dressing]
hung_at = 2026-11-20T08:00:00
"""


def test_the_file_of_the_setting_speaks_in_the_findings(tmp_path):
    file = tmp_path / "formulary.toml"
    file.write_text(FILE)
    settings = Settings.from_environment({"SOAKLINE_FORMULARY": str(file)})
    said = [found.says for found in check_guards(read_case(CASE).case, settings)]
    assert any("until 2026-11-21 08:00 (2026-3, signed by" in says for says in said)


def test_a_file_that_is_not_there_is_refused_and_nothing_falls_back(tmp_path):
    settings = Settings.from_environment({"SOAKLINE_FORMULARY": str(tmp_path / "none.toml")})
    with pytest.raises(InputRefused, match="SOAKLINE_FORMULARY"):
        check_guards(read_case(CASE).case, settings)
