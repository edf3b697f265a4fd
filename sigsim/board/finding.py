"""Parts by what players call them: in a name, among its aliases, in its summary, or nearly so."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from sigsim.board.parts import Part

# How well a thing is named by what was asked: the same words; all of the words asked, in a name of
# its own or in the summary; all of its own words among those asked, last or elsewhere. Ranks only,
# no probabilities.
_SAME: Final = 1.0
_ALL_IN_NAME: Final = 0.9
_NAMED_WITHIN: Final = 0.8
_ALL_IN_SUMMARY: Final = 0.7
_AMONG_OTHERS: Final = 0.5
# From here on a part fits; from the second figure on it is near.
_FITS: Final = 0.6
_NEAR: Final = 0.4
# Two words are the same where they are this much alike (one letter wrong in five, an ending more).
_ONE_WORD: Final = 0.79
# What says nothing about which part is meant.
_SMALL_WORDS: Final = frozenset(
    {"a", "an", "and", "for", "in", "my", "of", "on", "the", "to", "with", "box", "effect", "pedal"}
)
_LONGEST: Final = 100
_MOST_NEAR: Final = 3


@dataclass(frozen=True)
class Found:
    """The parts that answer to a name, the best first.

    Attributes
    ----------
    asked : the name
    fitting : parts that are called so
    near : where none fits, those that are called something like it
    """

    asked: str
    fitting: tuple[Part, ...]
    near: tuple[Part, ...]


def find(asked: str, parts: Iterable[Part], most: int = 8) -> Found:
    """Return the parts that players may mean by a name.

    Parameters
    ----------
    asked : the name, in any words
    parts : to look among
    most : at most so many that fit

    Returns
    -------
    Found
    """
    words = _words(asked)
    ranked = sorted(((_rank(words, part), part) for part in parts), key=lambda entry: -entry[0])
    best = ranked[0][0] if ranked else 0.0
    # What is only somewhat alike is left out where something is called exactly so.
    least = max(_FITS, best - 0.25)
    fitting = tuple(part for rank, part in ranked if rank >= least)[:most]
    near = tuple(part for rank, part in ranked if rank >= _NEAR)
    return Found(asked, fitting, () if fitting else near[:_MOST_NEAR])


def called(asked: str, parts: Iterable[Part]) -> tuple[Part, ...]:
    """Return the parts of which a name or an alias stands whole in a name and says what it is.

    Of "my old fuzz 2" that is the fuzz: a number tells nothing, and the last word is the thing. The
    longest name that stands there counts.

    Parameters
    ----------
    asked : the name, in any words
    parts : to look among
    """
    words = tuple(word for word in _words(asked) if not word.isdecimal())
    lengths = [(_length_within(words, part), part) for part in parts]
    longest = max((length for length, _ in lengths), default=0)
    return tuple(part for length, part in lengths if longest and length == longest)


def _length_within(asked: tuple[str, ...], part: Part) -> int:
    """Return how many words the longest name of a part has that stands whole among others."""
    names = (_words(name) for name in (part.name.replace("-", " "), *part.aliases))
    whole = [len(name) for name in names if asked and asked[-1] in name and set(name) <= set(asked)]
    return max(whole, default=0)


def _rank(asked: tuple[str, ...], part: Part) -> float:
    """Return how well a part answers to words, 0 to 1."""
    if not asked:
        return 0.0
    names = [_words(name) for name in (part.name.replace("-", " "), *part.aliases)]
    return max(
        max(_likeness(asked, name) for name in names),
        _ALL_IN_SUMMARY * _share(asked, _words(part.summary)),
    )


def _likeness(asked: tuple[str, ...], name: tuple[str, ...]) -> float:
    """Return how much words asked are like one name, 0 to 1.

    Between two names with the same words found, the one with fewer others is the likelier.
    """
    if not name:
        return 0.0
    found, covered = _share(asked, name), _share(name, asked)
    spare = 0.01 * abs(len(name) - len(asked))
    if found == covered == 1:
        return _SAME
    if found == 1:
        return _ALL_IN_NAME - spare
    # A name inside a longer description: the last word asked is what it is, "gated bass fuzz".
    if covered == 1 and asked[-1] in name:
        return _NAMED_WITHIN - spare
    among = _AMONG_OTHERS if covered == 1 else found * covered * _NAMED_WITHIN
    return max(among, 0.7 * _spelled_alike(asked, name))


def _share(some: tuple[str, ...], others: tuple[str, ...]) -> float:
    """Return the share of words that stand among others, those nearly the same included."""
    return sum(any(_same(word, other) for other in others) for word in some) / len(some)


def _same(one: str, other: str) -> bool:
    """Whether two words are one: the same, a plural, an ending, or a slip of the keys."""
    if one == other:
        return True
    short, long = sorted((one, other), key=len)
    if len(short) < 4:
        return False
    # Two words that begin alike and end in a usual way: octave and octaver, synth and synthesiser.
    if long.startswith(short) and (len(short) >= 5 or len(long) - len(short) <= 2):
        return True
    return _ratio(one, other) >= _ONE_WORD


def _spelled_alike(asked: tuple[str, ...], name: tuple[str, ...]) -> float:
    return _ratio("".join(asked), "".join(name))


@lru_cache(maxsize=1 << 16)  # the words of the library meet one another again and again
def _ratio(one: str, other: str) -> float:
    from difflib import SequenceMatcher

    matcher = SequenceMatcher(None, one, other, autojunk=False)
    bound = matcher.real_quick_ratio()
    return matcher.ratio() if bound >= _NEAR else bound


def _words(text: str) -> tuple[str, ...]:
    """Return the words that tell one thing from another, in plain small letters."""
    plain = unicodedata.normalize("NFKD", text[:_LONGEST].casefold())
    every = re.findall(r"[^\W_]+", "".join(c for c in plain if not unicodedata.combining(c)))
    return tuple(dict.fromkeys(_telling(every))) or tuple(dict.fromkeys(every))


def _telling(words: list[str]) -> Iterator[str]:
    yield from (word for word in words if word not in _SMALL_WORDS)
