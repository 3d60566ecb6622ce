"""The scene that is open: draft, history, and what is computed for it off the window's thread."""

from viewer.window.session.basssearch import BassSearch
from viewer.window.session.drafts import (
    Draft,
    autosave,
    changed_on_disk,
    discard_recovery,
    find_recovery,
    joist_catches,
    open_draft,
    snap,
    text_on_disk,
)
from viewer.window.session.exports import Exporter
from viewer.window.session.lightsearch import LightSearch
from viewer.window.session.misfits import misfits
from viewer.window.session.playing import Player
from viewer.window.session.scansearch import ScanSearch
from viewer.window.session.session import UNTIL_S, Found, Session, plain_words
from viewer.window.session.soundsearch import SoundSearch
from viewer.window.session.variants import first_of, variant_name, variants_of
from viewer.window.session.variantsearch import VariantSearch
from viewer.window.session.worker import Worker

__all__ = [
    "UNTIL_S",
    "BassSearch",
    "Draft",
    "Exporter",
    "Found",
    "LightSearch",
    "Player",
    "ScanSearch",
    "Session",
    "SoundSearch",
    "VariantSearch",
    "Worker",
    "autosave",
    "changed_on_disk",
    "discard_recovery",
    "find_recovery",
    "first_of",
    "joist_catches",
    "misfits",
    "open_draft",
    "plain_words",
    "snap",
    "text_on_disk",
    "variant_name",
    "variants_of",
]
