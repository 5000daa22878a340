"""The rules of an engine's packs, met one after another: each is held while the next is worked, with its proof."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from valvetrain.geometry.pack_program import PROVED_IMPOSSIBLE, Answer, PackProgram, Rules
from valvetrain.geometry.program_rows import Row
from valvetrain.geometry.shared_drawer import Floats


@dataclass(frozen=True)
class Stage:
    """One rule of the choice, and the proof that it was met.

    Args:
        rule: "worst", "stands out", "sum", "pieces", "leaner" or "sum again" [-].
        value: What was reached: whole steps of the finest difference [in], or a count.
        bound: What cannot be beaten [in, or a count].
        gap: Distance of the two as part of the value, as the solver has it [-]; zero: proved.
        status: The solver's status [-]; 0: optimal.
        nodes: Branches that the solver looked at [-].
    """

    rule: str
    value: float
    bound: float
    gap: float
    status: int
    nodes: int


class PackSearch:
    """The best packs so far, the rules that they keep to, and the proof of each.

    Args:
        program: The program that is asked [in].
    """

    def __init__(self, program: PackProgram) -> None:
        self.program = program
        self.best = program.least_packs()
        self.rules = Rules()
        self.stages: list[Stage] = []

    def run(self, slack: float) -> None:
        """Meet every rule, each held while the next is worked.

        Args:
            slack: How much worse than the least wrong a pack of fewer shims may be [in].
        Returns:
            Nothing: `best` and `stages` hold what was reached.
        """
        self._hold_the_worst()
        reached = self.program.steps_of(self.best.worsts) * self.program.finest
        if (reached > self.program.limits + self.program.rounding).any():
            # The last step may hold stands on both sides of the limit, so this is kept to from here on.
            self.rules = replace(self.rules, out=len(self.program.blocks))
            self._settle("stands out", self.program.stands_out(), self._stands_out, bound=self._hopeless())
            self.rules = replace(self.rules, out=self._stands_out(self.best))
        self._settle_sum("sum")
        self.rules = replace(self.rules, sum=self._sum(self.best))
        self._settle("pieces", self.program.pieces(), self._pieces)
        if slack > 0.0:
            self.rules = Rules(highest=self._loosened(slack))
            self._settle("leaner", self.program.pieces(), self._pieces)
            self.rules = replace(self.rules, pieces=self._pieces(self.best))
            self._settle_sum("sum again")

    # The first rule

    def _hold_the_worst(self) -> None:
        """Close in on the least worst, in whole steps: each question gives better packs or a bound."""
        program = self.program
        asked = least = int(program.alone.max())
        most, nodes, status = self._worst(self.best), 0, 0
        while least < most and status == 0:
            answer = program.ask(program.no_cost(), Rules(steps=asked))
            if answer is not None:
                self.best, most = answer, min(most - 1, self._worst(answer))
                nodes += answer.nodes
            elif program.status == PROVED_IMPOSSIBLE:
                least = asked + 1
            else:
                status = program.status
            asked = (least + most) // 2
        finest = program.finest
        gap = 0.0 if status == 0 else (most - least) / most
        self.stages.append(Stage("worst", most * finest, least * finest, gap, status, nodes))
        self.rules = Rules(steps=most)

    # The other rules

    def _settle(
        self, rule: str, cost: Row, measure: Callable[[Answer], int], *, bound: int = 0, unit: float = 1.0
    ) -> None:
        """Ask for less of something, unless what there is is as little as there can be."""
        value = measure(self.best)
        if value <= bound:
            self.stages.append(Stage(rule, value * unit, value * unit, 0.0, 0, 0))
            return
        answer = self.program.ask(cost, self.rules)
        if answer is None:
            # What there is keeps to the rules, so there is an answer: the time was too short to find it.
            self.stages.append(Stage(rule, value * unit, bound * unit, 1.0, self.program.status, 0))
            return
        if measure(answer) <= value:
            self.best = answer
        reached = measure(self.best) * unit
        self.stages.append(Stage(rule, reached, answer.bound * unit, answer.gap, answer.status, answer.nodes))

    def _settle_sum(self, rule: str) -> None:
        program = self.program
        bound = int(program.alone.sum())
        self._settle(rule, program.sum_of_worsts(), self._sum, bound=bound, unit=program.finest)

    def _worst(self, answer: Answer) -> int:
        return int(self.program.steps_of(answer.worsts).max())

    def _sum(self, answer: Answer) -> int:
        return int(self.program.steps_of(answer.worsts).sum())

    def _pieces(self, answer: Answer) -> int:
        return int(self.program.taken(answer.counts).sum())

    def _stands_out(self, answer: Answer) -> int:
        return int((answer.worsts > self.program.limits + self.program.rounding).sum())

    def _hopeless(self) -> int:
        furthest = self.program.limits + 2 * self.program.rounding
        return int((np.array([block.alone for block in self.program.blocks]) > furthest).sum())

    def _loosened(self, slack: float) -> Floats:
        """Each stand's worst and the slack, but never out of the limit for that."""
        worsts, limit = self.best.worsts, self.program.limits
        inside = worsts <= limit + self.program.rounding
        loose: Floats = np.where(
            inside, np.minimum(worsts + slack, np.maximum(worsts, limit)), worsts + slack
        )
        return loose
