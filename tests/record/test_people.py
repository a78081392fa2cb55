"""Who may sign in, for how long, and what the log tells of it; the same on both databases."""

from datetime import UTC, datetime, timedelta

import pytest
from argon2 import PasswordHasher
from sqlalchemy import select, text

from soakline.errors import InputRefused, NotAllowed, StaleRecord
from soakline.record import passwords
from soakline.record.acting import AT_THIS_COMPUTER, MAY, NOBODY, ROLES, Actor, acting_as
from soakline.record.backup import back_up, restore
from soakline.record.cases import NewCase, add_case, find_case, list_cases, move_case, save_case
from soakline.record.opening import open_record
from soakline.record.passwords import LONGEST, SHORTEST, first_password, is_password, say_weak
from soakline.record.people import (
    NewPerson,
    add_person,
    change_person,
    find_person,
    find_subject,
    known_wards,
    list_people,
    set_password,
)
from soakline.record.schema import Base
from soakline.record.sessions import (
    HERE_FOR,
    LOCKED_FOR,
    MOST_OF_A_NAME,
    MOST_OF_AN_ADDRESS,
    Lasting,
    admit,
    end_others,
    end_session,
    list_sessions,
    open_session,
    sign_in,
)
from soakline.record.verify import verify_record

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
LASTING = Lasting(timedelta(minutes=30), timedelta(hours=12))
OWN = "green kettle under seven maps"
WARD = frozenset({"4 north"})


def minutes(count: float) -> datetime:
    return NOW + timedelta(minutes=count)


@pytest.fixture(autouse=True)
def _quick_hashes(request, monkeypatch):
    """The costs are meant to be felt; only the test of the costs pays them."""
    if "costs" not in request.node.name:
        passwords._nobodys_hash.cache_clear()
        monkeypatch.setattr(passwords, "_HASHER", PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))


@pytest.fixture
def kari(engine):
    """A ward nurse with a password of her own, beside an administrator."""
    add_person(engine, NewPerson("chief", "administrator", frozenset()), NOW)
    person, first = add_person(engine, NewPerson("kari", "ward", WARD), NOW)
    return set_password(engine, person, first, OWN, NOW)


def entries(engine) -> list[tuple[str, str]]:
    with engine.connect() as connection:
        return [(row.what, row.who) for row in connection.execute(text("SELECT what, who FROM entries ORDER BY id"))]


@pytest.mark.parametrize(
    ("role", "may"),
    [
        ("specialist", {"read", "run", "plan"}),
        ("ward", {"read", "run"}),
        ("reader", {"read"}),
        ("administrator", {"people"}),
    ],
)
def test_each_role_may_what_it_is_for_and_no_more(role, may):
    assert {deed for deed in ("read", "run", "plan", "people") if Actor("x", role, None).may(deed)} == may
    assert set(ROLES) == set(MAY)


def test_nobody_may_anything_and_sees_nothing(engine):
    add_case(engine, NewCase("Demo", "care", "one"), NOW)
    with acting_as(NOBODY):
        assert list_cases(engine) == ()
        assert find_case(engine, 1) is None
        with pytest.raises(NotAllowed, match="may not measure, plan"):
            add_case(engine, NewCase("Demo", "care", "two"), NOW)


def test_a_ward_sees_its_cases_and_no_others(engine):
    add_case(engine, NewCase("Demo north", "care", "one"), NOW, ward="4 north")
    add_case(engine, NewCase("Demo south", "care", "two"), NOW, ward="5 south")
    add_case(engine, NewCase("Demo of no ward", "care", "three"), NOW)
    with acting_as(Actor("kari", "ward", WARD, 1)):
        assert [kept.label for kept in list_cases(engine)] == ["Demo north"]
        assert find_case(engine, 2) is None
        assert find_case(engine, 3) is None
    with acting_as(Actor("ola", "specialist", None, 2)):
        assert len(list_cases(engine)) == 3
    with acting_as(Actor("chief", "administrator", None, 3)):
        assert list_cases(engine) == ()


def test_a_case_that_is_moved_is_seen_by_the_other_ward_and_the_log_tells(engine):
    kept = add_case(engine, NewCase("Demo", "care", "one"), NOW, ward="4 north")
    move_case(engine, kept.id, "5 south", "4 north", NOW)
    with acting_as(Actor("kari", "ward", WARD, 1)):
        assert find_case(engine, kept.id) is None
    with pytest.raises(StaleRecord, match="another ward"):
        move_case(engine, kept.id, "6 east", "4 north", NOW)
    saved = save_case(engine, kept.id, NewCase("Demo", "care", "two"), 1, NOW)
    assert saved.ward == "5 south"
    assert [what for what, _ in entries(engine)] == ["case added", "ward named", "ward named", "case saved"]
    assert verify_record(engine).broken == ()


def test_a_reader_saves_nothing(engine):
    kept = add_case(engine, NewCase("Demo", "care", "one"), NOW)
    with acting_as(Actor("per", "reader", None, 1)), pytest.raises(NotAllowed, match="Who may: specialist or ward"):
        save_case(engine, kept.id, NewCase("Demo", "care", "two"), 1, NOW)
    assert find_case(engine, kept.id).text == "one"


def test_a_password_is_kept_as_argon2id_with_the_costs_of_rfc_9106(engine, kari):
    # RFC 9106, section 4, second recommended option: Argon2id, t = 3, p = 4 lanes, m = 2^16 (64 MiB).
    with engine.connect() as connection:
        kept = connection.execute(text("SELECT password_hash FROM people WHERE name = 'kari'")).scalar_one()
    assert kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert is_password(OWN, kept)
    assert not is_password(f"{OWN} ", kept)
    assert not is_password(OWN, None)


@pytest.mark.parametrize(
    ("password", "says"),
    [
        ("", "it has 0 characters"),
        ("x" * (SHORTEST - 1), f"it has {SHORTEST - 1} characters"),
        ("x" * (LONGEST + 1), f"it has {LONGEST + 1} characters"),
        ("password1234", "guessed first"),
        ("aaaaaaaaaaaaaaa", "guessed first"),
        ("karikarikari", "guessed first"),
    ],
)
def test_a_weak_password_is_refused_with_what_is_allowed(engine, kari, password, says):
    assert says in say_weak(password, "kari")
    with pytest.raises(InputRefused, match=says):
        set_password(engine, kari, OWN, password, NOW)


def test_first_passwords_are_strong_and_never_the_same():
    drawn = {first_password() for _ in range(50)}
    assert len(drawn) == 50
    assert all(say_weak(password, "kari") is None for password in drawn)


@pytest.mark.parametrize(
    ("name", "role", "wards", "says"),
    [
        ("Kari Nordmann", "ward", WARD, "allowed are 2 to 40"),
        ("k", "ward", WARD, "allowed are 2 to 40"),
        ("kari", "surgeon", WARD, "allowed is one of specialist"),
        ("kari", "ward", frozenset(), "name them, or say every ward"),
        ("kari", "ward", frozenset({"x" * 81}), "1 to 80 letters"),
        ("kari", "ward", frozenset({"4\nnorth"}), "1 to 80 letters"),
    ],
)
def test_a_person_who_cannot_be_kept_is_refused_in_words(name, role, wards, says):
    with pytest.raises(InputRefused, match=says):
        NewPerson(name, role, wards)


def test_two_people_never_share_a_name_or_a_subject(engine, kari):
    with pytest.raises(InputRefused, match="somebody has it already"):
        add_person(engine, NewPerson("kari", "reader", WARD), NOW)
    add_person(engine, NewPerson("ola", "reader", WARD, "subject-1"), NOW)
    with pytest.raises(InputRefused, match=r"subject: .*somebody has it already"):
        add_person(engine, NewPerson("per", "reader", WARD, "subject-1"), NOW)
    assert [person.name for person in list_people(engine)] == ["chief", "kari", "ola"]
    assert find_subject(engine, "subject-1").name == "ola"
    assert known_wards(engine) == ("4 north",)


def test_the_last_who_may_look_after_people_stays(engine, kari):
    chief = find_person(engine, "chief")
    for other in (NewPerson("chief", "reader", WARD), NewPerson("chief", "administrator", frozenset(), is_locked=True)):
        with pytest.raises(InputRefused, match="nobody would be left"):
            change_person(engine, chief.id, other, chief.version_id, NOW)
    assert find_person(engine, "chief") == chief


def test_two_who_change_one_person_do_not_overwrite_each_other(engine, kari):
    change_person(engine, kari.id, NewPerson("kari", "reader", WARD), kari.version_id, NOW)
    with pytest.raises(StaleRecord, match="changed this person"):
        change_person(engine, kari.id, NewPerson("kari", "ward", WARD), kari.version_id, NOW)
    assert find_person(engine, "kari").role == "reader"


def test_who_signs_in_is_known_by_their_cookie_until_they_sign_out(engine, kari):
    person, token = sign_in(engine, "kari", OWN, "10.0.0.7", NOW)
    assert person == kari
    assert admit(engine, token, minutes(1), LASTING).actor == Actor("kari", "ward", WARD, kari.id)
    end_session(engine, token, minutes(2))
    assert admit(engine, token, minutes(2), LASTING) is None
    assert ("signed in", "kari") in entries(engine)
    assert entries(engine)[-1][0] == "signed out"


def test_a_cookie_that_was_made_up_stands_for_nobody(engine, kari):
    sign_in(engine, "kari", OWN, "10.0.0.7", NOW)
    assert admit(engine, "made up", NOW, LASTING) is None
    assert admit(engine, "", NOW, LASTING) is None


def test_no_cookie_and_no_password_can_be_read_from_the_database(engine, kari):
    _, token = sign_in(engine, "kari", OWN, "10.0.0.7", NOW)
    with engine.connect() as connection:
        for table in ("people", "sessions", "attempts", "entries"):
            rows = str(connection.execute(select(Base.metadata.tables[table])).all())
            assert token not in rows
            assert OWN not in rows


def test_a_session_ends_without_a_step_and_at_the_end_of_a_shift(engine, kari):
    _, idle = sign_in(engine, "kari", OWN, "10.0.0.7", NOW)
    _, busy = sign_in(engine, "kari", OWN, "10.0.0.7", NOW)
    for step in range(20, 721, 20):
        assert admit(engine, busy, minutes(step), LASTING)
    assert admit(engine, busy, minutes(725), LASTING) is None
    assert admit(engine, idle, minutes(31), LASTING) is None


def test_who_is_changed_or_locked_is_signed_out_at_once(engine, kari):
    _, token = sign_in(engine, "kari", OWN, "10.0.0.7", NOW)
    locked = NewPerson("kari", "ward", WARD, is_locked=True)
    change_person(engine, kari.id, locked, kari.version_id, NOW)
    assert admit(engine, token, NOW, LASTING) is None
    with pytest.raises(NotAllowed, match="do not fit together, or the account is locked"):
        sign_in(engine, "kari", OWN, "10.0.0.7", NOW)


def test_a_person_sees_where_they_are_signed_in_and_ends_all_but_this_browser(engine, kari):
    tokens = [sign_in(engine, "kari", OWN, "10.0.0.7", minutes(step))[1] for step in (0, 5, 10)]
    found = list_sessions(engine, kari, tokens[1], minutes(12), LASTING)
    assert [(one.since, one.is_this) for one in found] == [
        (minutes(0), False),
        (minutes(5), True),
        (minutes(10), False),
    ]
    end_others(engine, kari, tokens[1], minutes(13))
    assert [bool(admit(engine, token, minutes(13), LASTING)) for token in tokens] == [False, True, False]
    assert entries(engine)[-1][0] == "signed out"
    assert len(list_sessions(engine, kari, tokens[1], minutes(14), LASTING)) == 1
    assert list_sessions(engine, kari, tokens[1], minutes(60), LASTING) == ()
    assert not verify_record(engine).broken


def test_whoever_ends_their_other_sessions_ends_nobody_elses(engine, kari):
    other, first = add_person(engine, NewPerson("ola", "reader", WARD), NOW)
    _, of_other = sign_in(engine, "ola", first, "10.0.0.8", NOW)
    _, own = sign_in(engine, "kari", OWN, "10.0.0.7", NOW)
    before = entries(engine)
    end_others(engine, kari, own, NOW)
    assert admit(engine, of_other, NOW, LASTING)
    assert [one.is_this for one in list_sessions(engine, other, of_other, NOW, LASTING)] == [True]
    assert entries(engine) == before


def test_a_new_password_ends_every_session_and_the_old_one_signs_nobody_in(engine, kari):
    _, token = sign_in(engine, "kari", OWN, "10.0.0.7", NOW)
    set_password(engine, kari, OWN, "blue ladder behind two suns", NOW)
    assert admit(engine, token, NOW, LASTING) is None
    with pytest.raises(NotAllowed):
        sign_in(engine, "kari", OWN, "10.0.0.7", NOW)
    assert sign_in(engine, "kari", "blue ladder behind two suns", "10.0.0.7", NOW)


def test_who_has_a_first_password_is_known_to(engine, kari):
    _, first = change_person(engine, kari.id, NewPerson("kari", "ward", WARD), kari.version_id, NOW, renew=True)
    _, token = sign_in(engine, "kari", first, "10.0.0.7", NOW)
    assert admit(engine, token, NOW, LASTING).has_first_password


def test_a_name_that_was_refused_too_often_waits_and_others_do_not(engine, kari):
    for _ in range(MOST_OF_A_NAME):
        with pytest.raises(NotAllowed, match="do not fit together"):
            sign_in(engine, "kari", "wrong", "10.0.0.7", NOW)
    with pytest.raises(NotAllowed, match="Too many sign-ins were refused"):
        sign_in(engine, "kari", OWN, "10.0.0.8", minutes(1))
    with pytest.raises(NotAllowed, match="do not fit together"):
        sign_in(engine, "ola", "wrong", "10.0.0.7", minutes(1))
    assert sign_in(engine, "kari", OWN, "10.0.0.7", NOW + LOCKED_FOR + timedelta(seconds=1))
    refused = [who for what, who in entries(engine) if what == "sign-in refused"]
    assert refused == ["nobody signed in"] * (MOST_OF_A_NAME + 1)


def test_an_address_that_tries_many_names_waits(engine, kari):
    for number in range(MOST_OF_AN_ADDRESS):
        with pytest.raises(NotAllowed, match="do not fit together"):
            sign_in(engine, f"name{number}", "wrong", "10.0.0.7", NOW)
    with pytest.raises(NotAllowed, match="Too many"):
        sign_in(engine, "kari", OWN, "10.0.0.7", NOW)
    assert sign_in(engine, "kari", OWN, "10.0.0.8", NOW)


def test_a_name_nobody_has_takes_as_long_as_a_wrong_password(engine, kari, monkeypatch):
    asked = []
    monkeypatch.setattr("soakline.record.sessions.is_password", lambda _, kept: asked.append(kept) or False)
    for name in ("kari", "nobody"):
        with pytest.raises(NotAllowed):
            sign_in(engine, name, "wrong", "10.0.0.7", NOW)
    assert len(asked) == 2


def test_the_browser_at_this_computer_stays_let_in_for_a_week(engine):
    token = open_session(engine, None, NOW)
    assert admit(engine, token, NOW + HERE_FOR, LASTING).actor == AT_THIS_COMPUTER
    assert admit(engine, token, NOW + HERE_FOR + timedelta(seconds=1), LASTING) is None


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE people SET role = 'specialist' WHERE name = 'kari'",
        "UPDATE people SET wards = 'null' WHERE name = 'kari'",
        "UPDATE people SET password_hash = 'x' WHERE name = 'kari'",
        "UPDATE people SET is_locked = NOT is_locked WHERE name = 'chief'",
        "DELETE FROM people WHERE name = 'chief'",
        "UPDATE cases SET ward = '5 south'",
    ],
)
def test_a_right_that_was_taken_beside_the_program_is_found(engine, kari, statement):
    add_case(engine, NewCase("Demo", "care", "one"), NOW, ward="4 north")
    assert verify_record(engine).broken == ()
    with engine.begin() as connection:
        connection.execute(text(statement))
    assert verify_record(engine).broken


def test_a_backup_takes_people_along_and_no_session(engine, kari, tmp_path):
    _, token = sign_in(engine, "kari", OWN, "10.0.0.7", NOW)
    back_up(engine, tmp_path / "backup", NOW, "1")
    other = open_record(f"sqlite:///{tmp_path / 'other.db'}")
    restore(other, tmp_path / "backup")
    assert list_people(other) == list_people(engine)
    assert admit(other, token, NOW, LASTING) is None
    assert sign_in(other, "kari", OWN, "10.0.0.7", NOW)
    other.dispose()
