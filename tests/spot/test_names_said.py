"""What people write for a structure, and what they write for another one."""

import pytest

from lessons.spot.names import is_called
from tests.spot.everyname import EVERY

#: What each may be called, and what it may not, by the brief of the issue and by how people write.
SAID = {
    "lateral_femoral_cutaneous_left": (
        [
            "LFCN",
            "lfcn",
            "lateral cutaneous nerve of the thigh",
            "cutaneous nerve of thigh, lateral femoral",
            "lateral femoral cutaneus n.",
            "n. cutaneus femoris lateralis",
            "Left LFCN",
            "lateral femoral cutanious nerve",
            "n. cut. fem. lat.",
            "lat. cut. nv. of thigh (LFCN, L2/3)",
        ],
        ["femoral", "lateral femoral", "right LFCN", "anterior femoral cutaneous nerve", "cutaneous nerve"],
    ),
    "femoral_left": (
        ["nerve, femoral", "femoral", "Femoralis", "FN", "L femoral nerve", "femorall nerve", "n. femoralis"],
        [
            "genitofemoral",
            "genito-femoral nerve",
            "lateral femoral cutaneous",
            "femoral artery",
            "femoral vein",
            "femoral branch",
            "femur",
            "R femoral nerve",
            "obturator",
            "femoral muscle",
            "femoral branch of the genitofemoral",
            "femoral nerve (artery)",
            "femoral nerve (genito-)",
            "fem. a.",
            "fem. br.",
        ],
    ),
    "obturator_left": (
        [
            "obturator",
            "ON",
            "nervus obturatorius",
            "obturater nerve",
            "obdurator",
            "obt. n.",
            "obt n",
            "obturator nv.",
            "obturator nerve (L2-4)",
            "obturator nerve (L2, 3, 4)",
            "obturator nerve (L 2 to L 4)",
            "(left) obt. nv. (ON; L2\u2013L4)",
            "obturator nerve (n. obturatorius)",
            "obturator nerve (to the medial thigh)",
        ],
        [
            "accessory obturator",
            "obturator internus",
            "anterior branch of the obturator nerve",
            "obturator muscle",
            "acc. obt. n.",
            "obt. int.",
            "obturator (internus)",
            "obturator (muscle)",
            "obturator nerve (L3-4)",
            "obturator nerve (L1-L4)",
            "obturator nerve (L2-4, L5)",
            "obturator nerve (2-4)",
            "obturator nerve (FN)",
            "obturator nerve (or femoral)",
            "obturator nerve (its anterior branch)",
            "obturator nerve (right, L2-4)",
            "obturator nerve (ON) (femoral nerve)",
            "obturator nerve (L2-4",
            "(L2-4)",
        ],
    ),
    "accessory_obturator_left": (["accessory obturator nerve", "AON", "accesory obturator"], ["obturator"]),
    "ilioinguinal_left": (
        ["ilio-inguinal", "IIN", "ilioinguinal n", "ilio inguinal nerve", "ilioingunal nerve"],
        ["iliohypogastric", "inguinal", "inguinal ligament", "IHN"],
    ),
    "iliohypogastric_left": (
        ["IHN", "iliohypogastric", "ileohypogastric", "ilio hypogastric"],
        ["ilioinguinal", "hypogastric", "lateral cutaneous branch of the iliohypogastric nerve"],
    ),
    "genitofemoral_left": (
        ["GFN", "genitofemoral", "genito femoral nerve", "nervus genitofemoralis"],
        ["femoral", "genital branch of the genitofemoral nerve", "genital"],
    ),
    "lumbosacral_trunk_left": (
        ["LST", "lumbo-sacral trunk", "lumbosacraltrunk", "truncus lumbosacralis"],
        ["L4", "L5", "lumbosacral plexus", "sacral plexus", "sympathetic trunk"],
    ),
    "l4_root_left": (
        [
            "L4 root",
            "root of L4",
            "4th lumbar root",
            "L4 nerve root",
            "L 4 root",
            "lumbar 4 root",
            "radix nervi lumbalis IV",
        ],
        ["L3 root", "L4", "L4 ganglion", "ventral ramus of L4", "L4-5", "L5 root", "L14 root", "T4 root"],
    ),
    "l3_ramus_left": (
        [
            "L3 ventral ramus",
            "anterior ramus of L3",
            "anterior primary ramus of L3",
            "ramus anterior nervi lumbalis tertii",
        ],
        ["L4 ventral ramus", "posterior ramus of L3", "L3", "L3 root"],
    ),
    "l4": (
        ["L4", "L4 vertebra", "fourth lumbar vertebra", "vertebra lumbalis IV", "L4 vertebral body"],
        ["L5", "L4 root", "L4 nerve"],
    ),
    "disc_l4_5": (
        ["L4-5", "L4/5 disc", "L4-L5", "disc L4 L5", "L4/L5 intervertebral disk"],
        ["L3-4", "L4", "L5-S1 disc"],
    ),
    "disc_l5_s1": (["L5-S1", "L5/S1 disc", "L5 S1 disc"], ["L4-5", "S1"]),
    "inferior_vena_cava": (["IVC", "vena cava", "inferior vena cava"], ["superior vena cava", "aorta", "left IVC"]),
    "quadratus_lumborum_left": (
        ["QL", "quadratus lumborum", "m. quadratus lumborum", "quadratus lumborum muscle"],
        ["quadratus femoris"],
    ),
    "psoas_major_left": (["psoas", "psoas major", "m psoas major"], ["psoas minor", "iliopsoas", "psoas nerve"]),
    "common_iliac_artery_left": (
        ["left common iliac artery", "common iliac a.", "CIA", "a. iliaca communis sinistra"],
        ["right common iliac artery", "common iliac vein", "common iliac", "external iliac artery", "iliac artery"],
    ),
    "internal_oblique_left": (["internal oblique", "IO"], ["external oblique", "oblique", "interior"]),
    "ureter_left": (["ureter", "urether", "left ureter"], ["urethra", "right ureter"]),
}


@pytest.mark.parametrize("id_", SAID)
def test_what_people_write(id_: str) -> None:
    right, wrong = SAID[id_]
    assert [words for words in right if not is_called(words, id_, EVERY)] == []
    assert [words for words in wrong if is_called(words, id_, EVERY)] == []
