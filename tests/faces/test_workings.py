"""Every figure that a page shows opens its working: the formula with its numbers, and sources that are known."""

import re

import pytest
from playwright.sync_api import expect

from soakline.casefile.read import read_case
from soakline.fluid.reach import shares_of
from soakline.settings import Settings
from soakline.sources import SOURCES
from soakline.units import show_number
from soakline.workflows.liquid_in_words import tell_fills
from soakline.workflows.plan import plan_text
from soakline.workflows.workings import work_reach, work_size

# Each figure on a page: a number with its unit, in text that is shown or folded, outside pictures and workings. What
# people typed (an order, a log entry, the text of a source) stands where `data-typed` says so and is not worked out.
FIGURES = r"""() => {
    const figure = /\d\s*(mL|cm²|cm|%|mg|min|mmHg|h|s)(?![a-z])/;
    const left_out = "svg, script, template, textarea, label, legend, option, caption, .sums, [data-typed], noscript";
    const walker = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
    const found = [];
    while (walker.nextNode()) {
        const text = walker.currentNode;
        if (!figure.test(text.textContent) || text.parentElement.closest(left_out)) continue;
        const named = text.parentElement.closest("[data-working]");
        found.push([text.textContent.trim(), named ? named.dataset.working.trim().split(/\s+/) : []]);
    }
    return found;
}"""
WORKINGS = """() => Object.fromEntries([...document.querySelectorAll("details.sums")].map((one) => [one.id, [
    [...one.querySelectorAll("li")].map((line) => line.textContent),
    [...one.querySelectorAll("a")].map((link) => link.getAttribute("href")),
]]))"""
# One with two units, several fillings, doses and a store, one with its sizes over time, one with a log and a balance.
PAGES = [
    *(f"/cases/11{part}" for part in ("", "/try", "/measure", "/change", "/shift", "/day")),
    "/cases/1/history",
    *(f"/cases/7{part}" for part in ("", "/shift")),
    *(f"/cases/{number}" for number in (2, 3, 4, 5, 8, 9, 10)),
]


def not_opening(page) -> list[str]:
    """Give each figure of a page whose working is not there, is empty, says no formula, or names no known source."""
    found, workings = page.evaluate(FIGURES), page.evaluate(WORKINGS)
    assert len(workings) == page.locator("details.sums").count(), "each working has a name of its own"
    return [text for text, names in found if not names or not all(is_whole(workings.get(name)) for name in names)]


def is_whole(working) -> bool:
    if working is None:
        return False
    lines, links = working
    keys = [link.removeprefix("/about#") for link in links]
    return any("=" in line or "÷" in line for line in lines) and bool(keys) and all(key in SOURCES for key in keys)


@pytest.mark.parametrize("path", PAGES)
def test_each_figure_opens_its_working(page, path):
    page.set_default_timeout(60_000)
    page.goto(path)
    if path.endswith("/try"):
        expect(page.locator("#reach td").first).to_have_text(re.compile("%"), timeout=20_000)
    assert page.evaluate(FIGURES), "no figure found"
    assert not_opening(page) == []


def test_each_figure_of_a_search_opens_its_working(page, client, token, case_text):
    page.set_default_timeout(120_000)
    # What a search finds is kept by the text of the case: this one is its own.
    text = case_text.replace("Demo abdomen", "Demo abdomen searched for its figures")
    kept = client.post("/cases", files={"token": (None, token), "text": (None, text)})
    page.goto(f"{kept.headers['location']}/layouts")
    page.get_by_role("button", name="Search layouts").click()
    expect(page.get_by_role("region", name="Table of layouts")).to_be_visible(timeout=120_000)
    page.get_by_role("button", name="Compare").click()
    expect(page.get_by_role("region", name="Side by side", exact=True)).to_be_visible()
    assert len(page.evaluate(FIGURES)) > 20
    assert not_opening(page) == []


def test_a_figure_without_its_working_is_found(page):
    page.goto("/cases/2")
    page.evaluate("document.querySelector('#size').insertAdjacentHTML('afterend', '<p>about 999 mL</p>')")
    page.evaluate("document.querySelector('#work-dose, #work-unit-1').remove()")
    missed = not_opening(page)
    assert "about 999 mL" in missed
    assert len(missed) > 1
    page.evaluate("document.querySelector('#work-size a').setAttribute('href', '/about#hearsay.of_old')")
    assert len(not_opening(page)) > len(missed)


def test_the_source_of_a_working_is_one_step_away(page):
    page.goto("/cases/2")
    size = page.get_by_role("region", name="The hidden size")
    size.get_by_text("The same by hand").click()
    size.locator("#work-size").get_by_role("link", name="measuring.ellipse").click()
    expect(page.locator('[id="measuring.ellipse"]')).to_be_in_viewport()


def test_what_stands_in_a_working_is_what_the_plan_says(case_text):
    plan = plan_text(case_text, Settings.from_environment({"SOAKLINE_DRAWS": "16"}))
    case = read_case(case_text).case
    size = work_size(plan.wound, case.assumptions).lines
    assert (
        f"void: well + pockets + tunnels at the likely measures = {show_number(plan.wound.void_ml.likely)} mL" in size
    )
    for fill in tell_fills(plan.reach, plan.validity):
        told = work_reach(plan, fill.rows, case.assumptions).lines
        for row in fill.rows:
            found = plan.picture.maps[plan.reach.index(row)]
            floor, _ = shares_of(plan.picture.cavities[row.model], found)
            assert floor == row.floor
            word = "once settled" if row.model == "settled" else "as it spreads in time"
            (line,) = [line for line in told if line.startswith(f"{row.posture}, {word}: ")]
            part, whole, percent = re.search(r"floor soaked ([\d.]+) ÷ ([\d.]+) cm² = ([\d.]+) %", line).groups()
            assert float(percent) == pytest.approx(100 * row.floor.soaked, abs=0.051)
            assert 100 * float(part) / float(whole) == pytest.approx(float(percent), abs=0.15)
            assert float(whole) == pytest.approx(plan.wound.bed_cm2, rel=0.01)
