"""What stands round the room in the window: list, tape of time, bars, pages of words."""

from viewer.window.controls.arrivallist import ArrivalList
from viewer.window.controls.bassstrip import BassStrip
from viewer.window.controls.commands import COMMANDS, MENUS
from viewer.window.controls.contents import Contents, keys_of
from viewer.window.controls.helppages import keys_html, notes_html, show_page
from viewer.window.controls.keyform import typed_values
from viewer.window.controls.language import in_own_language, load_language, translate_words
from viewer.window.controls.measuredpage import MeasuredPage
from viewer.window.controls.outputform import DRAWINGS, PAGE, REPORT, Output, OutputForm, wish_words
from viewer.window.controls.placebar import PlaceBar
from viewer.window.controls.scanpage import ScanPage
from viewer.window.controls.scenetext import SceneText
from viewer.window.controls.sheetpage import show_sheets
from viewer.window.controls.soundform import SoundForm
from viewer.window.controls.startpage import StartPage
from viewer.window.controls.styling import TICKED, palette, stylesheet, switch, tick_palette
from viewer.window.controls.timestrip import TimeStrip
from viewer.window.controls.variantpage import VariantPage
from viewer.window.controls.viewbar import ViewBar
from viewer.window.controls.waitingpage import WaitingPage
from viewer.window.controls.wishform import Asked, WishForm

__all__ = [
    "COMMANDS",
    "DRAWINGS",
    "MENUS",
    "PAGE",
    "REPORT",
    "TICKED",
    "ArrivalList",
    "Asked",
    "BassStrip",
    "Contents",
    "MeasuredPage",
    "Output",
    "OutputForm",
    "PlaceBar",
    "ScanPage",
    "SceneText",
    "SoundForm",
    "StartPage",
    "TimeStrip",
    "VariantPage",
    "ViewBar",
    "WaitingPage",
    "WishForm",
    "in_own_language",
    "keys_html",
    "keys_of",
    "load_language",
    "notes_html",
    "palette",
    "show_page",
    "show_sheets",
    "stylesheet",
    "switch",
    "tick_palette",
    "translate_words",
    "typed_values",
    "wish_words",
]
