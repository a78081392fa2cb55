"""No sequence of entries ends "matched" with a piece unaccounted for; a refused entry leaves the ledger as it was."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    initialize,
    invariant,
    multiple,
    rule,
    run_state_machine_as_test,
)

from soakline.errors import InputRefused
from soakline.guard import foam
from soakline.guard.foam import Counted, Entry, enter, reconcile

START = datetime(2026, 11, 20, 13)
ROLES = st.sampled_from(["surgeon", "wound nurse"])


class Ward(RuleBasedStateMachine):
    """A wound with its pieces as they really lie, beside a ledger that is entered well or badly.

    ``lying`` holds, for each piece ever placed, how many parts of it are really inside. What the ward does is entered
    truly, wrongly or not at all; the ledger may not say "matched" while a part lies inside that it does not name.
    """

    placed = Bundle("placed")

    @initialize(target=placed)
    def begin(self):
        self.now = START
        self.ledger = ()
        self.lying = {}
        self.left = set()
        return multiple(self._place("surgeon"), self._place("surgeon"))

    def _place(self, role):
        name = f"A{len(self.lying) + 1}"
        if self._enter("placed", name, role):
            self.lying[name] = 1
        return name

    def _enter(self, event, name, role="wound nurse", says="left pocket"):
        self.now += timedelta(minutes=5)
        before = self.ledger
        try:
            self.ledger = enter(self.ledger, Entry(event, name, self.now, role, says=says))
        except InputRefused:
            assert self.ledger is before
            return False
        return True

    @rule(target=placed, role=ROLES)
    def place(self, role):
        return self._place(role)

    @rule(name=placed)
    def place_again(self, name):
        if name in self.lying:
            assert not self._enter("placed", name)

    @rule(name=placed)
    def take_out_whole(self, name):
        if self.lying.get(name) == 1 and self._enter("out whole", name):
            self.lying[name] = 0

    @rule(name=placed, left_behind=st.integers(0, 1))
    def take_out_torn(self, name, left_behind):
        if self.lying.get(name) == 1 and self._enter("out torn", name):
            self.lying[name] = left_behind

    @rule(name=placed)
    def explore_and_lay_the_parts_together(self, name):
        if name in self.lying and self._enter("matched", name):
            self.lying[name] = 0

    @rule(name=placed)
    def look_and_not_find(self, name):
        if self.lying.get(name) and self._enter("not found", name):
            assert reconcile(self.ledger).state == "unresolved"

    @rule(name=placed)
    def see_it_tear(self, name):
        self._enter("torn", name)

    @rule(name=placed)
    def trim(self, name):
        self._enter("trimmed", name, says="2 cm off the outer end")

    @rule(name=placed, reason=st.sampled_from(["", "contact layer stays by order"]))
    def leave_it_in(self, name, reason):
        if self._enter("left in", name, says=reason):
            assert reason
            self.left.add(name)

    @rule(event=st.sampled_from(["out whole", "matched", "trimmed", "torn", "not found", "left in"]))
    def enter_a_name_that_was_never_placed(self, event):
        assert not self._enter(event, "Z9")

    @rule(name=placed)
    def enter_without_a_role(self, name):
        assert not self._enter("placed", name, role=" ")

    @rule(days=st.integers(1, 4))
    def let_days_pass(self, days):
        self.now += timedelta(days=days)

    @invariant()
    def every_piece_ever_placed_stays_in_the_ledger_under_its_own_name(self):
        names = [piece.name for piece in self.ledger]
        assert sorted(names) == sorted(self.lying)

    @invariant()
    def matched_means_that_each_part_inside_is_a_whole_piece_named_as_inside(self):
        found = reconcile(self.ledger)
        really = {name for name, parts in self.lying.items() if parts}
        if found.state == "matched":
            assert really == {piece.name for piece in found.inside}

    @invariant()
    def matched_means_that_a_piece_inside_came_after_each_that_is_out_or_was_left_in(self):
        found = reconcile(self.ledger)
        if found.state != "matched":
            return
        outs = [piece for piece in self.ledger if piece.state != "in"]
        for piece in found.inside:
            later = [out for out in outs if not piece.placed_at > out.out_at]
            assert not later or (piece.name in self.left and piece.left_reason)

    @invariant()
    def a_higher_count_on_label_or_note_is_never_matched(self):
        named_count = len(self.ledger)
        assert reconcile(self.ledger, Counted(label_count=named_count + 1)).state == "unresolved"

    @invariant()
    def a_time_that_was_not_written_never_makes_it_matched(self):
        without = [replace(piece, out_at=None) for piece in self.ledger]
        if reconcile(without).state == "matched":
            assert reconcile(self.ledger).state == "matched"


HOW = settings(max_examples=60, stateful_step_count=25)
Ward.TestCase.settings = HOW
TestWard = Ward.TestCase


@pytest.mark.parametrize("forgotten", ["_should_be_out", "_was_left_in", "_is_unmatched"])
def test_a_planted_ledger_that_forgets_a_rule_is_caught(monkeypatch, forgotten):
    wrong = {"_should_be_out": False, "_was_left_in": True, "_is_unmatched": False}[forgotten]
    monkeypatch.setattr(foam, forgotten, lambda *_: wrong)
    with pytest.raises(AssertionError):
        run_state_machine_as_test(
            Ward, settings=settings(HOW, max_examples=300, database=None, report_multiple_bugs=False)
        )
