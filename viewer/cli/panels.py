"""Commands about panels: what builds there are, which to propose, what to cut, an installer's drawings."""

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import Parameter

from viewer.cli.commandline import (
    BESIDE,
    NO_LISTS,
    USUAL_EXTENT,
    Extent,
    Flag,
    Hidden,
    Lists,
    MaybeScene,
    MaybeWhole,
    Mistake,
    Names,
    Output,
    SceneFile,
    Units,
    check_form,
    check_scene_file,
    mistakes,
    read_scene,
    showing_progress,
    units_of,
)
from viewer.cli.printing import print_json, say, show
from viewer.cli.siting import ALL_CORES, Spread

if TYPE_CHECKING:
    from raytrace import PanelWish, Scene


def builds(scene: Path | None = None, *, gap: str = "0 mm", json: Flag = False, units: Units = None) -> None:
    """List the panel builds that a scene may name, with what they absorb and weigh.

    Parameters
    ----------
    scene
        Scene file (TOML) whose own builds are listed first; without one the library alone.
    gap
        Air between panel and wall, a length such as "50 mm".
    json
        One JSON object in full precision.
    """
    from raytrace import Air, load_builds, make_datasheet, parse_length
    from viewer.tables import builds_json, builds_table

    try:
        gap_m = parse_length(gap)
    except ValueError as problem:
        raise Mistake(f"--gap: {problem}") from None
    if not 0.0 <= gap_m <= 10.0:
        raise Mistake(f'--gap "{gap}" must lie between 0 and 10 m')
    read = None if scene is None else read_scene(scene)
    listed = load_builds() if read is None else {name: read.build(name) for name in read.known_builds}
    air = Air() if read is None else read.air
    sheets = [make_datasheet(name, build, gap_m=gap_m, air=air, alone=True) for name, build in listed.items()]
    if json:
        print_json(builds_json(sheets))
    else:
        units = units or (None if read is None else read.job.units) or "metric"
        show(builds_table(sheets, units=units))


MOST_MARGIN_DB, MOST_PANELS = 20.0, 200


@Parameter(name="*")
@dataclass(frozen=True)
class Wish:
    """Which panels may be proposed, and for whom.

    Parameters
    ----------
    panels
        At most so many panels: the best of them.
    budget
        At most so much for what is bought; each build that is bought needs a price.
    spend
        Spend it well, 700 or "8 panels": the fewest panels first, then left against right, room below the
        limit, decay, flutter and back wall, in this order, as long as a panel brings something.
    build
        Build of the panels that are bought. May be given more than once: the one that serves best is taken
        place by place, the fewest panels first, then the lowest price. Without it all builds with a price;
        where there are none, what is owned, else the first of the scene's own builds, else "wool 50", or
        "wool 2 in" in a scene in feet and inches.
    seat
        Seat that counts: its peaks are brought below the limit. May be given more than once, the first one
        is served first; with weights, mix=3 and sofa=1 say, they are served together. Without it the first
        seat of the scene counts. Other seats get what --panels or --budget leave over, else nothing.
    margin
        How many dB below the limit every peak is to be; without it as far as its verdict is uncertain.
    singles
        Allow a panel without its mirror image where speakers and seat mirror each other.
    moves
        What may stand another way in the new scene where panels do not do: desk, speakers, seat, or several
        with commas between them. Speakers move together. Without it such changes are only told.
    panels_only
        Look neither for rugs, curtains and pads nor for another arrangement: quicker.
    """

    panels: MaybeWhole = None
    budget: float | None = None
    spend: str | None = None
    build: Names = None
    seat: Names = None
    margin: float | None = None
    singles: Flag = False
    moves: str | None = None
    panels_only: Flag = False

    def check(self) -> None:
        """Refuse numbers that no proposal can have."""
        if self.panels is not None and not 1 <= self.panels <= MOST_PANELS:
            raise Mistake(f"--panels must lie between 1 and {MOST_PANELS}, not {self.panels}")
        if self.spend is not None:
            spent = _amount(self.spend)
            if (self.budget is not None and "budget" in spent) or (
                self.panels is not None and "panels" in spent
            ):
                raise Mistake(f'--spend "{self.spend}" says already how much; leave the other option away')
        if self.budget is not None and not 0.0 <= self.budget < math.inf:
            raise Mistake(f"--budget must be 0 or more, and a number, not {self.budget:g}")
        if self.margin is not None and not 0.0 <= self.margin <= MOST_MARGIN_DB:
            raise Mistake(f"--margin must lie between 0 and {MOST_MARGIN_DB:g} dB, not {self.margin:g}")

    def asked(self, scene: "Scene") -> "PanelWish":
        """The same as `propose` takes it for a scene."""
        from raytrace import PanelWish

        seats, weights = _weighted(self.seat or [], {seat.name for seat in scene.seats})
        spent = {} if self.spend is None else _amount(self.spend)
        return PanelWish(
            most_panels=int(spent["panels"]) if "panels" in spent else self.panels,
            budget=spent.get("budget", self.budget),
            builds=tuple(self.build or ()),
            seats=seats,
            weights=weights,
            margin_db=self.margin,
            singles=self.singles,
            spend=self.spend is not None,
            moves=tuple(part.strip() for part in (self.moves or "").split(",") if part.strip()),
            panels_only=self.panels_only,
        )


def _amount(text: str) -> dict[str, float]:
    """What --spend allows: a number of panels ("8 panels") or money ("700")."""
    number, _, unit = text.strip().partition(" ")
    unit = unit.strip().lower()
    try:
        value = float(number)
    except ValueError:
        value = -1.0
    if unit in ("panel", "panels") and value.is_integer() and 1 <= value <= MOST_PANELS:
        return {"panels": value}
    if not unit and 0.0 <= value < math.inf:
        return {"budget": value}
    raise Mistake(f'--spend "{text}": give an amount of money, 700 say, or "8 panels", 1 to {MOST_PANELS}')


MOST_WEIGHT = 1000.0


def _weighted(given: Sequence[str], known: set[str]) -> tuple[tuple[str, ...], tuple[float, ...]]:
    """Names of seats, and what each weighs: 1 where only others have a weight, none where none has."""
    weights: dict[str, float | None] = {}
    for text in given:
        name, equals, number = text.rpartition("=")
        if text in known or not equals:
            weights[text] = None
            continue
        try:
            weights[name] = float(number)
        except ValueError:
            raise Mistake(f'--seat "{text}": the weight behind "=" must be a number') from None
        if not 1.0 / MOST_WEIGHT <= float(number) <= MOST_WEIGHT:
            raise Mistake(f'--seat "{text}": a weight lies between {1.0 / MOST_WEIGHT:g} and {MOST_WEIGHT:g}')
    if all(weight is None for weight in weights.values()):
        return tuple(weights), ()
    return tuple(weights), tuple(1.0 if weight is None else weight for weight in weights.values())


@Parameter(name="*")
@dataclass(frozen=True)
class Target:
    """Where a proposed scene goes.

    Parameters
    ----------
    out
        Scene file to write; the default is the scene's name with "-proposed". An existing file is never
        overwritten without --replace.
    replace
        Overwrite the file that is to be written.
    """

    out: Path | None = None
    replace: Flag = False

    def checked(self, scene: Path, lists: Lists) -> Path:
        """The file to write; refused where a scene must not go."""
        path = self.out or scene.with_name(f"{scene.stem}-proposed.toml")
        check_scene_file(path, "--out", scene, replace=self.replace, reads=lists.files)
        return path


ANY_PANELS, _BESIDE_THE_SCENE = Wish(), Target()


_Each = Annotated[list[Path] | None, Parameter(negative="", consume_multiple=True)]


def propose(
    scene: MaybeScene = None,
    *,
    each: _Each = None,
    wish: Wish = ANY_PANELS,
    lists: Lists = NO_LISTS,
    to: Target = _BESIDE_THE_SCENE,
    extent: Extent = USUAL_EXTENT,
    by: Spread = ALL_CORES,
    json: Flag = False,
    units: Units = None,
) -> None:
    """Propose the fewest panels that bring early reflections below the limit, and prove them.

    Writes a new scene file with them; the old one stays as it is.

    Parameters
    ----------
    each
        Scene files, in place of one: on all cores or a cluster, one line for each. The exit code is 2 where
        one of them could not be done; the others are.
    json
        One JSON object in full precision.
    """
    from raytrace import propose as find_proposal
    from viewer.files import OutputRefused, write_whole
    from viewer.tables import proposal_json, proposal_tables

    check_form(json, False, units)
    if each:
        from viewer.cli.each import Order, propose_each

        _refuse_both(scene)
        propose_each(each, Order(wish, lists, to, extent, by), json=json)
        return
    if scene is None:
        raise Mistake("which scene? Name a scene file, or several behind --each")
    if by != ALL_CORES:
        raise Mistake("--processes, --scheduler and --record serve many scenes: name them behind --each")
    wish.check()
    read = lists.added_to(read_scene(scene))
    extent.check(read)
    target = to.checked(scene, lists)
    with mistakes(ValueError), showing_progress("looking for panels") as progress:
        found = find_proposal(read, wish.asked(read), out=target, **extent.options, progress=progress)
    if found.is_new:
        with mistakes(OutputRefused):
            write_whole(target, found.text)
    if json:
        print_json(proposal_json(found))
        return
    show(proposal_tables(found, units=units_of(read, units)))
    written = f"Written: {target}" if found.is_new else "Nothing is proposed, so no file is written."
    say(written)


def _refuse_both(scene: Path | None) -> None:
    if scene is not None:
        raise Mistake(f"{scene} stands before --each; name all scenes behind it")


def cutlist(
    scene: SceneFile,
    *,
    lists: Lists = NO_LISTS,
    json: Flag = False,
    csv: Flag = False,
    units: Units = None,
) -> None:
    """Print what to buy and cut for the panels of a scene, and what they weigh on their hooks.

    Parameters
    ----------
    json
        One JSON object in full precision, hooks and cords included.
    csv
        Shopping and cut list as comma-separated values, in millimetres.
    """
    from raytrace import Treatment, build_room, covers_to_buy
    from viewer.tables import making_csv, making_json, making_tables

    check_form(json, csv, units)
    read = lists.added_to(read_scene(scene))
    _refuse_a_bare(read.is_bare and not covers_to_buy(read), scene, "make")
    with mistakes():
        treatment = Treatment(read, build_room(read))
        if json:
            print_json(making_json(treatment))
        elif csv:
            sys.stdout.write(making_csv(treatment))
        else:
            show(making_tables(treatment, units=units_of(read, units)))


def _refuse_a_bare(is_bare: bool, path: Path, what: str) -> None:
    """An empty list or no drawings would pass for an answer where panels were forgotten."""
    if is_bare:
        raise Mistake(
            f"{path}: there is nothing to {what}: it has no [[panels]], [[stands]] or [[clouds]]. "
            f"Write them in, or let hitspot propose {path} suggest some."
        )


def drawings(
    scene: Path,
    *,
    to: Output = BESIDE,
    paper: Literal["A4", "A3", "Letter", "Tabloid"] | None = None,
    lists: Lists = NO_LISTS,
    units: Units = None,
    text: Hidden = None,
) -> None:
    """Draw what an installer needs to scale: ceiling plan, treated surfaces, floor plan; PDF, SVG and DXF.

    Parameters
    ----------
    scene
        Scene file (TOML) with panels, stands or clouds.
    paper
        A4 or A3, Letter or Tabloid; the default is what goes with the units, or the scene's own, in the size
        that serves each drawing best.
    units
        Units of the figures, the scene's own by default; DXF files are in millimetres in any case.
    text
        File that holds the scene as it stands in a window, while it is edited.
    """
    from raytrace import build_room
    from viewer.files import Origin, OutputRefused, check_folder
    from viewer.paper import scale_words, typeface_note
    from viewer.sheets import DRAWINGS, FORMATS, write_drawings
    from viewer.words import listed

    read = lists.added_to(read_scene(scene, text))
    _refuse_a_bare(read.is_bare, scene, "draw")
    place = to.place(f"{scene.stem}-drawings")
    with mistakes(OutputRefused), showing_progress() as progress:
        check_folder(place, Origin.of(DRAWINGS, read))
        room = build_room(read)
        pages = write_drawings(read, room, place, units=units_of(read, units), paper=paper, progress=progress)
    for page in pages:
        scale = "" if page.scale is None else f", {scale_words(page.scale, units_of(read, units))}"
        say(f"{page.name}: {page.title}, {page.paper}{scale}")
    formats = listed([form.name for form in FORMATS])
    say(f"Written: {place.path / 'drawings.pdf'}, and each sheet as {formats}")
    if note := typeface_note(read):
        say(f"Note: {note}")
