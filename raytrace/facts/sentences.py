"""Sentences with the facts they tell still apart from their words."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import TypeAlias, Union

from raytrace.facts.amounts import Amount, Fixing


@dataclass(frozen=True)
class Hint:
    """A part of a sentence that only whoever writes the scene file can use."""

    text: str

    def __str__(self) -> str:
        """As whoever writes the scene file reads it."""
        return self.text


Fact: TypeAlias = Union[str, int, Amount, Fixing, Hint, "Sentence"]
Told: TypeAlias = Callable[[Amount | Fixing | Hint], str]


@dataclass(frozen=True)
class Sentence:
    """A sentence, or the rest of one: its words with places for its facts.

    `str` tells it in metric units to whoever writes the scene file.

    Attributes
    ----------
    template : str
        Words, with the name of a fact in braces wherever one belongs.
    facts : tuple of (str, Fact)
        Names and numbers as they are, amounts, sizes of fixings, hints, and sentences within this one.

    Examples
    --------
    >>> from raytrace.facts.amounts import millimetres
    >>> str(sentence("{panel} is {deep} deep", panel="shelf 600 mm", deep=millimetres(0.05)))
    'shelf 600 mm is 50 mm deep'
    """

    template: str
    facts: tuple[tuple[str, Fact], ...] = ()

    def __str__(self) -> str:
        """In metric units, with every hint."""
        return self.told(str)

    def told(self, words: Told) -> str:
        """The sentence with its amounts, fixings and hints as `words` puts them."""
        return self.template.format(**{name: _told(fact, words) for name, fact in self.facts})

    def without(self, name: str) -> "Sentence":
        """The same sentence without one of its facts."""
        return replace(self, facts=tuple((n, "" if n == name else fact) for n, fact in self.facts))


def sentence(template: str, /, **facts: Fact) -> Sentence:
    """A sentence from its words and the facts that they name in braces."""
    return Sentence(template, tuple(facts.items()))


def joined(between: str, parts: Iterable[Fact]) -> Sentence:
    """Several facts one after the other, with the same words between them."""
    named = tuple((f"part{k}", part) for k, part in enumerate(parts))
    return Sentence(between.join(f"{{{name}}}" for name, _ in named), named)


def _told(fact: Fact, words: Told) -> str:
    if isinstance(fact, Sentence):
        return fact.told(words)
    return words(fact) if isinstance(fact, Amount | Fixing | Hint) else str(fact)
