"""Scene texts by grammar: tables and keys that there are, any values, drawn and reduced by hypothesis."""

import re
import tempfile
from collections import Counter
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from tests.fuzz.scenetexts import HOSTILE, NUMBERS, TEXTS, tried

BATCH = 100

# Each table of the shipped scenes, as the lines that stand in it each time.
BLOCKS: dict[str, list[list[str]]] = {}
for text in TEXTS.values():
    for header, body in re.findall(r"(?m)^(\[+[^\]\n]+\]+)\n((?:[a-z_]+ = .*[^\[,\n]\n)+)", text):
        BLOCKS.setdefault(header, []).append(body.splitlines())
KEYS = sorted({line.partition(" =")[0] for blocks in BLOCKS.values() for lines in blocks for line in lines})

quoted = st.one_of(st.sampled_from(HOSTILE), st.text(max_size=8)).map(
    lambda text: '"' + re.sub(r'[\x00-\x1f\x7f"\\\ud800-\udfff]', "", text) + '"'
)
plain_values = st.one_of(
    st.sampled_from(NUMBERS),
    st.floats(-1.0, 9.0).map("{:.3f}".format),
    st.integers(-2, 9).map(str),
    st.dates().map(str),
    quoted,
)
values = st.recursive(
    plain_values,
    lambda inner: (
        st.lists(inner, max_size=4).map(lambda parts: "[" + ", ".join(parts) + "]")
        | st.dictionaries(st.sampled_from(KEYS), inner, max_size=3).map(
            lambda parts: "{" + ", ".join(f"{key} = {value}" for key, value in parts.items()) + "}"
        )
    ),
    max_leaves=6,
)


def in_table(header):
    """A table as some scene has it, up to two of its lines lost or with other values."""

    def changed(lines):
        k = st.integers(0, len(lines) - 1)
        key = st.sampled_from([line.partition(" =")[0] for line in lines] * 3 + KEYS)
        put = st.one_of(st.just([]), st.builds(lambda key, value: [f"{key} = {value}"], key, values))
        return st.lists(st.tuples(k, put), max_size=2).map(
            lambda steps: [
                *(line for n, line in enumerate(lines) if n not in dict(steps)),
                *(line for _, new in steps for line in new),
            ]
        )

    return st.sampled_from(BLOCKS[header]).flatmap(changed).map(lambda lines: "\n".join([header, *lines]))


def without(base, tables):
    """A scene without the tables that are to be written anew."""
    for header in (table.partition("\n")[0] for table in tables):
        if not header.startswith("[["):
            base = re.sub(rf"(?ms)^{re.escape(header)}\n.*?(?=^\[|\Z)", "", base)
    return base


scene_text = st.builds(
    lambda base, tables: without(base, tables) + "\n" + "\n\n".join(tables) + "\n",
    st.sampled_from((TEXTS["box"], TEXTS["box"], TEXTS["garage"], TEXTS["treated-box"], "")),
    st.lists(
        st.sampled_from(sorted(BLOCKS)).flatmap(in_table),
        min_size=1,
        max_size=3,
        unique_by=lambda table: table.partition("\n")[0],
    ),
)


def scene_grammar(random, _folder):
    """A batch of scenes put together from what there is; a failing one is reduced before it is told."""
    ends: Counter[str] = Counter()

    @seed(random.getrandbits(64))
    @settings(
        max_examples=BATCH,
        database=None,
        deadline=None,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=list(HealthCheck),
    )
    @given(scene_text)
    def reads_or_is_refused(text):
        with tempfile.TemporaryDirectory() as place:
            ends[tried(Path(place) / "grammar.toml", text)] += 1

    reads_or_is_refused()
    return ends
