"""Trouble on page and terminal: one question at a time, by keyboard or numbers, back and forth."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect


def test_the_page_is_walked_by_keyboard_to_an_end_and_back(page, kept_case):
    page.goto(f"{kept_case}/trouble")
    expect(page.locator("#now")).to_contain_text("bright red blood")
    for reply in ("No, none of these", "Canister full", "Yes"):
        page.get_by_role("link", name=reply, exact=True).focus()
        page.keyboard.press("Enter")
    expect(page.locator("#now")).to_contain_text("no suction until it is changed")
    expect(page.get_by_text("Call:")).to_be_visible()
    assert page.locator("ol li").count() == 3
    page.get_by_role("link", name="One question back").click()
    expect(page.locator("#now")).to_contain_text("Is the canister full by its mark?")
    expect(page.get_by_text("By this case: unit A: foretold full")).to_be_visible()
    page.go_back()
    expect(page.locator("#now")).to_contain_text("no suction until it is changed")


@pytest.mark.parametrize("replies", ["9", "0.0", "x", "1.", "1.2.3.4.5.6.7.8.9", "-1"])
def test_a_way_that_is_none_is_not_found(client, kept_case, replies):
    assert client.get(f"{kept_case}/trouble", params={"replies": replies}).status_code == 404


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("replies", ["", "1", "1.4.0.2"])
def test_the_page_can_be_used_by_everybody(new_context, kept_case, scheme, replies):
    context = new_context(viewport={"width": 390, "height": 844}, color_scheme=scheme)
    page = context.new_page()
    page.goto(f"{kept_case}/trouble?replies={replies}")
    results = Axe().run(page)
    wide = page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert results.violations_count == 0, results.generate_report()
    assert wide


def test_the_terminal_asks_by_numbers_and_ends(soakline, case_file):
    asked = soakline("trouble", case_file, input="2\n9\n3\n1\n")
    assert asked.returncode == 0
    assert "9: allowed is a number from 1 to 7" in asked.stdout
    assert "no suction until it is changed" in asked.stdout
    given = soakline("trouble", case_file, "--replies", "1")
    assert "Stop before any sum" in given.stdout


@pytest.mark.parametrize("replies", ["8", "2.9", "0", "two", "1.1"])
def test_numbers_that_are_no_replies_are_refused(soakline, case_file, replies):
    refused = soakline("trouble", case_file, "--replies", replies)
    assert refused.returncode == 2
    assert "--replies" in refused.stderr
