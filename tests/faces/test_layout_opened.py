"""A layout that a search found, opened in the workspace, moved, taken over: a real search, server and browser."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

SMALL = [
    ("length_cm = 6", "length_cm = 4"),
    ("width_cm = 6", "width_cm = 4"),
    ("from = 12\nto = 6\nreach_cm = 4", "from = 2\nto = 4\nreach_cm = 3"),
    ('allowed = ["supine", "left 30", "right 30"]', 'allowed = ["supine", "left 30"]'),
    ("fill_ml = 60\nordered_fill_ml = 60", "fill_ml = 12\nordered_fill_ml = 12"),
    ("dwell_min = 8", "dwell_min = 1"),
    ("from_edge_cm = 3\n", "from_edge_cm = 2\n"),
    ("none_found = [7, 8, 9, 10, 11]", "none_found = [7, 8, 9, 10, 11, 12]"),
]


@pytest.fixture
def searched(client, token, case_text):
    """The address of a small case whose layouts have been searched, and those layouts."""
    for before, after in SMALL:
        assert before in case_text
        case_text = case_text.replace(before, after)
    sent = {"token": (None, token)}
    case = client.post("/cases", files=sent | {"text": (None, case_text)}).headers["location"]
    # Answers are kept by text: the first of these tests has searched for the others.
    if "Table of layouts" not in client.get(f"{case}/layouts").text:
        client.post(f"{case}/layouts", files=sent)
    return case


@pytest.fixture
def found(page, searched, client):
    page.goto(f"{searched}/layouts")
    expect(page.get_by_role("region", name="Table of layouts", exact=True)).to_be_visible(timeout=120_000)
    return page, searched, client.get(f"{searched}/plan.json").json()["layouts"]


def test_a_found_layout_is_opened_as_a_draft_and_taken_over_and_the_plan_keeps_its_promise(found, client):
    page, case, layouts = found
    layout = next(one for one in layouts if one["kind"] != "in the file" and one["units_needed"] == 1)
    page.get_by_text(re.compile(rf"^{layout['letter']}: ")).first.click()
    page.get_by_role("link", name=f"Open layout {layout['letter']} in the workspace").first.click()
    expect(page.locator("#opened")).to_contain_text("Nothing is saved until you take it over")
    expect(page.locator("#status")).to_contain_text("12 mL through I1")
    promised = layout["ports"][0]
    assert float(page.get_by_label("Hour of port I1").input_value()) == promised["clock"]
    expect(page.locator("#ports .zone").first).to_have_text(f"{promised['zone']}; tube {promised['tube']}")
    assert client.get(f"{case}/case.toml").text.count("[[port]]") == 1
    assert page.url.endswith("/try")
    assert not Axe().run(page).response["violations"]
    page.get_by_role("button", name="Take over into the case file").click()
    page.wait_for_url(re.compile(r"/cases/\d+$"))
    reach = client.get(f"{case}/plan.json").json()["reach"]
    spread = {row["posture"]: (row["floor"], row["roof"]) for row in reach if row["model"] == "spread"}
    assert spread == {one["posture"]: (one["floor"], one["roof"]) for one in layout["reach"]}

    # The search answered a version that is no longer: its letters are not known in the new one, and that is said.
    page.goto(f"{case}/try?layout={layout['letter']}")
    expect(page.locator("#opened")).to_contain_text("is not known")


def test_undo_brings_back_what_stood_in_the_workspace_before_a_layout_was_opened(found):
    page, case, layouts = found
    layout = next(one for one in layouts if one["kind"] == "at the opening")
    page.goto(f"{case}/try?layout={layout['letter']}")
    assert float(page.get_by_label("Distance of port I1").input_value()) != 2.0
    page.reload()
    assert float(page.get_by_label("Distance of port I1").input_value()) != 2.0
    page.goto(f"{case}/try?layout={layout['letter']}")
    page.get_by_role("button", name="Ports of the case file").click()
    page.goto(f"{case}/try?layout={layout['letter']}")
    page.get_by_role("button", name="Undo").click()
    assert float(page.get_by_label("Distance of port I1").input_value()) == 2.0


def test_two_found_layouts_stand_side_by_side(found):
    page, _, layouts = found
    one, other = layouts[0]["letter"], layouts[-1]["letter"]
    page.locator("select[name=one]").select_option(one)
    page.locator("select[name=other]").select_option(other)
    page.get_by_role("button", name="Compare").click()
    section = page.get_by_role("region", name="Side by side")
    assert [words.split(":")[0] for words in section.locator("h3").all_inner_texts()] == [one, other]
    expect(section.locator("figure svg")).to_have_count(2)
    assert not Axe().run(page).response["violations"]
    page.goto(re.sub(r"one=\w+", "one=zz", page.url))
    expect(page.get_by_role("region", name="Side by side")).to_have_count(0)
