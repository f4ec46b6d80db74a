"""A video read back: how long every card is held, what is seen when, and that it is written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from lessons.lesson import Lesson
from tests.export.handing import (
    CONTROLS,
    HOSTILE,
    LEFTWARD,
    LONG_WORD,
    OUTSIDE,
    asking,
    check_full_disk,
    check_interrupt,
    check_missing,
    hand_out,
    lesson,
    own_picture,
    step,
)
from viewer.export.lesson.cards import PICTURE, Card, head_cards, step_cards
from viewer.export.lesson.video import FADE_SECONDS, RATE, SIZE, seconds

SMALL = (320, 180)
Frames = list[tuple[float, NDArray[np.uint8]]]


def frames_of(path: Path) -> Frames:
    """Every frame with its time in seconds."""
    with av.open(str(path)) as file:
        return [
            (float(frame.time or 0.0), np.asarray(frame.to_ndarray(format="rgb24"), dtype=np.uint8))
            for frame in file.decode(video=0)
        ]


def held(given: Lesson) -> list[tuple[Card, float, float]]:
    """Every card with the time from which and until which it is held."""
    cards = head_cards(given, len(given.steps))
    for one in given.steps:
        cards += step_cards(one, given)
    fade, time, found = FADE_SECONDS - 1 / RATE, 0.0, []
    for k, card in enumerate(cards):
        time += fade if k else 0.0
        found.append((card, time, time + seconds(card)))
        time += seconds(card)
    return found


def at(frames: Frames, time: float) -> NDArray[np.uint8]:
    """The frame that is seen at a time."""
    return next(picture for start, picture in reversed(frames) if start <= time + 1e-6)


def colour(picture: NDArray[np.uint8]) -> NDArray[np.float64]:
    """The colour in the middle of the place of the step's picture."""
    scale = picture.shape[0] / 540.0
    x, y = (PICTURE.x + 0.5 * PICTURE.wide) * scale, (PICTURE.y + 0.5 * PICTURE.high) * scale
    middle = picture[round(y) - 5 : round(y) + 5, round(x) - 5 : round(x) + 5]
    return np.asarray(middle.reshape(-1, 3).mean(axis=0), dtype=np.float64)


def test_every_card_is_held_long_enough_and_shows_its_picture(tmp_path: Path) -> None:
    red, blue = own_picture(tmp_path, "#d02020"), own_picture(tmp_path, "#2020d0")
    given = lesson(tmp_path, step(tmp_path, 1, picture=red, words="word " * 40),
                   asking(tmp_path, 2, picture=blue))  # fmt: skip
    path = hand_out(given, "video", tmp_path, SMALL)
    frames, plan = frames_of(path), held(given)
    assert [card.kind for card, _, _ in plan] == ["head", "words", "question", "answer"]
    with av.open(str(path)) as file:
        stream = file.streams.video[0]
        assert (stream.width, stream.height) == SMALL
        assert stream.codec_context.name == "h264"
        assert file.metadata["title"] == "A small lesson"
        assert file.duration is not None
        assert file.duration / av.time_base == pytest.approx(plan[-1][2], abs=2.0 / RATE)
    for card, start, end in plan:
        inside = [at(frames, time) for time in (start + 0.1, 0.5 * (start + end), end - 0.15)]
        for picture in inside[1:]:
            assert np.abs(picture.astype(float) - inside[0]).mean() < 2.0  # nothing moves while it is read
        wanted = {"head": (255, 255, 255), "words": (208, 32, 32)}.get(card.kind, (32, 32, 208))
        np.testing.assert_allclose(colour(inside[1]), wanted, atol=12)
    gaps = np.diff([time for time, _ in frames])
    assert (gaps > 0.0).all()
    assert gaps.max() <= 0.5 + 1e-6
    # Half way through the fade both pictures are seen.
    (_, _, end), (_, start, _) = plan[1], plan[2]
    np.testing.assert_allclose(colour(at(frames, 0.5 * (end + start))), (120, 32, 120), atol=30)


def test_the_rule_of_time(tmp_path: Path) -> None:
    given = lesson(tmp_path, step(tmp_path, 1, title="t", words="x"), step(tmp_path, 2, words="word " * 30),
                   step(tmp_path, 3, words="word " * 60), asking(tmp_path, 4, title="t", words="x"))  # fmt: skip
    short, middle, long, question, answer = (seconds(card) for one in given.steps for card in step_cards(one, given))
    assert short == 5.0
    assert answer == 5.0
    assert question == 10.0
    assert long - middle == pytest.approx(10.0)  # 30 words at 180 a minute
    assert middle > 10.0


def test_the_words_are_seen(tmp_path: Path) -> None:
    given = lesson(tmp_path, step(tmp_path, 1, words="WWWW WWWW WWWW WWWW"), step(tmp_path, 2, words=""))
    frames, plan = frames_of(hand_out(given, "video", tmp_path, SMALL)), held(given)
    dark = []
    for _, start, end in plan[1:]:
        beside = at(frames, 0.5 * (start + end))[30:160, 222:312]
        dark.append(int((beside.max(axis=2) < 160).sum()))
    assert dark[0] > 30
    assert dark[1] == 0


def test_the_size_is_720_lines_when_none_is_asked_for() -> None:
    assert SIZE == (1280, 720)


def test_an_odd_size_and_hostile_words_make_a_video(tmp_path: Path) -> None:
    hostile = asking(
        tmp_path, 1, title=f"{HOSTILE} {'W' * 80}",
        words=f"{HOSTILE}\n\n{LONG_WORD[:900]} [one]\n\n- {LEFTWARD} [two]\n- {OUTSIDE}\n\n{CONTROLS}",
    )  # fmt: skip
    given = lesson(tmp_path, hostile, title=f"{HOSTILE}{CONTROLS}", objectives=(LEFTWARD, CONTROLS))
    frames, plan = frames_of(hand_out(given, "video", tmp_path, (321, 241))), held(given)
    assert frames[0][1].shape == (240, 320, 3)
    assert [card.kind for card, _, _ in plan].count("question") >= 2
    for _, start, end in plan:  # no letter reaches the edge of the picture
        rim = at(frames, 0.5 * (start + end)).copy()
        rim[6:-6, 6:-6] = 255
        assert rim.min() > 200


def test_a_full_disk_the_keyboard_and_a_missing_package_leave_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = lesson(tmp_path, step(tmp_path, 1), step(tmp_path, 2))
    check_full_disk(given, "video", tmp_path)
    check_interrupt(given, "video", tmp_path)
    check_missing(given, "video", "av", tmp_path, monkeypatch)
