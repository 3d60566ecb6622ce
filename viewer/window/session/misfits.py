"""What of a scene does not fit a change that is asked for: found one after the other, to be shown."""

from dataclasses import replace

from raytrace import KeyPath, SceneError, build_room, remove_in_text
from viewer.window.session.drafts import Draft

MOST = 20


def misfits(draft: Draft, text: str) -> tuple[KeyPath, ...]:
    """Entries of a draft's scene that do not fit what another text says of the room.

    Whatever a text is refused for is taken out of it, until a room is left or what is wrong is no entry.
    """
    left = {kind: list(range(len(own))) for kind, own in draft.scene().document.items() if _is_list(own)}
    found: list[KeyPath] = []
    while len(found) < MOST:
        try:
            build_room(replace(draft, text=text).scene())
        except SceneError as problem:
            kind, at = problem.at[:2] if len(problem.at) > 1 else ("", 0)
            if not isinstance(kind, str) or not isinstance(at, int) or at >= len(left.get(kind, ())):
                break
            found.append((kind, left[kind].pop(at)))
            text = remove_in_text(text, (kind, at))
        else:
            break
    return tuple(found)


def _is_list(value: object) -> bool:
    return isinstance(value, list)
