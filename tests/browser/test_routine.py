"""From where you are now: the page's own script plans as the prover does, and shows the rest."""

from __future__ import annotations

import random
import time

import pytest
from playwright.sync_api import Browser, expect

from generator.fit.fit import fit_unit
from generator.problems import Problems
from generator.prove.planner import find_plan, is_met
from generator.prove.prove import prove_guide
from generator.read.sources import Sources

pytestmark = pytest.mark.slow

PLAN = """([ticked, index]) => {
  const data = JSON.parse(document.querySelectorAll("script.routine")[index].textContent);
  const steps = window.lockerleafPlan(data, new Set(ticked));
  return steps && steps.map((step) => step.name);
}"""


def test_script_plans_exactly_where_the_prover_does(site, chromium: Browser, demo: Sources) -> None:
    """Every routine of every demo unit, with random tasks ticked, is planned by both or neither.

    What the script plans is then done on the prover's model: each need is met when it is due.
    """
    draw = random.Random(7)
    tried = 0
    page = chromium.new_page()
    for name, unit in sorted(demo.stock.units.items()):
        guide = fit_unit(demo.library, unit, demo.stock.dealer, demo.register)
        proof = prove_guide(guide, demo.library, Problems())
        for planned in proof.routines:
            page.goto(f"{site.origin}/{guide.code}/routine/{planned.routine.name}.html")
            shown = [plan for plan in planned.plans if plan.steps]
            for index, plan in enumerate(shown):
                actions = {a.name: a for a in proof.model.actions}
                actions |= {step.name: step for step in (*plan.steps, *plan.ending)}
                steps = [step.name for step in plan.steps]
                for _ in range(4):
                    ticked = [step for step in steps if draw.random() < 0.4]
                    state = dict(proof.model.situations[plan.situation])
                    for step in steps:
                        if step in ticked:
                            state.update(actions[step].sets)
                    ours = page.evaluate(PLAN, [ticked, index])
                    theirs = find_plan(proof.model, state, plan.goal)
                    assert (ours is None) == (theirs is None), (name, planned.routine.name, ticked)
                    if ours is None:
                        continue
                    for step in ours:
                        assert actions[step].applies(state), (name, planned.routine.name, step)
                        state.update(actions[step].sets)
                    if not plan.ending:
                        assert is_met(state, plan.goal)
                    tried += 1
    page.close()
    assert tried > 100


def test_ticking_drops_and_reorders_the_rest(site, chromium: Browser, demo: Sources) -> None:
    """A tick moves what is done to the top and says how many tasks are left from there."""
    code = demo.register.code_for("lt-2107", "unit", "")
    page = chromium.new_page()
    page.goto(f"{site.origin}/{code}/routine/leave.html")
    items = page.locator(".plan > ol > li")
    before = items.all_inner_texts()
    page.get_by_role("button", name="Done: 6", exact=True).click()
    expect(page.locator("[role=status]").first).not_to_be_empty()
    after = items.all_inner_texts()
    assert after[0] == before[5]
    assert sorted(after) == sorted(before)
    left = page.locator("[role=status]").first.inner_text()
    assert str(len(before) - 1) in left
    page.reload()
    expect(page.locator("[role=status]").first).not_to_be_empty()
    assert items.all_inner_texts()[0] == before[5]
    page.close()


def test_reader_chooses_a_way(site, chromium: Browser, demo: Sources) -> None:
    """The season suggests a way, a chosen one is remembered; without script all are there."""
    code = demo.register.code_for("lt-2107", "unit", "")
    address = f"{site.origin}/{code}/routine/arrive.html"
    page = chromium.new_page()
    page.clock.set_fixed_time("2026-07-01T12:00:00")
    page.goto(address)
    shown = page.locator("h2:visible")
    expect(page.locator(".ways [aria-current]").first).to_be_attached()
    assert [text.endswith("On mains.") for text in shown.all_inner_texts()] == [True]
    page.clock.set_fixed_time("2026-12-01T12:00:00")
    page.reload()
    assert [text.endswith("On mains, in the cold.") for text in shown.all_inner_texts()] == [True]
    page.get_by_role("link", name="On gas", exact=True).click()
    assert [text.endswith("On gas.") for text in shown.all_inner_texts()] == [True]
    steps = page.locator(".plan li:visible").all_inner_texts()
    assert any("Heat the water on gas" in step for step in steps)
    assert not any("Heat the water on mains" in step for step in steps)
    assert page.locator(".clear").is_visible()
    page.reload()
    expect(page.locator(".ways [aria-current]").first).to_be_attached()
    assert [text.endswith("On gas.") for text in shown.all_inner_texts()] == [True]
    page.close()
    plain = chromium.new_context(java_script_enabled=False).new_page()
    plain.goto(address)
    assert plain.locator("h2:visible").count() == 4
    assert plain.locator(".ways a").count() == 4
    plain.context.close()


def test_choosing_a_way_shifts_nothing(site, chromium: Browser, demo: Sources) -> None:
    """What the reader looks at stays where it is when the script shows another way."""
    code = demo.register.code_for("lt-2107", "unit", "")
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.clock.set_fixed_time("2026-12-01T12:00:00")
    page.route("**/routine.*.js", lambda route: (time.sleep(0.5), route.continue_())[1])
    page.goto(f"{site.origin}/{code}/routine/arrive.html")
    expect(page.locator(".ways [aria-current]").first).to_be_attached()
    page.wait_for_timeout(300)
    moved = page.evaluate(
        """() => new Promise((done) => {
          let sum = 0;
          new PerformanceObserver((list) => {
            for (const entry of list.getEntries()) sum += entry.value;
          }).observe({type: "layout-shift", buffered: true});
          setTimeout(() => done(sum), 300);
        })"""
    )
    assert moved < 0.02
    page.close()


def test_a_way_that_a_link_leads_to_is_there_before_the_script(
    site, chromium: Browser, demo: Sources
) -> None:
    """A style hides the other ways while the script is on its way, or if it never comes."""
    code = demo.register.code_for("lt-2107", "unit", "")
    page = chromium.new_page()
    page.route("**/routine.*.js", lambda route: route.abort())
    page.goto(f"{site.origin}/{code}/routine/arrive.html")
    shown = page.locator("h2:visible")
    assert shown.count() == 1
    page.get_by_role("link", name="On gas", exact=True).click()
    assert any(text.endswith("On gas.") for text in shown.all_inner_texts())
    page.close()
