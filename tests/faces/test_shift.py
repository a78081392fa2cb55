"""Writing down at the bedside in a real browser: quick by keys and by touch, nothing lost, nothing twice."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

WAIT_MS = 60_000
QUICK = 30


def tab_to(page, name, at_most=40):
    """Press Tab until the field of that name has the focus; return how often."""
    for presses in range(1, at_most):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name || document.activeElement.textContent.trim()") == name:
            return presses
    pytest.fail(f"Tab does not lead to {name}")


def file_of(page, address):
    return page.request.get(f"{address}/case.toml").text()


def at(page, moment):
    page.locator("#at").fill(moment)


def test_a_reading_is_written_by_keyboard_alone_in_few_keys_and_adds_up_at_once(page, kept_case):
    page.set_default_timeout(WAIT_MS)
    page.goto(f"{kept_case}/shift")
    at(page, "2026-11-21T07:00")
    page.locator('[name="sign"]').first.focus()
    page.keyboard.press("ArrowLeft")
    keys = 2
    for name, words in (("unit.0.canister", "430"), ("unit.0.colour", "clear pink"), ("unit.0.instilled", "240")):
        keys += tab_to(page, name) + len(words)
        page.keyboard.type(words)
    keys += 1
    page.keyboard.press("Enter")
    expect(page.locator("#saved")).to_be_visible()
    # Two keys a second is slow typing.
    assert keys / 2 < QUICK
    text = file_of(page, kept_case)
    assert 'kind = "canister"\nml = 430\ncolour = "clear pink"' in text
    at(page, "2026-11-22T07:00")
    page.get_by_label("none of these").check()
    page.locator('[name="unit.0.canister"]').fill("900")
    page.locator('[name="unit.0.colour"]').fill("clear")
    page.locator('[name="unit.0.instilled"]').fill("240")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#saved")).to_be_visible()
    expect(page.locator("section[aria-labelledby=adds]")).to_contain_text(re.compile("unexplained|expected|net"))


def test_a_grave_sign_says_stop_before_anything_is_saved_and_after(page, kept_case):
    page.set_default_timeout(WAIT_MS)
    page.goto(f"{kept_case}/shift")
    expect(page.locator("#stop-now")).to_be_hidden()
    page.get_by_label("bright red blood").check()
    expect(page.locator("#stop-now")).to_contain_text("press, do not pull out the foam")
    at(page, "2026-11-21T07:00")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#saved")).to_be_visible()
    assert 'kind = "blood"' in file_of(page, kept_case)


def test_bad_input_is_told_at_once_and_stands_as_it_was_typed(new_context, kept_case):
    context = new_context()
    page = context.new_page()
    page.goto(f"{kept_case}/shift")
    page.locator('[name="unit.0.canister"]').fill("430")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("alert")).to_contain_text("a mark without a colour")
    expect(page.get_by_role("alert")).to_contain_text("look before any number")
    assert page.locator('[name="unit.0.canister"]').input_value() == "430"
    assert "[[log]]" not in file_of(page, kept_case)


def test_what_is_refused_says_so_at_its_field_and_the_first_has_the_focus(new_context, kept_case):
    page = new_context().new_page()
    page.goto(f"{kept_case}/shift")
    page.locator('[name="unit.0.canister"]').fill("430")
    page.get_by_role("button", name="Save").click()
    signs = page.get_by_role("radiogroup", name="Look first: is there")
    expect(signs).to_have_accessible_description(re.compile("look before any number"))
    expect(signs.get_by_label("bright red blood")).to_be_focused()
    colour = page.get_by_label("Colour", exact=True)
    expect(colour).to_have_attribute("aria-invalid", "true")
    expect(colour).to_have_accessible_description(re.compile("a mark without a colour"))
    expect(page.get_by_label("Canister mark, mL")).not_to_have_attribute("aria-invalid", "true")
    assert Axe().run(page).violations_count == 0


def test_a_number_that_the_case_file_refuses_is_told_at_its_field(client, token, kept_case):
    fields = {"at": "2026-11-21T07:00", "sign": "none", "unit.0.instilled": "200000"}
    answer = client.post(
        f"{kept_case}/shift", files={k: (None, v) for k, v in fields.items()} | {"token": (None, token)}
    )
    assert answer.status_code == 422
    assert 'aria-invalid="true" aria-describedby="unit.0.instilled.wrong"' in answer.text
    assert answer.text.count("aria-invalid") == 1


def test_who_wrote_stands_with_each_entry_of_a_look(client, token, kept_case):
    fields = {"at": "2026-11-21T07:00", "sign": "none", "by_role": "night nurse"}
    fields |= {"unit.0.instilled": "240", "unit.0.canister": "430", "unit.0.colour": "clear"}
    client.post(f"{kept_case}/shift", files={k: (None, v) for k, v in fields.items()} | {"token": (None, token)})
    assert client.get(f"{kept_case}/case.toml").text.count('by_role = "night nurse"') == 2
    assert "clear, by night nurse" in client.get(f"{kept_case}/shift").text


def test_what_was_typed_outlives_a_reload_and_a_lost_connection_and_is_gone_once_saved(new_context, kept_case):
    context = new_context()
    page = context.new_page()
    page.goto(f"{kept_case}/shift")
    page.locator('[name="unit.0.canister"]').fill("430")
    page.get_by_label("none of these").check()
    page.reload()
    expect(page.locator("#draft")).to_be_visible()
    expect(page.locator('[name="unit.0.canister"]')).to_have_value("430")
    page.locator('[name="unit.0.colour"]').fill("clear")
    context.set_offline(True)
    page.get_by_role("button", name="Save").click()
    context.set_offline(False)
    page.goto(f"{kept_case}/shift")
    expect(page.locator('[name="unit.0.colour"]')).to_have_value("clear")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#saved")).to_be_visible(timeout=WAIT_MS)
    expect(page.locator('[name="unit.0.canister"]')).to_have_value("")
    assert file_of(page, kept_case).count("ml = 430") == 1
    page.locator('[name="says"]').fill("the next look")
    page.reload()
    expect(page.locator('[name="says"]')).to_have_value("the next look")


def test_what_a_quick_hand_types_before_the_page_is_ready_is_kept(page, kept_case):
    page.route("**/static/shift.js", lambda route: (page.wait_for_timeout(1500), route.continue_()))
    page.goto(f"{kept_case}/shift", wait_until="commit")
    page.locator('[name="says"]').fill("typed at once")
    page.wait_for_load_state()
    page.unroute("**/static/shift.js")
    page.reload()
    expect(page.locator('[name="says"]')).to_have_value("typed at once")


def test_the_same_look_sent_twice_is_written_once_also_behind_somebody_elses(client, token, kept_case):
    def sent(canister):
        fields = {"at": "2026-11-21T07:00", "sign": "none", "unit.0.canister": canister, "unit.0.colour": "clear"}
        files = {key: (None, value) for key, value in fields.items()} | {"token": (None, token)}
        return client.post(f"{kept_case}/shift", files=files)

    assert [sent("430").status_code, sent("450").status_code, sent("430").status_code] == [303, 303, 303]
    text = client.get(f"{kept_case}/case.toml").text
    assert (text.count("ml = 430"), text.count("ml = 450")) == (1, 1)


def test_an_entry_is_corrected_with_a_reason_and_the_log_says_what_it_was(page, client, token, kept_case):
    page.set_default_timeout(WAIT_MS)
    fields = {"at": "2026-11-21T07:00", "sign": "none", "unit.0.canister": "430", "unit.0.colour": "clear"}
    files = {key: (None, value) for key, value in fields.items()} | {"token": (None, token)}
    client.post(f"{kept_case}/shift", files=files)
    page.goto(f"{kept_case}/shift")
    page.locator("details.entry summary").first.click()
    page.get_by_label("mL", exact=True).fill("340")
    page.get_by_label("Why it was wrong").fill("misread")
    page.get_by_role("button", name="Correct this entry").click()
    expect(page.locator("#saved")).to_be_visible()
    text = file_of(page, kept_case)
    assert "ml = 340" in text
    assert "corrects canister of 2026-11-21 07:00, which was ml 430: misread" in text
    assert client.post(f"{kept_case}/shift/99", files=files).status_code == 404


def test_a_refused_correction_stands_as_it_was_typed(client, token, kept_case):
    fields = {"at": "2026-11-21T07:00", "sign": "none", "unit.0.canister": "430", "unit.0.colour": "clear"}
    client.post(f"{kept_case}/shift", files={k: (None, v) for k, v in fields.items()} | {"token": (None, token)})
    typed = {"at": "2026-11-21T07:05", "ml": "341", "colour": "pink", "why": ""}
    sent = {k: (None, v) for k, v in typed.items()} | {"token": (None, token)}
    answer = client.post(f"{kept_case}/shift/0", files=sent)
    assert answer.status_code == 422
    assert "a correction has a reason" in answer.text
    assert 'value="341"' in answer.text
    assert answer.text.count('value="2026-11-21T07:05"') == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(390, 844), (820, 1180), (1366, 900)])
def test_the_page_can_be_used_by_everybody(new_context, kept_case, scheme, width, height):
    context = new_context(viewport={"width": width, "height": height}, color_scheme=scheme, has_touch=True)
    page = context.new_page()
    page.goto(f"{kept_case}/shift", timeout=WAIT_MS)
    page.get_by_label("none of these").tap()
    results = Axe().run(page)
    wide = page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert results.violations_count == 0, results.generate_report()
    assert wide
