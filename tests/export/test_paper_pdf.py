"""A printed paper and its key: nothing in the paper tells an answer, nothing is cut, everything is there in order."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader

import viewer.export.paper as exported
from lessons.caution import CAUTION
from lessons.film import Film
from lessons.readout import named
from lessons.spot.item import Chosen, Item, Named, Ordered, Pointed, Quartered, Rooted
from lessons.spot.mark import marked
from lessons.spot.paper import LETTERS, Paper, made_paper, read_paper
from lessons.spot.response import Clicked
from lessons.view import Camera, View
from meshes.body import Body
from meshes.errors import FurcalError
from meshes.specimen import ALDER
from tests.export.handing import CONTROLS, HOSTILE, LEFTWARD, LONG_WORD, older_kept
from tests.export.test_handout_pdf import A4, alternatives, check_edges, squeezed, texts, words_on
from tests.spot.anyitem import item
from viewer.display import prepare_offscreen
from viewer.export.paper import FILES, export_for_window, export_paper
from viewer.export.paper.key import key_pdf, right_answer
from viewer.export.paper.stations import paper_pdf
from viewer.spotshots import Sitter

#: Nothing of these may be found in what a candidate holds.
SECRETS = ("Because so.", "it_", "obturator", "common practice", "Where a nerve", "recall", "A source of our own")
SIDES = View(Camera("left", on=frozenset({"disc_l4_5"}), half_height_mm=60.0), dissection="vertebrae")
PLEXUS = View(Camera("front", on=frozenset({"l4", "inguinal_ligament_left"}), half_height_mm=105.0))
ready = cache(prepare_offscreen)


def picture(number: int) -> BytesIO:
    """A picture of one colour in place of a body."""
    file = BytesIO()
    Image.new("RGB", (60, 40), (20 * number % 256, 102, 153)).save(file, "PNG")
    return BytesIO(file.getvalue())


def pictures(paper: Paper) -> list[BytesIO]:
    return [picture(number) for number in range(len(paper.items))]


SPOTS = {"it_point": tuple(Clicked(name, (1.0, 2.0, 3.0)) for name in ("femoral_left", "obturator_left", "psoas"))}


def sat(*answers: tuple[str, Any], explain: str = "Because so. [own]", structure: str = "obturator_left") -> Paper:
    """A paper of items with these answers, whose words to be shown stand in the order of the alphabet."""
    some = [
        item(f"it_{kind}", kind, answer=answer, explain=explain, structure=structure,
             own={"own": "A source of our own"}, ask=f"Seen from in front. Which {kind}?",
             vignette=f"Vignette {kind}.", lit=(structure,))
        for kind, answer in answers
    ]  # fmt: skip
    paper = made_paper(some, 7, spots=SPOTS)
    return replace(paper, id="12345678", offered=tuple(tuple(sorted(order)) for order in paper.offered))


ONE = sat(
    ("name", Named("obturator_left")), ("predict", Chosen("alpha", ("beta", "gamma"))), ("trace", Rooted(("L2", "L3"))),
    ("order", Ordered(("gamma", "beta", "alpha"))), ("quarter", Quartered("L4-5", "left", ("II",))),
    ("point", Pointed("obturator_left", 6.0)), ("wire", Named("obturator_left")),
)  # fmt: skip
OTHER = sat(
    ("name", Named("femoral_right")), ("predict", Chosen("gamma", ("alpha", "beta"))), ("trace", Rooted(("L4",))),
    ("order", Ordered(("beta", "alpha", "gamma"))), ("quarter", Quartered("L4-5", "left", ("I", "III"))),
    ("point", Pointed("femoral_left", 9.0)), ("wire", Named("genitofemoral_left")), explain="Else.",
    structure="femoral_left",
)  # fmt: skip


def undated(data: bytes) -> bytes:
    """A file without the time at which it was written."""
    return re.sub(rb"/ID \[.*?\]", b"", re.sub(rb"\(D:[^)]*\)|<[^<>]*>\s*(?=/ID)", b"", data), flags=re.DOTALL)


def read(data: bytes) -> PdfReader:
    return PdfReader(BytesIO(data))


def everything(reader: PdfReader) -> str:
    """All text of a file: on its pages, in its properties, its outline, behind its pictures."""
    found = [*texts(reader), *alternatives(reader), str(reader.metadata), str(reader.outline)]
    found += [str(note.get_object()) for page in reader.pages for note in page.get("/Annots", [])]
    return " ".join(found)


# --- what a candidate holds


def test_the_paper_is_the_same_file_whatever_is_right() -> None:
    """The strongest there is: what does not depend on the answers cannot tell them."""
    assert ONE.offered == OTHER.offered
    assert [i.answer for i in ONE.items] != [i.answer for i in OTHER.items]
    one, other = (paper_pdf(paper, pictures(paper)) for paper in (ONE, OTHER))
    assert undated(one) == undated(other)
    assert len(undated(one)) > 0.99 * len(one)


def test_no_secret_is_in_the_file() -> None:
    reader = read(paper_pdf(ONE, pictures(ONE)))
    told = everything(reader)
    assert [secret for secret in SECRETS if secret in told] == []
    assert reader.metadata is not None
    assert set(reader.metadata) == {"/Title", "/Author", "/Creator", "/CreationDate"}
    assert reader.metadata.title == "Spot test 12345678"
    assert alternatives(reader)[0] == "Picture of station 1. From in front."
    assert alternatives(reader)[-1] == "Picture of station 7. AP."


def test_stations_stand_two_a_page_in_order_with_what_is_offered() -> None:
    reader = read(paper_pdf(ONE, pictures(ONE)))
    pages = texts(reader)
    assert [re.findall(r"Station (\d+)", page) for page in pages] == [[], ["1", "2"], ["3", "4"], ["5", "6"], ["7"]]
    assert [len(page.images) for page in reader.pages] == [0, 2, 2, 2, 1]
    whole = " ".join(pages)
    place = 0
    for words in (
        "Spot test", "Paper 12345678", "Candidate number", "7 stations of 90 seconds, 10 minutes 30 seconds in all.",
        CAUTION, "Station 1", "Vignette name.", "Which name?", "Write its name.", "Station 2", "Vignette predict.",
        "Which predict?", "Tick one.", "A alpha B beta C gamma", "Station 3", "Write the segments.", "Station 4",
        "Write their letters in order.", "A alpha B beta C gamma", "Station 5", "I II III IV", "Station 6",
        "Tick the letter of its spot.", "A B C", "Station 7", "Write its name.",
    ):  # fmt: skip
        place = whole.index(words, place) + 1
    for page in pages:
        assert CAUTION in page
        assert "Candidate number" in page
    check_edges(reader)


def boxes(page: Any) -> int:
    """Rectangles that are drawn by their border."""
    return len(re.findall(rb" re\s+S", page.get_contents().get_data()))


def test_there_is_a_box_for_every_option_letter_and_quarter() -> None:
    reader = read(paper_pdf(ONE, pictures(ONE)))
    frames = [0, 2, 2, 2, 1]
    assert [boxes(page) - n for page, n in zip(reader.pages, frames, strict=True)] == [2, 3, 3, 4 + 3, 0]


def test_five_letters_and_seven_boxes_stand_in_one_row() -> None:
    ids = ("femoral_left", "obturator_left", "psoas", "iliacus", "l4")
    some = [item("it_point", "point"), item("it_order", "order", answer=Ordered(tuple(f"word{k}" for k in range(7))))]
    paper = made_paper(some, 7, spots={"it_point": tuple(Clicked(name, (1.0, 2.0, 3.0)) for name in ids)})
    reader = read(paper_pdf(paper, pictures(paper)))
    letters = [word for word in words_on(reader.pages[1]) if word.text in LETTERS[:5] and word.x > 400.0]
    assert len({word.y for word in letters[:5]}) == 1
    drawn = re.findall(rb"([\d.]+) ([\d.]+) ([\d.]+) -?([\d.]+) re\s+S", reader.pages[1].get_contents().get_data())  # type: ignore[union-attr]
    assert len(drawn) == 2 + 5 + 7
    rows = [{y for _, y, *_ in drawn[start:end]} for start, end in ((1, 6), (7, 14))]
    assert [len(row) for row in rows] == [1, 1]
    assert all(float(x) + float(wide) <= A4[0] - 25.0 for x, _, wide, _ in drawn)


def test_what_is_too_long_goes_on_and_nothing_is_lost() -> None:
    options = Chosen("right " * 60, tuple(f"wrong{k} " * 60 for k in range(3)))
    long = item("long", "predict", vignette="word " * 1500, answer=options)
    paper = made_paper([item("a"), long, item("b"), item("c")], 7)
    reader = read(paper_pdf(paper, pictures(paper)))
    pages = texts(reader)
    whole = " ".join(pages)
    assert len(re.findall(r"\bword\b", whole)) == 1500
    assert [len(re.findall(rf"\b{w}\b", whole)) for w in ("right", "wrong0", "wrong1", "wrong2")] == [60] * 4
    assert "Station 2 (continued)" in whole
    assert [re.findall(r"Station (\d)(?! \(c)", page) for page in pages if "(continued)" not in page] == [
        [], ["1"], ["2"], ["3", "4"]
    ]  # fmt: skip
    assert sum(len(page.images) for page in reader.pages) == 4
    check_edges(reader)


def test_hostile_words_come_out_as_text() -> None:
    words = f"{HOSTILE} {LEFTWARD} {CONTROLS} {LONG_WORD}"
    answer = Chosen(HOSTILE, (LEFTWARD, CONTROLS, "漢字 😀"))
    paper = made_paper([item("a", "predict", ask=words, vignette=words, answer=answer)], 7)
    for data in (
        paper_pdf(paper, pictures(paper)),
        key_pdf(paper, [right_answer(paper, 1, {})], pictures(paper)),
    ):
        reader = read(data)
        check_edges(reader)
        words_of_it = [word.text for page in reader.pages for word in words_on(page) if round(word.size, 1) == 9.5]
        found = squeezed("".join(words_of_it))  # without headings and feet
        assert squeezed(HOSTILE) in found
        assert LONG_WORD in found
        assert "bell␇escape␛[31mturnendwidemark" in found


# --- the key


def test_the_key_tells_every_answer_and_why(alder: Body) -> None:
    answers = [right_answer(ONE, n, alder.structures) for n in range(1, 8)]
    assert answers == [
        "Obturator nerve, left", "A: alpha", "L2, L3", "CBA: gamma, beta, alpha", "II", "B, Obturator nerve, left",
        "Obturator nerve, left",
    ]  # fmt: skip
    assert right_answer(OTHER, 5, alder.structures) == "I or III"
    reader = read(key_pdf(ONE, answers, pictures(ONE)))
    whole = " ".join(texts(reader))
    assert "This key holds the answers. Keep it from candidates" in texts(reader)[0]
    for n, (one, answer) in enumerate(zip(ONE.items, answers, strict=True), start=1):
        assert f"Station {n}: {one.kind}, {one.depth}" in whole
        assert whole.count(answer) >= 2  # at a glance, and with its explanation
        assert f"[1] A source of our own Item {one.id}" in whole
    assert whole.count("Because so.1") == 7
    assert sum(len(page.images) for page in reader.pages) == 7
    check_edges(reader)


# --- drawn on a body


def drawn_items() -> list[Item]:
    """One of each that has marks of its own on paper."""
    return [
        item("pointed", "point", answer=Pointed("femoral_left", 6.0), view=PLEXUS),
        item("named", answer=Named("femoral_left"), view=PLEXUS),
        item("quarter", "quarter", answer=Quartered("L4-5", "left", ("II",)), view=SIDES),
        item("wire", "wire", view=View(film=Film(nerves=frozenset({"femoral_left", "obturator_left"})))),
    ]


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pictures that are drawn quickly."""
    ready()
    monkeypatch.setattr(exported, "SIZE", (420, 280))
    monkeypatch.setattr(exported, "KEY_SIZE", (210, 140))


@pytest.mark.usefixtures("small")
def test_a_paper_is_drawn_frozen_and_the_same_again(alder: Body, tmp_path: Path) -> None:
    told: list[float] = []
    out = tmp_path / "out"
    paper = export_paper(drawn_items(), 7, 60, out, lambda share, _: told.append(share))
    assert sorted(entry.name for entry in out.iterdir()) == sorted(FILES)
    assert read_paper(out / "paper.json") == paper
    assert paper.items == tuple(drawn_items())
    assert told == sorted(told)
    assert 0.0 <= told[0] <= told[-1] <= 1.0
    spots = paper.spots["pointed"]
    assert 3 <= len(spots) <= len(LETTERS)
    verdicts = [marked(paper.items[0], spot, alder) for spot in spots]
    assert [spot.structure for spot, verdict in zip(spots, verdicts, strict=True) if verdict.right] == ["femoral_left"]
    assert paper.spots.keys() == {"pointed"}
    before = (out / "paper.json").read_bytes()
    assert export_paper(drawn_items(), 7, 60, out, lambda *_: None) == paper
    assert (out / "paper.json").read_bytes() == before
    reader = read((out / "paper.pdf").read_bytes())
    sizes = {image.image.size for page in reader.pages for image in page.images if image.image is not None}
    assert sizes == {(420, 280)}
    key = " ".join(texts(read((out / "key.pdf").read_bytes())))
    letter = LETTERS[[verdict.right for verdict in verdicts].index(True)]
    assert f"{letter}, {named(alder.structures['femoral_left'])}" in key


def test_letters_are_dealt_by_the_seed(alder: Body) -> None:
    ready()
    one = drawn_items()[0]
    with Sitter((420, 280)) as sitter:
        found = {seed: sitter.spots(one, seed) for seed in range(6)}
    places = {[spot.structure for spot in spots].index("femoral_left") for spots in found.values()}
    assert len(places) > 1


def test_a_target_that_cannot_be_seen_is_told() -> None:
    ready()
    hidden = item("hidden", "point", answer=Pointed("femoral_left", 6.0), view=View(Camera("front"), dissection="skin"))
    with Sitter((420, 280)) as sitter, pytest.raises(FurcalError) as told:
        sitter.spots(hidden, 7)
    assert str(told.value).startswith("hidden: femoral_left cannot be seen in its view")


@pytest.mark.parametrize("k", [1, 3], ids=["body", "film"])
def test_the_specimens_name_is_not_on_the_picture(k: int) -> None:
    """Its name may tell its variants: the picture is the same whatever it is called; the explained one is not."""
    ready()
    one = drawn_items()[k]
    other = replace(one, specimen=replace(ALDER, name="Yew"))
    with Sitter((420, 280)) as sitter:
        asked, explained = sitter.asked(one, printed=True), sitter.explained(one)
        assert sitter.asked(other, printed=True).tobytes() == asked.tobytes()
        assert sitter.explained(other).tobytes() != explained.tobytes()
        assert sitter.asked(one).tobytes() != asked.tobytes()  # the question mark


def test_a_disc_is_shown_from_its_side_where_its_view_would_hide_the_quarters() -> None:
    ready()
    one = drawn_items()[2]
    with Sitter((420, 280)) as sitter:
        assert sitter.view(one).camera == SIDES.camera
        front = replace(one, view=replace(SIDES, camera=Camera("front")))
        assert sitter.view(front).camera.name == "left"
        assert sitter.asked(front).getbbox() is not None


# --- whole or not at all


def test_another_paper_or_other_files_are_left_alone(tmp_path: Path) -> None:
    out = tmp_path / "out"
    export_for_window([item("a")], 7, 90, out)
    before = (out / "paper.json").read_bytes()
    export_for_window([item("a")], 7, 90, out)
    other = r"holds paper [0-9a-f]{8}, which is another one; name a new or empty"
    with pytest.raises(FurcalError, match=other):
        export_for_window([item("b")], 7, 90, out)
    with pytest.raises(FurcalError, match=other):
        export_paper([item("b")], 7, 90, out, lambda *_: None)
    assert (out / "paper.json").read_bytes() == before
    (out / "notes.txt").write_text("mine")
    with pytest.raises(FurcalError, match=r"holds notes\.txt, which furcal did not write"):
        export_for_window([item("a")], 7, 90, out)
    (out / "notes.txt").unlink()
    (out / "paper.json").write_text("{")
    with pytest.raises(FurcalError, match="is no paper"):
        export_for_window([item("a")], 7, 90, out)
    assert (out / "paper.json").read_text() == "{"


@pytest.mark.usefixtures("small")
@pytest.mark.parametrize("when", [0.0, 0.5, 0.95])
def test_stopped_by_the_keyboard_nothing_is_left_behind(tmp_path: Path, when: float) -> None:
    def stopping(share: float, _: str) -> None:
        if share >= when:
            raise KeyboardInterrupt

    with older_kept(tmp_path / "beside"), pytest.raises(KeyboardInterrupt):
        export_paper([item("a", view=PLEXUS)], 7, 90, tmp_path / "out", stopping)


def test_a_disk_that_is_full_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(path: Path, _: bytes) -> int:
        raise OSError(28, "No space left on device")

    fake: Callable[..., Any] = lambda *_: ([picture(1)], {})  # noqa: E731
    monkeypatch.setattr(exported, "_asked", fake)
    monkeypatch.setattr(exported, "_explained", lambda *_: ([picture(1)], ["x"]))
    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(FurcalError) as told:
        export_paper([item("a")], 7, 90, tmp_path / "out", lambda *_: None)
    assert str(told.value) == (
        f"{tmp_path / 'out'}: cannot be written (No space left on device); make room or choose another folder."
    )
    assert list(tmp_path.iterdir()) == []
