"""The pages of questions in a real browser: four answers, each error at its field, nothing lost, nothing twice."""

import re
import tomllib

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

WAIT_MS = 60_000
PAGES = ["gate", "order", "dressing", "patient"]
# What a first call leaves: comments of one's own, and no gate, unit or foam.
BEGUN = """
format = "soakline-case/1"
label = "Demo begun"   # of the night
purpose = "care"
time_zone = "Europe/Oslo"

[wound]
face = "front"
part = "trunk"
girth_cm = 104         # at the navel

[wound.opening]
length_cm = 6
width_cm = 6
depth_cm = 2.5

[[wound.tunnel]]
clock = 5
length_cm = 4
diameter_cm = 1
"""
A1 = """
[[foam]]
name = "A1"
kind = "foam"
place = "left pocket"
placed_at = 2026-11-20T13:00:00
state = "{state}"
"""
NOTED = {"at": "2026-11-20T13:00", "by_role": "surgeon", "reason": "covered by a contact layer"}


def added(client, token, text) -> str:
    answer = client.post("/cases", files={"token": (None, token), "text": (None, text)})
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


@pytest.fixture
def begun(client, token) -> str:
    return added(client, token, BEGUN)


@pytest.fixture
def save(client, token):
    """Save a form as a browser sends it: all its fields as the page has them, but for those given."""

    def send(address, version=1, **typed):
        sent = {"token": token, "version": str(version)} | {key.replace("__", "."): one for key, one in typed.items()}
        return client.post(address, files={key: (None, value) for key, value in sent.items()})

    return send


@pytest.fixture
def browser_page(new_context):
    """A page in a browser of its own, which may note a refused save, as it should."""
    page = new_context().new_page()
    page.set_default_timeout(WAIT_MS)
    return page


def text_of(client, address):
    return client.get(f"{address}/case.toml").text


def file_of(client, address):
    return tomllib.loads(text_of(client, address))


def at_field(answer, name):
    """What a refused page says at a field, and that the field says so itself."""
    assert answer.status_code == 422, answer.status_code
    told = re.search(rf'id="{re.escape(name)}\.said">.*?</svg>\s*(.*?)</span>', answer.text, re.DOTALL)
    assert told, f"nothing stands at {name}"
    assert re.search(rf'id="{re.escape(name)}"[^>]*aria-invalid="true"', answer.text)
    return told[1]


def tick(page, name, value):
    page.locator(f'[name="{name}"][value="{value}"]').check()


def test_yes_no_and_not_known_are_three_answers_and_not_answering_is_a_fourth(page, client, begun):
    page.set_default_timeout(WAIT_MS)
    page.goto(f"{begun}/gate")
    expect(page.locator('[name="gate.eschar"][value=""]')).to_be_checked()
    for name, value in (("eschar", "yes"), ("malignancy", "no"), ("exposed_nerves", "unknown")):
        tick(page, f"gate.{name}", value)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#saved")).to_be_visible()
    assert file_of(client, begun)["gate"] == {"eschar": "yes", "malignancy": "no", "exposed_nerves": "unknown"}
    page.get_by_role("link", name="Back to the case").click()
    row = page.get_by_role("region", name="Gate").get_by_role("row")
    expect(row.filter(has_text="exposed_nerves")).to_contain_text("not known")
    expect(row.filter(has_text="exposed_vessels")).to_contain_text("not answered")
    expect(row.filter(has_text="malignancy")).to_have_count(0)
    page.goto(f"{begun}/gate")
    tick(page, "gate.eschar", "")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#saved")).to_be_visible()
    assert "eschar" not in file_of(client, begun)["gate"]
    assert text_of(client, begun).startswith(BEGUN.rstrip())


def test_each_finding_and_each_stop_leads_to_the_field_that_answers_it(page, client, token, case_text):
    text = case_text.replace("fill_ml = 60\n", "fill_ml = 20\n", 1).replace('malignancy = "no"\n', "")
    address = added(client, token, text.replace('purpose = "care"', 'purpose = "teaching"'))
    page.set_default_timeout(WAIT_MS)
    page.goto(address)
    page.get_by_role("link", name="Answer this: unit.0.fill_ml").click()
    expect(page).to_have_url(re.compile(r"/order#unit\.0\.fill_ml$"))
    field = page.get_by_role("group", name="Unit A").get_by_label("Fill now, mL")
    expect(field).to_be_in_viewport()
    expect(field).to_have_accessible_description(re.compile("who agreed"))
    page.goto(address)
    page.get_by_role("link", name="Answer this: malignancy in the wound").click()
    expect(page.get_by_role("radiogroup", name="Malignancy in the wound")).to_be_in_viewport()


def test_what_is_asked_of_an_entry_is_confirmed_at_its_field_and_falls_when_the_entry_changes(
    client, token, case_text, save
):
    address = added(client, token, case_text.replace("fill_ml = 60\n", "fill_ml = 20\n", 1))
    assert 'name="confirm.unit.0.fill_ml"' in client.get(f"{address}/order").text
    assert save(f"{address}/order", confirm__unit__0__fill_ml="yes").status_code == 303
    assert file_of(client, address)["confirmed"] == ["unit.0.fill_ml"]
    assert 'name="confirm.unit.0.fill_ml"' not in client.get(f"{address}/order").text
    assert save(f"{address}/order", 2, unit__0__fill_ml="30").status_code == 303
    assert file_of(client, address)["confirmed"] == []
    assert save(f"{address}/order", 3, confirm__wound__girth_cm="yes").status_code == 303
    assert file_of(client, address)["confirmed"] == []


def test_a_stop_is_answered_for_by_role_with_reason_and_time_and_stays_when_another_answers(client, begun, save):
    taken = {f"answered__exposed_organs__{key}": value for key, value in NOTED.items()}
    assert save(f"{begun}/gate", gate__exposed_organs="yes", **taken).status_code == 303
    again = taken | {"answered__exposed_organs__reason": "seen again"}
    assert save(f"{begun}/gate", 2, **again).status_code == 303
    entries = file_of(client, begun)["gate"]["answered"]
    assert [(one["stop"], one["by_role"], one["reason"]) for one in entries] == [
        ("exposed_organs", "surgeon", "covered by a contact layer"),
        ("exposed_organs", "surgeon", "seen again"),
    ]
    shown = client.get(f"{begun}/gate").text
    assert "Answered for by surgeon: covered by a contact layer (2026-11-20 13:00); it stays printed" in shown


def test_a_tunnel_whose_end_was_not_felt_is_answered_for_by_its_hour(client, begun, save):
    assert "not stated whether its end was felt" in client.get(f"{begun}/gate").text
    taken = {f"answered__unexplored_tunnel_at_5__{key}": value for key, value in NOTED.items()}
    assert save(f"{begun}/gate", **taken).status_code == 303
    assert file_of(client, begun)["gate"]["answered"][0]["stop"] == "unexplored_tunnel_at_5"


@pytest.mark.parametrize("left_out", list(NOTED))
def test_an_answer_for_a_stop_needs_role_reason_and_time(client, begun, save, left_out):
    given = NOTED | {left_out: ""}
    answer = save(
        f"{begun}/gate", gate__eschar="yes", **{f"answered__eschar__{key}": value for key, value in given.items()}
    )
    assert at_field(answer, f"answered.eschar.{left_out}")
    assert text_of(client, begun) == BEGUN
    for key, value in given.items():
        assert re.search(rf'name="answered\.eschar\.{key}"[^>]*value="{value}"', answer.text)


def test_nobody_answers_for_a_stop_that_is_answered_with_no(client, begun, save):
    taken = {f"answered__eschar__{key}": value for key, value in NOTED.items()}
    answer = save(f"{begun}/gate", gate__eschar="no", **taken)
    assert "nothing to answer for" in at_field(answer, "answered.eschar.by_role")
    assert text_of(client, begun) == BEGUN


def test_an_order_is_written_into_the_file_and_all_else_stays(page, client, token, begun):
    page.set_default_timeout(WAIT_MS)
    page.goto(f"{begun}/order")
    for label, words in (
        ("Its letter", "A"),
        ("Solution, with its strength", "saline 0.9 %"),
        ("Fill as signed, mL", "60"),
        ("Fill now, mL", "60"),
        ("Fill runs, min", "2"),
        ("Soak (dwell), min", "8"),
        ("Negative pressure, min", "170"),
        ("Pressure, mmHg, with its minus", "−125"),
        ("Solution bag, mL", "500"),
        ("Postures allowed, with commas between", "supine, left 30"),
    ):
        page.get_by_label(label, exact=True).fill(words)
    page.get_by_label("First cycle started at").fill("2026-11-20T19:00")
    for end, rate in (("low", "15"), ("likely", "25"), ("high", "40")):
        page.locator(f'[name="exudate.ml_per_h.{end}"]').fill(rate)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#saved")).to_be_visible()
    file = file_of(client, begun)
    assert file["unit"][0] | {"started_at": None} == {
        "name": "A",
        "solution": "saline 0.9 %",
        "ordered_fill_ml": 60,
        "fill_ml": 60,
        "fill_min": 2,
        "dwell_min": 8,
        "suction_min": 170,
        "pressure_mmhg": -125,
        "bag_ml": 500,
        "started_at": None,
    }
    assert f"{file['unit'][0]['started_at']}" == "2026-11-20 19:00:00"
    assert file["exudate"]["ml_per_h"] == {"low": 15, "likely": 25, "high": 40}
    assert file["posture"]["allowed"] == ["supine", "left 30"]
    assert text_of(client, begun).startswith(BEGUN.rstrip())
    expect(page.get_by_role("group", name="Unit A").get_by_label("Fill now, mL")).to_have_value("60")


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"unit__0__fill_ml": "six"}, "unit.0.fill_ml", "is not a number"),
        ({"unit__0__pressure_mmhg": "125"}, "unit.0.pressure_mmhg", "written with a minus sign"),
        ({"unit__0__started_at": "yesterday"}, "unit.0.started_at", "no day and time"),
        ({"exudate__ml_per_h__high": "2"}, "exudate.ml_per_h.low", "must rise"),
        ({"exudate__ml_per_h__likely": ""}, "exudate.ml_per_h.likely", "a range needs all three"),
        ({"posture__allowed": "supine, on the side"}, "posture.allowed", "on the side"),
        ({"new__unit__fill_ml": "60"}, "new.unit.name", "its letter"),
        ({"new__unit__name": "A"}, "new.unit.name", "already the name"),
        ({"new__unit__name": "B", "new__unit__bag_ml": "-5"}, "new.unit.bag_ml", "solution bag"),
    ],
)
def test_what_an_order_cannot_be_is_told_at_its_field_and_stands_as_typed(client, kept_case, save, typed, field, says):
    before = text_of(client, kept_case)
    answer = save(f"{kept_case}/order", unit__0__canister_ml="800", **typed)
    assert says in at_field(answer, field)
    assert 'value="800"' in answer.text
    assert text_of(client, kept_case) == before


def test_the_first_dressing_is_laid_piece_by_piece_with_time_and_role(page, client, begun):
    page.set_default_timeout(WAIT_MS)
    page.goto(f"{begun}/dressing")
    page.locator('[name="laid.placed_at"]').fill("2026-11-20T13:30")
    page.locator('[name="laid.placed_by_role"]').fill("surgeon, in theatre")
    # A line may be left empty between two that are not.
    for row, name, kind, place in (("0", "A1", "foam", "pocket"), ("2", "C1", "contact layer", "bed")):
        piece = page.get_by_role("group", name=f"New piece {int(row) + 1}")
        piece.get_by_label("Name").fill(name)
        piece.get_by_label("Kind").select_option(kind)
        piece.get_by_label("Place").fill(place)
    page.get_by_label("Pieces by the label on the drape").fill("2")
    page.get_by_label("Skin prepared with").fill("chlorhexidine 2 %")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#saved")).to_be_visible()
    file = file_of(client, begun)
    assert [(one["name"], one["kind"], one["place"], one["state"]) for one in file["foam"]] == [
        ("A1", "foam", "pocket", "in"),
        ("C1", "contact layer", "bed", "in"),
    ]
    assert {str(one["placed_at"]) for one in file["foam"]} == {"2026-11-20 13:30:00"}
    assert {one["placed_by_role"] for one in file["foam"]} == {"surgeon, in theatre"}
    assert file["foam_count"] == {"label_count": 2}
    assert file["dressing"] == {"skin_preparation": "chlorhexidine 2 %"}
    page.get_by_role("group", name="C1").get_by_label("Place").fill("bed of the opening")
    page.get_by_role("button", name="Save", exact=True).click()
    page.reload()
    expect(page.get_by_role("group", name="C1").get_by_label("Place")).to_have_value("bed of the opening")


@pytest.mark.parametrize(
    ("held", "typed", "field", "says"),
    [
        ("", {"laid__placed_at": ""}, "laid.placed_at", "no time"),
        ("", {"laid__placed_by_role": ""}, "laid.placed_by_role", "no role"),
        ("", {"new__foam__0__name": ""}, "new.foam.0.name", "without a name"),
        ("", {"new__foam__0__place": ""}, "new.foam.0.place", "write where it lies"),
        ("", {"new__foam__1__name": "B1", "new__foam__1__place": "bed"}, "new.foam.1.name", "a name is used once"),
        ("in", {"new__foam__0__name": "A1"}, "new.foam.0.name", "a name is used once"),
        ("not found", {}, "new.foam.0.name", "no new piece while one is unresolved"),
        ("", {"foam_count__label_count": "two"}, "foam_count.label_count", "not a whole number"),
    ],
)
def test_what_cannot_be_laid_is_told_at_its_field_and_nothing_is_saved(client, token, save, held, typed, field, says):
    address = added(client, token, BEGUN + (A1.format(state=held) if held else ""))
    before = text_of(client, address)
    usual = {"laid__placed_at": "2026-11-20T14:00", "laid__placed_by_role": "surgeon"}
    usual |= {"new__foam__0__name": "B1", "new__foam__0__kind": "foam", "new__foam__0__place": "left pocket"}
    answer = save(f"{address}/dressing", **usual | typed)
    assert says in at_field(answer, field)
    assert 'value="left pocket"' in answer.text or "new__foam__0__place" in typed
    assert text_of(client, address) == before


def test_counts_of_an_earlier_dressing_say_nothing_of_the_one_that_is_in(client, token, save):
    earlier = BEGUN + A1.format(state="in")
    earlier += "\n[foam_count]\nlabel_count = 3\nnote_count = 3\nat = 2026-11-19T09:00:00\n"
    address = added(client, token, earlier)
    assert not re.search(r'name="foam_count\.label_count"[^>]*value="3"', client.get(f"{address}/dressing").text)
    assert save(f"{address}/dressing", foam_count__label_count="1").status_code == 303
    assert file_of(client, address)["foam_count"] == {"label_count": 1}


def test_what_the_patient_is_like_is_asked_in_words_and_a_comma_is_asked_about(client, begun, save):
    typed = {"patient__adult": "yes", "patient__pregnant": "no", "patient__heart_failure": "unknown"}
    typed |= {"patient__weight_kg": "82,5", "patient__weighed_on": "2026-11-19"}
    assert save(f"{begun}/patient", **typed).status_code == 303
    patient = file_of(client, begun)["patient"]
    assert patient | {"weighed_on": None} == {
        "adult": True,
        "pregnant": "no",
        "heart_failure": "unknown",
        "weight_kg": "82,5",
        "weighed_on": None,
    }
    shown = client.get(f"{begun}/patient").text
    assert 'value="82,5"' in shown
    assert "82,5 may be read as 82.5" in shown
    assert save(f"{begun}/patient", 2, confirm__patient__weight_kg="yes").status_code == 303
    assert file_of(client, begun)["confirmed"] == ["patient.weight_kg"]
    assert "no day" in at_field(save(f"{begun}/patient", 3, patient__weighed_on="19 November"), "patient.weighed_on")


def test_a_dose_is_asked_for_and_then_given(client, begun, save):
    dose = {"drug": "lidocaine", "percent": "1", "volume_ml": "10", "epinephrine": "no", "state": "asked"}
    assert save(f"{begun}/patient", **{f"new__anaesthetic__{key}": one for key, one in dose.items()}).status_code == 303
    given = {"anaesthetic__0__state": "given", "anaesthetic__0__at": "2026-11-20T14:00"}
    assert save(f"{begun}/patient", 2, **given).status_code == 303
    filed = file_of(client, begun)["anaesthetic"][0]
    assert str(filed.pop("at")) == "2026-11-20 14:00:00"
    assert filed == {"drug": "lidocaine", "percent": 1, "volume_ml": 10, "epinephrine": False, "state": "given"}
    refused = save(f"{begun}/patient", 3, new__anaesthetic__volume_ml="5", anaesthetic__0__percent="10 mg/mL")
    assert at_field(refused, "new.anaesthetic.drug")
    assert "here it is percent" in at_field(refused, "anaesthetic.0.percent")


def test_the_same_form_sent_twice_is_saved_once_also_behind_somebody_elses(client, token, begun, save):
    taken = {f"answered__eschar__{key}": value for key, value in NOTED.items()} | {"gate__eschar": "yes"}
    assert save(f"{begun}/gate", **taken).status_code == 303
    assert save(f"{begun}/order", 2, new__unit__name="A").status_code == 303
    assert save(f"{begun}/gate", **taken).status_code == 303
    file = file_of(client, begun)
    assert (len(file["gate"]["answered"]), len(file["unit"])) == (1, 1)
    assert "version 4" not in client.get(f"{begun}/history").text


def test_a_save_by_somebody_else_shows_both_texts_and_mine_holds_my_answers_alone(client, begun, save):
    assert save(f"{begun}/gate", gate__eschar="yes").status_code == 303
    answer = save(f"{begun}/gate", gate__malignancy="no", gate__eschar="")
    assert answer.status_code == 409
    assert "somebody else was first" in answer.text
    mine, theirs = re.findall(r"<textarea.*?>\n(.*?)</textarea>", answer.text, re.DOTALL)
    assert "malignancy" in mine
    assert "eschar" not in mine
    assert "eschar" in theirs
    assert file_of(client, begun)["gate"] == {"eschar": "yes"}


def test_what_was_typed_outlives_a_reload_and_a_lost_connection_and_is_gone_once_saved(new_context, client, begun):
    context = new_context()
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    page.goto(f"{begun}/order")
    page.locator('[name="new.unit.name"]').fill("A")
    page.locator('[name="new.unit.fill_ml"]').fill("60")
    page.reload()
    expect(page.locator("#draft")).to_be_visible()
    expect(page.locator('[name="new.unit.fill_ml"]')).to_have_value("60")
    context.set_offline(True)
    page.get_by_role("button", name="Save", exact=True).click()
    context.set_offline(False)
    page.goto(f"{begun}/order")
    expect(page.locator('[name="new.unit.fill_ml"]')).to_have_value("60")
    page.get_by_role("button", name="Save", exact=True).click()
    # The draft goes once the page that says "Saved" has begun.
    expect(page).to_have_url(re.compile(r"/order$"))
    expect(page.locator("#saved")).to_be_visible()
    page.goto(f"{begun}/order")
    expect(page.locator("#draft")).to_be_hidden()
    assert page.locator('[name="new.unit.name"]').input_value() == ""
    assert [unit["fill_ml"] for unit in file_of(client, begun)["unit"]] == [60]


def test_a_draft_undoes_nothing_that_somebody_saved_meanwhile(browser_page, client, begun, save):
    page = browser_page
    page.goto(f"{begun}/gate")
    tick(page, "gate.malignancy", "no")
    assert save(f"{begun}/gate", gate__eschar="yes").status_code == 303
    page.goto(f"{begun}/gate")
    expect(page.locator('[name="gate.malignancy"][value="no"]')).to_be_checked()
    expect(page.locator('[name="gate.eschar"][value="yes"]')).to_be_checked()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#saved")).to_be_visible()
    assert file_of(client, begun)["gate"] == {"eschar": "yes", "malignancy": "no"}


def test_a_draft_of_what_somebody_answered_otherwise_meanwhile_shows_both_texts(browser_page, client, begun, save):
    page = browser_page
    page.goto(f"{begun}/gate")
    tick(page, "gate.eschar", "no")
    assert save(f"{begun}/gate", gate__eschar="yes").status_code == 303
    for _ in range(2):
        page.goto(f"{begun}/gate")
        expect(page.locator("#draft")).to_be_visible()
        expect(page.locator('[name="gate.eschar"][value="no"]')).to_be_checked()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("somebody else was first")
    assert file_of(client, begun)["gate"] == {"eschar": "yes"}
    page.goto(f"{begun}/gate")
    page.get_by_role("button", name="Show what is saved instead").click()
    expect(page.locator('[name="gate.eschar"][value="yes"]')).to_be_checked()


def test_a_draft_outlives_a_refusal_whole(browser_page, begun):
    page = browser_page
    page.goto(f"{begun}/order")
    page.locator('[name="new.unit.fill_ml"]').fill("60")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator('[name="new.unit.name"]')).to_be_focused()
    page.locator('[name="new.unit.dwell_min"]').fill("8")
    page.goto(f"{begun}/order")
    for name, words in (("fill_ml", "60"), ("dwell_min", "8")):
        expect(page.locator(f'[name="new.unit.{name}"]')).to_have_value(words)


def test_a_stop_that_is_yes_opens_who_answers_for_it(page, begun):
    page.goto(f"{begun}/gate")
    role = page.locator('[name="answered.eschar.by_role"]')
    expect(role).to_be_hidden()
    tick(page, "gate.eschar", "yes")
    expect(role).to_be_visible()


def test_a_form_of_no_version_that_was_is_not_read(client, begun, save):
    assert [save(f"{begun}/gate", version, gate__eschar="no").status_code for version in (0, 9)] == [400, 400]


@pytest.mark.parametrize("part", PAGES)
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(390, 844), (820, 1180), (1366, 900)])
def test_the_questions_can_be_answered_by_everybody(new_context, kept_case, part, scheme, width, height):
    context = new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    page = context.new_page()
    bytes_read: list[int] = []
    page.on("response", lambda response: bytes_read.append(len(response.body())))
    page.goto(f"{kept_case}/{part}", timeout=WAIT_MS)
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    results = Axe().run(page)
    assert results.violations_count == 0, results.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    small = page.evaluate(
        """() => [...document.querySelectorAll('.button, summary, .switch label, .tick, main select, .field input')]
            .filter((one) => one.checkVisibility()).filter((one) => one.getBoundingClientRect().height < 43.5)
            .map((one) => one.outerHTML)"""
    )
    assert small == []
    assert sum(bytes_read) < 300_000


@pytest.mark.parametrize(("width", "height"), [(390, 844), (1366, 900)])
def test_what_is_refused_or_asked_can_be_read_and_ticked_by_everybody(
    new_context, client, token, case_text, width, height
):
    address = added(client, token, case_text.replace("fill_ml = 60\n", "fill_ml = 20\n", 1))
    page = new_context(viewport={"width": width, "height": height}).new_page()
    page.set_default_timeout(WAIT_MS)
    page.goto(f"{address}/order")
    page.locator('[name="unit.0.pressure_mmhg"]').fill("125")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("written with a minus sign")
    assert Axe().run(page).violations_count == 0
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    tick_box = page.get_by_label("It is so")
    assert tick_box.evaluate("(one) => one.closest('label').getBoundingClientRect().height") >= 43.5
    tick_box.check()
    page.locator('[name="unit.0.pressure_mmhg"]').fill("-125")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#saved")).to_be_visible()
    assert file_of(client, address)["confirmed"] == ["unit.0.fill_ml"]


def test_each_entry_can_be_taken_back_and_done_again_by_button_and_by_keys(browser_page, client, begun):
    page = browser_page
    page.goto(f"{begun}/gate")
    undo, redo = (page.get_by_role("button", name=name) for name in ("Undo", "Redo"))
    expect(undo).to_be_disabled()
    tick(page, "gate.eschar", "yes")
    tick(page, "gate.malignancy", "no")
    undo.click()
    expect(page.locator('[name="gate.malignancy"][value=""]')).to_be_checked()
    page.locator('[name="gate.eschar"][value="yes"]').focus()
    page.keyboard.press("Control+z")
    expect(page.locator('[name="gate.eschar"][value=""]')).to_be_checked()
    expect(undo).to_be_disabled()
    page.keyboard.press("Control+Shift+z")
    expect(page.locator('[name="gate.eschar"][value="yes"]')).to_be_checked()
    expect(redo).to_be_enabled()
    page.reload()
    # The draft holds what stands, not what was taken back.
    expect(page.locator('[name="gate.eschar"][value="yes"]')).to_be_checked()
    expect(page.locator('[name="gate.malignancy"][value=""]')).to_be_checked()
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#saved")).to_be_visible()
    assert file_of(client, begun)["gate"] == {"eschar": "yes"}


def test_what_is_refused_is_said_in_the_words_of_the_form(client, begun, save):
    answer = save(f"{begun}/patient", patient__weight_kg="heavy")
    assert "its unit stands at the field" in at_field(answer, "patient.weight_kg")
    dose = {"drug": "lidocaine", "percent": "1", "volume_ml": "10", "epinephrine": "no", "state": "asked"}
    typed = {f"new__anaesthetic__{key}": one for key, one in dose.items()}
    assert save(f"{begun}/patient", patient__weight_kg="101", **typed).status_code == 303
    page = client.get(f"{begun}/patient").text
    assert "“Weighed again, by another hand or scale, kg”" in page
    assert "weight_again_kg" not in re.sub(r"<[^>]*>", "", page)


def test_an_earlier_version_is_gone_back_to_as_a_new_one_with_what_it_changes_back(client, token, begun, save):
    first = text_of(client, begun)
    save(f"{begun}/gate", gate__eschar="yes")
    assert f'href="{begun}/file?of_version=1"' in client.get(f"{begun}/history").text
    shown = client.get(f"{begun}/file", params={"of_version": 1}).text
    assert "<code>gate.eschar</code>: yes → taken out" in shown
    assert client.get(f"{begun}/file", params={"of_version": 3}).status_code == 404
    sent = {"token": (None, token), "version": (None, "2"), "text": (None, first)}
    assert client.post(f"{begun}/file", files=sent).status_code == 303
    assert text_of(client, begun) == first
    assert "Go back to version 2" in client.get(f"{begun}/history").text


def test_a_piece_that_is_missing_is_a_stop_on_the_case_page_as_in_the_list(client, token):
    address = added(client, token, BEGUN + A1.format(state="not found"))
    assert "Foam unresolved: no new dressing" in client.get(address).text
    assert "Missing: A1" in client.get("/").text
    address = added(client, token, BEGUN + A1.format(state="in"))
    assert "Foam unresolved" not in client.get(address).text
