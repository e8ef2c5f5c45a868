"""Serve the presses: whoever is free does the most useful thing that breaks no promise.

A programme is played forward in time. Every platen that is dressed or closed is a promise: its next hand
row has a latest start, and somebody owns it. A person begins a hand row only if all promises can still be
kept afterwards, so no press stands closed past its dwell window, no peel comes too late, and no loading is
caught by a break. Waiting happens before closing.
"""

from __future__ import annotations

import heapq
from dataclasses import replace

from scheduler.instance import Instance, Task
from scheduler.timetable.acts import FAR, Script, script_of, scripts_of
from scheduler.timetable.manner import MANNERS, Manner
from scheduler.timetable.measure import measure
from scheduler.timetable.pool import PiecePool
from scheduler.timetable.press_state import PressState
from scheduler.timetable.programme import Programme
from scheduler.timetable.promises import Hands, Promise, following, promise
from scheduler.timetable.record import Loading, Timetable
from scheduler.timetable.turns import Turns


def dispatch(instance: Instance, programme: Programme, manner: Manner = MANNERS[0]) -> Timetable:
    """Play a programme forward and measure what comes of it."""
    return measure(instance, _Play(instance, programme, manner).run())


_TIGHT = 60  # seconds for each loading that lies on a press: what has to begin sooner than this is never held back
_HELD = 180  # seconds for which others are held back at the most
_Candidate = tuple[int, int, int, Loading | None, PressState | None]  # no two are alike in the first three


class _Play:
    def __init__(self, instance: Instance, programme: Programme, manner: Manner) -> None:
        self.instance = instance
        self.manner = manner
        self.pool = PiecePool(instance)
        self.presses = [
            PressState(instance, side, stretches) for side, stretches in zip(instance.presses, programme, strict=True)
        ]
        self.hands = [Hands(who) for who in instance.people]
        self.peels: list[Loading] = []
        self.loadings: list[Loading] = []
        self.scripts = scripts_of(instance)
        self.standing = instance.standing
        self.first = 1 + max((x.number for x in self.standing.loadings), default=0) if self.standing else 1
        self.racked = 0
        self.broken = 0
        self.acts = 0  # hand rows begun
        self.refused = False  # whether what was asked for last would break a promise
        self.offers: list[_Candidate] = []
        self.offered = (-1, -1)  # the moment and the acts that the offers are of
        self.idle: set[Hands] = set()  # who has found nothing among them
        self.bare: dict[int, int] = {}  # presses with nothing to load, or no rack for it, at this moment and act
        self.now = 0
        crews = [sum(side.index in hands.side.presses for hands in self.hands) for side in instance.presses]
        self.turns = Turns(instance, self.presses, manner, crews)
        self.events = self._first_events()
        self.known = set(self.events)

    def _first_events(self) -> list[int]:
        """The moments at which something may begin that nothing else brings about."""
        instance = self.instance
        starts = [side.open for side in instance.presses] + [side.windows for side in instance.presses]
        starts += [who.windows for who in instance.people]
        moments = {instance.begins, *(at for lot in instance.lots for at, _ in lot.pieces)}
        moments |= {a for spans in starts for a, _ in spans}
        for side in instance.presses:
            moments |= {side.stands.free, side.stands.shut_until, *side.stands.lying}
        if self.standing:
            moments |= {until for until, _ in self.standing.rack}
        return sorted(moment for moment in moments if moment >= instance.begins)

    def run(self) -> Timetable:
        now = 0
        while self.events:
            now = heapq.heappop(self.events)
            self.known.discard(now)
            self._moment(now)
            if self.peels or any(press.live for press in self.presses):
                continue
            if not self.pool.waiting:
                break
            if self._stuck(now) and self._pass_over():
                self._wake(now + 1)
        changes = sorted((c for press in self.presses for c in press.changes), key=lambda c: (c.start, c.press))
        left = sum(1 for press in self.presses for _ in press.live) + len(self.peels)
        made = Timetable(self.loadings, changes, self.pool.waiting, self.broken + left)
        if self.standing:
            made.worked, made.changed = self.standing.loadings, self.standing.changes
        return made

    def _pass_over(self) -> bool:
        moved = [press.pass_over(self.pool) for press in self.presses]
        waiting = any(press.awaits_blanks(self.pool, 1) for press in self.presses)
        if not any(moved) and not waiting and self.manner.keep_order:
            self.manner = replace(self.manner, keep_order=False)
            return True
        return any(moved)

    def _wake(self, at: int) -> None:
        if at < FAR and at not in self.known:
            self.known.add(at)
            heapq.heappush(self.events, at)

    def _moment(self, now: int) -> None:
        """Everything that can begin at this moment begins."""
        self.now = now
        self.bare.clear()
        for hands in self.hands:
            hands.now = now
        again = True
        while again:
            again = False
            for press in self.presses:
                ready = None if press.live else press.settle(now)
                if ready is not None:
                    self._wake(ready)
                    self.offered = (-1, -1)
            for hands in self.hands:
                if hands.free <= now and hands.present(now):
                    again = self._serve(hands, now) or again

    def _stuck(self, now: int) -> bool:
        """Whether presses and hands, with nothing lying anywhere, are at rest, and nothing will bring pieces."""
        return (
            not any(press.busy_until > now for press in self.presses)
            and any(press.may_load(now) for press in self.presses)
            and not any(press.blocks and press.choose(now, self.pool, self.manner.keep_order) for press in self.presses)
            and any(hands.present(now) for hands in self.hands)
            and not any(hands.free > now for hands in self.hands)
        )

    def _serve(self, hands: Hands, now: int) -> bool:
        """Let one free person begin the best hand row they may; whether there was one."""
        if self.offered != (now, self.acts):
            self.offers = sorted(self._candidates(now))
            self.offered = (now, self.acts)
            self.idle.clear()
        elif hands in self.idle:
            return False
        held = FAR  # since when what is refused now has waited; what came later must let it go first
        for _, _, _, loading, press in self.offers:
            if press is None:
                assert loading is not None
                begun = self._peel(hands, loading, now)
            elif press.side.index in hands.side.presses:
                since = press.idle_since if loading is None else loading.lo
                if since > held and not self._tight(loading, now):
                    continue
                self.refused = False
                begun = self._at_press(hands, press, loading, now)
                if self.refused and not self._tight(loading, now) and self._starves(since, now):
                    held = min(held, since)
            else:
                continue
            if begun:
                self.acts += 1
                return True
        self.idle.add(hands)
        return False

    def _at_press(self, hands: Hands, press: PressState, loading: Loading | None, now: int) -> bool:
        """Go on with a loading, or dress a platen; whether that was begun."""
        if loading is not None:
            return self._go_on(hands, loading, press, now)
        return self.bare.get(press.side.index) != self.acts and self._load(hands, press, now)

    def _tight(self, loading: Loading | None, now: int) -> bool:
        """Whether little time is left to go on with a loading, for all that lies there may have to be done by then."""
        return loading is not None and loading.hi < now + _TIGHT * sum(len(press.live) for press in self.presses)

    def _starves(self, since: int, now: int) -> bool:
        """Whether what is refused for the sake of promises has waited so long that others, whose promises they would
        be, are held back."""
        until = since + self.manner.patience + _HELD
        if not since + self.manner.patience <= now < until:
            return False
        self._wake(until)
        return True

    def _candidates(self, now: int) -> list[_Candidate]:
        """What somebody could begin now, with its rank, turn and place."""
        found: list[_Candidate] = []
        for press in self.presses:
            for loading in press.live:
                if loading.lo <= now:
                    hard = loading.script.acts[len(loading.done)].closed
                    rank, turn = (0, loading.hi) if hard else (2, self.turns.of(press, loading.lo, loading.script.task))
                    found.append((rank, turn, len(found), loading, press))
            if press.may_load(now):
                turn = self.turns.of(press, press.idle_since, press.next_task)
                found.append((1 if self.manner.load_first else 3, turn, len(found), None, press))
        for loading in self.peels:
            if loading.peel_lo <= now:
                task = loading.script.task
                after = (task.line, task.stage + 1)
                rank = 1 if any(after in press.wants for press in self.presses) else 4
                found.append((rank, loading.peel_hi, len(found), loading, None))
        return found

    def _go_on(self, hands: Hands, loading: Loading, press: PressState, now: int) -> bool:
        """Begin the next hand row of a loading that lies on a press."""
        script, row = loading.script, len(loading.done)
        act = script.acts[row]
        end = now + script.times[hands.side.index][row]
        opened = (loading.lo if act.what != "peel" else loading.done[-1][1] + act.closed) if script.auto_open else now
        if not hands.fits_now(now, end - now) or not self._heat_free(press, loading, script, row, end):
            return False
        follow = following(script, row, opened, end, loading.limit, _heat_of(press))
        if not self._entrust(hands, loading, press, follow, end):
            return False
        if now > loading.hi:
            self.broken += 1
        loading.done.append((now, end, hands.side.index))
        if act.closed:
            loading.opens.append(opened)
            loading.opened = opened
            if press.closed is loading:
                press.closed = None
        hands.free = end
        self._wake(end)
        if act.what == "unload":
            press.live.remove(loading)
            press.clearing.append(end)
            press.idle_since = end
            self._rest(loading, end)
        elif follow is not None:
            self._await(loading, press, follow, end)
        return True

    def _heat_free(self, press: PressState, loading: Loading | None, script: Script, row: int, end: int) -> bool:
        """Whether the closing that follows this hand row meets no other under way on the press."""
        if press.side.stations == 1 or row + 1 >= len(script.acts) or not script.acts[row + 1].closed:
            return True
        if press.closed is None or press.closed is loading:
            return True
        return press.side.auto_open and press.heat_until <= end

    def _entrust(self, hands: Hands, loading: Loading, press: PressState, follow: Promise | None, end: int) -> bool:
        """See that what follows will be kept, by the one who acts or else another; record whose it is.

        What lies on several platens under one heat is promised by one person, who can reckon with that heat.
        """
        more = () if follow is None else (follow,)
        bound = -1
        if follow is not None and follow.heat >= 0:
            bound = next((x.owner for x in press.live if x is not loading and x.owner >= 0), -1)
        keeper: Hands | None = None
        if bound in (-1, hands.side.index) and hands.keeps(end, loading, more):
            keeper = hands
        elif more and hands.keeps(end, loading):
            others = self.hands if bound < 0 else [self.hands[bound]]
            keeper = next((other for other in others if self._could_keep(other, hands, loading, more)), None)
        if keeper is None:
            self.refused = True
            return False
        if loading.owner >= 0:
            self.hands[loading.owner].owned.pop(loading, None)
        loading.owner = -1
        if follow is not None:
            keeper.owned[loading] = follow
            loading.owner = keeper.side.index
        return True

    def _could_keep(self, other: Hands, hands: Hands, loading: Loading, more: tuple[Promise, ...]) -> bool:
        free = max(self.now, other.free)
        return other is not hands and loading.press in other.side.presses and other.keeps(free, loading, more)

    def _await(self, loading: Loading, press: PressState, ahead: Promise, end: int) -> None:
        """The loading's next hand row: when it may begin, and until when its platen is closed."""
        loading.lo, loading.hi = ahead.lo, ahead.hi
        if ahead.closed:
            press.closed = loading
            press.heat_until = end + loading.script.acts[ahead.row].closed
        self._wake(ahead.lo)
        if press.side.stations > 1:
            self._wake_for_heat(press)

    def _wake_for_heat(self, press: PressState) -> None:
        """Whoever lays the next platen may begin so that it can be closed the second the heat is free."""
        self._wake(press.heat_until)
        for other in press.live:
            row, script = len(other.done), other.script
            if row + 1 < len(script.acts) and script.acts[row + 1].closed:
                for times in script.times:
                    self._wake(max(self.now, press.heat_until - times[row]))

    def _rest(self, loading: Loading, end: int) -> None:
        """Off the press: to the peel, or on."""
        script = loading.script
        if script.peel is None:
            self._release(loading, end)
            return
        loading.peel_lo = max(end, loading.opened + script.peel[0])
        loading.peel_hi = FAR if script.peel[1] >= FAR else loading.opened + script.peel[1]
        self.peels.append(loading)
        self._wake(loading.peel_lo)

    def _peel(self, hands: Hands, loading: Loading, now: int) -> bool:
        length = loading.script.peel_times[hands.side.index]
        if not hands.fits_now(now, length) or not hands.keeps(now + length, loading):
            return False
        if now > loading.peel_hi:
            self.broken += 1
        if loading.owner >= 0:
            self.hands[loading.owner].owned.pop(loading, None)
        loading.peel = (now, now + length, hands.side.index)
        self.peels.remove(loading)
        self.racked -= len(loading.pieces)
        hands.free = now + length
        self._release(loading, now + length)
        return True

    def _release(self, loading: Loading, at: int) -> None:
        self.pool.finish(loading.script.task, loading.pieces, at)
        self._wake(at)

    def _load(self, hands: Hands, press: PressState, now: int) -> bool:
        choice = press.choose(now, self.pool, self.manner.keep_order)
        giver: PressState | None = None
        if choice is None and self.manner.share and press.over:
            choice, giver = self._help(press, now)
        if choice is None:
            self.bare[press.side.index] = self.acts
            return False
        task, pieces = choice
        script = self._script(task, press, pieces)
        room = self._rack_room(now)
        if script.peel is not None and pieces > room:
            pieces = room
            if pieces <= 0:
                self.bare[press.side.index] = self.acts
                return False
            script = self._script(task, press, pieces)
        length = script.times[hands.side.index][0]
        end, limit = now + length, press.window_end(now)
        follow = promise(script, 1, end, limit, _heat_of(press))
        if follow.lo > follow.hi or not hands.fits_now(now, length) or not self._heat_free(press, None, script, 0, end):
            return False
        assert press.setting is not None
        loading = Loading(self.first + len(self.loadings), press.side.index, (), press.setting, script, limit)
        if not self._entrust(hands, loading, press, follow, end):
            return False
        if giver is not None:
            giver.give_away(task.index, pieces)
            press.accept(task.index, pieces)
        loading.pieces = self.pool.take(task, pieces)
        loading.done.append((now, end, hands.side.index))
        press.put_on(loading, task, pieces)
        self.loadings.append(loading)
        self.racked += pieces if script.peel is not None else 0
        hands.free = end
        self._wake(end)
        self._await(loading, press, follow, end)
        return True

    def _rack_room(self, now: int) -> int:
        """How many more pieces the rack takes."""
        if self.instance.rack is None:
            return FAR
        lying = sum(pieces for until, pieces in self.standing.rack if until > now) if self.standing else 0
        return self.instance.rack - self.racked - lying

    def _script(self, task: Task, press: PressState, pieces: int) -> Script:
        assert press.setting is not None
        key = (task.index, press.side.index, pieces, press.setting[0])
        script = self.scripts.get(key)
        if script is None:
            script = self.scripts[key] = script_of(self.instance, task, press.side, pieces, press.setting[0])
        return script

    def _help(self, press: PressState, now: int) -> tuple[tuple[Task, int] | None, PressState | None]:
        """Work another press still has before it that this one, its own done, can take at its setting."""
        best: tuple[int, tuple[Task, int], PressState] | None = None
        for other in self.presses:
            if other is press:
                continue
            for index, pieces in other.later_tasks():
                task = self.instance.tasks[index]
                fit = task.fits.get(press.side.index)
                assert press.setting is not None
                if fit is None or not fit.lo <= press.setting[0] <= fit.hi or press.setting[1] not in fit.pressures:
                    continue
                count = min(fit.capacity, pieces, self.pool.ready(task, now))
                if (
                    count
                    and other.left > self._script(task, press, count).occupied
                    and (not best or other.left > best[0])
                ):
                    best = (other.left, (task, count), other)
        return (best[1], best[2]) if best else (None, None)


def _heat_of(press: PressState) -> int:
    """The press where several platens share its heat, -1 where there is one."""
    return press.side.index if press.side.stations > 1 else -1
