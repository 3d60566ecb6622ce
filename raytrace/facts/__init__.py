"""Sentences that keep what they are made of: names, amounts and hints, until it is known who reads them."""

from raytrace.facts.amounts import Amount, Fixing, Unit, from_to, metres, millimetres
from raytrace.facts.plaintext import plain
from raytrace.facts.sentences import Fact, Hint, Sentence, Told, joined, sentence

__all__ = [
    "Amount",
    "Fact",
    "Fixing",
    "Hint",
    "Sentence",
    "Told",
    "Unit",
    "from_to",
    "joined",
    "metres",
    "millimetres",
    "plain",
    "sentence",
]
