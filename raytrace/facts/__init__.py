"""Sentences that keep what they are made of: names, amounts and hints, until it is known who reads them."""

from typing import TYPE_CHECKING

from raytrace.late import late_face

if TYPE_CHECKING:
    from raytrace.facts.amounts import Amount, Fixing, Unit, from_to, metres, millimetres, whole_decibels
    from raytrace.facts.plaintext import counted, plain
    from raytrace.facts.sentences import Fact, Hint, Sentence, Told, joined, sentence

__all__ = [
    "Amount",
    "Fact",
    "Fixing",
    "Hint",
    "Sentence",
    "Told",
    "Unit",
    "counted",
    "from_to",
    "joined",
    "metres",
    "millimetres",
    "plain",
    "sentence",
    "whole_decibels",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = late_face(__name__)
