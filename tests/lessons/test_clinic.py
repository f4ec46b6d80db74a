"""Ranking: what holds whatever the tables say in detail."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.clinic import Ranked, next_examination, rank
from lessons.differential import differentials, how
from lessons.findings import Finding, everything, find, word_of, words
from lessons.sites import FULL, PART, SHARED, Site, sites, weight
from meshes.errors import FurcalError
from meshes.structures import APPROACHES, LEVELS
from meshes.supply import supply

FINDINGS = tuple(everything())
SITES = sites()
some_findings = st.lists(st.sampled_from(FINDINGS), max_size=8, unique=True)
operations = st.tuples(st.sampled_from(("", *APPROACHES)), st.sampled_from(("", *LEVELS)))


def scored(ranked: list[Ranked]) -> dict[tuple[str, tuple[str, ...]], float]:
    return {(r.of.id, r.places): r.score for r in ranked}


def full(site: Site) -> list[Finding]:
    """All that a site would show at the bedside; skin that it only shares, signs that it may show, and pain apart."""
    least = {"weak": 0.0, "lost": 0.0, "numb": SHARED, "other": SHARED, "pain": FULL}
    return [f for f in FINDINGS if weight(site, f) > least[f.kind]]


@given(some_findings, some_findings, operations)
def test_every_set_of_findings_has_a_ranking(seen: list[Finding], spared: list[Finding], operation: Any) -> None:
    kept = [f for f in spared if f not in seen]
    ranked = rank(seen, kept, *operation)
    assert ranked
    assert [r.score for r in ranked] == sorted((r.score for r in ranked), reverse=True)
    for one in ranked:
        assert sorted((*one.explains, *one.unexplained)) == sorted(f.text() for f in seen)
        assert set(one.expected_but_spared) == {f.text() for f in kept if weight(one.of, f) > 0}
        assert not set(one.explains) & set(one.expected_but_absent)


@given(some_findings, st.randoms(use_true_random=False))
def test_the_order_in_which_findings_are_given_does_not_matter(seen: list[Finding], chance: Any) -> None:
    again = list(seen)
    chance.shuffle(again)
    assert [(r.id, r.places) for r in rank(seen)] == [(r.id, r.places) for r in rank([*again, *again])]


@pytest.mark.parametrize("site", [s for s in SITES if full(s)], ids=lambda s: f"{s.id}-{'-'.join(s.places)}")
def test_a_site_s_own_full_findings_put_it_first(site: Site) -> None:
    seen = full(site)
    ranked = scored(rank(seen))
    best = max(ranked.values())
    assert ranked[site.id, site.places] == pytest.approx(best), max(ranked, key=lambda k: ranked[k])


def test_few_show_nothing_of_their_own() -> None:
    """One has no skin and no movement of its own, the other shares every place with a neighbour."""
    none = [site.id for site in SITES if not full(site)]
    assert none == ["iliohypogastric_lateral_cutaneous", "accessory_obturator"]


@given(some_findings, st.sampled_from(FINDINGS), st.sampled_from(SITES), st.sampled_from(SITES))
def test_a_finding_that_one_explains_never_puts_it_below_one_that_does_not(
    seen: list[Finding], more: Finding, a: Site, b: Site
) -> None:
    if weight(a, more) <= 0 or weight(b, more) > 0:
        return
    before, after = scored(rank([*seen])), scored(rank([*seen, more]))
    key_a, key_b = (a.id, a.places), (b.id, b.places)
    if key_a in before and key_b in before and key_b in after:
        assert after[key_a] - after[key_b] >= before[key_a] - before[key_b]


@given(some_findings, st.sampled_from(FINDINGS))
def test_a_finding_said_to_be_spared_never_helps_what_should_show_it(seen: list[Finding], spared: Finding) -> None:
    if spared in seen:
        return
    without, with_it = scored(rank(seen)), scored(rank(seen, [spared]))
    assert without.keys() == with_it.keys()
    for site in SITES:
        if (site.id, site.places) in without:
            change = with_it[site.id, site.places] - without[site.id, site.places]
            assert change <= 1e-9 if weight(site, spared) > 0 else change == 0.0


def test_an_approach_lifts_only_what_it_puts_in_danger() -> None:
    plain, after = scored(rank([])), scored(rank([], (), "lateral", "L4-5", "left"))
    lifted = {key for key in plain if after[key] > plain[key]}
    assert ("femoral", ("psoas", "iliac_fossa")) in lifted
    assert not {key for key in lifted if key[0] in ("sacral_plexus", "common_fibular", "saphenous")}
    assert ("femoral", ("ligament", "thigh")) not in lifted
    assert max(after[key] - plain[key] for key in plain) < FULL


def test_the_approach_at_the_foramen_puts_the_root_of_the_upper_vertebra_in_danger() -> None:
    plain, after = scored(rank([])), scored(rank([], (), "posterolateral", "L4-5"))
    assert {key[0] for key in plain if after[key] > plain[key]} == {"l4_root", "l4_ramus"}


@pytest.mark.parametrize("a", SITES, ids=lambda s: s.id)
def test_the_next_examination_separates(a: Site) -> None:
    everyone = {(r.of.id, r.places): r for r in rank([])}
    first = everyone[a.id, a.places]
    for second in everyone.values():
        if second is first:
            continue
        told = next_examination(first, second)
        if told.finding:
            assert len({shows for _, shows in told.separates}) == 2
            assert [who for who, _ in told.separates] == [first.id, second.id]
            assert told.source
        assert told.do.endswith((".", "?"))


def test_what_was_looked_at_is_not_examined_again() -> None:
    first, second = rank([find("weak", "knee extension")])[:2]
    told = next_examination(first, second)
    known = [f for f in FINDINGS if f.text() == told.finding]
    assert next_examination(first, second, known).finding != told.finding


@pytest.mark.parametrize("finding", FINDINGS, ids=lambda f: f.text())
def test_every_finding_can_be_looked_for(finding: Finding) -> None:
    if finding.kind == "pain":
        return  # asked, not examined
    do, source = how(finding, SITES[0])
    assert do[0].isupper() or not do[0].isalpha()
    assert source


def test_reported_and_spared_at_once_is_refused() -> None:
    knee = find("weak", "quadriceps")
    with pytest.raises(FurcalError, match=r"knee extension is both reported and --spared"):
        rank([knee], [knee])


def test_weights_lie_between_nothing_and_full() -> None:
    for site in SITES:
        assert {0.0 <= weight(site, f) <= FULL for f in FINDINGS} == {True}
        assert {w >= SHARED for w in site.movements.values()} <= {True}
    assert SHARED < PART < FULL


#: What a cell of a table of differentials means where its row names a movement, a reflex or a sign.
ABSENT, PRESENT = ("normal",), ("weak", "less", "lost", "hurts", "partly weak", "slightly weak", "weak and painful")


def cells() -> list[Any]:
    """Cells of the differentials that speak plainly of a finding that the ranking knows too."""
    known = {**{m: ("weak", m) for m in words()["movement"]}, **{r: ("lost", r) for r in words()["lost"]}}
    return [
        pytest.param(
            lesion, known[row.finding], row.cells[key].says in PRESENT, id=f"{table.id}-{lesion}-{row.finding}"
        )
        for table in differentials().values()
        for row in table.rows
        if row.finding in known
        for key, (_, lesions) in table.columns.items()
        if row.cells[key].says in (*ABSENT, *PRESENT)
        for lesion in lesions
    ]


#: Cells that the tables of supply answer otherwise, each with the reason.
OTHERWISE = {
    ("l4_ramus", "hip flexion"): "the cell speaks of L3 and L4 together; L4 serves no hip flexor",
}


@pytest.mark.parametrize(("lesion", "of", "present"), cells())
def test_the_tables_of_differentials_and_of_supply_agree(lesion: str, of: tuple[str, str], present: bool) -> None:
    """Anywhere along its way a lesion shows what the table says it shows; what it says is normal, it never shows."""
    finding = Finding(*of, of[1])
    weights = [weight(site, finding) for site in SITES if site.id == lesion]
    assert weights
    assert (max(weights) > 0) == (present and (lesion, of[1]) not in OTHERWISE)


def test_every_word_reaches_a_site_and_every_patch_a_word() -> None:
    shown = {f for f in FINDINGS if any(weight(site, f) > 0 for site in SITES)}
    assert {f.text() for f in FINDINGS} - {f.text() for f in shown} == set()
    assert {p for f in FINDINGS for p in word_of(f).patches} == set(supply().patches)
