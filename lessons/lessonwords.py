"""Every word that a lesson may use for what is seen: ids of structures, landmarks, variants of a specimen."""

from __future__ import annotations

from collections.abc import Iterator

from lessons.scenefile import LAYER_WORDS, known_landmarks
from meshes.reference import all_courses, solid_rows
from meshes.specimen import VARIANTS

#: Kinds of structures as headings.
HEADINGS = {
    "nerve": "Nerves",
    "muscle": "Muscles",
    "bone": "Bones",
    "disc": "Discs",
    "ligament": "Ligaments",
    "vessel": "Vessels",
    "viscus": "Viscera",
    "skin": "Skin",
}


def word_lines() -> Iterator[str]:
    """The words, a heading before each kind; `_left` stands for `_right` as well."""
    rows = [(row.structure, row.paired) for row in solid_rows()]
    rows += [(course.structure, course.paired) for course in all_courses().values()]
    for kind, heading in HEADINGS.items():
        found = sorted((s.id.removesuffix("_left"), s.name, paired) for s, paired in rows if s.kind == kind)
        yield f"{heading} (_left, or _right)" if any(paired for _, _, paired in found) else heading
        for bare, name, paired in found:
            yield f"  {f'{bare}_left' if paired else bare:<42} {name}"
    yield "Layers, for shown, glassy and hidden"
    yield f"  {' '.join(LAYER_WORDS)}"
    yield "Variants of a specimen"
    yield f"  {' '.join(VARIANTS)}"
    yield "Landmarks, for view.camera.on"
    yield from (f"  {name}" for name in sorted(known_landmarks()))
