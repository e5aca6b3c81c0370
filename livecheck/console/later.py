"""What takes long to work out, in a thread of its own: how repetitions sounded, directions of
strokes, attacks.

The screen asks for what it is about to draw, gets what is known already, and is drawn again when
there is more. While notes are played only a small share of a processor is used, so that neither
drawing nor the player's other programs wait.
"""

from __future__ import annotations

import threading
import time
from types import TracebackType

from ..measures.sound import RepSound, SoundMemory
from ..measures.strokes.attack import Attacks
from ..measures.strokes.stroke_memory import Reading

RESTS = 16  # times as long as a piece of work took, while notes are played
LONGEST_REST_S = 1.5
ATTACKS_EVERY = 8  # repetitions, while notes are played: a mean of forty moves slowly
END_S = 2.0


class Later:
    """``with Later(sounds) as later``: asked from one thread, works in another."""

    def __init__(self, sounds: SoundMemory) -> None:
        self.done = 0  # changes with everything that has become known
        self.playing = False
        self._sounds = sounds
        self._wanted: set[int] = set()
        self._strokes: Reading | None = None  # wanted
        self._known = Reading()
        self._attacks: Attacks | None = None
        self._attacks_at = -ATTACKS_EVERY
        self._want_attacks = False
        self._change = threading.Condition()
        self._over = False
        self._fault: Exception | None = None
        self._thread = threading.Thread(target=self._work, name="later", daemon=True)

    def __enter__(self) -> Later:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with self._change:
            self._over = True
            self._change.notify()
        self._thread.join(END_S)

    def sound(self, rep: int) -> RepSound | None:
        """How a repetition sounded, where it is known; else it is worked out, the newest first."""
        known = self._sounds.known(rep)
        if known is None and rep in self._sounds:
            with self._change:
                self._wanted.add(rep)
                self._change.notify()
        return known

    def strokes(self) -> Reading:
        """The directions after the last repetition, or after an earlier one until they are
        known."""
        now = self._sounds.strokes
        if now.known:
            self._known = now
        else:
            with self._change:
                self._strokes = now
                self._change.notify()
        return self._known

    def attacks(self) -> Attacks | None:
        """A reading of the attacks that is a few repetitions old at most; None until there is
        one."""
        since = self._sounds.count - self._attacks_at
        if since >= (ATTACKS_EVERY if self.playing else 1) or since < 0:  # below 0: another cell
            with self._change:
                self._want_attacks = True
                self._change.notify()
        return self._attacks

    def wait(self, done: int, seconds: float) -> bool:
        """Wait until so much more has become known than ``done``, at most so long."""
        with self._change:
            return self._change.wait_for(lambda: self.done > done, seconds)

    def raise_fault(self) -> None:
        """Raise what went wrong in the thread."""
        if self._fault is not None:
            raise self._fault

    def _work(self) -> None:
        try:
            while self._waited():
                began = time.perf_counter()
                self.work_once()
                rest_s = min(LONGEST_REST_S, RESTS * (time.perf_counter() - began))
                with self._change:
                    self.done += 1
                    self._change.notify_all()
                    if self.playing and not self._over:
                        self._change.wait_for(lambda: self._over or not self.playing, rest_s)
        except Exception as fault:
            with self._change:
                self._fault = fault
                self.done += 1
                self._change.notify_all()

    def _waited(self) -> bool:
        """Wait until something is wanted; False when all is over."""
        with self._change:
            self._change.wait_for(
                lambda: self._over or self._strokes or self._wanted or self._want_attacks
            )
            return not self._over

    def work_once(self) -> None:
        """Work out one of the things that are wanted: directions, then the newest repetition, then
        attacks."""
        with self._change:
            strokes, self._strokes = self._strokes, None
            rep, attacks = None, False
            if strokes is None and self._wanted:
                rep = max(self._wanted)
                self._wanted.discard(rep)
            elif strokes is None:
                attacks, self._want_attacks = self._want_attacks, False
        if strokes is not None:
            strokes.told  # noqa: B018 - it is kept there
        elif rep is not None:
            self._sounds.get(rep)
        elif attacks:
            count = self._sounds.count
            self._attacks, self._attacks_at = self._sounds.attacks, count
