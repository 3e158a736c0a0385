"""Every fuzzed input has a seed of its own, ``Random("name-number")``, and can be made alone."""

from __future__ import annotations

import signal
import time
from collections import Counter
from contextlib import contextmanager
from random import Random
from typing import TYPE_CHECKING, NoReturn, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

T = TypeVar("T")
LONGEST = 1.0  # seconds of the processor that one input may take


def random_of(name: str, number: int) -> Random:
    return Random(f"{name}-{number}")  # noqa: S311  (no secret)


def fuzz(
    name: str, numbers: Iterable[int], make: Callable[[Random], T], check: Callable[[T], str]
) -> Counter[str]:
    """Make and check inputs, and count what became of them, as `check` says it."""
    found: Counter[str] = Counter()
    for number in numbers:
        given = make(random_of(name, number))
        try:
            found[check(given)] += 1
        except Exception as error:
            raise AssertionError(f"seed {name}-{number}: {error!r}\n{given!r}") from error
    return found


@contextmanager
def at_once() -> Iterator[None]:
    """Fail what takes longer than a second, and break off what would never end."""
    former = signal.signal(signal.SIGVTALRM, _too_long)
    signal.setitimer(signal.ITIMER_VIRTUAL, LONGEST)
    start = time.process_time()
    try:
        yield
        assert time.process_time() - start < LONGEST, "it took more than a second"
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, former)


def _too_long(*_: object) -> NoReturn:
    raise AssertionError("it takes more than a second")


def with_slips(text: str, random: Random, characters: str, most: int = 3) -> str:
    """Change a few characters of a text: one left out, put in, replaced, or two exchanged."""
    for _ in range(random.randint(1, most)):
        i = random.randrange(len(text) + 1)
        new = random.choice(characters)
        text = random.choice(
            (
                text[:i] + text[i + 1 :],
                text[:i] + new + text[i:],
                text[:i] + new + text[i + 1 :],
                text[:i] + text[i + 1 : i + 2] + text[i : i + 1] + text[i + 2 :],
            )
        )
    return text


def assert_clear(error: Exception, *pieces: str) -> str:
    """A person must be able to read what is wrong: one line, printable, no wall of text."""
    message = str(error)
    assert message.strip(), "it says nothing"
    assert message.isprintable(), f"not one printable line: {message!r}"
    assert len(message) <= 1000, f"{len(message)} characters: {message}"
    assert all(piece in message for piece in pieces), f"not a word of {pieces}: {message}"
    return message
