"""The change of the dressing in a real browser: walked by keyboard alone, stopped by foam, nothing typed lost."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

WAIT_MS = 60_000
FOAM = """
[patient]
adult = true
pregnant = "no"
weight_kg = 82.0
weighed_on = 2026-11-19

[[anaesthetic]]
drug = "lidocaine"
percent = 1.0
volume_ml = 10
route = "instilled"
state = "asked"

[[foam]]
name = "A1"
kind = "foam"
place = "left pocket"
placed_at = 2026-11-20T13:00:00
placed_by_role = "surgeon"
state = "in"

[[foam]]
name = "B1"
kind = "foam"
place = "opening"
placed_at = 2026-11-20T13:00:00
placed_by_role = "surgeon"
state = "in"
"""


@pytest.fixture
def with_foam(client, token, case_text) -> str:
    answer = client.post("/cases", files={"token": (None, token), "text": (None, case_text + FOAM)})
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


@pytest.fixture
def walk(new_context, with_foam):
    """The change page in a browser of its own, which may note a refused save, as it should."""
    context = new_context()
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    expect.set_options(timeout=WAIT_MS)
    page.goto(f"{with_foam}/change")
    yield page
    expect.set_options(timeout=5_000)


def tab_to(page, name, at_most=120):
    """Press Tab until the field of that name has the focus; fail where no key leads there."""
    for _ in range(at_most):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name || document.activeElement.textContent.trim()") == name:
            return
    pytest.fail(f"Tab does not lead to {name}")


def file_of(page, address):
    return page.request.get(f"{address}/case.toml").text()


def choose(page, name, presses):
    tab_to(page, name)
    for _ in range(presses):
        page.keyboard.press("ArrowRight")


def type_time(page, name, day, hour):
    """Type a day (month first, as the browser of the tests has it) and an hour into a field of day and time."""
    tab_to(page, name)
    page.keyboard.type(day)
    page.keyboard.press("ArrowRight")
    page.keyboard.type(hour)


def test_the_page_is_walked_through_by_keyboard_alone(walk, with_foam):
    type_time(walk, "at", "11232026", "0900AM")
    tab_to(walk, "by_role")
    walk.keyboard.type("wound nurse")
    choose(walk, "pain_before", 5)
    choose(walk, "out.0", 1)
    choose(walk, "out.1", 1)
    for name in ("label_count", "note_count", "objects_count"):
        tab_to(walk, name)
        walk.keyboard.type("2")
    choose(walk, "dose.0.state", 1)
    type_time(walk, "dose.0.at", "11232026", "0905AM")
    tab_to(walk, "dose.0.wait_min")
    walk.keyboard.type("20")
    tab_to(walk, "looked")
    walk.keyboard.type("red, moist bed")
    tab_to(walk, "length_cm")
    walk.keyboard.type("5.5")
    tab_to(walk, "probed")
    walk.keyboard.type("no tunnel")
    tab_to(walk, "probe.3.reach_cm")
    walk.keyboard.type("3.5")
    choose(walk, "pain_during", 7)
    for row, (name, place) in enumerate((("A2", "left pocket"), ("B2", "opening"))):
        tab_to(walk, f"in.{row}.name")
        walk.keyboard.type(name)
        tab_to(walk, f"in.{row}.place")
        walk.keyboard.type(place)
        tab_to(walk, f"in.{row}.trimmed")
        walk.keyboard.type("one corner")
    type_time(walk, "closed_at", "11232026", "1000AM")
    choose(walk, "pain_after", 2)
    tab_to(walk, "Save this change")
    walk.keyboard.press("Enter")
    expect(walk.get_by_text("For the label on the drape")).to_contain_text("2 pieces inside: A2 foam, left pocket")
    expect(walk.get_by_text("By the saved times the wait is over at")).to_contain_text("09:25")
    text = file_of(walk, with_foam)
    for line in (
        "at = 2026-11-23T09:00:00",
        "pain_before = 4",
        "pain_during = 6",
        "pain_after = 1",
        "objects_count = 2",
        "label_count = 2",
        'trimmed = "one corner"',
        'looked = "red, moist bed"',
        "reach_cm = 3.5",
        'state = "given"',
        "closed_at = 2026-11-23T10:00:00",
    ):
        assert line in text, line
    assert text.count('state = "out whole"') == 2
    assert text.count('name = "A2"') == text.count('name = "B2"') == 1


def test_how_each_hour_looks_is_painted_on_the_map_or_chosen_in_the_table(walk, with_foam):
    def fills() -> list[str]:
        return walk.locator(".paint .looks").evaluate_all("all => all.map((wedge) => wedge.getAttribute('fill'))")

    expect(walk.locator(".paint .looks")).to_have_count(12)
    assert set(fills()) == {"transparent"}
    three, four = (walk.locator(f'.paint [data-hour="{hour}"]') for hour in (3, 4))
    three.click(position=middle_of(three))
    four.click(position=middle_of(four))
    four.click(position=middle_of(four))
    assert walk.locator('[name="probe.3.looks"]').input_value() == "clean"
    assert walk.locator('[name="probe.4.looks"]').input_value() == "not clean"
    walk.locator('[name="probe.9.looks"]').select_option("clean")
    painted = dict(zip(range(1, 13), fills(), strict=True))
    assert {hour: fill for hour, fill in painted.items() if fill != "transparent"} == {
        3: "url(#looks-clean)",
        4: "url(#looks-not-clean)",
        9: "url(#looks-clean)",
    }
    walk.locator('[name="at"]').fill("2026-11-23T09:00")
    walk.get_by_label("By (role").fill("wound nurse")
    walk.get_by_role("button", name="Save this change").click()
    expect(walk.get_by_role("alert")).to_have_count(0)
    assert dict(zip(range(1, 13), fills(), strict=True)) == painted
    text = file_of(walk, with_foam)
    assert text.count('looks = "clean"') == 2
    assert text.count('looks = "not clean"') == 1


def middle_of(wedge) -> dict[str, float]:
    """A point of the wedge, in its own box: its bounding box may have its middle beside it."""
    return wedge.evaluate(
        """path => {
            const box = path.getBoundingClientRect(), corner = path.getPointAtLength(0);
            const far = path.getPointAtLength(path.getTotalLength() / 2);
            const shown = path.getScreenCTM();
            const at = new DOMPoint((corner.x + far.x) / 2, (corner.y + far.y) / 2).matrixTransform(shown);
            return { x: at.x - box.x, y: at.y - box.y };
        }"""
    )


def test_foam_that_is_not_found_stops_the_next_dressing_and_keeps_what_was_typed(walk, with_foam):
    walk.get_by_label("By (role").fill("wound nurse")
    walk.locator('[name="out.0"][value="out whole"]').check()
    expect(walk.locator("#stop")).to_be_hidden()
    walk.locator('[name="out.1"][value="not found"]').check()
    expect(walk.locator("#stop")).to_contain_text("Call: the surgeon")
    walk.locator('[name="in.0.name"]').fill("A2")
    walk.locator('[name="in.0.place"]').fill("left pocket")
    walk.locator('[name="closed_at"]').fill("2099-11-23T10:00")
    walk.get_by_role("button", name="Save this change").click()
    expect(walk.get_by_role("alert")).to_contain_text("no new piece was entered")
    assert walk.locator('[name="in.0.name"]').input_value() == "A2"
    text = file_of(walk, with_foam)
    assert 'state = "not found"' in text
    assert 'name = "A2"' not in text
    walk.locator('[name="out.1"][value="out whole"]').check()
    walk.get_by_role("button", name="Save this change").click()
    expect(walk.get_by_text("For the label on the drape")).to_contain_text("1 piece inside: A2 foam, left pocket")


def test_what_was_typed_outlives_a_reload_and_is_gone_once_it_is_saved(walk, with_foam):
    walk.get_by_label("What was seen").fill("slough at 4")
    walk.reload()
    expect(walk.locator("#draft")).to_be_visible()
    assert walk.get_by_label("What was seen").input_value() == "slough at 4"
    walk.get_by_role("button", name="Save this change").click()
    expect(walk.get_by_text("Not written yet")).to_be_visible()
    expect(walk.locator("#draft")).to_be_hidden()
    assert 'looked = "slough at 4"' in file_of(walk, with_foam)


def test_the_ordered_wait_counts_down_once_the_dose_is_given_and_says_the_time_in_words(walk):
    now = walk.evaluate("new Date(Date.now() - new Date().getTimezoneOffset() * 6e4).toISOString().slice(0, 16)")
    walk.locator('[name="dose.0.at"]').fill(now)
    walk.locator('[name="dose.0.wait_min"]').fill("30")
    expect(walk.locator('[name="dose.0.state"][value="asked"]')).to_be_checked()
    expect(walk.locator(".timer").first).to_be_hidden()
    walk.locator('[name="dose.0.state"][value="given"]').check()
    expect(walk.locator(".timer [role=status]").first).to_contain_text("minutes left of the ordered wait, until")
    expect(walk.locator(".digits").first).to_have_text(re.compile(r"(29|30):\d\d"))
    walk.locator('[name="dose.0.at"]').fill("2020-01-01T09:00")
    expect(walk.locator(".timer [role=status]").first).to_contain_text("over since 09:30")


def test_a_save_by_somebody_else_shows_both_texts(walk, with_foam, client, token):
    walk.get_by_label("What was seen").fill("mine")
    text = client.get(f"{with_foam}/case.toml").text.replace("Demo abdomen", "Theirs")
    sent = {"token": (None, token), "version": (None, "1"), "text": (None, text)}
    assert client.post(f"{with_foam}/file", files=sent).status_code == 303
    walk.get_by_role("button", name="Save this change").click()
    expect(walk.get_by_role("alert")).to_contain_text("somebody else was first")
    assert 'looked = "mine"' in walk.locator("#text").input_value()
    assert "Theirs" in walk.locator("#theirs").input_value()


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"pain_before": "eleven"}, "change.0.pain_before"),
        ({"pain_before": "11"}, "outside 0 to 10"),
        ({"at": "yesterday"}, "no day and time"),
        ({"label_count": "-1", "note_count": "", "resolved_by_role": ""}, "foam_count.label_count"),
        ({"label_count": "two", "note_count": "", "resolved_by_role": ""}, "foam_count.label_count"),
        ({"dose.new.strength": "1"}, "has no unit"),
        ({"out.0": "out whole", "by_role": ""}, "no role is written"),
        ({"in.0.name": "A1", "in.0.kind": "foam", "in.0.place": "left"}, "a name is used once"),
    ],
)
def test_an_entry_that_cannot_hold_is_refused_and_stands_as_typed(client, token, with_foam, given, says):
    usual = {"number": "0", "version": "1", "at": "2026-11-23T09:00", "closed_at": "2026-11-23T10:00"}
    fields = usual | {"by_role": "wound nurse", "looked": "kept as typed"} | given
    sent = {key: (None, value) for key, value in fields.items()} | {"token": (None, token)}
    answer = client.post(f"{with_foam}/change", files=sent)
    assert answer.status_code == 422
    assert says in answer.text
    assert "kept as typed" in answer.text
    assert "kept as typed" not in client.get(f"{with_foam}/case.toml").text


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(820, 1180), (1366, 900)])
def test_the_change_page_can_be_used_by_everybody(new_context, with_foam, scheme, width, height):
    context = new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    page = context.new_page()
    page.goto(f"{with_foam}/change", timeout=WAIT_MS)
    results = Axe().run(page)
    wide = page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    small = page.evaluate(
        """() => [...document.querySelectorAll('.button, .switch label, #main input:not([type=radio]), select')]
            .filter((one) => one.checkVisibility() && one.type !== "hidden")
            .filter((one) => one.getBoundingClientRect().height < 43.5)
            .map((one) => one.outerHTML)"""
    )
    assert results.violations_count == 0, results.generate_report()
    assert wide
    assert small == []
