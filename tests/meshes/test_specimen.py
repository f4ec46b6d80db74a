"""A specimen file gives a specimen or one sentence, never anything else; seeds draw the same again, within range."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from meshes.errors import FurcalError
from meshes.specimen import (
    ALDER,
    KEYS,
    MIDLINE_VARIANTS,
    RANGES,
    SEXES,
    SIDED_VARIANTS,
    VARIANTS,
    Specimen,
    drawn,
    from_table,
    load,
    share_of,
)
from meshes.structures import POSTURES, SIDES
from meshes.tables import ANATOMY, cited, read_toml
from tests.meshes.refusals import refused

BIRCH = """
name = "Birch"
sex = "female"
stature_mm = 1650
posture = "side_lying"
table_break_deg = 20
up = "left"
psoas_scale = 1.1
seed = 12
[variants]
accessory_obturator_left = true
genitofemoral_split_left = true
lfcn_lateral_to_asis_right = true
aorta_divides_high = true
t12_share_left = false
"""

#: What a TOML file can hold.
PLAIN = (
    st.booleans()
    | st.integers()
    | st.sampled_from([10**400, -1])
    | st.floats()
    | st.text(max_size=12)
    | st.dates()
    | st.times()
    | st.datetimes()
)
VALUES = st.recursive(
    PLAIN, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3)
)
#: Values that a key might really be given, right or nearly right.
LIKELY = st.sampled_from(
    [*SEXES, *SIDES, *POSTURES, "", "Larch", True, False, 0, 0.5, 1, 1.6, 20, 40, 41, 1400, 2100.0, 2101, math.nan]
)
SWITCHES = st.dictionaries(
    st.sampled_from(VARIANTS) | st.text(max_size=4), st.booleans() | VALUES, max_size=4
)  # fmt: skip
FILES = st.dictionaries(st.sampled_from(KEYS) | st.text(max_size=8), VALUES | LIKELY | SWITCHES, max_size=6)


@given(FILES)
def test_any_file_gives_a_specimen_or_one_sentence_that_names_a_key(table: dict[str, Any]) -> None:
    said = ""
    try:
        made = from_table(table, "yew.toml")
    except FurcalError as error:
        said = str(error)
    else:
        assert made == from_table(dict(reversed(table.items())), "yew.toml"), "the order of keys means nothing"
        assert_in_range(made)
        for key in {"name", "sex", "posture", "up", "seed"} & set(table):
            assert getattr(made, key) == table[key]
    if said:
        assert said.startswith("yew.toml")
        assert len(said.splitlines()) == 1
        assert said.endswith(".")
        assert any(key in said or repr(key) in said or repr(key)[:70] in said for key in table)


def assert_in_range(made: Specimen) -> None:
    assert made.sex in (*SEXES, "")
    assert made.posture in POSTURES
    assert made.up in (*SIDES, "")
    assert made.variants <= set(VARIANTS)
    for key, (low, high) in RANGES.items():
        value = getattr(made, key)
        assert low <= value <= high or (key == "stature_mm" and value == 0.0)
    if made.posture != "side_lying":
        assert not made.up
        assert not made.table_break_deg


def test_the_file_of_the_contract_is_read_as_it_stands(tmp_path: Path) -> None:
    path = tmp_path / "birch.toml"
    path.write_text(BIRCH)
    assert load(path) == Specimen(
        name="Birch",
        sex="female",
        stature_mm=1650.0,
        posture="side_lying",
        table_break_deg=20.0,
        up="left",
        psoas_scale=1.1,
        seed=12,
        variants=frozenset(
            {
                "accessory_obturator_left",
                "genitofemoral_split_left",
                "lfcn_lateral_to_asis_right",
                "aorta_divides_high",
            }
        ),
    )


def test_an_empty_file_is_alder_by_the_files_own_name(tmp_path: Path) -> None:
    path = tmp_path / "larch.toml"
    path.write_text("")
    assert load(path) == Specimen(name="larch")
    assert Specimen() == ALDER
    assert ALDER.name == "Alder"


@pytest.mark.parametrize("key", KEYS)
def test_every_key_may_stand_alone(key: str) -> None:
    good: dict[str, Any] = {
        "name": "Yew", "sex": "male", "stature_mm": 1800, "posture": "supine", "table_break_deg": 10.5, "up": "right",
        "psoas_scale": 0.5, "seed": 0, "variants": {"t12_share_right": True},
    }  # fmt: skip
    assert set(good) == set(KEYS)
    made = from_table({key: good[key]}, "yew.toml")
    want = frozenset(k for k, on in good[key].items() if on) if key == "variants" else good[key]
    assert getattr(made, key) == want


@pytest.mark.parametrize(
    ("key", "low", "high"), [(key, *limits) for key, limits in RANGES.items()]
)  # fmt: skip
def test_ranges_hold_at_both_ends_and_are_told(key: str, low: float, high: float) -> None:
    for value in (low, high, int(high)):
        assert getattr(from_table({key: value}, "yew.toml"), key) == value
    for value in (math.nextafter(low, -math.inf), math.nextafter(high, math.inf), -1.0, 1e9):
        said = refused(from_table, {key: value}, "yew.toml")
        assert said.startswith(f"yew.toml, {key}: ")
        assert f"is outside {low:g} to {high:g}." in said
    for value in (math.nan, math.inf, -math.inf):
        said = refused(from_table, {key: value}, "yew.toml")
        assert said == f"yew.toml, {key}: expected a finite number, found {value!r}."
    wrong: object
    for wrong in ("1", str(high), True, [high], {}, None):
        said = refused(from_table, {key: wrong}, "yew.toml")
        assert said == f"yew.toml, {key}: expected a number, found {wrong!r}."


@pytest.mark.parametrize("key", KEYS)
def test_a_number_that_cannot_even_be_printed_is_refused(key: str) -> None:
    assert refused(from_table, {key: 1 << 70_000}, "yew.toml").startswith(f"yew.toml, {key}: ")


def test_the_ranges_are_those_of_the_contract() -> None:
    assert RANGES == {"stature_mm": (1400, 2100), "table_break_deg": (0, 40), "psoas_scale": (0.5, 1.6)}


@pytest.mark.parametrize(
    ("key", "wrong", "said"),
    [
        ("sex", "mail", "unknown sex 'mail'. Nearest: male, female. Legal: female, male."),
        ("sex", "", "unknown sex ''. Legal: female, male."),
        ("sex", 1, "unknown sex 1. Legal: female, male."),
        ("posture", "sitting", "unknown posture 'sitting'. "),
        ("posture", ["supine"], "unknown posture ['supine']. Legal: side_lying, supine, prone."),
        ("up", "lft", "unknown side 'lft'. Nearest: left. Legal: left, right."),
        ("name", "", "expected a text, found ''."),
        ("name", "  ", "expected a text, found '  '."),
        ("name", 5, "expected a text, found 5."),
        ("seed", -1, "expected a whole number from 0 up, of 18 digits at most, found -1."),
        ("seed", 1.0, "expected a whole number from 0 up, of 18 digits at most, found 1.0."),
        ("seed", True, "expected a whole number from 0 up, of 18 digits at most, found True."),
        ("seed", "7", "expected a whole number from 0 up, of 18 digits at most, found '7'."),
        ("seed", 10**18, f"expected a whole number from 0 up, of 18 digits at most, found {10**18}."),
        ("variants", [], "expected a table of variants, each true or false."),
        ("variants", True, "expected a table of variants, each true or false."),
        ("variants", {"t12_share": True}, "unknown variant 't12_share'. Nearest: t12_share_"),
        ("variants", {"aorta_divides_high_left": True}, "unknown variant 'aorta_divides_high_left'. Nearest: aorta_"),
        ("variants", {"wings": False}, "unknown variant 'wings'. Legal: accessory_obturator_left, "),
    ],
)
def test_what_cannot_be_meant_is_told_by_key(key: str, wrong: object, said: str) -> None:
    assert refused(from_table, {key: wrong}, "yew.toml").startswith(f"yew.toml, {key}: {said}")


def test_a_variant_is_true_or_false() -> None:
    wrong: object
    for wrong in (1, 0, "yes", None, []):
        said = refused(from_table, {"variants": {"t12_share_left": wrong}}, "yew.toml")
        assert said == f"yew.toml, variants, t12_share_left: expected true or false, found {wrong!r}."


def test_an_unknown_key_is_told_with_all_keys() -> None:
    said = refused(from_table, {"sexe": "male"}, "yew.toml")
    assert said == f"yew.toml: unknown key 'sexe'. Nearest: sex, seed. Legal: {', '.join(KEYS)}."


@pytest.mark.parametrize("posture", ["supine", "prone"])
def test_the_side_and_the_table_break_go_with_lying_on_the_side(posture: str) -> None:
    for key, value in (("up", "left"), ("table_break_deg", 5)):
        said = refused(from_table, {"posture": posture, key: value}, "yew.toml")
        assert said == f'yew.toml, {key}: goes with posture = "side_lying" only.'
        assert getattr(from_table({"posture": "side_lying", key: value}, "yew.toml"), key) == value
        assert from_table({key: value}, "yew.toml").posture == "side_lying"
    assert from_table({"posture": posture, "table_break_deg": 0}, "yew.toml").table_break_deg == 0.0


@given(st.integers(0, 10**18 - 1))
def test_a_seed_draws_the_same_specimen_again_and_within_range(seed: int) -> None:
    made = drawn(seed)
    assert made == drawn(seed)
    assert made.seed == seed
    assert made.sex in SEXES
    assert_in_range(made)
    assert made.stature_mm >= RANGES["stature_mm"][0]
    assert (made.posture, made.up, made.table_break_deg) == (ALDER.posture, ALDER.up, ALDER.table_break_deg)


@given(st.integers(0, 10**6))
def test_what_a_file_gives_beside_its_seed_is_kept_and_the_rest_is_drawn(seed: int) -> None:
    free = drawn(seed)
    made = from_table({"seed": seed, "posture": "prone"}, "yew.toml")
    assert made == replace(free, posture="prone")
    assert from_table({"seed": seed, "variants": {}}, "yew.toml") == replace(free, variants=frozenset())
    assert from_table({"seed": seed, "name": "Yew"}, "yew.toml") == replace(free, name="Yew")


@given(st.integers(0, 10**6))
def test_stature_is_drawn_for_the_sex_that_a_file_gives(seed: int) -> None:
    spread = read_toml(ANATOMY / "variants.toml")["spread"]
    people = {sex: from_table({"seed": seed, "sex": sex}, "yew.toml") for sex in SEXES}
    above = {sex: p.stature_mm - spread[f"{sex}_stature_mm"] for sex, p in people.items()}
    assert above["female"] == pytest.approx(above["male"], abs=1.0)
    assert drawn(seed) == people[drawn(seed).sex]


def test_seeds_draw_as_often_as_the_table_says() -> None:
    """1200 draws; bounds are four standard errors, so that one run in many thousands of other seeds would miss."""
    people = [drawn(seed) for seed in range(1200)]
    table = read_toml(ANATOMY / "variants.toml")
    met = Counter(v for p in people for v in p.variants)
    for variant in VARIANTS:
        share = share_of(variant, table)
        assert abs(met[variant] / 1200 - share) < 4.0 * math.sqrt(share * (1.0 - share) / 1200), variant
    for sex in SEXES:
        tall = [p.stature_mm for p in people if p.sex == sex]
        spread = table["spread"]["stature_sd_mm"]
        assert abs(len(tall) / 1200 - 0.5) < 4.0 * 0.5 / math.sqrt(1200)
        assert abs(sum(tall) / len(tall) - table["spread"][f"{sex}_stature_mm"]) < 4.0 * spread / math.sqrt(len(tall))
    assert len({p.psoas_scale for p in people}) > 300


def test_seeds_that_follow_each_other_are_strangers() -> None:
    assert len({(p.sex, p.stature_mm, p.psoas_scale) for p in map(drawn, range(200))}) > 195


def test_every_variant_has_a_row_that_says_how_often_and_by_what_source() -> None:
    table = read_toml(ANATOMY / "variants.toml")
    assert set(table) == {"spread", *SIDED_VARIANTS, *MIDLINE_VARIANTS}
    for name, row in table.items():
        assert cited(row, name)
        if name != "spread":
            assert 0.0 < row["share"] < 1.0
            assert row["says"]
            low, high = row.get("range", (row["share"], row["share"]))
            assert low <= row["share"] <= high
    assert set(VARIANTS) == {f"{v}_{s}" for v in SIDED_VARIANTS for s in SIDES} | set(MIDLINE_VARIANTS)


@pytest.mark.parametrize("side", SIDES)
def test_the_docked_side_is_up_where_that_is_left_open_and_matters(side: str) -> None:
    broken = Specimen(table_break_deg=20.0)
    assert broken.facing_up(side).up == side
    assert broken.facing_up(side).table_break_deg == 20.0
    assert Specimen(table_break_deg=20.0, up="left").facing_up(side).up == "left"
    for still in (ALDER, Specimen(posture="prone"), Specimen(psoas_scale=1.3)):
        assert still.facing_up(side) is still
