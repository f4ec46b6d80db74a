"""How finely a moving picture is drawn: coarser only where pictures are slow in a row, and settled for good."""

from hypothesis import given
from hypothesis import strategies as st

from viewer.grain import AGREE, SHARES, SLOW_S, Grain

#: Seconds for one picture, from nothing to a tenth of a second.
pictures = st.floats(0.0, 0.1)
slow = st.floats(SLOW_S, 1.0, exclude_min=True)
#: What a picture costs whatever its size, and what one of the whole size costs beside that.
costs = st.tuples(st.floats(0.0, 0.1), st.floats(0.0, 0.2))
#: After so many pictures of one cost a grain has settled, whatever was before: every share, each asked AGREE times.
SETTLED = AGREE * len(SHARES)


def drawn(times: list[float]) -> Grain:
    """A grain after pictures that took so long, whatever its share."""
    grain = Grain()
    for seconds in times:
        grain.drawn(seconds)
    return grain


def shares(grain: Grain, cost: tuple[float, float], count: int) -> list[float]:
    """The share before and after each of some pictures that cost what their size makes them."""
    out = [grain.share]
    for _ in range(count):
        grain.drawn(cost[0] + cost[1] * grain.share**2)
        out.append(grain.share)
    return out


def test_it_begins_with_the_whole_picture() -> None:
    assert Grain().share == SHARES[0] == 1.0
    assert list(SHARES) == sorted(SHARES, reverse=True)


@given(st.lists(pictures, max_size=60))
def test_the_share_is_one_of_the_shares_and_goes_one_at_a_time(times: list[float]) -> None:
    grain = Grain()
    for seconds in times:
        before = SHARES.index(grain.share)
        grain.drawn(seconds)
        assert abs(SHARES.index(grain.share) - before) <= 1


@given(st.lists(pictures, max_size=60))
def test_it_is_coarser_only_after_slow_pictures_in_a_row_and_finer_only_after_quick_ones(times: list[float]) -> None:
    grain, row = Grain(), 0  # the pictures in a row that were slow, or not, since it changed last
    was_slow = False
    for seconds in times:
        before = grain.share
        row = row + 1 if (seconds > SLOW_S) == was_slow else 1
        was_slow = seconds > SLOW_S
        grain.drawn(seconds)
        if grain.share < before:
            assert was_slow
            assert row >= AGREE
        elif grain.share > before:
            assert not was_slow
            assert row >= AGREE
        if grain.share != before:
            row = 0


@given(st.lists(pictures, max_size=20), slow)
def test_one_slow_picture_among_quick_ones_changes_nothing(before: list[float], seconds: float) -> None:
    grain = drawn([*before, *[SLOW_S] * AGREE])  # not slow, nor so quick that a finer one would do
    share = grain.share
    for _ in range(3):
        grain.drawn(seconds)
        assert grain.share == share
        grain.drawn(SLOW_S)
        assert grain.share == share


@given(st.integers(0, 3 * SETTLED), slow)
def test_pictures_that_stay_slow_make_it_as_coarse_as_can_be(count: int, seconds: float) -> None:
    level = min(count // AGREE, len(SHARES) - 1)
    assert drawn([seconds] * count).share == SHARES[level]


@given(st.lists(pictures, max_size=30), costs)
def test_it_settles_for_any_cost_and_never_goes_to_and_fro(before: list[float], cost: tuple[float, float]) -> None:
    way = shares(drawn(before), cost, SETTLED)
    assert way in (sorted(way), sorted(way, reverse=True)), "one way only"
    grain = drawn(before)
    shares(grain, cost, SETTLED)
    assert set(shares(grain, cost, 40)) == {grain.share}


@given(costs)
def test_where_it_settles_keeps_up_and_the_next_finer_one_does_not(cost: tuple[float, float]) -> None:
    grain = Grain()
    shares(grain, cost, SETTLED)
    level = SHARES.index(grain.share)
    assert cost[0] + cost[1] * grain.share**2 <= SLOW_S or level == len(SHARES) - 1
    assert level == 0 or cost[0] + cost[1] * SHARES[level - 1] ** 2 > SLOW_S


@given(st.lists(pictures, max_size=30))
def test_it_comes_back_to_the_whole_picture_where_drawing_takes_no_time(before: list[float]) -> None:
    grain = drawn(before)
    assert shares(grain, (0.0, 0.0), SETTLED)[-1] == 1.0
