"""Parts assigned to strips: patterns chosen by constraint programming, then every part placed by it exactly.

A clear stretch is a knapsack: what lies on it is a count of each item. On a stretch with marks or loose
leather every part has a place of its own, and none may overlap.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import groupby
from time import monotonic
from typing import TYPE_CHECKING, Any, Final

from strapwright.core.errors import NestError
from strapwright.nesting.strips.bound import dive, relax
from strapwright.nesting.strips.problem import TICKS, build_problem, why_none
from strapwright.nesting.strips.types import AIMS, CutStrip, OnStrip, StripPlan, StripRules, lies
from strapwright.nesting.strips.verify import verify_strips

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from strapwright.nesting.strips.bound import Pattern
    from strapwright.nesting.strips.problem import Starts, Stretch, StripKind, StripProblem
    from strapwright.nesting.strips.types import Strip, StripAim
    from strapwright.parts.part import Part

_FIRST: Final = 0.15
"""Share of the time in which patterns are made, and twice again in which they are chosen from."""

_WORK_A_STEP: Final = 0.05
"""Of the solver's own measure of work, for each step of a search that goes by steps."""

Lying = tuple[int, int, bool]
"""The number of an item, where on its stretch it begins, ticks, and whether it is turned."""

Places = dict[tuple[int, int], list[Lying]]
"""What lies on each stretch of each strip, by the numbers of both, from its start on."""


def nest_strips(
    parts: Sequence[Part],
    strips: Sequence[Strip],
    rules: StripRules | None = None,
    *,
    aim: StripAim = "fewest",
    time_limit: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    progress: Callable[[str], None] = lambda _: None,
) -> StripPlan:
    """Assign parts to strips; of those that do not all fit, as much leather as possible is placed.

    Args:
        parts: the parts.
        strips: the strips.
        rules: what is kept free; None takes the usual.
        aim: what costs.
        time_limit: seconds it may take at most; it ends sooner where the assignment is proven the best.
        steps: of the search instead; with a number the result is the same on every machine.
        seed: of the random choices.
        progress: called now and then with how far it is, in words.

    Raises:
        NestError: two parts of one id, or no strip at all.

    Example:
        >>> from strapwright.geometry.contour import Contour
        >>> from strapwright.nesting.strips.types import Strip
        >>> from strapwright.parts.part import Part, PartKind
        >>> from strapwright.rules.leather import Tannage
        >>> def strap(name, long):
        ...     outline = Contour.from_points([(0, -19), (long, -19), (long, 19), (0, 19)])
        ...     return Part(f"{name}/strap", name, PartKind.STRAP, outline, (), 3.6, Tannage.VEGETABLE)
        >>> made = nest_strips([strap("ines", 1100), strap("odd", 900)], [Strip("a", 38, 2050, quantity=2)])
        >>> [(one.name, [lying.part.belt_id for lying in one.parts]) for one in made.cut], made.gap
        ([('a #1', ['ines', 'odd'])], 0.0)
    """
    rules = rules or StripRules()
    if not strips:
        raise NestError("no strips: found none, expected one or more")
    if len({part.id for part in parts}) < len(parts):
        raise NestError("two parts have one id; give each belt an id of its own")
    problem = build_problem(parts, strips, rules, aim)
    until, counted = monotonic() + time_limit, steps is not None
    seconds = time_limit if steps is None else steps * _WORK_A_STEP
    progress("making patterns")
    relaxed = relax(problem, _FIRST * seconds, counted=counted)
    search = _Search(problem, relaxed.bound, seed, counted=counted, progress=progress)
    for other in dict.fromkeys((aim, *AIMS)):  # another aim's prices may lead to a better plan for this one
        like = problem if other == aim else build_problem(parts, strips, rules, other)
        search.dive(like, _FIRST * seconds / len(AIMS))
    search.choose(relaxed.patterns, _FIRST * seconds)
    for whole in (True, False):
        left = seconds * (1 - 3 * _FIRST) / 2 if counted else until - monotonic()
        if not search.done and (whole or not search.whole):
            search.place(left / 2 if whole and not search.whole else left, whole=whole)
    plan = _plan(problem, search, strips, rules, aim, seed)
    verify_strips(plan, parts)
    return plan


@dataclass
class _Search:
    """The best assignment so far and what is proven.

    Args:
        problem: the problem.
        bound: what any assignment costs at least, parts left out included.
        seed: of the random choices.
        counted: whether the solver's own work is counted instead of time.
        progress: called with how far it is.
    """

    problem: StripProblem
    bound: int
    seed: int
    counted: bool
    progress: Callable[[str], None]
    cost: int = field(init=False)
    places: Places = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Begin with what fits one after another."""
        self.instances = [
            number for number, kind in enumerate(self.problem.kinds) for _ in range(kind.strip.quantity)
        ]
        self.places = self._laid([])
        self.cost = self._cost(self.places)

    @property
    def done(self) -> bool:
        """Whether nothing can be better."""
        return self.cost <= self.bound

    @property
    def whole(self) -> bool:
        """Whether every part has a place."""
        return self.cost < self.problem.penalty

    def dive(self, like: StripProblem, seconds: float) -> None:
        """Lay patterns one by one, each the best of what is left, and then whatever else fits.

        Args:
            like: the problem, or the same parts and strips with other costs.
            seconds: it may take.
        """
        if not self.done:
            self._take(self._laid(dive(like, seconds, counted=self.counted)))

    def choose(self, patterns: Sequence[Pattern], seconds: float) -> None:
        """Choose among patterns, lay what they say, and then whatever else fits."""
        from ortools.sat.python import cp_model

        if self.done or not patterns:
            return
        model, problem = cp_model.CpModel(), self.problem
        used = [model.new_int_var(0, problem.kinds[pattern.kind].strip.quantity, "") for pattern in patterns]
        by_kind: list[list[Any]] = [[] for _ in problem.kinds]
        covers: list[list[Any]] = [[] for _ in problem.items]
        for pattern, many in zip(patterns, used, strict=True):
            by_kind[pattern.kind].append(many)
            for item, count in pattern.counts.items():
                covers[item].append(count * many)
        for kind, of_kind in zip(problem.kinds, by_kind, strict=True):
            model.add(sum(of_kind) <= kind.strip.quantity)
        out = [model.new_int_var(0, len(one.parts), "") for one in problem.items]
        for one, cover, left in zip(problem.items, covers, out, strict=True):
            model.add(sum(cover) + left >= len(one.parts))
        cost: Any = sum(pattern.cost * many for pattern, many in zip(patterns, used, strict=True))
        cost += sum(
            problem.penalty * item.weight * left for item, left in zip(problem.items, out, strict=True)
        )
        model.add(cost >= self.bound)
        model.minimize(cost)
        solver = self._solver(seconds)
        if solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            chosen = zip(patterns, used, strict=True)
            self._take(self._laid([one for one, many in chosen for _ in range(solver.value(many))]))

    def place(self, seconds: float, *, whole: bool) -> None:
        """Place parts by a model of all of them, from the best so far on, as far as there is time.

        Args:
            seconds: it may take.
            whole: every part must have a place.
        """
        from ortools.sat.python import cp_model

        built = _Model(self.problem, self.instances, self.bound, self.places, whole=whole)
        solver = self._solver(max(seconds, 0.05))
        status = solver.solve(built.model, _told(self, built))
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            self._take(built.places(solver))
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN):
            least = math.ceil(solver.best_objective_bound - 1e-6)
            # Without some part, any assignment costs the penalty: more than all strips.
            self.bound = max(self.bound, min(least, self.problem.penalty) if whole else least)
        elif status == cp_model.INFEASIBLE and whole:
            self.bound = max(self.bound, self.problem.penalty)

    def _take(self, places: Places) -> None:
        cost = self._cost(places)
        if cost < self.cost:
            self.cost, self.places = cost, places

    def _laid(self, chosen: Sequence[Pattern]) -> Places:
        """Return what patterns lay, and then each part left, the longest first, where the least room is."""
        problem = self.problem
        waiting = [len(item.parts) for item in problem.items]
        free = {
            number: [n for n, of in enumerate(self.instances) if of == number]
            for number in range(len(problem.kinds))
        }
        ends: dict[tuple[int, int], int] = {}
        places: Places = {}
        ordered = sorted(range(len(waiting)), key=lambda one: -problem.items[one].ticks)
        for pattern in chosen:
            number = free[pattern.kind].pop(0)
            for place, filling in enumerate(pattern.fillings):
                for item, count in filling:
                    for _ in range(min(count, waiting[item])):
                        waiting[item] -= self._lay(places, ends, item, (number, place))
        where = [
            (number, place)
            for number, of in enumerate(self.instances)
            for place in range(len(problem.kinds[of].stretches))
        ]
        for item in ordered:
            while waiting[item]:
                opened = {number for number, _ in places}
                where.sort(key=lambda one: (one[0] not in opened, self._room(one) - ends.get(one, 0), one))
                if not any(self._lay(places, ends, item, one) for one in where):
                    break
                waiting[item] -= 1
        return places

    def _room(self, where: tuple[int, int]) -> int:
        return self.problem.kinds[self.instances[where[0]]].stretches[where[1]].room

    def _lay(
        self, places: Places, ends: dict[tuple[int, int], int], item: int, where: tuple[int, int]
    ) -> bool:
        """Lay one part as near to a stretch's start as what lies there allows; return whether it fits."""
        kind = self.problem.kinds[self.instances[where[0]]]
        stretch, ticks = kind.stretches[where[1]], self.problem.items[item].ticks
        if item not in kind.takes:
            return False
        end = ends.get(where, 0)
        if stretch.starts is None:
            found = [(end, lies(self.problem.items[item].parts[0], kind.strip)[0])]
        else:
            found = [
                (max(first, end), way)
                for (one, way), runs in stretch.starts.items()
                for first, last in runs
                if one == item and max(first, end) <= last
            ]
        if not found or min(found)[0] + ticks > stretch.room:
            return False
        places.setdefault(where, []).append((item, *min(found)))
        ends[where] = min(found)[0] + ticks
        return True

    def _cost(self, places: Places) -> int:
        """Return what an assignment costs, parts left out included."""
        problem = self.problem
        waiting = [len(item.parts) for item in problem.items]
        for item, _, _ in (one for lying in places.values() for one in lying):
            waiting[item] -= 1
        cost = sum(problem.penalty * i.weight * n for i, n in zip(problem.items, waiting, strict=True))
        for number in {number for number, _ in places}:
            kind = problem.kinds[self.instances[number]]
            cost += kind.cost
            for place, stretch in enumerate(kind.stretches):
                lying = places.get((number, place), [])
                used = max((start + problem.items[item].ticks for item, start, _ in lying), default=0)
                cost -= problem.refund(kind, stretch.room, used)
        return cost

    def _solver(self, seconds: float) -> Any:
        from ortools.sat.python import cp_model

        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.interleave_search = True  # of several ways to search, always in the same order
        solver.parameters.random_seed = self.seed % (1 << 31)
        if self.counted:
            solver.parameters.max_deterministic_time = seconds
        else:
            solver.parameters.max_time_in_seconds = seconds
        return solver


def _told(search: _Search, built: _Model) -> Any:
    """Return what says how far the search is with each assignment it finds."""
    from ortools.sat.python import cp_model

    class _Told(cp_model.CpSolverSolutionCallback):
        def on_solution_callback(self) -> None:
            strips = sum(self.value(one) for one in built.opened)
            search.progress(f"{strips} strips cut into")

    return _Told()


class _Model:
    """Every part on every strip it may be cut from.

    Args:
        problem: the problem.
        instances: the kind of each strip.
        bound: what is known of the least cost.
        begin: what lies where to begin with.
        whole: whether every part must have a place.
    """

    def __init__(
        self, problem: StripProblem, instances: Sequence[int], bound: int, begin: Places, *, whole: bool
    ) -> None:
        from ortools.sat.python import cp_model

        self._problem, self._instances = problem, instances
        self.model = cp_model.CpModel()
        self.opened = [self.model.new_bool_var("") for _ in instances]
        self._counts: dict[tuple[int, int, int], Any] = {}
        self._fixed: dict[tuple[int, int], list[tuple[int, bool, Any, Any]]] = {}
        self._rounds: dict[tuple[int, int], tuple[list[dict[int, Any]], list[Any], Any]] = {}
        alike = [list(group) for _, group in groupby(range(len(instances)), key=lambda n: instances[n])]
        used_up: list[Any] = []
        cost: list[Any] = []
        for number, kind_number in enumerate(instances):
            kind = problem.kinds[kind_number]
            cost.append(kind.cost * self.opened[number])
            used = 0
            for place in range(len(kind.stretches)):
                filled, end = self._stretch(number, place, kind)
                used += filled
                if kind.worth:
                    cost.append(-self._refund(number, place, kind, end))
            used_up.append(used)
            if number and instances[number - 1] == kind_number:  # strips alike: the fullest first
                self.model.add(used_up[number - 1] >= used)
                self.model.add(self.opened[number - 1] >= self.opened[number])
        for item_number, item in enumerate(problem.items):
            on = [count for (_, _, one), count in self._counts.items() if one == item_number]
            out = self.model.new_int_var(0, 0 if whole else len(item.parts), "")
            self.model.add(sum(on) + out == len(item.parts))
            cost.append(problem.penalty * item.weight * out)
        self.model.add(sum(cost) >= bound)
        self.model.minimize(sum(cost))
        self._hint(begin, alike)

    def _stretch(self, number: int, place: int, kind: StripKind) -> tuple[Any, Any]:
        """Put a stretch into the model; return what its parts take in all, and where the last one ends."""
        stretch, opened = kind.stretches[place], self.opened[number]
        if len(stretch.soft) == 1:
            return self._round(number, place, kind)
        total: Any = 0
        for item_number in sorted(kind.takes):
            item = self._problem.items[item_number]
            most = min(len(item.parts), stretch.room // item.ticks)
            if stretch.starts is not None and not _ways(stretch, item_number):
                most = 0
            if most:
                count = self.model.new_int_var(0, most, "")
                self.model.add(count <= most * opened)
                self._counts[number, place, item_number] = count
                total += item.ticks * count
        self.model.add(total <= stretch.room * opened)
        if stretch.starts is None:
            return total, total
        return total, self._places(number, place, kind)

    def _round(self, number: int, place: int, kind: StripKind) -> tuple[Any, Any]:
        """Put a stretch with one flaw into the model: parts before it, after it, and up to two that touch it.

        Three never do: the one between would lie on it whole.
        """
        stretch, opened, model = kind.stretches[place], self.opened[number], self.model
        before, beyond = stretch.soft[0][0] + self._problem.gap, max(0, stretch.soft[0][1])
        sides: list[dict[int, Any]] = [{}, {}]
        touching: list[list[tuple[int, bool, Any, Any]]] = [[], []]
        for item_number in sorted(kind.takes):
            item = self._problem.items[item_number]
            counts: list[Any] = []
            for side, room in zip(sides, (before, stretch.room - beyond), strict=True):
                if most := min(len(item.parts), max(0, room) // item.ticks):
                    side[item_number] = model.new_int_var(0, most, "")
                    counts.append(side[item_number])
            for way, starts in _ways(stretch, item_number):
                near = [
                    [max(first, before - item.ticks + 1), min(last, beyond - 1)] for first, last in starts
                ]
                near = [run for run in near if run[0] <= run[1]]
                for slot in touching if near else ():
                    start = model.new_int_var_from_domain(_domain(near), "")
                    here = model.new_bool_var("")
                    slot.append((item_number, way, start, here))
                    counts.append(here)
            if counts:
                count = model.new_int_var(0, len(item.parts), "")
                model.add(count == sum(counts))
                model.add(count <= len(item.parts) * opened)
                self._counts[number, place, item_number] = count
        ticks = [item.ticks for item in self._problem.items]
        left, right = (sum(ticks[item] * count for item, count in side.items()) for side in sides)
        start_right = model.new_int_var(beyond, max(beyond, stretch.room), "")
        end = model.new_int_var(0, stretch.room, "")
        any_right = model.new_bool_var("")
        model.add(left <= max(0, before))
        model.add(left <= end)
        model.add(right <= max(0, stretch.room - beyond) * any_right)
        model.add(start_right + right <= end).only_enforce_if(any_right)
        for slot in touching:
            model.add_at_most_one(here for _, _, _, here in slot)
            for item_number, _, start, here in slot:
                model.add(left <= start).only_enforce_if(here)
                model.add(start + ticks[item_number] <= end).only_enforce_if(here)
                model.add(start + ticks[item_number] <= start_right).only_enforce_if([here, any_right])
        self._one_after_another(touching, ticks, stretch.room)
        self._rounds[number, place] = (sides, touching, start_right)
        used = left + right
        for item_number, _, _, here in (one for slot in touching for one in slot):
            used += ticks[item_number] * here
        model.add(used <= stretch.room * opened)
        return used, end

    def _one_after_another(
        self, slots: Sequence[Sequence[tuple[int, bool, Any, Any]]], ticks: Sequence[int], room: int
    ) -> None:
        """Have the second part that touches a flaw lie beyond the first."""
        if not slots[0]:
            return
        between = self.model.new_int_var(0, room, "")
        for item, _, start, here in slots[0]:
            self.model.add(start + ticks[item] <= between).only_enforce_if(here)
        for _, _, start, here in slots[1]:
            self.model.add(between <= start).only_enforce_if(here)
        self.model.add(sum(one[3] for one in slots[1]) <= sum(one[3] for one in slots[0]))

    def _places(self, number: int, place: int, kind: StripKind) -> Any:
        """Give every part on a stretch a place of its own; return where the last one ends."""
        stretch = kind.stretches[place]
        end = self.model.new_int_var(0, stretch.room, "")
        bars, fixed = [], self._fixed.setdefault((number, place), [])
        for (strip, at, item_number), count in list(self._counts.items()):
            if (strip, at) != (number, place):
                continue
            item, here = self._problem.items[item_number], []
            most = min(len(item.parts), stretch.room // item.ticks)
            for way, starts in _ways(stretch, item_number):
                domain = _domain(starts)
                before = None
                for _ in range(most):
                    start = self.model.new_int_var_from_domain(domain, "")
                    lies_here = self.model.new_bool_var("")
                    bars.append(
                        self.model.new_optional_fixed_size_interval_var(start, item.ticks, lies_here, "")
                    )
                    self.model.add(end >= start + item.ticks).only_enforce_if(lies_here)
                    if before is not None:
                        self.model.add_implication(lies_here, before)
                    before = lies_here
                    here.append(lies_here)
                    fixed.append((item_number, way, start, lies_here))
            self.model.add(sum(here) == count)
        self.model.add_no_overlap(bars)
        return end

    def _refund(self, number: int, place: int, kind: StripKind, end: Any) -> Any:
        """Return the worth of what a stretch leaves at its end, where that goes back to the shelf."""
        room, problem = kind.stretches[place].room, self._problem
        most = max(0, room - problem.gap)
        back = self.model.new_bool_var("")
        left = self.model.new_int_var(0, most, "")
        self.model.add(left <= most * back)
        self.model.add(left <= room - problem.gap - end).only_enforce_if(back)
        self.model.add(left >= problem.keep * back)
        self.model.add_implication(back, self.opened[number])
        return kind.worth * left

    def _hint(self, begin: Places, alike: Sequence[Sequence[int]]) -> None:
        """Hint what lies where; of strips that are alike, the fullest first."""
        ticks = [item.ticks for item in self._problem.items]
        full = dict.fromkeys(range(len(self._instances)), 0)
        for (number, _), lying in begin.items():
            full[number] += sum(ticks[item] for item, _, _ in lying)
        for group in alike:
            ranked = sorted(group, key=lambda number: -full[number])
            for number, other in zip(group, ranked, strict=True):
                self.model.add_hint(self.opened[number], full[other] > 0)
                for place in range(len(self._problem.kinds[self._instances[number]].stretches)):
                    on_it = [item for item, _, _ in begin.get((other, place), [])]
                    for item in range(len(ticks)):
                        if (count := self._counts.get((number, place, item))) is not None:
                            self.model.add_hint(count, on_it.count(item))

    def places(self, solver: Any) -> Places:
        """Return what lies where in the solver's assignment."""
        found: Places = {}
        for (number, place, item), count in self._counts.items():
            if (number, place) not in self._fixed and (number, place) not in self._rounds:
                found.setdefault((number, place), []).extend([(item, 0, False)] * solver.value(count))
        for (number, _), lying in found.items():
            kind, at = self._problem.kinds[self._instances[number]], 0
            lying.sort(key=lambda one: (-self._problem.items[one[0]].ticks, one[0]))
            for index, (item, _, _) in enumerate(lying):
                part = self._problem.items[item].parts[0]
                lying[index] = (item, at, lies(part, kind.strip)[0])
                at += self._problem.items[item].ticks
        for where, ((before, beyond), touching, start_right) in self._rounds.items():
            self._row(found, where, before, 0, solver)
            self._row(found, where, beyond, solver.value(start_right), solver)
            self._fixed[where] = [one for slot in touching for one in slot]
        for where, fixed in self._fixed.items():
            for item, way, start, here in fixed:
                if solver.value(here):
                    found.setdefault(where, []).append((item, solver.value(start), way))
        return {where: sorted(lying, key=lambda one: one[1]) for where, lying in found.items() if lying}

    def _row(
        self, found: Places, where: tuple[int, int], counts: dict[int, Any], at: int, solver: Any
    ) -> None:
        """Lay what stands on one side of a flaw, one after another."""
        kind = self._problem.kinds[self._instances[where[0]]]
        for item, count in counts.items():
            way = lies(self._problem.items[item].parts[0], kind.strip)[0]
            for _ in range(solver.value(count)):
                found.setdefault(where, []).append((item, at, way))
                at += self._problem.items[item].ticks


def _ways(stretch: Stretch, item: int) -> list[tuple[bool, Starts]]:
    """Return which ways round a kind of part may lie on a stretch with flaws, and where it may begin."""
    starts = stretch.starts or {}
    found = [(way, runs) for way in (False, True) if (runs := starts.get((item, way)))]
    return found[:1] if len(found) == 2 and found[0][1] == found[1][1] else found


def _domain(runs: Sequence[Sequence[int]]) -> Any:
    from ortools.sat.python import cp_model

    return cp_model.Domain.from_intervals([list(run) for run in runs])


def _plan(
    problem: StripProblem,
    search: _Search,
    strips: Sequence[Strip],
    rules: StripRules,
    aim: StripAim,
    seed: int,
) -> StripPlan:
    """Return the assignment as parts on strips."""
    waiting = [list(item.parts) for item in problem.items]
    cut: list[CutStrip] = []
    numbers: dict[int, int] = {}
    for number, kind_number in enumerate(search.instances):
        kind = problem.kinds[kind_number]
        numbers[kind_number] = numbers.get(kind_number, 0) + 1
        parts: list[OnStrip] = []
        for place, stretch in enumerate(kind.stretches):
            for item, start, turned in search.places.get((number, place), []):
                parts.append(OnStrip(waiting[item].pop(0), stretch.low + start / TICKS, turned))
        if parts:
            cut.append(CutStrip(kind.strip, numbers[kind_number], tuple(parts)))
    reasons = {
        part.id: why_none(problem, item)
        for item, left in zip(problem.items, waiting, strict=True)
        for part in left
    }
    everything = [part for item in problem.items for part in item.parts]
    unplaced = tuple((part, reasons[part.id]) for part in everything if part.id in reasons)
    whole, unit = not unplaced, problem.unit
    cost, bound = search.cost / unit, search.bound / unit
    if aim == "fewest":  # behind the strips stands their leather
        cost, bound = float(search.cost // unit), float(search.bound // unit)
    return StripPlan(
        tuple(strips),
        rules,
        aim,
        tuple(cut),
        unplaced,
        cost if whole else 0.0,
        min(bound, cost) if whole else None,
        seed,
        short=not whole and search.bound >= problem.penalty,
    )
