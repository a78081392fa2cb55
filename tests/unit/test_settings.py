"""What a site sets."""

from pathlib import Path

import pytest

from soakline.errors import InputRefused
from soakline.settings import ORIGINS, Settings
from soakline.sources import source


def refusals(environ: dict[str, str]) -> dict[str, str]:
    with pytest.raises(InputRefused) as refused:
        Settings.from_environment(environ)
    return {finding.where: finding.says for finding in refused.value.findings}


def test_an_empty_environment_gives_the_defaults():
    settings = Settings.from_environment({})
    assert (settings.draws, settings.spacing_cm) == (256, 0.25)
    assert settings.database_url.endswith("soakline/soakline.db") or "Soakline" in settings.database_url


def test_the_environment_sets_and_an_argument_goes_before_it():
    environ = {"SOAKLINE_SEED": "7", "SOAKLINE_DATABASE_URL": "sqlite:///ward.db"}
    assert Settings.from_environment(environ).seed == 7
    assert Settings.from_environment(environ, database_url="sqlite:///other.db").database_url == "sqlite:///other.db"
    assert Settings.from_environment(environ, database_url=None).database_url == "sqlite:///ward.db"


def test_the_data_folder_follows_xdg_where_that_is_absolute(monkeypatch, tmp_path):
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert Settings.from_environment({"XDG_DATA_HOME": "/srv"}).data_folder == Path("/srv/soakline")
    assert Settings.from_environment({"XDG_DATA_HOME": "kept"}).data_folder == tmp_path / ".local/share/soakline"


def test_a_relative_folder_is_meant_from_where_the_program_starts(monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    assert Settings.from_environment({"SOAKLINE_DATA_FOLDER": "ward"}).data_folder == tmp_path / "ward"


def test_all_that_cannot_be_used_is_refused_at_once():
    wrong = {
        "SOAKLINE_CANISTER_SHARE": "0,9",
        "SOAKLINE_DRAWS": "100",
        "SOAKLINE_SEED": "-1",
        "SOAKLINE_SPACING_CM": "nan",
        "SOAKLINE_MEMORY_MB": "inf",
        "SOAKLINE_DATA_FOLDR": "ward",
    }
    assert refusals(wrong).keys() == wrong.keys()


def test_a_refusal_says_what_was_given_and_what_is_allowed():
    assert (
        '"1.2": allowed is a number from 0.5 to 1'
        in refusals({"SOAKLINE_CANISTER_SHARE": "1.2"})["SOAKLINE_CANISTER_SHARE"]
    )


def test_a_misspelt_setting_names_the_nearest():
    assert "SOAKLINE_DATA_FOLDER" in refusals({"SOAKLINE_DATA_FOLDR": "ward"})["SOAKLINE_DATA_FOLDR"]


def test_settings_that_rest_on_practice_alone_say_so_by_key():
    assert {source(key).confidence for key in ORIGINS.values()} <= {"practice", "memory"}
    assert Settings.from_environment({}).canister_share == float(source(ORIGINS["canister_share"]).value)
