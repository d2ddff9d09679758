"""Whatever phones send, in whatever order it arrives and however often: the same log, shelf and yarn as in plain order.

A phone keeps its order, but its network does not, and two phones know nothing of each other. So what was sent is drawn
at random and delivered three times into the same small studio: in the order in which it happened, and then in another
order, with copies. Between the deliveries everything is taken back.
"""

from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import timedelta
from uuid import UUID, uuid5

import pytest
import time_machine
from django.core.checks import Error
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches import checks, indexing, intake
from batches.models import (
    AdditionLot,
    Batch,
    Entry,
    PlanLine,
    StepDone,
    Strike,
    Timer,
    TimerEnded,
)
from studio import checks_records
from studio.models import Count, Lot, Movement
from tests import builders
from tests.builders import NOON

EVENING = builders.hours(10)
PLANNED = 5  # lines of each pot's plan
OFF = {"right": timedelta(0), "fast": timedelta(hours=3), "slow": timedelta(minutes=-50)}  # clocks of phones
NAMES = UUID("5b2cf5a5-0000-4000-8000-000000000000")


@dataclass(frozen=True)
class Sent:
    """One thing that a phone sends, or a count at the shelf. `minute` is when it happened, counted from NOON."""

    minute: int
    kind: str
    pot: int = 0
    clock: str = "right"
    fields: dict = field(default_factory=dict)

    @property
    def id(self):
        return uuid5(NAMES, str(self.minute))


class World:
    """Two running pots with a plan, and a shelf. What is drawn names pots, lots and lines by their numbers."""

    def __init__(self):
        self.cast = builders.make_cast()
        maker = self.cast.maker
        red, blue = builders.bottle(maker), builders.bottle(maker)
        mixed = builders.bottle(maker, [(red, 50), (blue, 50)], solution=builders.make_solution("Dusk"))
        acid, soot = builders.receive_assistant(maker), builders.receive_powder(maker)
        self.bottles, self.lots = [red, blue, mixed], [red, blue, mixed, acid, soot]
        lines = [(red, 40), (None,), (acid, 10), (soot, "0.5"), (mixed, 15)]
        self.run = builders.run_with_pots(maker, lines=lines)
        self.pots = list(self.run.batches.order_by("number"))
        self.lines = [list(pot.plan.order_by("position")) for pot in self.pots]

    def fields_of(self, sent):
        """As the form has them, with keys for numbers."""
        said = dict(sent.fields)
        if "lot" in said:
            said["lot"] = self.lots[said["lot"]].pk
        if "line" in said:
            said["line"] = self.lines[sent.pot][said["line"]].pk
        return {name: str(value) for name, value in said.items()}

    @contextmanager
    def put_back(self):
        """Whatever is done inside leaves nothing behind."""
        with transaction.atomic():
            yield
            transaction.set_rollback(True)


class Server:
    """Takes what arrives, on a clock of its own that goes on."""

    def __init__(self, world):
        self.world, self.now = world, EVENING

    def clock(self):
        self.now += timedelta(milliseconds=1)
        return self.now

    def deliver(self, sent):
        self.now += timedelta(seconds=1)
        with time_machine.travel(self.now, tick=False):
            return self.count(sent) if sent.kind == "count" else self.take(sent)

    def take(self, sent):
        off = OFF[sent.clock]
        data = self.world.fields_of(sent) | {
            "kind": sent.kind,
            "id": str(sent.id),
            "happened_at": (NOON + timedelta(minutes=sent.minute) + off).isoformat(),
            "sent_at": (self.now + off).isoformat(),
            "offset": "60",
        }
        batch = Batch.objects.get(pk=self.world.pots[sent.pot].pk)
        return intake.take(data, {}, batch=batch, person=self.world.cast.maker, clock=self.clock)

    def count(self, sent):
        lot, at = self.world.lots[sent.fields["lot"]], NOON + timedelta(minutes=sent.minute)
        Count.take(lot, sent.fields["amount"], by=self.world.cast.maker, at=at, clock=self.clock)


# What can be seen afterwards


def the_log(world):
    """Every line but strike-outs, in the order of each pot's log, with all that it says and whether it stands.

    Of what one touch wrote at the same moment nothing came first: a timer's end and its step, lines of two pots.
    """
    entries = Entry.objects.filter(batch__run=world.run).exclude(kind="strike").with_struck().in_order()
    return sorted(map(facts_of, entries.with_details()), key=lambda said: (said["batch_id"], said["at"], said["kind"]))


UNLIKE = {"received_at", "sent_at", "movement"}  # of the delivery, not of what happened


def facts_of(row):
    said = {name.attname: getattr(row, name.attname) for name in row._meta.concrete_fields if name.name not in UNLIKE}
    if isinstance(row, Entry):
        # A touch is put right by how far its phone's clock is off, which is known to the second or so.
        said["at"] = round((said["at"] - NOON).total_seconds())
        if row.kind == "ended" or row.kind == "step" and row.together is not None:
            del said["id"]  # of what an end wrote: it follows from the timer's own where that was there already
            del said["together"]
        said["struck"], said["detail"] = row.struck, facts_of(row.detail) if row.detail is not None else None
    if isinstance(row, (TimerEnded, StepDone)):
        del said["entry_id"]
        said.pop("target", None)
    if isinstance(row, Timer):
        said["due_at"] = round((said["due_at"] - NOON).total_seconds())
    return said


def snapshot(world):
    lines = PlanLine.objects.filter(batch__run=world.run).with_done()
    return {
        "log": the_log(world),
        "shelf": {lot.pk: lot.on_hand_now() for lot in world.lots},
        "unweighed": sorted(Movement.objects.open_unweighed().values_list("addition__entry", flat=True)),
        "parts": sorted(AdditionLot.objects.values_list("addition", "lot", "amount")),
        "where": list(Batch.objects.filter(run=world.run).order_by("pk").values_list("where", "state", "finished_at")),
        "plan": sorted(lines.values_list("pk", "done", "weighed")),
        "timers": sorted(Timer.objects.running().values_list("pk", flat=True)),
    }


def rows():
    """How many there are of whatever an entry writes."""
    return [table.objects.count() for table in (Entry, Movement, AdditionLot, Strike, TimerEnded, Lot)]


def wrong():
    """What `check --tag records` finds at fault."""
    indexing.catch_up()
    found = [*checks.ask(None, databases=["default"]), *checks_records.ask(None, databases=["default"])]
    return [problem for problem in found if isinstance(problem, Error)]


# What is drawn

AMOUNTS = st.sampled_from(["", "5", "2,5", "0.001", "40"])
BOTH = st.sampled_from(["this", "all"])


def told(kind, **fields):
    return st.fixed_dictionaries(fields).map(lambda said: (kind, said))


def lone_things():
    """What stands by itself: it says the same whatever else is in the log."""
    known = [
        told("bottle", lot=st.integers(0, 2), amount=AMOUNTS, pots=BOTH),
        told("powder", lot=st.just(4), amount=AMOUNTS, pots=BOTH),
        told("other", lot=st.just(3), amount=AMOUNTS, pots=BOTH),
        told("water", amount=st.sampled_from(["", "2"]), pots=BOTH),
        told("reading", temperature=st.sampled_from(["40", "85"]), clear=st.sampled_from(["", "nearly", "clear"])),
        told("step", step=st.sampled_from(["soak", "heat", "hold", "cool", "rinse", "wash", "dry"]), pots=BOTH),
        told("move", where=st.sampled_from(["in_pot", "cooling", "rinsing", "drying", "to_check"])),
        told("words", note=st.just("Steams"), pots=BOTH),
        told("work", minutes=st.just("20")),
    ]
    known.append(
        told(
            "timer",
            what=st.sampled_from(["soak", "hold", "cool", "look", "sun", "other"]),
            minutes=st.just("30"),
            pots=BOTH,
        )
    )
    return st.one_of(known)


@st.composite
def days(draw):
    """What was sent in one day, in the order in which it happened: nothing in it depends on what came before."""
    pot, clock = st.integers(0, 1), st.sampled_from(sorted(OFF))
    things = [(draw(pot), *said) for said in draw(st.lists(lone_things(), min_size=1, max_size=7))]
    to_here = draw(st.integers(-1, PLANNED - 1))  # up to this line all was confirmed together; the others by themselves
    if to_here >= 0:
        things.append((draw(pot), "done_to_here", {"line": to_here}))
    for line in draw(st.sets(st.integers(to_here + 1, PLANNED - 1))) if to_here < PLANNED - 1 else ():
        things.append((draw(pot), "tick", {"line": line} | draw(st.sampled_from([{}, {"skip": "on"}]))))
    things += [(0, "count", draw(counts())) for _ in range(draw(st.integers(0, 2)))]
    things = draw(st.permutations(things))
    sent = [Sent(3 * number, kind, pot, draw(clock), fields) for number, (pot, kind, fields) in enumerate(things, 1)]
    struck = draw(st.sets(st.sampled_from([one for one in sent if one.kind != "count"]).map(lambda one: one.minute)))
    over = [one for one in sent if one.kind == "timer" and one.minute not in struck and draw(st.booleans())]
    return sent + [undo_of(one) for one in sent if one.minute in struck] + [end_of(one) for one in over]


def counts():
    return st.fixed_dictionaries({"lot": st.integers(0, 4), "amount": st.sampled_from([30, 100])})


def undo_of(one):
    """A touch taken back, with all that it logged: by its number, as nothing more is known of it without a network."""
    return Sent(one.minute + 1, "strike", one.pot, one.clock, {"target": one.id})


def end_of(timer):
    """It is over, and what it was for is done; by the number of its touch, as above."""
    return Sent(
        timer.minute + 2, "timer_end", timer.pot, timer.clock, {"target": timer.id, "pots": timer.fields["pots"]}
    )


Sent.__hash__ = lambda self: hash(self.minute)

WITH_A_STUDIO = settings(
    deadline=None, max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)


@pytest.fixture
def world(db):
    with time_machine.travel(EVENING, tick=False):
        return World()


def arrive(world, day, check=False):
    """Deliver it and answer what is to be seen. Every answer says that it is kept."""
    with world.put_back():
        server = Server(world)
        for sent in day:
            answer = server.deliver(sent)
            assert answer is None or answer.state == "saved", (sent, answer.errors)
        if check:
            with time_machine.travel(server.now, tick=False):
                assert not wrong()
        return snapshot(world)


@WITH_A_STUDIO
@given(data=st.data())
def test_in_whatever_order_it_arrives(world, data):
    day = data.draw(days())
    mixed = data.draw(st.permutations(day))
    assert arrive(world, mixed, check=True) == arrive(world, sorted(day, key=lambda sent: sent.minute))


@WITH_A_STUDIO
@given(data=st.data())
def test_copies_change_nothing(world, data):
    """Each is answered with what is stored, and nothing is written: at once, later, or after it was struck out."""
    day = data.draw(days())
    phones = [sent for sent in day if sent.kind != "count"]
    with world.put_back():
        server, seen = Server(world), []
        for sent in day:
            server.deliver(sent)
            if sent.kind != "count":
                seen.append(sent)
            copies = data.draw(st.lists(st.sampled_from(seen), max_size=2)) if seen else []
            before = rows()
            assert all(server.deliver(copy).state == "already" for copy in copies)
            assert rows() == before
        then = snapshot(world)
        assert [server.deliver(copy).state for copy in phones] == ["already"] * len(phones)
        assert snapshot(world) == then


# Two phones that know nothing of each other


@st.composite
def planned_things(draw):
    """What a phone confirms of the plan, in its own order."""
    line, pot = st.integers(0, PLANNED - 1), st.integers(0, 1)
    one = st.tuples(pot, st.sampled_from(["tick", "tick", "done_to_here"]), line, BOTH)
    return draw(st.lists(one, max_size=4))


@pytest.mark.parametrize("early", [True, False])
@pytest.mark.parametrize("had_it", [0, 1])
def test_a_touch_for_all_pots_that_one_pot_had_already_is_struck_where_it_stands(world, had_it, early):
    """The other phone's line stays; what is left of the touch is struck in the pot that it went into."""
    first = Sent(0, "tick", pot=had_it, fields={"line": 0, "pots": "this"})
    second = Sent(1, "tick", fields={"line": 0, "pots": "all"})
    undo = undo_of(second)
    server = Server(world)
    for sent in [first, undo, second] if early else [first, second, undo]:
        assert server.deliver(sent).state == "saved"
    assert [entry.pk for entry in Entry.objects.standing()] == [first.id]
    struck = Entry.objects.with_struck().get(struck=True)
    assert struck.batch == world.pots[1 - had_it] == Strike.objects.get(target=struck.pk).entry.batch
    assert server.deliver(second).state == server.deliver(undo).state == "already"
    with time_machine.travel(server.now, tick=False):
        assert not wrong()


@pytest.mark.parametrize("early", [True, False])
@pytest.mark.parametrize("had_it", [0, 1])
def test_a_timer_for_all_pots_that_ran_in_one_already_is_ended_where_it_runs(world, had_it, early):
    first = Sent(0, "timer", pot=had_it, fields={"what": "hold", "minutes": 30, "line": 1, "pots": "this"})
    second = Sent(3, "timer", fields={"what": "hold", "minutes": 30, "line": 1, "pots": "all"})
    end = end_of(second)
    server = Server(world)
    for sent in [first, end, second] if early else [first, second, end]:
        assert server.deliver(sent).state == "saved"
    assert [timer.pk for timer in Timer.objects.running()] == [first.id]
    assert StepDone.objects.get().entry.batch == world.pots[1 - had_it]
    with time_machine.travel(server.now, tick=False):
        assert not wrong()


@WITH_A_STUDIO
@given(first=planned_things(), second=planned_things(), data=st.data())
def test_two_phones_confirm_the_same_plan(world, first, second, data):
    """Whose word comes second is told that it is in already; nothing goes in twice, and nothing is left out."""
    phones = [
        [
            Sent(2 * number + phone, kind, pot, fields={"line": line, "pots": pots})
            for number, (pot, kind, line, pots) in enumerate(said)
        ]
        for phone, said in enumerate((first, second))
    ]
    ends = []
    for _ in range(2):
        with world.put_back():
            server, queues = Server(world), [list(phone) for phone in phones]
            while any(queues):
                queue = data.draw(st.sampled_from([queue for queue in queues if queue]))
                answer = server.deliver(queue[0])
                assert answer.state == "saved" or "in the log already" in str(answer.errors)
                if data.draw(st.booleans()):  # the answer was lost on its way: sent again, and said again
                    again = server.deliver(queue[0])
                    assert again.state == ("already" if answer.ok else "wrong")
                queue.pop(0)
            named = list(Entry.objects.standing().filter(plan_line__isnull=False).values_list("plan_line", flat=True))
            assert len(named) == len(set(named))
            ends.append({name: snapshot(world)[name] for name in ("shelf", "plan", "where")})
    assert ends[0] == ends[1]
