"""What can be done in the window: menus, keys and the words for both, as data."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Command:
    """One entry of a menu.

    Attributes
    ----------
    menu : str
        The menu it stands in.
    name : str
        What does it: the method of the workbench, or of one of its parts.
    text : str
        What it says.
    keys : str
        Its key, as Qt writes it; "" for none.
    can_check : bool
        Whether it is something that is on or off.
    """

    menu: str
    name: str
    text: str
    keys: str = ""
    can_check: bool = False


COMMANDS = (
    Command("File", "filing.begin_new", "New room from a tape sketch", "Ctrl+N"),
    Command("File", "filing.ask_open", "Open a scene file …", "Ctrl+O"),
    Command("File", "scanning.ask_file", "Scan or floor plan …", "Ctrl+Shift+O"),
    Command("File", "hearing.ask_files", "Measurements …", "Ctrl+Shift+M"),
    Command("File", "filing.show_example", "Look at an example room"),
    Command("File", "filing.save", "Save", "Ctrl+S"),
    Command("File", "filing.ask_save_as", "Save as …", "Ctrl+Shift+S"),
    Command("File", "filing.reload", "Read the file again", "F5"),
    Command("File", "exporting.ask_picture", "Picture of this view …", "Ctrl+I"),
    Command("File", "exporting.ask_print", "Print this view …", "Ctrl+P"),
    Command("File", "exporting.ask_report", "Report for client and installer …", "Ctrl+R"),
    Command("File", "exporting.ask_drawings", "Drawings to scale for the installer …", "Ctrl+Shift+R"),
    Command("File", "exporting.ask_page", "Page for a browser …"),
    Command("File", "main.close", "Quit", "Ctrl+Q"),
    Command("Edit", "editing.undo", "Undo", "Ctrl+Z"),
    Command("Edit", "editing.redo", "Redo", "Ctrl+Y"),
    Command("Edit", "proposing.propose", "Propose panels …", "Ctrl+Shift+P"),
    Command("Edit", "adding.duplicate", "Duplicate", "Ctrl+D"),
    Command("Edit", "adding.mirror", "Mirror to the other side", "Ctrl+M"),
    Command("Edit", "adding.delete", "Delete", "Delete"),
    Command("Edit", "adding.rename", "Rename", "Ctrl+E"),
    Command("Edit", "arranging.align_front", "Selected: as far from the front as the first"),
    Command("Edit", "arranging.align_left", "Selected: as far from the left as the first"),
    Command("Edit", "arranging.align_height", "Selected: as high as the first"),
    Command("Edit", "arranging.space_evenly", "Selected: space evenly"),
    Command("Edit", "editing.next_thing", "Next thing to move", "Alt+Right"),
    Command("Edit", "editing.type_place", "Type where it stands", "E"),
    Command("Edit", "editing.toggle_pairs", "Move panels in pairs", "M", True),
    Command("Edit", "editing.toggle_before", "As it was when opened", "B", True),
    Command("Variants", "show_variants", "Variants side by side", "V"),
    Command("Variants", "varying.add", "Add a variant", "Ctrl+Shift+N"),
    Command("Variants", "varying.next", "Next variant", "Alt+V"),
    Command("Variants", "varying.toggle_compare", "Compare with another variant", "Shift+V", True),
    Command("Variants", "varying.rename", "Rename the variant …"),
    Command("Variants", "varying.delete", "Delete the variant …"),
    Command("View", "show_reflections", "What reaches the seat", "R"),
    Command("View", "show_contents", "What the room holds", "C"),
    Command("View", "show_text", "The scene as text", "T"),
    Command("View", "show_measured", "What was measured", "K"),
    Command("View", "looking.view_room", "The whole room", "1"),
    Command("View", "looking.view_plan", "From above", "2"),
    Command("View", "looking.view_section", "From the side", "3"),
    Command("View", "looking.view_seat", "From the seat", "4"),
    Command("View", "looking.next_face", "Face the next surface", "5"),
    Command("View", "looking.toggle_parallel", "Flat view", "F", True),
    Command("View", "looking.toggle_cut", "Cut the room open", "X", True),
    Command("View", "looking.toggle_dimensions", "Dimensions", "D", True),
    Command("View", "looking.toggle_names", "Names", "N", True),
    Command("View", "selecting.measure", "Measure a distance", "L", True),
    Command("View", "looking.toggle_dark", "Dark", "Ctrl+Shift+D", True),
    Command("View", "looking.toggle_imperial", "Feet and inches", "Ctrl+U", True),
    Command("Sound", "selecting.next_row", "Next reflection in the list", "Alt+Down"),
    Command("Sound", "selecting.previous_row", "Previous reflection in the list", "Alt+Up"),
    Command("Sound", "selecting.strongest_row", "Worst reflection", "S"),
    Command("Sound", "asking.why", "Why is it so strong", "W"),
    Command("Sound", "asking.mend", "What would mend it", "Shift+W"),
    Command("Sound", "asking.sheet", "Sheet of the panel or the spots", "Shift+S"),
    Command("Sound", "step_back", "Leave the field, select nothing", "Escape"),
    Command("Sound", "selecting.toggle_over_only", "Only what is over the limit", "O", True),
    Command("Sound", "selecting.toggle_peaks", "Group what arrives together", "P", True),
    Command("Sound", "bassing.toggle", "Bass over the floor", "U", True),
    Command("Sound", "bassing.next_mode", "Shape of the next mode", "Shift+U"),
    Command("Sound", "looking.toggle_fronts", "Wave fronts at the time cursor", "Shift+F", True),
    Command("Sound", "selecting.play", "Animate the sound (no audio)", "Ctrl+Space"),
    Command("Help", "show_keys", "Keys and gestures", "F1"),
    Command("Help", "show_notes", "Limits and cautions", "F2"),
)

#: Menus with the letter that opens each beside Alt.
MENUS = {
    "File": "&File",
    "Edit": "&Edit",
    "Add": "&Add",
    "Variants": "Va&riants",
    "View": "Vie&w",
    "Sound": "&Sound",
    "Help": "&Help",
}

GESTURES = (
    ("Alt and a letter", "open the menu with that letter underlined"),
    ("Tab", "from one part of the window to the next; the arrow keys work in what has the frame"),
    ("Drag the room", "turn it"),
    ("Shift and drag, or the right button", "push it sideways"),
    ("Wheel, or two fingers that part", "nearer and farther; two fingers sideways turn the room"),
    ("Drag a speaker, a seat, a panel", "move it along the floor or its surface"),
    (
        "Drag a piece of furniture",
        "move it along the floor; what touches the ceiling is built in: select it in the list",
    ),
    (
        "Drag a panel whose mirror image hangs across the room",
        "both move, unless Edit, Move panels in pairs (M) is off",
    ),
    ("Drag the outline of a cut", "it goes deeper into the room or less deep"),
    ("Shift and drag a thing", "up and down"),
    ("From above, drag a corner of a plan", "the walls beside it tell their lengths; square to the next one"),
    (
        "Add something, then point",
        "it follows with its distances from two edges; click or Enter puts it there",
    ),
    ("Ctrl and click in the list of contents", "select several; Edit lines them up or spaces them evenly"),
    ("Arrow keys on a selected thing", "10 mm each; Page Up and Page Down lift and lower it"),
    ("Point at a path, a spot, the tape", "read what it is"),
    ("Click a mode under the curve of the bass", "see its shape; click it again for the floor"),
    (
        "Drop a scan or a floor plan on the window",
        "look the fitted room over, correct it, write it as a scene",
    ),
    ("Drop sound files on the window", "measurements: what made each peak, beside what is predicted"),
    ("Click a cross or a ring on the tape", "see what made a measured peak, or where it can have come over"),
    ("Click the tape", "put the time cursor there; arrow keys move it by 0.1 ms"),
)
